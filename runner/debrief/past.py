"""One's own past: what earlier runs of the same procedures say of each item, and of runs."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from statistics import median

from runner.debrief.kept import Book
from runner.logbook.store import RunRow

FLIGHTS = 50
"""So many flights before a run are its past; older ones say less of the pilot of today."""

TREND = 200
"""So many flights are in a trend."""


@dataclass(slots=True)
class ItemPast:
    """An item in earlier runs: the times of its answers, newest first, and in how many runs
    it was asked, answered wrongly, met with silence, not understood, and left open."""

    challenge: str
    times: list[int] = field(default_factory=list)
    asked: int = 0
    wrong: int = 0
    silent: int = 0
    unclear: int = 0
    open: int = 0

    @property
    def median_ms(self) -> float | None:
        """The median time to answer, None where there is none."""
        return median(self.times) if self.times else None


@dataclass(frozen=True, slots=True)
class Past:
    """``runs`` are those that were looked back on."""

    runs: tuple[int, ...]
    items: dict[str, ItemPast]

    @property
    def median_ms(self) -> float | None:
        """The median of all times to answer."""
        times = [time for item in self.items.values() for time in item.times]
        return median(times) if times else None


@dataclass(frozen=True, slots=True)
class RunTold:
    """One run in a trend. ``answered`` is the median time to answer in milliseconds."""

    run: int
    started: str
    finished: str
    length: int
    done: int
    left_open: int
    failed: int
    answered: int | None


def past_of(book: Book, rows: Sequence[RunRow]) -> Past:
    """What these runs say of each item; runs that nobody looked back on are first."""
    runs = [row.id for row in rows]
    book.catch_up(runs)
    place = {run: number for number, run in enumerate(runs)}
    found = book.connection.execute(
        "SELECT run, item, challenge, status, answer_ms, wrong, silent, unclear FROM answers "
        f"WHERE run IN ({', '.join('?' * len(runs))})",
        runs,
    ).fetchall()
    found.sort(key=lambda row: place[row[0]])
    items: dict[str, ItemPast] = {}
    for _, item, challenge, status, answer_ms, wrong, silent, unclear in found:
        one = items.get(item)
        if one is None:
            one = items[item] = ItemPast(challenge)
        if answer_ms is not None:
            one.times.append(answer_ms)
        one.asked += 1
        one.wrong += wrong > 0
        one.silent += silent > 0
        one.unclear += unclear > 0
        one.open += status != "done"
    seen = {row[0] for row in found}
    return Past(tuple(run for run in runs if run in seen), items)


def trend(book: Book, rows: Iterable[RunRow]) -> tuple[RunTold, ...]:
    """These runs as a trend, oldest first; those that nobody looked back on are left out."""
    known = {row.id: row for row in rows}
    marks = ", ".join("?" * len(known))
    found = {
        run: values
        for run, *values in book.connection.execute(
            "SELECT run, length, done, left_open, wrong + silent + unclear, median_ms "
            f"FROM summaries WHERE run IN ({marks})",
            tuple(known),
        )
    }
    return tuple(
        RunTold(row.id, row.started, row.finished, *found[row.id])
        for row in reversed(known.values())
        if row.id in found
    )
