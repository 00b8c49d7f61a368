"""What is said waits for the disk: the system calls of a real run, in their order.

A killed process proves nothing about a lost power supply; the order of ``fdatasync`` on
the logbook's write-ahead log and of ``write`` on what carries the speech does.
"""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest

from flying import ANSWERS, CHALLENGES, WEIGHT, command

SYNC = re.compile(r"(?:fdatasync|fsync)\((\d+)")
OPENED = re.compile(r'openat\(.*"([^"]*)".*\) = (\d+)')
WRITTEN = re.compile(r"p?write(?:v|64)?\((\d+), (.*)")


@pytest.mark.skipif(shutil.which("strace") is None, reason="strace is not installed")
def test_every_line_said_comes_after_the_sync_of_the_event_behind_it(tmp_path: Path) -> None:
    logbook = tmp_path / "logbook.sqlite3"
    trace = tmp_path / "trace"
    done = subprocess.run(
        [
            *("strace", "-f", "-s", "400", "-o", str(trace)),
            *("-e", "trace=openat,fdatasync,fsync,write,writev,pwrite64"),
            *command(logbook, "--phase", "before-takeoff", "--set", WEIGHT),
        ],
        input="".join(f"{answer}\n" for answer in ANSWERS).encode(),
        capture_output=True,
        timeout=120,
        check=False,
    )
    if b"ptrace" in done.stderr and done.returncode != 0:
        pytest.skip("this machine lets nobody trace")
    assert done.returncode == 0, done.stderr.decode()
    log: set[str] = set()
    written = synced = 0
    said: list[tuple[str, int, int]] = []
    for line in trace.read_text(errors="replace").splitlines():
        if (opened := OPENED.search(line)) and opened[1].endswith("sqlite3-wal"):
            log.add(opened[2])
        elif (call := WRITTEN.search(line)) and call[1] in log:
            written += 1
        elif (call := SYNC.search(line)) and call[1] in log:
            synced = written
        elif (call := WRITTEN.search(line)) and call[1] == "1" and "Runner: " in call[2]:
            said.append((call[2], written, synced))
    assert len(said) >= len(CHALLENGES)
    counts = [synced_then for _, _, synced_then in said]
    for (text, _, synced_then), before in zip(said[1:], counts, strict=False):
        # Each answer wrote to the log; what is said because of it comes after a sync of that.
        assert synced_then > before, text
    assert all(written_then == synced_then for _, written_then, synced_then in said)
