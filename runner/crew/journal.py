"""What a member must not lose, in SQLite: its records, and how it finds its crew again.

The tables stand beside the logbook's in the same file, so that a record and the logbook's
own event can be written in one transaction: ``Journal(logbook.write, logbook.reading)``.
"""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import AbstractContextManager
from dataclasses import dataclass, fields
from pathlib import Path

from runner.crew.core.messages import Refused
from runner.crew.core.records import Record, record_from_json, record_to_json
from runner.errors import RunnerError

Work = Callable[[sqlite3.Connection], None]
Write = Callable[[Work], Future[None]]
Reading = Callable[[], AbstractContextManager[sqlite3.Connection]]

TABLES = (
    "CREATE TABLE IF NOT EXISTS crews (crew TEXT PRIMARY KEY, secret BLOB NOT NULL, "
    "room TEXT NOT NULL, through TEXT NOT NULL, wants TEXT NOT NULL, run INTEGER) WITHOUT ROWID",
    "CREATE TABLE IF NOT EXISTS crew_records (crew TEXT NOT NULL, number INTEGER NOT NULL, "
    "record TEXT NOT NULL, PRIMARY KEY (crew, number)) WITHOUT ROWID",
    "CREATE TABLE IF NOT EXISTS crew_people (crew TEXT NOT NULL, member TEXT NOT NULL, "
    "name TEXT NOT NULL, PRIMARY KEY (crew, member)) WITHOUT ROWID",
)

LATER = ("me", "name", "listens", "others")
"""Columns of ``crews``, all text, that the first files of this kind do not have."""


@dataclass(frozen=True, slots=True)
class Membership:
    """A crew this machine belongs to: ``crew`` is this machine's own name for it, ``room`` and
    ``through`` where the others are met (an address, a broker, or empty for the network),
    ``run`` the logbook's run, if it has begun. ``me`` is this machine's member id and ``name``
    its person's name; ``listens`` the address and port at which others meet here, ``others``
    those at which this machine met them, a space between two."""

    crew: str
    secret: bytes
    room: str
    through: str = ""
    wants: str = "crew"
    run: int | None = None
    me: str = ""
    name: str = ""
    listens: str = ""
    others: str = ""


class Journal:
    """Records kept through ``write``, which has work done in a transaction and gives a future
    that is done when it is durable; ``reading`` opens a connection to read."""

    def __init__(self, write: Write, reading: Reading) -> None:
        self._write = write
        self._reading = reading
        write(_create).result()

    def belong(self, membership: Membership) -> Future[None]:
        """Keep that this machine belongs to a crew, or what has changed of that; which run it
        is stays as it was."""
        row = tuple(getattr(membership, field.name) for field in fields(membership))
        names = [field.name for field in fields(membership)]
        changed = [name for name in names if name not in ("crew", "run")]
        statement = (
            f"INSERT INTO crews ({', '.join(names)}) VALUES ({', '.join('?' * len(names))}) "
            f"ON CONFLICT (crew) DO UPDATE SET {', '.join(f'{n} = excluded.{n}' for n in changed)}"
        )
        return self._write(lambda c: _do(c, statement, row))

    def membership(self, crew: str) -> Membership | None:
        """What is kept of a crew."""
        found = self._memberships("WHERE crew = ?", (crew,))
        return found[0] if found else None

    def latest(self) -> Membership | None:
        """The crew whose run is the newest one in this logbook."""
        found = self._memberships("WHERE run IN (SELECT id FROM runs) ORDER BY run DESC LIMIT 1")
        return found[0] if found else None

    def _memberships(self, which: str, values: tuple[object, ...] = ()) -> list[Membership]:
        names = ", ".join(field.name for field in fields(Membership))
        with self._reading() as connection:
            rows = connection.execute(f"SELECT {names} FROM crews {which}", values).fetchall()
        return [Membership(*row) for row in rows]

    def meet(self, crew: str, member: str, name: str) -> Future[None]:
        """Keep what a member is called."""
        row = (crew, member, name)
        return self._write(
            lambda c: _do(c, "INSERT OR REPLACE INTO crew_people VALUES (?, ?, ?)", row)
        )

    def people(self, crew: str) -> dict[str, str]:
        """What the members met so far are called."""
        with self._reading() as connection:
            return dict(
                connection.execute("SELECT member, name FROM crew_people WHERE crew = ?", (crew,))
            )

    def append(
        self, crew: str, number: int, record: Record, also: Work | None = None
    ) -> Future[None]:
        """Keep record ``number`` (0 is the first); ``also`` is done in the same transaction."""
        row = (crew, number, record_to_json(record))

        def work(connection: sqlite3.Connection) -> None:
            _do(connection, "INSERT INTO crew_records VALUES (?, ?, ?)", row)
            if also is not None:
                also(connection)

        return self._write(work)

    def records(self, crew: str) -> list[Record]:
        """The records in order. RunnerError where they are damaged."""
        with self._reading() as connection:
            rows = connection.execute(
                "SELECT number, record FROM crew_records WHERE crew = ? ORDER BY number", (crew,)
            ).fetchall()
        try:
            if [number for number, _ in rows] != list(range(len(rows))):
                raise Refused("records are missing")
            return [record_from_json(text) for _, text in rows]
        except Refused as error:
            raise RunnerError(f"what is kept of crew {crew} cannot be read ({error})") from error


class JournalFile:
    """A journal in a file of its own, written by one thread, for what has no logbook."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._thread = ThreadPoolExecutor(1, "journal")
        self._connection: sqlite3.Connection | None = None
        self.journal = Journal(self.write, self.reading)

    def write(self, work: Work) -> Future[None]:
        """Have work done in a transaction of its own."""
        return self._thread.submit(self._do, work)

    @contextlib.contextmanager
    def reading(self) -> Iterator[sqlite3.Connection]:
        """A connection that reads."""
        with contextlib.closing(sqlite3.connect(self.path)) as connection:
            yield connection

    def close(self) -> None:
        """Write what is left and close the file."""
        self._thread.shutdown()
        if self._connection is not None:
            self._connection.close()

    def _do(self, work: Work) -> None:
        if self._connection is None:
            self._connection = sqlite3.connect(
                self.path, isolation_level=None, check_same_thread=False
            )
            self._connection.execute("PRAGMA journal_mode=WAL")
            self._connection.execute("PRAGMA synchronous=FULL")
        self._connection.execute("BEGIN IMMEDIATE")
        try:
            work(self._connection)
        except BaseException:
            self._connection.execute("ROLLBACK")
            raise
        self._connection.execute("COMMIT")


def _create(connection: sqlite3.Connection) -> None:
    for statement in TABLES:
        connection.execute(statement)
    known = {row[1] for row in connection.execute("PRAGMA table_info(crews)")}
    for name in LATER:
        if name not in known:
            connection.execute(f"ALTER TABLE crews ADD COLUMN {name} TEXT NOT NULL DEFAULT ''")


def _do(connection: sqlite3.Connection, statement: str, row: tuple[object, ...]) -> None:
    connection.execute(statement, row)
