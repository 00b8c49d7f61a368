"""The logbook: runs with their events, and drills with what became of each card, in SQLite."""

from __future__ import annotations

import contextlib
import sqlite3
import uuid
from collections.abc import Callable, Iterator
from concurrent.futures import Future
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from runner.engine.events import Event, RunStarted, Snapshot
from runner.engine.wire import event_from_json, event_to_json
from runner.errors import RunnerError
from runner.logbook import drills
from runner.logbook.holding import Held
from runner.logbook.opening import open_logbook, reading
from runner.logbook.writer import Writer


@dataclass(frozen=True, slots=True)
class RunRow:
    """One stored run: its number, when it began (ISO 8601), of what, and how it ended."""

    id: int
    started: str
    procedures: str
    aircraft: str
    finished: str


def default_path() -> Path:
    """The logbook in the user's data folder."""
    from platformdirs import user_data_path

    return user_data_path("runner", appauthor=False) / "logbook.sqlite3"


class Logbook:
    """An open logbook file.

    ``on_trouble`` (None or a function) is called once, from the writer's thread, with one
    line when the file cannot be written any more; from then on what is to be stored is kept
    in memory alone and still succeeds, so that the run or the drill goes on. Raises
    ``LogbookUnwritable`` where the file cannot be written from the first, RunnerError where
    it is no logbook.
    """

    def __init__(self, path: Path | str) -> None:
        self.path = Path(path)
        self.on_trouble: Callable[[str], None] | None = None
        self._memory = drills.Memory()
        self._what = "run"
        self._held = Held(self.path)
        self._writer = Writer(open_logbook(self.path), self._trouble, self._busy)

    def begin(self, started: RunStarted) -> int:
        """Store a new run with its first event; give the run's number. Blocks until durable.

        Raises RunnerError where the logbook cannot be written.
        """

        def write(connection: sqlite3.Connection) -> int | None:
            return insert_run(connection, str(uuid.uuid4()), started)

        run = self._writer.put(write, lambda: None, waits=False).result()
        if run is None:
            raise RunnerError(
                f"{self.path}: the logbook cannot be written ({self._memory.reason}); free some "
                "space, make the file writable, or name another one with --logbook"
            )
        self._held.take(run)
        return run

    def append(self, run: int, number: int, event: Event) -> Future[None]:
        """Store event ``number`` (0 is the first) of ``run``; the future is done when durable."""
        return self._writer.put(lambda c: insert_event(c, run, number, event), _nothing)

    def finish(self, run: int, how: str) -> Future[None]:
        """Note how the run ended (``complete`` or ``open``)."""

        def write(connection: sqlite3.Connection) -> None:
            connection.execute("UPDATE runs SET finished = ? WHERE id = ?", (how, run))

        return self._writer.put(write, _nothing)

    def runs(self) -> list[RunRow]:
        """Every run, newest first."""
        with self.reading() as connection:
            rows = connection.execute(f"{_ROW} {_NEWEST}").fetchall()
        return [RunRow(*row) for row in rows]

    def run(self, number: int | None = None) -> RunRow:
        """That run, or the newest one; RunnerError where there is none."""
        with self.reading() as connection:
            if number is None:
                row = connection.execute(f"{_ROW} {_NEWEST} LIMIT 1").fetchone()
            else:
                row = connection.execute(f"{_ROW} WHERE id = ?", (number,)).fetchone()
        if row is None:
            which = "no run yet" if number is None else f"no run {number}"
            raise RunnerError(f"{self.path}: this logbook has {which}; see runner logbook list")
        return RunRow(*row)

    def latest_unfinished(self) -> RunRow | None:
        """The newest run that has not come to its end and that no other process flies now, or
        None. It is held by this process from then on. A crew's run is left to its crew."""
        with self.reading() as connection:
            crewed = crewed_runs(connection)
            rows = connection.execute(f"{_ROW} WHERE finished = '' {_NEWEST}").fetchall()
        own = (RunRow(*row) for row in rows if row[0] not in crewed)
        return next((row for row in own if self._held.take(row.id)), None)

    def latest_unfinished_crewed(self) -> RunRow | None:
        """The newest crew's run that has not come to its end, or None."""
        with self.reading() as connection:
            crewed = crewed_runs(connection)
            rows = connection.execute(f"{_ROW} WHERE finished = '' {_NEWEST}").fetchall()
        return next((RunRow(*row) for row in rows if row[0] in crewed), None)

    def events(self, run: int) -> list[Event]:
        """The events of a run in order, the first with its snapshots whole.

        Raises RunnerError where the stored run is damaged.
        """
        with self.reading() as connection:
            return read_events(connection, run, str(self.path))

    def drill_begin(self, kind: str, length: int, at: datetime) -> int:
        """Store a new drill of ``length`` questions; give its number. Blocks until durable.

        Where the logbook cannot be written the number is negative and the drill is kept in
        memory.
        """
        self._what = "drill"
        return self._writer.put(
            lambda c: drills.begin(c, kind, length, at), self._memory.begin, waits=False
        ).result()

    def drill_answer(
        self,
        drill: int,
        card: str,
        kind: str,
        rating: int,
        right: bool,
        answer_ms: int,
        at: datetime,
        heard: str,
        state_json: str | None = None,
    ) -> Future[None]:
        """Store one answer, and with ``state_json`` what became of its card, in one piece."""
        answer = drills.Answer(card, kind, rating, right, answer_ms, at, heard)
        put = drills.known(card, kind, state_json, at) if state_json is not None else None

        def write(connection: sqlite3.Connection) -> None:
            if drill > 0:
                drills.answer(connection, drill, answer)
            if put is not None:
                drills.put(connection, put)

        return self._writer.put(write, lambda: self._memory.keep(put))

    def drill_end(self, drill: int) -> Future[None]:
        """Note that a drill came to its end."""
        return self._writer.put(lambda c: drills.end(c, drill), _nothing)

    def card_put(self, card: str, kind: str, state_json: str) -> Future[None]:
        """Store what is known of a card; a ``due`` in it (ISO 8601) is when it comes back."""
        put = drills.known(card, kind, state_json, datetime.now().astimezone())
        return self._writer.put(lambda c: drills.put(c, put), lambda: self._memory.keep(put))

    def cards(self, kind: str | None = None) -> dict[str, str]:
        """What is known of each card, or of each of that kind."""
        with self.reading() as connection:
            stored = drills.cards(connection, kind)
        return stored | self._memory.cards(kind)

    def due(self, now: datetime) -> list[str]:
        """The cards that are due, those first that have been so for longest."""
        with self.reading() as connection:
            stored = drills.due(connection, now)
        return self._memory.due(stored, now)

    def close(self) -> None:
        """Write what is left and close the file."""
        self._writer.close()
        self._held.close()

    @contextlib.contextmanager
    def reading(self) -> Iterator[sqlite3.Connection]:
        """A connection that reads, for as long as it is needed."""
        with contextlib.closing(reading(self.path)) as connection:
            yield connection

    def write(self, work: Callable[[sqlite3.Connection], None]) -> Future[None]:
        """Have some other work done in the writer's next transaction."""
        return self._writer.put(work, _nothing)

    def _trouble(self, reason: str) -> None:
        self._memory.reason = reason
        if self.on_trouble is not None:
            self.on_trouble(
                f"{self.path}: the logbook cannot be written ({reason}); the {self._what} goes on "
                "in memory: what was stored so far stays, what comes from here on is not kept"
            )

    def _busy(self) -> None:
        if not self._memory.reason:
            self._memory.reason = "another process keeps it"
        if self.on_trouble is not None:
            self.on_trouble(
                f"{self.path}: another process keeps the logbook; the {self._what} goes on, and "
                "is stored as soon as the logbook is free"
            )


