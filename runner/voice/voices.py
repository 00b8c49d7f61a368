"""The voices of this machine's synthesiser (``python -m runner.voice.voices`` lists them).

Asked for in a process of its own, for the reasons of ``runner.voice.synthesis``.
"""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import dataclass

from runner.errors import RunnerError
from runner.voice.quiet import take_stdout
from runner.voice.synthesis import lend_espeak

SECONDS = 20


@dataclass(frozen=True, slots=True)
class SpeakingVoice:
    """A voice as it can be written behind ``synthesiser voice`` in a voice file."""

    id: str
    name: str
    languages: tuple[str, ...]


def speaking_voices() -> tuple[SpeakingVoice, ...]:
    """Every voice, in the synthesiser's order; raises ``RunnerError`` where it does not start."""
    try:
        done = subprocess.run(
            [sys.executable, "-m", "runner.voice.voices"],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            timeout=SECONDS,
            check=False,
        )
        found = json.loads(done.stdout)
    except subprocess.TimeoutExpired:
        raise RunnerError(f"the synthesiser does not answer within {SECONDS} seconds") from None
    except (OSError, ValueError):
        raise RunnerError("the synthesiser does not start") from None
    if isinstance(found, str):
        raise RunnerError(f"the synthesiser does not start: {found}")
    return tuple(SpeakingVoice(each[0], each[1], tuple(each[2])) for each in found)


def main() -> None:
    """Print the voices as one JSON line, or the reason why there are none as a JSON text."""
    stdout = take_stdout()
    answer: object
    try:
        lend_espeak()
        import pyttsx3

        answer = [
            (_plain(voice.id), _plain(voice.name), [_plain(each) for each in voice.languages or ()])
            for voice in pyttsx3.init().getProperty("voices")
        ]
    except Exception as error:
        # Whatever a driver throws is the answer to why there is no voice.
        answer = f"{type(error).__name__}: {error}".splitlines()[0]
    stdout.write(json.dumps(answer).encode() + b"\n")


def _plain(text: object) -> str:
    shown = text.decode(errors="replace") if isinstance(text, bytes) else str(text)
    return shown.strip("\x00\x05 ")


if __name__ == "__main__":
    main()
