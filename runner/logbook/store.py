"""Runs and their events in SQLite, written by a thread of their own.

Every append is committed with ``synchronous=FULL`` before its future is done: what has
been acknowledged survives a killed process and a lost power supply. Events that arrive
while a commit is under way share the next one.
"""

from __future__ import annotations

import queue
import sqlite3
import threading
from collections.abc import Callable, Iterable
from concurrent.futures import Future
from dataclasses import dataclass, replace
from pathlib import Path

from runner.engine.events import Event, RunStarted, Snapshot
from runner.engine.wire import event_from_json, event_to_json
from runner.errors import RunnerError
from runner.logbook.schema import migrate


@dataclass(frozen=True, slots=True)
class RunRow:
    """One stored run: its number, when it began (ISO 8601), of what, and how it ended."""

    id: int
    started: str
    procedures: str
    aircraft: str
    finished: str


@dataclass(frozen=True, slots=True)
class _Append:
    run: int
    number: int
    event: Event
    done: Future[None]


@dataclass(frozen=True, slots=True)
class _Finished:
    run: int
    how: str
    done: Future[None]


def default_path() -> Path:
    """The logbook in the user's data folder."""
    from platformdirs import user_data_path

    return user_data_path("runner", appauthor=False) / "logbook.sqlite3"


