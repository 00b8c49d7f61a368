"""What the full screen shows of the link to the other machine: a real terminal, real processes."""

from __future__ import annotations

import fcntl
import os
import re
import signal
import struct
import subprocess
import sys
import termios
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from crew_processes import Machine, code_of
from flying import WEIGHT

ESCAPES = re.compile(rb"\x1b(?:\[[0-9;?<=>]*[a-zA-Z~]|[()][A-Z0-9]|[=>78]|[P_\]].*?(?:\a|\x1b\\))")
"""Control sequences of a terminal: ECMA-48, 5th edition, 5.4 and 5.6."""

HEARD = r"Anna \d+ ms; orders there"


class Terminal:
    """A terminal with one process of a crew at its full screen, at which nobody presses a key."""

    def __init__(self, folder: Path, name: str, *arguments: str) -> None:
        self._screen, terminal = os.openpty()
        self._rows = 40
        self._written = b""
        self._resize(self._rows)
        # They would be believed before the terminal itself.
        rest = {k: v for k, v in os.environ.items() if k not in ("COLUMNS", "LINES")}
        self.process = subprocess.Popen(
            [
                *(sys.executable, "-m", "runner", "crew", *arguments, "--name", name),
                *("--logbook", str(folder / f"{name}.sqlite3"), "--screen", "full"),
                *("--speak", "none", "--listen", "none"),
            ],
            stdin=terminal,
            stdout=terminal,
            stderr=terminal,
            env={**rest, "XDG_DATA_HOME": str(folder / name), "TERM": "xterm-256color"},
        )
        os.close(terminal)
        threading.Thread(target=self._read, daemon=True).start()

    def _resize(self, rows: int) -> None:
        fcntl.ioctl(self._screen, termios.TIOCSWINSZ, struct.pack("HHHH", rows, 120, 0, 0))

    def _read(self) -> None:
        while True:
            try:
                self._written += os.read(self._screen, 65536)
            except OSError:
                return

    def so_far(self, since: int = 0) -> str:
        """What was written to the terminal, without its control sequences."""
        return ESCAPES.sub(b"", self._written[since:]).decode("utf-8", "replace")

    def wait_for(self, what: str, since: int = 0, seconds: float = 20.0) -> int:
        """Wait until the pattern is written; gives how much has been written then."""
        end = time.monotonic() + seconds
        while not re.search(what, self.so_far(since)):
            assert time.monotonic() < end, f"{what!r} was never shown:\n{self.so_far(since)}"
            time.sleep(0.02)
        return len(self._written)

    def now(self) -> str:
        """All that is shown: a terminal of another height has it drawn from top to bottom."""
        here = len(self._written)
        self._rows = 79 - self._rows
        self._resize(self._rows)
        self.process.send_signal(signal.SIGWINCH)
        self.wait_for("(?s)Whimbrel Four.*q end", here)
        return self.so_far(here)

    def end(self) -> None:
        """Take the terminal away."""
        self.process.kill()
        self.process.wait()
        os.close(self._screen)


@pytest.fixture
def anna(tmp_path: Path) -> Iterator[Machine]:
    machine = Machine(tmp_path, "Anna", "open", "--phase", "before-takeoff", "--set", WEIGHT)
    yield machine
    machine.process.send_signal(signal.SIGCONT)
    machine.stop()


@pytest.fixture
def ben(anna: Machine, tmp_path: Path) -> Iterator[Terminal]:
    code, port = code_of(anna)
    terminal = Terminal(tmp_path, "Ben", "join", f"127.0.0.1:{port}", "--code", code)
    yield terminal
    terminal.end()


def test_it_says_by_itself_that_the_other_is_not_heard_and_is_heard_again(
    anna: Machine, ben: Terminal
) -> None:
    anna.wait_for("Runner: Ben is aboard")
    here = ben.wait_for(HEARD)
    anna.process.send_signal(signal.SIGSTOP)
    here = ben.wait_for("Anna is not heard. Nothing counts until then", here)
    assert "Anna not heard" in ben.now()
    anna.process.send_signal(signal.SIGCONT)
    ben.wait_for(HEARD, here)
    shown = ben.now()
    assert not re.search("not heard|is closed", shown), shown
    assert re.search(HEARD, shown), shown