_NEWEST = "ORDER BY julianday(started) DESC, id DESC"
"""A run that was imported has a higher number than one that began later."""

_ROW = "SELECT id, started, procedures, aircraft, finished FROM runs"


def insert_run(connection: sqlite3.Connection, name: str, started: RunStarted) -> int:
    """Store a run with its first event and its files; ``name`` is the run's own in all
    logbooks. Gives its number in this one."""
    for kind, snapshot in _snapshots(started):
        connection.execute(
            "INSERT OR IGNORE INTO contents VALUES (?, ?)", (snapshot.sha256, snapshot.text)
        )
        connection.execute(
            "INSERT OR IGNORE INTO files VALUES (?, ?, ?)", (snapshot.sha256, kind, snapshot.name)
        )
    run = connection.execute(
        "INSERT INTO runs (started, procedures, aircraft, uuid, procedures_sha256, "
        "aircraft_sha256, voice_sha256) VALUES (?, ?, ?, ?, ?, ?, ?)",
        (
            started.wall_clock,
            started.procedures.name,
            started.aircraft.name,
            name,
            *(snapshot.sha256 for _, snapshot in _snapshots(started)),
        ),
    ).lastrowid
    assert run is not None
    insert_event(connection, run, 0, started)
    return run


def insert_event(connection: sqlite3.Connection, run: int, number: int, event: Event) -> None:
    """Store one event, the first without the text of its files."""
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


def crewed_runs(connection: sqlite3.Connection) -> frozenset[int]:
    """The numbers of the runs that were flown in a crew, which keeps its own tables here."""
    if not connection.execute("SELECT 1 FROM sqlite_master WHERE name = 'crews'").fetchone():
        return frozenset()
    rows = connection.execute("SELECT run FROM crews WHERE run IS NOT NULL").fetchall()
    return frozenset(row[0] for row in rows)


def read_events(connection: sqlite3.Connection, run: int, file: str) -> list[Event]:
    """The events of a run, the first with its snapshots whole.

    Raises RunnerError where the stored run is damaged.
    """
    rows = connection.execute(
        "SELECT number, event FROM events WHERE run = ? ORDER BY number", (run,)
    ).fetchall()
    if [number for number, _ in rows] != list(range(len(rows))) or not rows:
        raise RunnerError(f"{file}: run {run} has events missing; it cannot be resumed")
    try:
        events = [event_from_json(text) for _, text in rows]
    except (RunnerError, ValueError, KeyError, TypeError) as error:
        raise RunnerError(
            f"{file}: run {run} cannot be read ({error}); it cannot be resumed"
        ) from error
    first = events[0]
    if not isinstance(first, RunStarted):
        raise RunnerError(f"{file}: run {run} has no beginning; it cannot be resumed")
    events[0] = replace(
        first,
        procedures=_whole(connection, first.procedures, file),
        aircraft=_whole(connection, first.aircraft, file),
        voice=_whole(connection, first.voice, file),
    )
    return events


def _whole(connection: sqlite3.Connection, snapshot: Snapshot, file: str) -> Snapshot:
    row = connection.execute(
        "SELECT text FROM contents WHERE sha256 = ?", (snapshot.sha256,)
    ).fetchone()
    if row is None:
        raise RunnerError(f"{file}: the text of {snapshot.name} is missing from the logbook")
    return replace(snapshot, text=row[0])


def _snapshots(started: RunStarted) -> tuple[tuple[str, Snapshot], ...]:
    return (
        ("procedures", started.procedures),
        ("aircraft", started.aircraft),
        ("voice", started.voice),
    )


def _nothing() -> None:
    return None
