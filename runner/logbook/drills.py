"""Drills in the logbook: each answer, and for each card what spacing knows of it.

A card's state is JSON that the logbook does not look into, but for ``due``, when the card
comes back (ISO 8601), which is kept beside it so that what is due is found at once.
"""

from __future__ import annotations

import json
import sqlite3
import uuid
from dataclasses import dataclass, field
from datetime import datetime


@dataclass(frozen=True, slots=True)
class Answer:
    """One answer in a drill. ``answer_ms`` is how long it took, ``rating`` 1 to 4."""

    card: str
    kind: str
    rating: int
    right: bool
    answer_ms: int
    at: datetime
    heard: str


@dataclass(frozen=True, slots=True)
class Put:
    """What is known of a card since ``at``."""

    card: str
    kind: str
    state: str
    at: datetime
    due: float | None
    """When the card comes back, seconds since 1970; None where the state names no time."""


def known(card: str, kind: str, state: str, at: datetime) -> Put:
    """What is known of a card since ``at``.

    Raises ValueError where the state is no JSON or its ``due`` no time.
    """
    plain = json.loads(state)
    due = plain.get("due") if isinstance(plain, dict) else None
    return Put(
        card, kind, state, at, None if due is None else datetime.fromisoformat(due).timestamp()
    )


@dataclass(slots=True)
class Memory:
    """What could not be stored any more and why, so that a drill goes on without it."""

    reason: str = ""
    drills: int = 0
    puts: dict[str, Put] = field(default_factory=dict)

    def begin(self) -> int:
        """A number for a drill that is kept in memory: below zero."""
        self.drills += 1
        return -self.drills

    def keep(self, put: Put | None) -> None:
        """Keep what became of a card."""
        if put is not None:
            self.puts = {**self.puts, put.card: put}

    def cards(self, kind: str | None) -> dict[str, str]:
        """The cards that were kept."""
        return {p.card: p.state for p in self.puts.values() if kind is None or p.kind == kind}

    def due(self, stored: list[str], now: datetime) -> list[str]:
        """What is due, given what is so by the file."""
        kept = sorted((p.due, p.card) for p in self.puts.values() if p.due is not None)
        return [card for card in stored if card not in self.puts] + [
            card for due, card in kept if due <= now.timestamp()
        ]


def begin(connection: sqlite3.Connection, kind: str, length: int, at: datetime) -> int:
    """Store a new drill; give its number."""
    drill = connection.execute(
        "INSERT INTO drills (uuid, kind, length, started) VALUES (?, ?, ?, ?)",
        (str(uuid.uuid4()), kind, length, stamp(at)),
    ).lastrowid
    assert drill is not None
    return drill


def answer(connection: sqlite3.Connection, drill: int, given: Answer) -> None:
    """Store the next answer of a drill."""
    connection.execute(
        "INSERT INTO drill_answers SELECT ?, coalesce(max(number), 0) + 1, ?, ?, ?, ?, ?, ?, ? "
        "FROM drill_answers WHERE drill = ?",
        (
            drill,
            given.card,
            given.kind,
            given.rating,
            int(given.right),
            given.answer_ms,
            stamp(given.at),
            given.heard,
            drill,
        ),
    )


def end(connection: sqlite3.Connection, drill: int) -> None:
    """Note that a drill came to its end."""
    connection.execute("UPDATE drills SET ended = 1 WHERE id = ?", (drill,))


def put(connection: sqlite3.Connection, one: Put) -> None:
    """Store what is known of a card."""
    connection.execute(
        "INSERT OR REPLACE INTO cards VALUES (?, ?, ?, ?, ?)",
        (one.card, one.kind, one.due, one.at.timestamp(), one.state),
    )


def cards(connection: sqlite3.Connection, kind: str | None) -> dict[str, str]:
    """What is known of each card, or of each of that kind."""
    where, values = ("", ()) if kind is None else (" WHERE kind = ?", (kind,))
    return dict(connection.execute(f"SELECT card, state FROM cards{where} ORDER BY card", values))


def due(connection: sqlite3.Connection, now: datetime) -> list[str]:
    """The cards that are due, those first that have been so for longest."""
    rows = connection.execute(
        "SELECT card FROM cards WHERE due <= ? ORDER BY due, card", (now.timestamp(),)
    )
    return [card for (card,) in rows]


def stamp(at: datetime) -> str:
    """A time as it is stored: ISO 8601 with its offset from UTC, whole milliseconds."""
    return at.astimezone().isoformat(timespec="milliseconds")
