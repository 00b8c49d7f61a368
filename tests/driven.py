"""A real process that answers are typed into one by one, and what it prints."""

from __future__ import annotations

import os
import queue
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path


class Driven:
    """``runner`` with these arguments, on lines of text and the real clock."""

    def __init__(self, logbook: Path, *arguments: str) -> None:
        self.lines: list[str] = []
        self._news: queue.SimpleQueue[str | None] = queue.SimpleQueue()
        self.process = subprocess.Popen(
            [
                *(sys.executable, "-m", "runner", *arguments, "--screen", "plain"),
                *("--speak", "none", "--listen", "text:-", "--logbook", str(logbook)),
            ],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            env=os.environ | {"PYTHONUNBUFFERED": "1"},
        )
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self._news.put(line.rstrip("\n"))
        self._news.put(None)

    def until(self, wanted: Callable[[str], bool]) -> str:
        """Wait for a line of which this holds."""
        end = time.monotonic() + 60
        while time.monotonic() < end:
            line = self._news.get(timeout=max(0.01, end - time.monotonic()))
            assert line is not None, f"it ended: {self.lines}"
            self.lines.append(line)
            if wanted(line):
                return line
        raise AssertionError(f"was never printed: {self.lines}")

    def so_far(self) -> list[str]:
        """All that it has printed."""
        while not self._news.empty():
            line = self._news.get()
            assert line is not None, f"it ended: {self.lines}"
            self.lines.append(line)
        return self.lines

    def type(self, text: str, until: str) -> str:
        """Type an answer ("" for none) and wait for the line that acknowledges it."""
        assert self.process.stdin is not None
        if text:
            self.process.stdin.write(text + "\n")
            self.process.stdin.flush()
        return self.until(lambda line: until in line and not line.endswith("not applicable"))

    def end(self) -> int:
        """Nothing more is typed: let it come to its end; the exit status."""
        assert self.process.stdin is not None
        self.process.stdin.close()
        status = self.process.wait(60)
        while (line := self._news.get(timeout=10)) is not None:
            self.lines.append(line)
        return status

    def kill(self) -> None:
        """As if the machine had stopped the program between two instructions."""
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()
        assert self.process.stdin is not None
        self.process.stdin.close()

    @property
    def said(self) -> list[str]:
        """What Runner said."""
        return [line.removeprefix("Runner: ") for line in self.lines if line.startswith("Runner: ")]
