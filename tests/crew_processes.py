"""Crews of real processes for the tests: each ``runner crew``, answered by lines of text."""

from __future__ import annotations

import os
import queue
import re
import subprocess
import sys
import threading
import time
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType


class Machine:
    """One process of a crew; ``lines`` are what it has printed so far."""

    def __init__(
        self,
        folder: Path,
        name: str,
        *arguments: str,
        speak: str = "none",
        environment: Mapping[str, str] = MappingProxyType({}),
    ) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self.name = name
        self.logbook = folder / f"{name}.sqlite3"
        self.lines: list[str] = []
        self._new: queue.Queue[str | None] = queue.Queue()
        self.process = subprocess.Popen(
            [
                *(sys.executable, "-u", "-m", "runner", "crew", *arguments),
                *("--name", name, "--logbook", str(self.logbook)),
                *("--screen", "plain", "--speak", speak, "--listen", "text:-"),
            ],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            env={**os.environ, "XDG_DATA_HOME": str(folder / name), **environment},
        )
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self.lines.append(line.rstrip("\n"))
            self._new.put(line)
        self._new.put(None)

    def wait_for(self, what: str, seconds: float = 20.0, since: int = 0) -> str:
        """The first line, from number ``since`` on, in which the pattern is found."""
        end = time.monotonic() + seconds
        at = since
        while True:
            while at < len(self.lines):
                if re.search(what, self.lines[at]):
                    return self.lines[at]
                at += 1
            try:
                gone = self._new.get(timeout=max(0.01, end - time.monotonic())) is None
            except queue.Empty:
                gone = False
            if at == len(self.lines) and (gone or time.monotonic() > end):
                told = "\n".join(self.lines[-40:])
                raise AssertionError(f"{self.name} never printed {what!r}:\n{told}")

    def says(self, text: str) -> None:
        """The person at this machine says something."""
        assert self.process.stdin is not None
        self.process.stdin.write(f"{text}\n")
        self.process.stdin.flush()

    def kill(self) -> None:
        """As power does."""
        self.process.kill()
        self.process.wait()

    def end(self, seconds: float = 30.0) -> int:
        """Wait for the end; the exit status."""
        return self.process.wait(seconds)

    def told(self) -> list[str]:
        """All that it printed until its end."""
        self.process.wait()
        self._reader.join()
        return self.lines

    def stop(self) -> None:
        """End it, however it stands."""
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()
        for pipe in (self.process.stdin, self.process.stdout):
            if pipe is not None:
                pipe.close()


def code_of(machine: Machine, since: int = 0) -> tuple[str, int]:
    """The code that a machine shows, from line number ``since`` on, and the port at which it
    listens."""
    line = machine.wait_for("Join with", since=since)
    found = re.search(r"“([0-9 ]+)”(?:.*:(\d+)\))?", line)
    assert found is not None, line
    return found[1], int(found[2] or 0)
