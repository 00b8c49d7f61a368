"""What drills left behind: right answers week by week, and what is likely still known.

What is likely known is FSRS's estimate from the answers to each card; nobody asked today.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta

WEEKS = 26
"""So many weeks of drills are shown."""


@dataclass(frozen=True, slots=True)
class Week:
    """The drills of one week, from its Monday: answers given, right ones, and their cards."""

    monday: date
    answers: int
    right: int
    cards: int


@dataclass(frozen=True, slots=True)
class CardKnown:
    """A card: the file's name, its kind, the thing it asks for, and how likely that is known
    now (0 to 1); ``asked`` and ``right`` are how often."""

    file: str
    kind: str
    thing: str
    likely: float
    asked: int
    right: int
    due: bool


@dataclass(frozen=True, slots=True)
class Drilled:
    """All that drills left behind; ``unread`` counts cards that cannot be read."""

    weeks: tuple[Week, ...] = ()
    cards: tuple[CardKnown, ...] = ()
    unread: int = 0

    @property
    def due(self) -> int:
        """How many cards are due."""
        return sum(card.due for card in self.cards)

    def likely(self) -> Mapping[str, Mapping[str, CardKnown]]:
        """The cards by their thing, then their kind."""
        found: dict[str, dict[str, CardKnown]] = {}
        for card in self.cards:
            found.setdefault(card.thing, {})[card.kind] = card
        return found


def due_of(connection: sqlite3.Connection, now: datetime, file: str) -> int:
    """How many cards of a procedures file (its name without ending) are due."""
    row = connection.execute(
        "SELECT count(*) FROM cards WHERE card >= ? AND card < ? AND due <= ?",
        (f"{file}/", f"{file}0", now.timestamp()),
    ).fetchone()
    return int(row[0])


def drilled(connection: sqlite3.Connection, now: datetime, file: str) -> Drilled:
    """What drills of a procedures file (its name without ending) left behind."""
    from runner.practice.spacing import Progress, retrievability

    cards, unread = [], 0
    rows = connection.execute(
        "SELECT card, kind, state FROM cards WHERE card >= ? AND card < ? ORDER BY card",
        (f"{file}/", f"{file}0"),
    )
    for card, kind, state in rows:
        try:
            known = Progress.from_json(state)
        except ValueError:
            unread += 1
            continue
        thing = card.removeprefix(f"{file}/{kind}/")
        likely = retrievability(known, now)
        cards.append(
            CardKnown(file, kind, thing, likely, known.asked, known.right, known.due <= now)
        )
    return Drilled(_weeks(connection, now, file), tuple(cards), unread)


def _weeks(connection: sqlite3.Connection, now: datetime, file: str) -> tuple[Week, ...]:
    this = _monday(now.date())
    first = this - timedelta(weeks=WEEKS - 1)
    answers: dict[date, list[int]] = {}
    asked: dict[date, set[str]] = {}
    rows = connection.execute(
        "SELECT substr(at, 1, 10), card, correct FROM drill_answers WHERE at >= ? "
        "AND card >= ? AND card < ?",
        (first.isoformat(), f"{file}/", f"{file}0"),
    )
    for at, card, right in rows:
        monday = _monday(date.fromisoformat(at))
        answers.setdefault(monday, []).append(right)
        asked.setdefault(monday, set()).add(card)
    if not answers:
        return ()
    begin = max(first, min(answers))
    found = []
    while begin <= max(this, *answers):
        given = answers.get(begin, [])
        found.append(Week(begin, len(given), sum(given), len(asked.get(begin, ()))))
        begin += timedelta(weeks=1)
    return tuple(found)


def _monday(day: date) -> date:
    return day - timedelta(days=day.weekday())
