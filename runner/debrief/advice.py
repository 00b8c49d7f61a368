"""Advice drawn from the record: each piece with its numbers, and none without enough of it.

What chance alone would often do gives no advice. The limits below say how much is enough.
"""

from __future__ import annotations

import shlex
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from statistics import median

from runner.debrief.chances import at_least
from runner.debrief.past import ItemPast, Past
from runner.debrief.record import Held, ItemRecord, Record
from runner.debrief.targets import NEAR, target_at
from runner.debrief.told import count, listed, percent, seconds

ENOUGH_ANSWERS = 5
"""So many timed answers to an item before anything is said of how long it takes."""

ENOUGH_ITEMS = 8
"""So many other items, each with enough answers, to hold an item against."""

ENOUGH_FLIGHTS = 5
"""So many flights in which an item was asked before its misses are a habit."""

AGAIN = 2
"""Misses in so many flights at least are a habit."""

ENOUGH_UNCLEAR = 3
ENOUGH_READINGS = 10

SLOW = 2.0
"""An item is slow where it takes so many times as long as the rest."""

SURE = 0.01
"""Chance alone makes one item in a hundred look so."""

MOST_NAMED = 3


@dataclass(frozen=True, slots=True)
class Advice:
    """What to do, the numbers that it is drawn from, and the command that does it."""

    text: str
    ground: str
    command: str = ""


def advise(record: Record, past: Past, due: int, procedures: str) -> tuple[Advice, ...]:
    """The advice that this run and its past bear. ``due`` cards wait to be drilled."""
    items = together(record, past)
    flights = f"this flight and {count(len(past.runs), 'flight')} before it"
    found = [
        *_slow(items, flights, procedures),
        *_wrong(items, flights, procedures),
        *_unclear(items, flights),
        *_left_open(items, flights),
        *(one for held in record.held for one in _off_target(held)),
    ]
    if due:
        found.append(
            Advice(
                f"Drill what is due: {count(due, 'card')}.",
                "A card is due once it is likely known by less than nine in ten (FSRS).",
                _drill(procedures),
            )
        )
    return tuple(found)


def together(record: Record, past: Past) -> dict[str, ItemPast]:
    """The past of each item with this run in it."""
    found = {
        name: ItemPast(
            one.challenge, list(one.times), one.asked, one.wrong, one.silent, one.unclear, one.open
        )
        for name, one in past.items.items()
    }
    for item in record.items:
        one = found.setdefault(item.item, ItemPast(item.challenge))
        if item.answer_ms is not None:
            one.times.insert(0, item.answer_ms)
        one.asked += 1
        one.wrong += _has(item, "wrong", "contradicted", "disagreed")
        one.silent += _has(item, "silent")
        one.unclear += _has(item, "not clear")
        one.open += item.status != "done"
    return found


def _has(item: ItemRecord, *how: str) -> bool:
    return any(one.how in how for one in item.tries)


