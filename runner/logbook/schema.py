"""The logbook's tables and how an older file is brought up to date.

``contents`` holds the text of each procedures, aircraft and voice file once, by its hash,
and ``files`` what each was. ``answers`` and ``summaries`` hold what is worked out of a
run's events by replaying them, so that looking back over thousands of runs reads no event.
A summary is of so many ``events`` and made by so numbered ``rules`` of looking back: one of
fewer events, or of other rules, is made anew.
"""

from __future__ import annotations

import hashlib
import sqlite3
import uuid
from collections.abc import Callable

from runner.errors import RunnerError

VERSION = 3

Step = str | Callable[[sqlite3.Connection], None]


def _name_runs(connection: sqlite3.Connection) -> None:
    """Names for the runs of a version that had none: the same file gives the same names."""
    rows = connection.execute(
        "SELECT r.id, r.started, e.event FROM runs r "
        "LEFT JOIN events e ON e.run = r.id AND e.number = 0"
    ).fetchall()
    for run, started, event in rows:
        seed = hashlib.sha256(f"{run}\n{started}\n{event}".encode()).digest()
        connection.execute(
            "UPDATE runs SET uuid = ? WHERE id = ?", (str(uuid.UUID(bytes=seed[:16])), run)
        )


def _file_hashes(connection: sqlite3.Connection) -> None:
    for kind in ("procedures", "aircraft", "voice"):
        connection.execute(
            f"UPDATE runs SET {kind}_sha256 = coalesce((SELECT json_extract(event, "
            f"'$.{kind}.sha256') FROM events WHERE run = runs.id AND number = 0), '')"
        )
        connection.execute(
            "INSERT OR IGNORE INTO files SELECT json_extract(event, ?), ?, "
            "json_extract(event, ?) FROM events WHERE number = 0",
            (f"$.{kind}.sha256", kind, f"$.{kind}.name"),
        )


