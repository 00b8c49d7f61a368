"""The logbook's tables and how an older file is brought up to date."""

from __future__ import annotations

import sqlite3

from runner.errors import RunnerError

VERSION = 1

_STEPS: tuple[tuple[str, ...], ...] = (
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
)
"""One tuple of statements for each version; a file of version n needs those after the nth."""


def migrate(connection: sqlite3.Connection, file: str) -> None:
    """Bring the open database up to ``VERSION``.

    Raises RunnerError where the file was written by a newer Runner.
    """
    (version,) = connection.execute("PRAGMA user_version").fetchone()
    if version > VERSION:
        raise RunnerError(
            f"{file}: this logbook was written by a newer Runner (version {version}, "
            f"this one knows {VERSION}); update Runner or name another file with --logbook"
        )
    if version == VERSION:
        return
    connection.execute("BEGIN IMMEDIATE")
    try:
        (version,) = connection.execute("PRAGMA user_version").fetchone()
        for statements in _STEPS[version:]:
            for statement in statements:
                connection.execute(statement)
        connection.execute(f"PRAGMA user_version = {VERSION}")
        connection.execute("COMMIT")
    except BaseException:
        connection.execute("ROLLBACK")
        raise
