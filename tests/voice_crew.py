"""A crew of recorded voices that answers a running Runner through a virtual microphone."""

from __future__ import annotations

import os
import queue
import subprocess
import sys
import threading
import time
from dataclasses import dataclass
from pathlib import Path

from sound import SoundSystem

ACTED = ("begun", "standing by", "left open", "open again", "disregarded", "rejected", "muted")
"""What Runner prints when a control or a list's name was taken: nobody here says one."""


@dataclass(frozen=True)
class Decision:
    """What was said at one challenge, by whom, what it was, and what Runner made of it.

    ``decided`` is ``accepted``, ``named`` (wrong, and said so), ``asked again``, ``nothing``
    or ``acted`` (taken for a control).
    """

    challenge: str
    kind: str
    said: str
    voice: str
    decided: str
    heard: str


class VoiceFlight:
    """A run of the real program that speaks and listens through a test's sound system."""

    def __init__(self, sound: SoundSystem, folder: Path, *more: str) -> None:
        folder.mkdir(exist_ok=True)
        self.sound = sound
        self.lines: list[str] = []
        self._news: queue.SimpleQueue[str] = queue.SimpleQueue()
        self.trace = folder / "trace.jsonl"
        command = [sys.executable, "-m", "runner", "fly", "--screen", "plain"]
        self.process = subprocess.Popen(
            [*command, "--logbook", str(folder / "logbook.sqlite3"), *more],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            env={**os.environ, **sound.environment, "RUNNER_TRACE": str(self.trace)},
        )
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self.lines.append(line.rstrip())
            self._news.put(line.rstrip())

    def wait_for(self, wanted: str, seconds: float = 15.0) -> None:
        """Wait until a line that holds ``wanted`` is printed."""
        end = time.monotonic() + seconds
        while not any(wanted in line for line in self.lines):
            if time.monotonic() > end:
                raise AssertionError(f"never printed: {wanted}\n" + "\n".join(self.lines))
            time.sleep(0.02)

    def wait_until_heard(self, seconds: float = 15.0) -> None:
        """Wait until an answer would be heard."""
        end = time.monotonic() + seconds
        while not (self.trace.exists() and '"ready"' in self.trace.read_text()):
            if time.monotonic() > end:
                raise AssertionError("never ready\n" + "\n".join(self.lines))
            time.sleep(0.02)

    def say(self, challenge: str, kind: str, text: str, voice: str) -> Decision:
        """Say something (or be silent, with an empty text) and see what comes of it."""
        file = self.sound.recording(voice, text) if text else None
        return self.play(challenge, kind, file, text, voice)

    def play(
        self, challenge: str, kind: str, file: Path | None, text: str, voice: str = ""
    ) -> Decision:
        """Play a recording of ``text`` (or be silent) and see what comes of it."""
        while not self._news.empty():
            self._news.get()
        if file is not None:
            self.sound.play(file)
        else:
            time.sleep(1.5)
        lines: list[str] = []
        end = time.monotonic() + (2.0 if file is not None else 0.2)
        while time.monotonic() < end:
            try:
                lines.append(self._news.get(timeout=0.05))
                # Once something was decided, its other lines follow at once.
                end = min(end, time.monotonic() + 0.5)
            except queue.Empty:
                continue
        decided, heard = _decision(challenge, lines)
        return Decision(challenge, kind, text, voice, decided, heard)

    def finish(self, seconds: float = 15.0) -> int:
        """Wait for the program's end; its exit status."""
        return self.process.wait(seconds)

    def stop(self) -> None:
        """End the program if it still runs."""
        if self.process.poll() is None:
            self.process.terminate()
            self.process.wait(10)


def _decision(challenge: str, lines: list[str]) -> tuple[str, str]:
    for line in lines:
        if line.startswith(f"{challenge}: heard "):
            return "named", line.removeprefix(f"{challenge}: heard ")
    for line in lines:
        if line.startswith(f"{challenge}: ") and not line.endswith("not applicable"):
            return "accepted", line.removeprefix(f"{challenge}: ")
    for line in lines:
        if any(word in line for word in ACTED):
            return "acted", line
    for line in lines:
        if line.endswith("not clear"):
            return "asked again", line
    return "nothing", " ".join(lines)


def table(decisions: list[Decision]) -> str:
    """What was said and what was decided, as lines of text."""
    kinds = sorted({d.kind for d in decisions})
    verdicts = ("accepted", "named", "asked again", "nothing", "acted")
    rows = [f"{'':<24}" + "".join(f"{v:>13}" for v in verdicts)]
    for kind in kinds:
        of_kind = [d.decided for d in decisions if d.kind == kind]
        rows.append(f"{kind:<24}" + "".join(f"{of_kind.count(v):>13}" for v in verdicts))
    return "\n".join(rows)
