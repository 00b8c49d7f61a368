"""The worker that makes speech into WAV files with pyttsx3 (``python -m runner.voice.synthesis``).

It is a process of its own: the system's synthesisers print, block, and crash as they like.
Lines in: ``{"text", "voice", "rate", "file"}``; lines out: ``{"file", "ok", "error"}``.
"""

from __future__ import annotations

import ctypes
import ctypes.util
import json
import os
import sys
import threading
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from runner.voice.quiet import take_stdin, take_stdout

PARENT_SECONDS = 2.0
"""How often it is looked whether whoever started this process is still there."""


def lend_espeak() -> str:
    """Load the packaged espeak-ng where the system has none; gives where it came from.

    pyttsx3 asks the loader for the library by its SONAME, which finds the one that is
    already loaded. Without the packaged one this gives an empty text.
    """
    if sys.platform != "linux":
        return "system"
    try:
        ctypes.CDLL("libespeak-ng.so.1", mode=ctypes.RTLD_GLOBAL)
    except OSError:
        pass
    else:
        return "system"
    try:
        import espeakng_loader

        os.environ.setdefault("ESPEAK_DATA_PATH", espeakng_loader.get_data_path())
        ctypes.CDLL(espeakng_loader.get_library_path(), mode=ctypes.RTLD_GLOBAL)
    except (ImportError, OSError, RuntimeError):
        return ""
    return "packaged"


def choose_voice(wanted: str, voices: Sequence[Any]) -> str | None:
    """The id of the first voice with this id, name or language, or one that contains it."""
    low = wanted.casefold()
    if not low:
        return None

    def names(voice: Any) -> list[str]:
        languages = [
            language.decode(errors="replace") if isinstance(language, bytes) else str(language)
            for language in voice.languages or ()
        ]
        return [
            str(text).strip("\x00\x05").casefold() for text in (voice.id, voice.name, *languages)
        ]

    for voice in voices:
        if low in names(voice):
            return str(voice.id)
    for voice in voices:
        if any(low in name for name in names(voice)):
            return str(voice.id)
    return None


class Synthesiser:
    """One pyttsx3 engine, set to a voice and a rate."""

    def __init__(self) -> None:
        self.source = lend_espeak()
        import pyttsx3

        self._engine = pyttsx3.init()
        self._set: tuple[str, int] | None = None

    def make(self, text: str, voice: str, rate: int, file: Path) -> None:
        """Write ``text`` as a WAV file; raises ``OSError`` or ``RuntimeError``."""
        if self._set != (voice, rate):
            chosen = choose_voice(voice, self._engine.getProperty("voices"))
            if chosen is not None:
                self._engine.setProperty("voice", chosen)
            self._engine.setProperty("rate", rate)
            self._set = (voice, rate)
        self._engine.save_to_file(text, str(file))
        self._engine.runAndWait()
        if not file.exists() or file.stat().st_size < 100:
            raise RuntimeError("the synthesiser wrote nothing")


def _end_with(parent: int) -> None:
    """End when whoever started this process is gone: a synthesiser whose file went with its
    folder never comes back to notice that its input has ended."""
    while os.getppid() == parent:
        time.sleep(PARENT_SECONDS)
    os._exit(0)


def main() -> None:
    """Answer requests until standard input ends."""
    stdin, stdout = take_stdin(), take_stdout()
    threading.Thread(target=_end_with, args=(os.getppid(),), daemon=True).start()
    synthesiser: Synthesiser | None = None
    for line in stdin:
        request = json.loads(line)
        error = ""
        try:
            if synthesiser is None:
                synthesiser = Synthesiser()
            synthesiser.make(
                request["text"], request["voice"], request["rate"], Path(request["file"])
            )
        except Exception as problem:
            error = f"{type(problem).__name__}: {problem}".splitlines()[0]
        answer = {"file": request["file"], "ok": not error, "error": error}
        stdout.write(json.dumps(answer).encode() + b"\n")


if __name__ == "__main__":
    main()