class Logbook:
    """An open logbook file.

    ``on_trouble`` (None or a function) is called once, from the writer's thread, with one
    line when the file cannot be written any more; from then on events are kept in memory
    alone and every append still succeeds, so that the run goes on.
    """

    def __init__(self, path: Path | str) -> None:
        self.path = Path(path)
        self.on_trouble: Callable[[str], None] | None = None
        self._connection = _open(self.path)
        self._queue: queue.SimpleQueue[_Append | _Finished | None] = queue.SimpleQueue()
        self._broken = False
        self._thread = threading.Thread(target=self._write_all, name="logbook", daemon=True)
        self._thread.start()

    def begin(self, started: RunStarted) -> int:
        """Store a new run with its first event; give the run's number. Blocks until durable."""
        connection = self._reader()
        try:
            connection.execute("PRAGMA synchronous = FULL")
            connection.execute("BEGIN IMMEDIATE")
            for snapshot in (started.procedures, started.aircraft, started.voice):
                connection.execute(
                    "INSERT OR IGNORE INTO contents VALUES (?, ?)", (snapshot.sha256, snapshot.text)
                )
            row = connection.execute(
                "INSERT INTO runs (started, procedures, aircraft) VALUES (?, ?, ?)",
                (started.wall_clock, started.procedures.name, started.aircraft.name),
            )
            run = row.lastrowid
            assert run is not None
            _insert(connection, run, 0, started)
            connection.execute("COMMIT")
            return run
        except sqlite3.Error as error:
            raise RunnerError(
                f"{self.path}: the logbook cannot be written ({error}); free some space, make "
                "the file writable, or name another one with --logbook"
            ) from error
        finally:
            connection.close()

    def append(self, run: int, number: int, event: Event) -> Future[None]:
        """Store event ``number`` (0 is the first) of ``run``; the future is done when durable."""
        done: Future[None] = Future()
        self._queue.put(_Append(run, number, event, done))
        return done

    def finish(self, run: int, how: str) -> Future[None]:
        """Note how the run ended (``complete`` or ``open``)."""
        done: Future[None] = Future()
        self._queue.put(_Finished(run, how, done))
        return done

    def runs(self) -> list[RunRow]:
        """Every run, newest first."""
        connection = self._reader()
        try:
            rows = connection.execute(
                "SELECT id, started, procedures, aircraft, finished FROM runs ORDER BY id DESC"
            ).fetchall()
        finally:
            connection.close()
        return [RunRow(*row) for row in rows]

    def latest_unfinished(self) -> RunRow | None:
        """The newest run that has not come to its end, or None."""
        return next((row for row in self.runs() if not row.finished), None)

    def events(self, run: int) -> list[Event]:
        """The events of a run in order, the first with its snapshots whole.

        Raises RunnerError where the stored run is damaged.
        """
        connection = self._reader()
        try:
            rows = connection.execute(
                "SELECT number, event FROM events WHERE run = ? ORDER BY number", (run,)
            ).fetchall()
            if [number for number, _ in rows] != list(range(len(rows))) or not rows:
                raise RunnerError(
                    f"{self.path}: run {run} has events missing; it cannot be resumed"
                )
            try:
                events = [event_from_json(text) for _, text in rows]
            except (ValueError, KeyError, TypeError) as error:
                raise RunnerError(
                    f"{self.path}: run {run} cannot be read ({error}); it cannot be resumed"
                ) from error
            first = events[0]
            if not isinstance(first, RunStarted):
                raise RunnerError(f"{self.path}: run {run} has no beginning; it cannot be resumed")
            events[0] = replace(
                first,
                procedures=self._whole(connection, first.procedures),
                aircraft=self._whole(connection, first.aircraft),
                voice=self._whole(connection, first.voice),
            )
            return events
        finally:
            connection.close()

    def close(self) -> None:
        """Write what is left and close the file."""
        self._queue.put(None)
        self._thread.join()
        self._connection.close()

    def _reader(self) -> sqlite3.Connection:
        connection = sqlite3.connect(self.path, timeout=10, isolation_level=None)
        connection.execute("PRAGMA foreign_keys = ON")
        return connection

    def _whole(self, connection: sqlite3.Connection, snapshot: Snapshot) -> Snapshot:
        row = connection.execute(
            "SELECT text FROM contents WHERE sha256 = ?", (snapshot.sha256,)
        ).fetchone()
        if row is None:
            raise RunnerError(
                f"{self.path}: the text of {snapshot.name} is missing from the logbook"
            )
        return replace(snapshot, text=row[0])

    def _write_all(self) -> None:
        while True:
            first = self._queue.get()
            batch = [first]
            while first is not None and not self._queue.empty():
                batch.append(self._queue.get())
            jobs = [job for job in batch if job is not None]
            if jobs:
                self._write(jobs)
            if None in batch:
                return

    def _write(self, jobs: Iterable[_Append | _Finished]) -> None:
        if not self._broken:
            try:
                self._connection.execute("BEGIN IMMEDIATE")
                for job in jobs:
                    if isinstance(job, _Append):
                        _insert(self._connection, job.run, job.number, job.event)
                    else:
                        self._connection.execute(
                            "UPDATE runs SET finished = ? WHERE id = ?", (job.how, job.run)
                        )
                self._connection.execute("COMMIT")
            except sqlite3.Error as error:
                self._broken = True
                if self._connection.in_transaction:
                    self._connection.rollback()
                if self.on_trouble is not None:
                    self.on_trouble(
                        f"{self.path}: the logbook cannot be written ({error}); the run goes on in "
                        "memory and cannot be resumed from here"
                    )
        for job in jobs:
            job.done.set_result(None)


def _open(path: Path) -> sqlite3.Connection:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        connection = sqlite3.connect(
            path, timeout=10, isolation_level=None, check_same_thread=False
        )
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("PRAGMA foreign_keys = ON")
        migrate(connection, str(path))
    except (sqlite3.Error, OSError) as error:
        raise RunnerError(
            f"{path}: this is not a logbook that can be opened ({error}); name another file "
            "with --logbook"
        ) from error
    return connection


def _insert(connection: sqlite3.Connection, run: int, number: int, event: Event) -> None:
    if isinstance(event, RunStarted):
        event = replace(
            event,
            procedures=replace(event.procedures, text=""),
            aircraft=replace(event.aircraft, text=""),
            voice=replace(event.voice, text=""),
        )
    connection.execute(
        "INSERT INTO events VALUES (?, ?, ?, ?, ?)",
        (run, number, event.at, type(event).__name__, event_to_json(event)),
    )
