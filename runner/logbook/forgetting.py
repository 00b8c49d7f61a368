"""Deleting from a logbook for good: nothing of it is left in the file, nor beside it.

Deleted content is overwritten with zeros, the file is written anew without it, and SQLite's
own log beside it is emptied into it first and removed. That needs the file for oneself. What
backups or the disk's own cells still hold is beyond any program's reach.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Mapping
from contextlib import closing
from datetime import datetime
from pathlib import Path

from runner.errors import RunnerError
from runner.logbook import drills
from runner.logbook.opening import open_logbook
from runner.logbook.store import crewed_runs

Rework = Callable[[list[tuple[int, bool, int, str]]], str | None]
"""A card's state worked out of its answers (rating, right, milliseconds, ISO 8601 time)."""


def forget_run(path: Path, run: int) -> bool:
    """Delete a run, and the text of its files where no other run was made of them.

    False where the file could not be made smaller afterwards; what was deleted is gone all
    the same. Raises RunnerError where there is no such run or another process is at it.
    """

    def delete(connection: sqlite3.Connection) -> None:
        if not connection.execute("DELETE FROM runs WHERE id = ?", (run,)).rowcount:
            raise RunnerError(f"{path}: this logbook has no run {run}; see runner logbook list")
        if run in crewed_runs(connection):
            # The crew keeps the events too, and the number may be another run's next.
            for table in ("crew_records", "crew_people", "crews"):
                connection.execute(
                    f"DELETE FROM {table} WHERE crew IN (SELECT crew FROM crews WHERE run = ?)",
                    (run,),
                )
        _drop_files(connection)

    return _alone(path, delete)


def forget_drill(path: Path, drill: int, rework: Rework) -> bool:
    """Delete a drill; ``rework`` works its cards out anew from the answers that remain.

    A card that was asked in no other drill begins anew. Else as ``forget_run``.
    """

    def delete(connection: sqlite3.Connection) -> None:
        cards = connection.execute(
            "SELECT DISTINCT card FROM drill_answers WHERE drill = ?", (drill,)
        ).fetchall()
        if not connection.execute("DELETE FROM drills WHERE id = ?", (drill,)).rowcount:
            raise RunnerError(f"{path}: this logbook has no drill {drill}; see runner logbook list")
        for (card,) in cards:
            _rework(connection, card, rework)

    return _alone(path, delete)


def forget_all(path: Path) -> bool:
    """Delete every run, drill and card with all that was worked out of them."""

    def delete(connection: sqlite3.Connection) -> None:
        tables = connection.execute(
            "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%'"
        ).fetchall()
        connection.execute("PRAGMA defer_foreign_keys = ON")
        for (table,) in tables:
            connection.execute(f'DELETE FROM "{table}"')

    return _alone(path, delete)


def held(connection: sqlite3.Connection) -> Mapping[str, int]:
    """How many runs, drills and cards there are."""
    return {
        table: connection.execute(f"SELECT count(*) FROM {table}").fetchone()[0]
        for table in ("runs", "drills", "cards")
    }


def _rework(connection: sqlite3.Connection, card: str, rework: Rework) -> None:
    left = connection.execute(
        "SELECT a.rating, a.correct, a.answer_ms, a.at FROM drill_answers a "
        "JOIN drills d ON d.id = a.drill WHERE a.card = ? ORDER BY julianday(a.at), d.id, a.number",
        (card,),
    ).fetchall()
    state = rework([(rating, bool(right), ms, at) for rating, right, ms, at in left])
    if state is None:
        connection.execute("DELETE FROM cards WHERE card = ?", (card,))
        return
    (kind,) = connection.execute(
        "SELECT kind FROM drill_answers WHERE card = ? LIMIT 1", (card,)
    ).fetchone()
    drills.put(connection, drills.known(card, kind, state, datetime.fromisoformat(left[-1][3])))


def _drop_files(connection: sqlite3.Connection) -> None:
    used = " UNION ".join(
        f"SELECT {kind}_sha256 FROM runs" for kind in ("procedures", "aircraft", "voice")
    )
    connection.execute(f"DELETE FROM files WHERE sha256 NOT IN ({used})")
    connection.execute(f"DELETE FROM contents WHERE sha256 NOT IN ({used})")


def _alone(path: Path, delete: Callable[[sqlite3.Connection], None]) -> bool:
    """Delete with the file for oneself, and write it anew."""
    with closing(open_logbook(path)) as connection:
        connection.execute("PRAGMA busy_timeout = 2000")
        connection.execute("PRAGMA secure_delete = ON")
        try:
            # Without its log the file has to be ours alone: refused where it is not.
            connection.execute("PRAGMA journal_mode = DELETE")
        except sqlite3.OperationalError as error:
            raise RunnerError(
                f"{path}: another Runner has this logbook open ({error}); end it first, so that "
                "nothing is left in the log beside the file"
            ) from error
        try:
            connection.execute("BEGIN EXCLUSIVE")
            try:
                delete(connection)
            except BaseException:
                connection.execute("ROLLBACK")
                raise
            connection.execute("COMMIT")
            return _made_anew(connection)
        except sqlite3.Error as error:
            raise RunnerError(f"{path}: nothing was deleted ({error})") from error


def _made_anew(connection: sqlite3.Connection) -> bool:
    try:
        connection.execute("VACUUM")
    except sqlite3.Error:
        return False
    return True
