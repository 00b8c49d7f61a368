"""What was worked out of runs by replaying them, kept in the logbook and read from there.

A run is replayed once; a run that went on since, or one that another version of these rules
looked back on, is replayed again. A logbook that cannot be written is read all the same.
"""

from __future__ import annotations

import contextlib
import sqlite3
import time
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, cast

from runner.debrief.record import ItemRecord, Record, from_json, to_json
from runner.engine.events import RULES_VERSION, Event, RunStarted
from runner.errors import RunnerError
from runner.logbook.opening import LogbookUnwritable, reading
from runner.logbook.store import Logbook, RunRow, read_events

if TYPE_CHECKING:
    from runner.engine.program import Program

LOOKING_BACK = 2
"""The version of the rules by which a run is looked back on; counts up with each change."""

PATIENCE = 1.0
"""Seconds spent at most on looking back on earlier runs that nobody looked back on yet."""

LONG_PATIENCE = 15.0
"""The same where many runs are asked for."""

_ROW = "SELECT id, started, procedures, aircraft, finished FROM runs"


class Book:
    """A logbook, to look back on its runs. ``unread`` names those that could not be, and why;
    ``left`` is how many there was no time for."""

    def __init__(self, path: Path) -> None:
        """Raises RunnerError where there is no logbook."""
        self.path = path
        self.unread: dict[int, str] = {}
        self.left = 0
        self._logbook: Logbook | None = None
        if path.exists():
            with contextlib.suppress(LogbookUnwritable):
                self._logbook = Logbook(path)
        try:
            self.connection: sqlite3.Connection = reading(path)
        except BaseException:
            if self._logbook is not None:
                self._logbook.close()
            raise

    def close(self) -> None:
        """Store what is not stored yet and close the file."""
        self.connection.close()
        if self._logbook is not None:
            self._logbook.close()

    def row(self, number: int | None = None) -> RunRow:
        """That run, or the newest one; RunnerError where there is none."""
        where = "ORDER BY id DESC LIMIT 1" if number is None else "WHERE id = ?"
        values = () if number is None else (number,)
        row = self.connection.execute(f"{_ROW} {where}", values).fetchone()
        if row is None:
            which = "no run yet" if number is None else f"no run {number}"
            raise RunnerError(f"{self.path}: this logbook has {which}; fly one: runner fly")
        return RunRow(*row)

    def earlier(self, row: RunRow, most: int) -> tuple[RunRow, ...]:
        """The newest runs of the same procedures that began before this one, newest first."""
        rows = self.connection.execute(
            f"{_ROW} WHERE procedures = ? AND (julianday(started), id) < (julianday(?), ?) "
            "ORDER BY julianday(started) DESC, id DESC LIMIT ?",
            (row.procedures, row.started, row.id, most),
        )
        return tuple(RunRow(*one) for one in rows)

    def events(self, run: int) -> list[Event]:
        """The events of a run; RunnerError where it cannot be read or stepped any more."""
        events = read_events(self.connection, run, str(self.path))
        started = cast(RunStarted, events[0])
        if started.rules != RULES_VERSION:
            raise RunnerError(
                f"{self.path}: run {run} was flown with a Runner that stepped differently "
                f"(rules {started.rules}, now {RULES_VERSION}); it cannot be looked back on"
            )
        return events

    def started(self, run: int) -> RunStarted:
        """The first event of a run, its files whole; RunnerError where it cannot be read."""
        return cast(RunStarted, read_events(self.connection, run, str(self.path))[0])

    def record(self, run: int) -> Record:
        """The record of a run, worked out and stored where it is not yet.

        Raises RunnerError where the run cannot be read.
        """
        return self._kept(run) or self._replayed(run, None)

    def with_readings(self, run: int, file: Path) -> Record:
        """The record of a run with the readings recorded during it, stored in its place.

        Raises RunnerError where either cannot be read.
        """
        return self._replayed(run, file)

    def _replayed(self, run: int, file: Path | None) -> Record:
        from runner.debrief.readings import recorded
        from runner.debrief.replay import replay

        events = self.events(run)
        record = replay(events, readings=() if file is None else recorded(file, events))
        if self._logbook is not None:
            self._logbook.write(lambda c: store(c, run, len(events), record))
        return record

    def catch_up(self, runs: Sequence[int], patience: float = PATIENCE) -> int:
        """Look back on those of the runs that nobody looked back on yet, in that order, for
        at most ``patience`` seconds; gives how many are still left.

        Runs that cannot be read are not counted; they are in ``unread``.
        """
        missing = self._missing(runs)
        if self._logbook is None:
            self.left = max(self.left, len(missing))
            return len(missing)
        until = time.monotonic() + patience
        while missing and time.monotonic() < until:
            run = missing.pop(0)
            try:
                self.record(run)
            except RunnerError as error:
                self.unread[run] = str(error)
        # The reading connection sees what another one wrote once it is durable.
        self._logbook.write(lambda _: None).result()
        self.left = max(self.left, len(missing))
        return len(missing)

    def _missing(self, runs: Sequence[int]) -> list[int]:
        fresh = {
            run
            for (run,) in self.connection.execute(
                f"SELECT s.run FROM summaries s WHERE s.run IN ({_marks(runs)}) AND s.rules = ? "
                "AND s.events = (SELECT max(number) + 1 FROM events e WHERE e.run = s.run)",
                (*runs, LOOKING_BACK),
            )
        }
        return [run for run in runs if run not in fresh]

    def _kept(self, run: int) -> Record | None:
        row = self.connection.execute(
            "SELECT record FROM summaries WHERE run = ? AND rules = ? AND events = "
            "(SELECT max(number) + 1 FROM events WHERE run = ?)",
            (run, LOOKING_BACK, run),
        ).fetchone()
        if row is None:
            return None
        try:
            return from_json(row[0])
        except ValueError:
            return None


def keep(logbook: Logbook, run: int, program: Program | None = None) -> None:
    """Look back on a run that has just ended and store it, so that its debrief opens at once.

    Raises RunnerError where the run cannot be read.
    """
    from runner.debrief.replay import replay

    events = logbook.events(run)
    record = replay(events, program)
    logbook.write(lambda c: store(c, run, len(events), record))


def store(connection: sqlite3.Connection, run: int, events: int, record: Record) -> None:
    """Store the record of a run of so many events."""
    connection.execute(
        "INSERT OR REPLACE INTO summaries (run, length, done, left_open, wrong, silent, unclear, "
        "interruptions, callouts, median_ms, record, events, rules) "
        "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            run,
            record.length,
            record.done,
            len(record.left_open),
            record.failed("wrong", "contradicted", "disagreed"),
            record.failed("silent"),
            record.failed("not clear"),
            record.count("interruption"),
            record.count("callout"),
            record.median_ms,
            to_json(record),
            events,
            LOOKING_BACK,
        ),
    )
    connection.execute("DELETE FROM answers WHERE run = ?", (run,))
    connection.executemany(
        "INSERT OR REPLACE INTO answers (item, run, list, challenge, status, answer_ms, wrong, "
        "silent, unclear) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
        [
            (
                item.item,
                run,
                item.list,
                item.challenge,
                item.status,
                item.answer_ms,
                _tries(item, "wrong", "contradicted", "disagreed"),
                _tries(item, "silent"),
                _tries(item, "not clear"),
            )
            for item in record.items
        ],
    )


def _tries(item: ItemRecord, *how: str) -> int:
    return sum(one.how in how for one in item.tries)


def _marks(values: Sequence[object]) -> str:
    return ", ".join("?" * len(values))
