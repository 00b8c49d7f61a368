"""Opening a logbook's file to write and to read, and what is said where that fails."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from runner.errors import RunnerError
from runner.logbook.schema import VERSION, known_version, migrate
from runner.logbook.writer import PATIENCE

OPENING_PATIENCE = 15.0
"""Seconds to wait for another process when the file is opened: nobody waits for an answer yet."""


class LogbookUnwritable(RunnerError):
    """The logbook cannot be written: the disk is full, or the file or folder read-only.

    The run or the drill can go on in memory.
    """


_UNWRITABLE = {
    sqlite3.SQLITE_FULL,
    sqlite3.SQLITE_READONLY,
    sqlite3.SQLITE_IOERR,
    sqlite3.SQLITE_CANTOPEN,
    sqlite3.SQLITE_PERM,
    sqlite3.SQLITE_BUSY,
}


def open_logbook(path: Path) -> sqlite3.Connection:
    """The file, made where there is none, for the writer's thread.

    Raises LogbookUnwritable where it cannot be written, RunnerError where it is no logbook.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        connection = sqlite3.connect(
            path, timeout=OPENING_PATIENCE, isolation_level=None, check_same_thread=False
        )
        try:
            connection.execute("PRAGMA journal_mode = WAL")
            connection.execute("PRAGMA synchronous = FULL")
            connection.execute("PRAGMA foreign_keys = ON")
            migrate(connection, str(path))
            # A lock is refused on a read-only file; nothing else above may have tried.
            connection.execute("BEGIN IMMEDIATE")
            connection.execute("ROLLBACK")
            connection.execute(f"PRAGMA busy_timeout = {round(1000 * PATIENCE)}")
        except BaseException:
            connection.close()
            raise
    except sqlite3.Error as error:
        if (getattr(error, "sqlite_errorcode", 0) & 0xFF) in _UNWRITABLE:
            raise LogbookUnwritable(
                f"{path}: the logbook cannot be written ({error}); free some space, make it "
                "writable, or name another file with --logbook"
            ) from error
        raise RunnerError(
            f"{path}: this is not a logbook that can be opened ({error}); name another file "
            "with --logbook"
        ) from error
    except OSError as error:
        raise LogbookUnwritable(
            f"{path}: the logbook cannot be written ({error.strerror}); make its folder "
            "writable, or name another file with --logbook"
        ) from error
    return connection


def reading(path: Path) -> sqlite3.Connection:
    """A connection that only reads; RunnerError where there is no logbook of this version.

    A file that lies where nothing can be written, not even SQLite's own notes beside it,
    is read as it is, where nothing is left in its write-ahead log.
    """
    if not path.exists():
        raise RunnerError(f"{path}: there is no logbook here yet; name one with --logbook")
    log = Path(f"{path}-wal")
    ways = ["mode=ro"]
    if not log.exists() or log.stat().st_size == 0:
        ways.append("mode=ro&immutable=1")
    failure: sqlite3.Error | None = None
    for way in ways:
        connection = sqlite3.connect(
            f"{path.resolve().as_uri()}?{way}",
            uri=True,
            timeout=OPENING_PATIENCE,
            isolation_level=None,
        )
        try:
            version = known_version(connection, str(path))
        except sqlite3.Error as error:
            connection.close()
            failure = error
            continue
        except RunnerError:
            connection.close()
            raise
        if version < VERSION:
            connection.close()
            raise RunnerError(
                f"{path}: this logbook was written by an older Runner (version {version}); "
                "make it writable once, so that it can be brought up to date"
            )
        return connection
    raise RunnerError(
        f"{path}: this is not a logbook that can be opened ({failure}); name another file "
        "with --logbook"
    ) from failure
