"""A debrief put together: the run, its past, what stands out and the advice."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path, PurePath
from statistics import median

from runner.debrief.advice import Advice, advise
from runner.debrief.drilled import due_of
from runner.debrief.kept import Book
from runner.debrief.past import FLIGHTS, Past, past_of
from runner.debrief.record import ItemRecord, Record, Try
from runner.logbook.store import RunRow

ENOUGH_BEFORE = 5
"""So many earlier answers to an item before one is called slower than all of them."""


@dataclass(frozen=True, slots=True)
class Slow:
    """An item that took longer than ever before: the longest before, of so many answers."""

    item: ItemRecord
    longest_ms: int
    median_ms: float
    answers: int


@dataclass(frozen=True, slots=True)
class Debrief:
    """All that is told of a run."""

    row: RunRow
    record: Record
    past: Past
    slow: tuple[Slow, ...]
    advice: tuple[Advice, ...]

    @property
    def file(self) -> str:
        """The name of the procedures file without its ending, as drills know it."""
        return PurePath(self.row.procedures).stem

    @property
    def critical_open(self) -> frozenset[str]:
        """Challenges of critical items that are not done."""
        return frozenset(
            item.challenge for item in self.record.items if item.critical and item.status != "done"
        )

    def failed(self) -> tuple[tuple[ItemRecord, Try], ...]:
        """Every try that failed with its item, in order of time."""
        pairs = ((item, one) for item in self.record.items for one in item.tries)
        return tuple(sorted(pairs, key=lambda pair: pair[1].at))


def debrief(book: Book, number: int | None, now: datetime, readings: Path | None = None) -> Debrief:
    """Look back on a run, or on the newest one, with the readings recorded during it.

    Raises RunnerError where either cannot be read.
    """
    row = book.row(number)
    record = book.record(row.id) if readings is None else book.with_readings(row.id, readings)
    past = past_of(book, book.earlier(row, FLIGHTS))
    file = PurePath(row.procedures).stem
    advice = advise(record, past, due_of(book.connection, now, file), file)
    return Debrief(row, record, past, tuple(_slow(record, past)), advice)


def _slow(record: Record, past: Past) -> Iterable[Slow]:
    found = []
    for item in record.items:
        before = past.items.get(item.item)
        if item.answer_ms is None or before is None or len(before.times) < ENOUGH_BEFORE:
            continue
        longest = max(before.times)
        if item.answer_ms > longest:
            found.append(Slow(item, longest, median(before.times), len(before.times)))
    found.sort(key=lambda one: -(one.item.answer_ms or 0) / max(1.0, one.median_ms))
    return found
