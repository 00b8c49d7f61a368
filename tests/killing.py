"""Real runs and drills killed with SIGKILL at random moments, and what must still be there."""

from __future__ import annotations

import os
import random
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from runner.engine.effects import Note, Say
from runner.engine.events import Event, Heard
from runner.engine.program import program_of
from runner.engine.step import initial_state, step
from runner.logbook.checking import check
from runner.logbook.opening import reading
from runner.logbook.store import read_events

STARTING = 0.15
"""The share of kills that come at any moment of the program's start."""


@dataclass(frozen=True)
class Ended:
    """What a process had printed when it was killed, or came to its end (``status``)."""

    lines: list[str]
    status: int | None

    @property
    def said(self) -> list[str]:
        return [line.removeprefix("Runner: ") for line in self.lines if line.startswith("Runner: ")]


def run_and_kill(
    command: Sequence[str],
    answers: Sequence[str],
    folder: Path,
    draw: random.Random,
    lines: int,
    logbook: Path,
) -> Ended:
    """Start ``runner`` on these typed answers and kill it before it has printed more than
    about ``lines`` lines; the moment is drawn. It may be at its end before."""
    script, printed = folder / "answers.txt", folder / "printed.txt"
    script.write_text("".join(f"{answer}\n" for answer in answers))
    with printed.open("wb") as out:
        process = subprocess.Popen(
            [
                *(sys.executable, "-m", "runner", *command, "--screen", "plain"),
                *("--speak", "none", "--listen", f"text:{script}", "--clock", "fast"),
                *("--logbook", str(logbook)),
            ],
            stdout=out,
            stderr=subprocess.STDOUT,
            env=os.environ | {"PYTHONUNBUFFERED": "1"},
        )
    if draw.random() < STARTING:
        _sleep_unless_over(process, draw.uniform(0, 1.5))
    else:
        wanted, end = draw.randrange(lines), time.monotonic() + 120
        while process.poll() is None and printed.read_bytes().count(b"\n") <= wanted:
            assert time.monotonic() < end, "the program stands still"
            time.sleep(0.002)
        time.sleep(draw.uniform(0, 0.02))
    over = process.poll()
    process.send_signal(signal.SIGKILL)
    process.wait()
    text = printed.read_text("utf-8")
    assert "Traceback" not in text, text
    # 1: it was stopped with items open, as when it is killed while it ends.
    assert over in (None, 0, 1), text
    # A line that was cut off in the middle was not acknowledged.
    return Ended(text.split("\n")[:-1], over)


def _sleep_unless_over(process: subprocess.Popen[bytes], seconds: float) -> None:
    end = time.monotonic() + seconds
    while process.poll() is None and time.monotonic() < end:
        time.sleep(0.002)


def sound(logbook: Path) -> None:
    """The database passes its own check, and every run can be replayed."""
    if not logbook.exists() or not _has_tables(logbook):
        # Killed before there was anything that could have been acknowledged.
        return
    with closing(reading(logbook)) as connection:
        assert check(connection, str(logbook)).faults == []


def _has_tables(logbook: Path) -> bool:
    with closing(sqlite3.connect(logbook)) as connection:
        return bool(connection.execute("PRAGMA user_version").fetchone()[0])


def stored(logbook: Path) -> tuple[str, list[Event]] | None:
    """How the newest run ended, and its events; None where there is none."""
    if not logbook.exists() or not _has_tables(logbook):
        return None
    with closing(reading(logbook)) as connection:
        row = connection.execute("SELECT id, finished FROM runs ORDER BY id DESC").fetchone()
        if row is None:
            return None
        return row[1], read_events(connection, row[0], str(logbook))


def acknowledgements(events: Sequence[Event]) -> list[str]:
    """All that a run of these events says and notes, in order, as it is printed."""
    state = initial_state(program_of(events[0]))  # type: ignore[arg-type]
    lines = []
    for event in events:
        state, effects = step(state, event)
        for effect in effects:
            if isinstance(effect, Say):
                lines.append(f"Runner: {effect.text}")
            elif isinstance(effect, Note):
                lines.append(effect.text)
    return lines


def missing(printed: Sequence[str], events: Sequence[Event]) -> list[str]:
    """What was printed because of an event and does not come of the stored ones, in order."""
    said = acknowledgements(events)
    known = set(said)
    lines = [line for line in printed if line.startswith("Runner: ") or line in known]
    # From the end: what a resumed run printed comes of its last events.
    place = len(said)
    lost = []
    for line in reversed(lines):
        try:
            place = len(said) - 1 - said[::-1].index(line, len(said) - place)
        except ValueError:
            lost.append(line)
    return lost


def heard(events: Sequence[Event]) -> list[str]:
    """The answers that are stored, as they were typed."""
    return [event.proposals[0].text for event in events if isinstance(event, Heard)]
