"""Who can say a phrase on this machine, so that a template is made of it.

espeak-ng's voices through pyttsx3, in the process of ``runner.voice.synthesis``; flite's and
festival's where those programs are installed. Voices and rates are those of the shipped
prototypes as far as they are there.
"""

from __future__ import annotations

import contextlib
import json
import re
import shutil
import subprocess
import sys
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from runner.voice.recogniser import RATE
from runner.voice.waves import read_wav

TRIES = 4
"""The synthesiser now and then forgets an order."""

SECONDS = 20
"""A voice that takes longer for a phrase is left out."""

ESPEAK = (
    ("gmw/en", 170),
    ("gmw/en-GB-x-rp", 170),
    ("gmw/en-US", 150),
    ("gmw/en-GB-scotland", 160),
    ("gmw/en-GB-x-gbcwmd", 170),
    ("gmw/en-029", 150),
)
FLITE = ("slt", "kal", "awb", "rms")
FESTIVAL = ("kal_diphone", "cmu_us_slt_arctic_hts")
RATES = (140, 165, 190)
"""Words a minute of the one voice of another language, or of a system's own synthesiser."""


@dataclass(frozen=True, slots=True)
class Speaker:
    """One way of saying a phrase: a program's voice, and its words a minute where it takes them."""

    program: Literal["pyttsx3", "flite", "festival"]
    voice: str
    rate: int = 0


def speakers(language: str = "en") -> tuple[Speaker, ...]:
    """The voices of this machine for a language.

    Festival's are two of flite's speakers again, ten times as slow: they say it without flite.
    """
    if not language.startswith("en"):
        return tuple(Speaker("pyttsx3", language, rate) for rate in RATES)
    if sys.platform == "linux":
        found = [Speaker("pyttsx3", voice, rate) for voice, rate in ESPEAK]
    else:
        found = [Speaker("pyttsx3", "", rate) for rate in RATES]
    flite = bool(shutil.which("flite"))
    if flite:
        listed = subprocess.run(
            ["flite", "-lv"], stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False
        )
        names = listed.stdout.partition(":")[2].split()
        found += [Speaker("flite", voice) for voice in FLITE if voice in names]
    if shutil.which("text2wave") and not flite:
        folders = [Path("/usr/share/festival/voices"), Path("/usr/local/share/festival/voices")]
        there = {path.name for folder in folders for path in folder.glob("*/*")}
        found += [Speaker("festival", voice) for voice in FESTIVAL if voice in there]
    return tuple(found)


class Crew:
    """Everybody who says a phrase. The synthesiser is a process of its own, started when needed.

    Nobody says anything once it is ``given_up``.
    """

    def __init__(self, of: Sequence[Speaker], given_up: Callable[[], bool] = lambda: False) -> None:
        self._speakers = of
        self._given_up = given_up
        self._worker: subprocess.Popen[bytes] | None = None

    def say(self, text: str, folder: Path) -> list[bytes]:
        """How each voice says it, 16-bit mono at 16 kHz; those that fail are left out."""
        found: list[bytes] = []
        file = folder / "said.wav"
        for speaker in self._speakers:
            if self._given_up():
                return []
            file.unlink(missing_ok=True)
            with contextlib.suppress(OSError, ValueError, subprocess.SubprocessError):
                if not self._said(speaker, text, file):
                    continue
                sound = read_wav(file, RATE)
                # A system without that voice says it with the one that it has.
                if sound and sound not in found:
                    found.append(sound)
        return found

    def close(self) -> None:
        """End the synthesiser."""
        if self._worker is not None:
            self._worker.kill()
            self._worker.wait()
            self._worker = None

    def _said(self, speaker: Speaker, text: str, file: Path) -> bool:
        if speaker.program == "pyttsx3":
            return any(self._synthesised(speaker, text, file) for _ in range(TRIES))
        # Neither program may take a word for an option or for a command of its own.
        plain = re.sub(r"[^\w' ]", " ", text)
        if speaker.program == "flite":
            call, given = ["flite", "-voice", speaker.voice, "-t", plain, "-o", str(file)], b""
        else:
            call = ["text2wave", "-eval", f"(voice_{speaker.voice})", "-o", str(file)]
            given = plain.encode()
        quiet = subprocess.DEVNULL
        subprocess.run(call, check=True, input=given, stdout=quiet, stderr=quiet, timeout=SECONDS)
        return file.exists()

    def _synthesised(self, speaker: Speaker, text: str, file: Path) -> bool:
        if self._worker is None or self._worker.poll() is not None:
            self._worker = subprocess.Popen(
                [sys.executable, "-m", "runner.voice.synthesis"],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
            )
        worker = self._worker
        assert worker.stdin is not None and worker.stdout is not None
        order = {"text": text, "voice": speaker.voice, "rate": speaker.rate, "file": str(file)}
        late = threading.Timer(SECONDS, worker.kill)
        late.start()
        try:
            worker.stdin.write(json.dumps(order).encode() + b"\n")
            worker.stdin.flush()
            answer = worker.stdout.readline()
        except BrokenPipeError:
            answer = b""
        finally:
            late.cancel()
        if not answer:
            self.close()
            return False
        return bool(json.loads(answer)["ok"])
