"""The engineer's watch: limits that readings pass, engine by engine.

A limit is called when it has been passed for its own time, once, and again while it lasts.
It is over when the value has come back by ``BACK`` of the limit and has stayed there for
``CLEAR``. Engines that pass a limit together are called together.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal, NamedTuple

from runner.engine.conditions import holds
from runner.engine.events import LimitPassed
from runner.engine.watch_values import number, of_engine
from runner.figures.figure import Figure

if TYPE_CHECKING:
    from runner.figures.model import Aircraft, Limit

BACK = 0.01
"""Share of a limit by which a value has to come back before it is passed anew."""

CLEAR = 500
"""Milliseconds that it has to stay back."""

TOGETHER = 0.5
"""Share of a limit's time after which an engine is called with another that is due."""


@dataclass(frozen=True, slots=True)
class LimitMemory:
    """One limit of one engine: since when it is passed, when it was called last, and since when
    its value is back."""

    since: int
    called: int | None = None
    back: int | None = None


Key = tuple[int, int]
"""The limit's place in the aircraft file and the engine, 0 where it has none."""


class _Passed(NamedTuple):
    key: Key
    side: Literal["low", "high"]
    value: float
    bound: float


def pass_limits(
    known: Mapping[Key, LimitMemory],
    aircraft: Aircraft,
    figures: Mapping[str, Figure],
    at: int,
    values: Mapping[str, float],
) -> tuple[dict[Key, LimitMemory], list[LimitPassed]]:
    """What is known of the limits with these values at ``at``, and those to be called."""
    after = dict(known)
    events: list[LimitPassed] = []
    for place, limit in enumerate(aircraft.limits):
        passed = list(_look(place, limit, after, aircraft, figures, at, values))
        due = [p for p in passed if _is_due(limit, after[p.key], at)]
        for side in ("low", "high"):
            if not any(p.side == side for p in due):
                continue
            named = [p for p in passed if p.side == side and _joins(limit, after[p.key], at)]
            for one in named:
                after[one.key] = replace(after[one.key], called=at)
            worst = (min if side == "low" else max)(named, key=lambda one: one.value)
            first, *rest = (one.key[1] for one in named)
            events.append(
                LimitPassed(at, place, first, worst.side, worst.value, worst.bound, tuple(rest))
            )
    return after, events


def _look(
    place: int,
    limit: Limit,
    after: dict[Key, LimitMemory],
    aircraft: Aircraft,
    figures: Mapping[str, Figure],
    at: int,
    values: Mapping[str, float],
) -> Iterator[_Passed]:
    """The engines (0: none) beyond a limit; what is known of each is brought up to date."""
    rule = aircraft.readings.get(limit.reading)
    if rule is None:
        return
    formulas = [f for f in (limit.low, limit.high, limit.condition) if f is not None]
    names = frozenset[str]().union(*(f.names for f in formulas))
    own = rule.each_engine and any(
        (one := aircraft.readings.get(name)) is not None and one.each_engine for name in names
    )
    bounds: tuple[bool, float | None, float | None] | None = None
    for engine in range(1, aircraft.engines + 1) if rule.each_engine else (0,):
        value = values.get(f"{limit.reading}_{engine}" if engine else limit.reading)
        if value is None:
            continue
        if bounds is None or own:
            seen = of_engine(aircraft, values, engine, names) if own else values
            bounds = _bounds(limit, figures, seen)
        passed = _beyond(after, (place, engine), bounds, at, value)
        if passed is not None:
            yield passed


def _bounds(
    limit: Limit, figures: Mapping[str, Figure], values: Mapping[str, float]
) -> tuple[bool, float | None, float | None]:
    """Whether a limit counts now, and its bounds."""
    if limit.condition is not None and not holds(limit.condition, figures, values):
        return False, None, None
    low = None if limit.low is None else number(limit.low, figures, values)
    high = None if limit.high is None else number(limit.high, figures, values)
    return True, low, high


def _beyond(
    after: dict[Key, LimitMemory],
    key: Key,
    bounds: tuple[bool, float | None, float | None],
    at: int,
    value: float,
) -> _Passed | None:
    counts, low, high = bounds
    memory = after.get(key)
    called = memory is not None and memory.called is not None
    back = BACK if called else 0.0
    below = low is not None and value < low + abs(low) * back
    above = high is not None and value > high - abs(high) * back
    if counts and (below or above):
        if memory is None:
            after[key] = LimitMemory(at)
        elif memory.back is not None:
            after[key] = replace(memory, back=None)
        bound = low if below else high
        assert bound is not None
        return _Passed(key, "low" if below else "high", value, bound)
    if memory is None:
        return None
    if not called or (memory.back is not None and at - memory.back >= CLEAR):
        del after[key]
    elif memory.back is None:
        after[key] = replace(memory, back=at)
    return None


def _is_due(limit: Limit, memory: LimitMemory, at: int) -> bool:
    if memory.called is not None:
        return at - memory.called >= limit.every * 1000
    return at - memory.since >= limit.hold * 1000


def _joins(limit: Limit, memory: LimitMemory, at: int) -> bool:
    """Whether an engine is called with another that is due: itself due, or nearly so."""
    if memory.called is not None:
        return at - memory.called >= limit.every * 1000 * TOGETHER
    return at - memory.since >= limit.hold * 1000 * TOGETHER