def _slow(items: Mapping[str, ItemPast], flights: str, procedures: str) -> Iterable[Advice]:
    timed = {
        name: median(one.times) for name, one in items.items() if len(one.times) >= ENOUGH_ANSWERS
    }
    ranked = sorted(timed, key=lambda name: -timed[name])
    slow: list[str] = []
    for name in ranked[: len(ranked) // 4]:
        others = [timed[other] for other in ranked if other not in (*slow, name)]
        if len(others) < ENOUGH_ITEMS:
            break
        rest = median(others)
        times = items[name].times
        above = sum(time > rest for time in times)
        if timed[name] < SLOW * rest or at_least(above, len(times)) > SURE:
            break
        slow.append(name)
    named = slow[:MOST_NAMED]
    rest_of = [name for name in timed if name not in slow]
    if not named or len(rest_of) < ENOUGH_ITEMS:
        return
    usual = median(timed[name] for name in rest_of)
    if usual <= 0:
        return
    ratio = median(timed[name] for name in named) / usual
    answers = sum(len(items[name].times) for name in rest_of)
    what = "This item takes" if len(named) == 1 else f"These {len(named)} items take"
    numbers = (
        f"{items[name].challenge} {seconds(timed[name])} (median of "
        f"{count(len(items[name].times), 'answer')})"
        for name in named
    )
    yield Advice(
        f"{what} you {ratio:.1f} times as long as the rest: "
        f"{listed([items[name].challenge for name in named])}.",
        f"{'; '.join(numbers)}; the other {len(rest_of)} items {seconds(usual)} "
        f"(of {count(answers, 'answer')}). From {flights}.",
        _drill(procedures, "response", named[0]),
    )


def _wrong(items: Mapping[str, ItemPast], flights: str, procedures: str) -> Iterable[Advice]:
    often = _often(items, "wrong")
    if often:
        numbers = (
            f"{items[n].challenge} in {items[n].wrong} of {items[n].asked} flights" for n in often
        )
        yield Advice(
            f"Wrong more than once: {listed([items[n].challenge for n in often])}. "
            "Practise to catch the wrong answer.",
            f"{'; '.join(numbers)}. From {flights}.",
            _drill(procedures, "wrong", often[0]),
        )


def _left_open(items: Mapping[str, ItemPast], flights: str) -> Iterable[Advice]:
    often = _often(items, "open")
    if often:
        numbers = (
            f"{items[n].challenge} in {items[n].open} of {items[n].asked} flights" for n in often
        )
        yield Advice(
            f"Left open more than once: {listed([items[n].challenge for n in often])}.",
            f"{'; '.join(numbers)}. From {flights}.",
        )


def _often(items: Mapping[str, ItemPast], what: str) -> list[str]:
    habit = [
        name
        for name, one in items.items()
        if one.asked >= ENOUGH_FLIGHTS and getattr(one, what) >= AGAIN
    ]
    habit.sort(key=lambda name: -getattr(items[name], what) / items[name].asked)
    return habit[:MOST_NAMED]


def _unclear(items: Mapping[str, ItemPast], flights: str) -> Iterable[Advice]:
    often = sorted(
        (name for name, one in items.items() if one.unclear >= ENOUGH_UNCLEAR),
        key=lambda name: -items[name].unclear,
    )[:MOST_NAMED]
    if often:
        numbers = (
            f"{items[n].challenge} in {items[n].unclear} of {items[n].asked} flights" for n in often
        )
        yield Advice(
            f"Not understood more than once: {listed([items[n].challenge for n in often])}. "
            "Record how you say it.",
            f"{'; '.join(numbers)}. From {flights}.",
            "runner voice enrol",
        )


def _off_target(held: Held) -> Iterable[Advice]:
    off: dict[int, list[tuple[float, float]]] = {}
    for engine, points in held.seen:
        far = [
            (value, target)
            for at, value in points
            if (target := target_at(held.target, at)) is not None
            and abs(value - target) > NEAR * abs(target)
        ]
        # What is seen while a target is being set says nothing: half of it off is much.
        if len(points) >= ENOUGH_READINGS and len(far) * 2 >= len(points):
            off[engine] = far
    if not off:
        return
    named = listed([str(engine) for engine in off if engine])
    whose = f" of engine {named}" if named else ""
    value, target = max(
        (one for far in off.values() for one in far), key=lambda one: abs(one[0] - one[1])
    )
    seen = sum(len(points) for engine, points in held.seen if engine in off)
    beyond = sum(map(len, off.values()))
    yield Advice(
        f"{held.phase}: hold {held.title}{whose} nearer to its target.",
        f"{beyond} of {seen} readings ({percent(beyond / seen)}) were more than {percent(NEAR)} "
        f"off; furthest {value:.{held.decimals}f} where {target:.{held.decimals}f} {held.unit} "
        "was the target.",
    )


def _drill(procedures: str, kind: str = "", item: str = "") -> str:
    words = ["runner", "drill", procedures]
    if kind:
        words += ["--kind", kind]
    if "." in item:
        words += ["--list", item.partition(".")[0]]
    return shlex.join(words)