_STEPS: tuple[tuple[Step, ...], ...] = (
    (
        "CREATE TABLE contents (sha256 TEXT PRIMARY KEY, text TEXT NOT NULL) WITHOUT ROWID",
        """CREATE TABLE runs (
            id INTEGER PRIMARY KEY,
            started TEXT NOT NULL,
            procedures TEXT NOT NULL,
            aircraft TEXT NOT NULL,
            finished TEXT NOT NULL DEFAULT ''
        )""",
        """CREATE TABLE events (
            run INTEGER NOT NULL REFERENCES runs(id) ON DELETE CASCADE,
            number INTEGER NOT NULL,
            at INTEGER NOT NULL,
            kind TEXT NOT NULL,
            event TEXT NOT NULL,
            PRIMARY KEY (run, number)
        ) WITHOUT ROWID""",
    ),
    (
        "ALTER TABLE runs ADD COLUMN uuid TEXT NOT NULL DEFAULT ''",
        "ALTER TABLE runs ADD COLUMN procedures_sha256 TEXT NOT NULL DEFAULT ''",
        "ALTER TABLE runs ADD COLUMN aircraft_sha256 TEXT NOT NULL DEFAULT ''",
        "ALTER TABLE runs ADD COLUMN voice_sha256 TEXT NOT NULL DEFAULT ''",
        """CREATE TABLE files (
            sha256 TEXT NOT NULL,
            kind TEXT NOT NULL,
            name TEXT NOT NULL,
            PRIMARY KEY (sha256, kind)
        ) WITHOUT ROWID""",
        _name_runs,
        _file_hashes,
        "CREATE UNIQUE INDEX runs_uuid ON runs (uuid)",
        "CREATE INDEX runs_unfinished ON runs (id) WHERE finished = ''",
        """CREATE TABLE drills (
            id INTEGER PRIMARY KEY,
            uuid TEXT NOT NULL UNIQUE,
            kind TEXT NOT NULL,
            length INTEGER NOT NULL,
            started TEXT NOT NULL,
            ended INTEGER NOT NULL DEFAULT 0
        )""",
        """CREATE TABLE drill_answers (
            drill INTEGER NOT NULL REFERENCES drills(id) ON DELETE CASCADE,
            number INTEGER NOT NULL,
            card TEXT NOT NULL,
            kind TEXT NOT NULL,
            rating INTEGER NOT NULL,
            correct INTEGER NOT NULL,
            answer_ms INTEGER NOT NULL,
            at TEXT NOT NULL,
            heard TEXT NOT NULL,
            PRIMARY KEY (drill, number)
        ) WITHOUT ROWID""",
        "CREATE INDEX drill_answers_at ON drill_answers (at)",
        """CREATE TABLE cards (
            card TEXT PRIMARY KEY,
            kind TEXT NOT NULL,
            due REAL,
            changed REAL NOT NULL,
            state TEXT NOT NULL
        ) WITHOUT ROWID""",
        "CREATE INDEX cards_due ON cards (due)",
        "CREATE INDEX cards_kind ON cards (kind)",
        """CREATE TABLE summaries (
            run INTEGER PRIMARY KEY REFERENCES runs(id) ON DELETE CASCADE,
            length INTEGER NOT NULL,
            done INTEGER NOT NULL,
            left_open INTEGER NOT NULL,
            wrong INTEGER NOT NULL,
            silent INTEGER NOT NULL,
            interruptions INTEGER NOT NULL,
            callouts INTEGER NOT NULL,
            median_ms INTEGER,
            record TEXT NOT NULL
        )""",
        """CREATE TABLE answers (
            item TEXT NOT NULL,
            run INTEGER NOT NULL REFERENCES runs(id) ON DELETE CASCADE,
            list TEXT NOT NULL,
            challenge TEXT NOT NULL,
            status TEXT NOT NULL,
            answer_ms INTEGER,
            wrong INTEGER NOT NULL,
            silent INTEGER NOT NULL,
            PRIMARY KEY (item, run, list)
        ) WITHOUT ROWID""",
        "CREATE INDEX answers_run ON answers (run)",
    ),
    (
        "ALTER TABLE summaries ADD COLUMN events INTEGER NOT NULL DEFAULT 0",
        "ALTER TABLE summaries ADD COLUMN rules INTEGER NOT NULL DEFAULT 0",
        "ALTER TABLE summaries ADD COLUMN unclear INTEGER NOT NULL DEFAULT 0",
        "ALTER TABLE answers ADD COLUMN unclear INTEGER NOT NULL DEFAULT 0",
    ),
)
"""One tuple of statements for each version; a file of version n needs those after the nth."""


def create_version(connection: sqlite3.Connection, version: int) -> None:
    """Make the tables of an empty database as that version made them."""
    for steps in _STEPS[:version]:
        _carry_out(connection, steps)
    connection.execute(f"PRAGMA user_version = {version}")


def migrate(connection: sqlite3.Connection, file: str) -> None:
    """Bring the open database up to ``VERSION``.

    Raises RunnerError where the file was written by a newer Runner.
    """
    version = known_version(connection, file)
    if version == VERSION:
        return
    connection.execute("BEGIN IMMEDIATE")
    try:
        # Another process may have done it while this one waited.
        for steps in _STEPS[known_version(connection, file) :]:
            _carry_out(connection, steps)
        connection.execute(f"PRAGMA user_version = {VERSION}")
        connection.execute("COMMIT")
    except BaseException:
        connection.execute("ROLLBACK")
        raise


def known_version(connection: sqlite3.Connection, file: str) -> int:
    """The version of a database, refused where this Runner does not know it."""
    version: int = connection.execute("PRAGMA user_version").fetchone()[0]
    if version > VERSION:
        raise RunnerError(
            f"{file}: this logbook was written by a newer Runner (version {version}, "
            f"this one knows {VERSION}); update Runner or name another file with --logbook"
        )
    return version


def _carry_out(connection: sqlite3.Connection, steps: tuple[Step, ...]) -> None:
    for step in steps:
        if isinstance(step, str):
            connection.execute(step)
        else:
            step(connection)
