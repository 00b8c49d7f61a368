"""What is said waits for the disk: the system calls of a real run, in their order.

A killed process proves nothing about a lost power supply; the order of ``fdatasync`` on
the logbook's write-ahead log and of ``write`` on what carries the speech does. A sync
counts from where it has returned, and only for what was written before it was called.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from flying import ANSWERS, CHALLENGES, WEIGHT, command

CALL = re.compile(r"^(\d+) +(\w+)\((.*)$")
RESUMED = re.compile(r"^(\d+) +<\.\.\. (\w+) resumed>(.*)$")
RESULT = re.compile(r"= (-?\d+)[^=]*$")

QUOTED = re.compile(r'"((?:[^"\\]|\\.)*)"')


def text_of(arguments: str) -> str:
    """The bytes of a write, as far as they are text."""
    quoted = "".join(QUOTED.findall(arguments))
    return quoted.replace(r"\n", "\n").replace(r"\"", '"')


@dataclass
class Disk:
    """What a trace says of the write-ahead log: the text written, and how much of it is safe."""

    wal: set[str] = field(default_factory=set)
    written: list[str] = field(default_factory=list)
    safe: int = 0
    said: list[tuple[str, int, int]] = field(default_factory=list)

    def called(self, name: str, arguments: str) -> int:
        """A call begins; gives how much was written by then."""
        descriptor, _, rest = arguments.partition(",")
        if name in ("write", "writev", "pwrite64"):
            if descriptor in self.wal:
                self.written.append(text_of(rest))
            elif descriptor == "1":
                for line in text_of(rest).splitlines():
                    if "Runner: " in line:
                        text = line.partition("Runner: ")[2]
                        self.said.append((text, self.safe, len(self.written)))
        return len(self.written)

    def returned(self, name: str, arguments: str, result: int, before: int) -> None:
        """A call has returned; ``before`` is what ``called`` gave."""
        descriptor = re.split(r"[,)]", arguments)[0]
        if name == "openat" and result >= 0:
            self.wal.discard(str(result))
            if '-wal"' in arguments:
                self.wal.add(str(result))
        elif name == "close" and result == 0:
            self.wal.discard(descriptor)
        elif name in ("fsync", "fdatasync") and result == 0 and descriptor in self.wal:
            self.safe = max(self.safe, before)

    def is_safe(self, text: str, count: int) -> bool:
        """Whether a text stands in the first ``count`` writes."""
        return any(text in written for written in self.written[:count])


def read(trace: Path) -> Disk:
    """The calls of a trace in their order, those that were interrupted put together again."""
    disk = Disk()
    open_calls: dict[str, tuple[str, str, int]] = {}
    for line in trace.read_text(errors="replace").splitlines():
        if again := RESUMED.match(line):
            thread, _, rest = again.groups()
            name, arguments, before = open_calls.pop(thread)
            if result := RESULT.search(rest):
                disk.returned(name, arguments, int(result[1]), before)
        elif call := CALL.match(line):
            thread, name, arguments = call.groups()
            before = disk.called(name, arguments)
            if line.endswith("<unfinished ...>"):
                open_calls[thread] = (name, arguments, before)
            elif result := RESULT.search(arguments):
                disk.returned(name, arguments, int(result[1]), before)
    return disk


@pytest.mark.skipif(shutil.which("strace") is None, reason="strace is not installed")
def test_every_line_said_comes_after_the_sync_of_the_event_behind_it(tmp_path: Path) -> None:
    trace = tmp_path / "trace"
    answers = [*ANSWERS[:5], "high blower", *ANSWERS[5:]]
    done = subprocess.run(
        [
            *("strace", "-f", "-s", "5000", "-o", str(trace)),
            *("-e", "trace=openat,close,fdatasync,fsync,write,writev,pwrite64"),
            *command(tmp_path / "logbook.sqlite3", "--phase", "before-takeoff", "--set", WEIGHT),
        ],
        input="".join(f"{answer}\n" for answer in answers).encode(),
        capture_output=True,
        timeout=120,
        env=os.environ | {"PYTHONUNBUFFERED": "1"},
        check=False,
    )
    if b"ptrace" in done.stderr and done.returncode != 0:
        pytest.skip("this machine lets nobody trace")
    assert done.returncode == 0, done.stderr.decode()
    disk = read(trace)
    said = [line for line in done.stdout.decode().splitlines() if line.startswith("Runner: ")]
    assert [f"Runner: {text}" for text, _, _ in disk.said] == said
    # The first line comes of the beginning; each other one of the answer before it.
    assert len(said) == 1 + len(answers) == 2 + len(CHALLENGES)
    opening, safe, _ = disk.said[0]
    assert disk.is_safe("RunStarted", safe), opening
    for answer, (text, safe, _) in zip(answers, disk.said[1:], strict=True):
        # The answer's own text tells its event from those before it.
        assert disk.is_safe(f'"text":"{answer}"', safe), text
    for (_, before, _), (text, safe, _) in zip(disk.said, disk.said[1:], strict=False):
        assert safe > before, text
