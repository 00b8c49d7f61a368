"""The runs and drills of a logbook in short, newest first."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class RunInShort:
    """A run: its number, when it began (ISO 8601), of what, and how it ended."""

    id: int
    started: str
    procedures: str
    ended: str


@dataclass(frozen=True, slots=True)
class DrillInShort:
    """A drill: its number, when it began (ISO 8601), of which kind, and what came of it."""

    id: int
    started: str
    kind: str
    ended: str
    asked: int
    right: int


def runs_of(connection: sqlite3.Connection, last: int) -> tuple[list[RunInShort], int]:
    """The ``last`` runs (0: all), and how many there are beside them."""
    rows = connection.execute(
        "SELECT id, started, procedures, CASE finished WHEN '' THEN 'stopped' "
        "WHEN 'open' THEN 'items open' ELSE finished END FROM runs "
        "ORDER BY julianday(started) DESC, id DESC LIMIT ?",
        (last or -1,),
    ).fetchall()
    (total,) = connection.execute("SELECT count(*) FROM runs").fetchone()
    return [RunInShort(*row) for row in rows], total - len(rows)


def drills_of(connection: sqlite3.Connection, last: int) -> tuple[list[DrillInShort], int]:
    """The ``last`` drills (0: all), and how many there are beside them."""
    rows = connection.execute(
        "SELECT d.id, d.started, d.kind, CASE d.ended WHEN 1 THEN 'ended' ELSE 'stopped' END, "
        "count(a.number), coalesce(sum(a.correct), 0) FROM "
        "(SELECT * FROM drills ORDER BY julianday(started) DESC, id DESC LIMIT ?) d "
        "LEFT JOIN drill_answers a ON a.drill = d.id GROUP BY d.id "
        "ORDER BY julianday(d.started) DESC, d.id DESC",
        (last or -1,),
    ).fetchall()
    (total,) = connection.execute("SELECT count(*) FROM drills").fetchone()
    return [DrillInShort(*row) for row in rows], total - len(rows)
