"""The watch: readings in, events out. Pure, like ``step``, and beside it.

Readings come many times a second and are no events. What they show is: a callout's
threshold crossed, a moment of the flight, a limit passed, an item that waits for a reading.
``watch`` keeps what it has seen in a ``Memory`` and gives each of these once:

- A callout is due when its reading is seen on the near side of the level and then at or
  beyond it; nothing is due of what was beyond it from the start. ``State.called_out`` says
  what has been said, so a value that hovers says it once.
- A callout that is to be said ``ahead`` is due so early that its words have ended when the
  level is reached, by the rate of change of the last second.
- A moment comes when its condition, seen to be false, has held for ``STEADY``.
- A limit is called when it has been passed for its own time, for each engine by itself, and
  again while it lasts; it is over when the value has come back by ``BACK`` of the limit.

Values are in the aircraft file's units; times are milliseconds of the run.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from runner.checklist.model import Callout, Item, Moment, Reading
from runner.engine.conditions import holds
from runner.engine.events import Crossed, Event, LimitPassed, MomentReached, ReadingShown
from runner.engine.state import State
from runner.engine.triggers import armed_callouts
from runner.figures.figure import Figure
from runner.figures.tables import CalculationError

if TYPE_CHECKING:
    from runner.figures.expression import Expression
    from runner.figures.model import Aircraft, Limit

STEADY = 300
"""Milliseconds that a condition holds before it counts."""

AGAIN = 2_000
"""Milliseconds that a moment's condition is false before the moment may come again."""

BACK = 0.01
"""Share of a limit by which a value has to come back before it is passed anew."""

RATE_WINDOW = 1_000
"""Milliseconds of readings from which a rate of change is taken."""

LONGEST_LEAD = 2_500
"""Milliseconds; nothing is called further ahead."""

MILLISECONDS_A_WORD = 365
LATENCY = 60
"""Milliseconds from a reading to the first sound."""


@dataclass(frozen=True, slots=True)
class LimitMemory:
    """One limit of one engine: since when it is passed, and when it was called last."""

    since: int
    called: int | None = None


@dataclass(frozen=True, slots=True)
class Memory:
    """What the watch has seen. ``at`` is the time of the readings seen last."""

    at: int = -1
    near: frozenset[str] = frozenset()
    """Callouts whose reading was on the near side of the level."""

    recent: Mapping[str, tuple[tuple[int, float], ...]] = field(default_factory=dict)
    """The last second of the readings that something is called ahead of."""

    falses: Mapping[str, int] = field(default_factory=dict)
    """Moments that may come: since when their condition is false."""

    trues: Mapping[str, int] = field(default_factory=dict)
    """Moments and items whose condition holds, since when."""

    told: frozenset[str] = frozenset()
    """Moments that were told and have not been false for long enough since."""

    reached: Mapping[str, int] = field(default_factory=dict)
    """When each moment came, for callouts after it."""

    base: Mapping[str, float] = field(default_factory=dict)
    """A figure's value when its callout of a change was said last, or first armed."""

    limits: Mapping[tuple[int, int], LimitMemory] = field(default_factory=dict)
    """By the limit's place in the aircraft file and the engine, 0 where it has none."""


@dataclass(frozen=True, slots=True)
class Watched:
    """What is worth watching at this moment of a run; made once for each state."""

    aircraft: Aircraft
    callouts: tuple[Callout, ...]
    moments: tuple[Moment, ...]
    item: Item | None
    figures: Mapping[str, Figure]
    reached: frozenset[str]
    limits: bool
    words_ms: Mapping[str, int] = field(default_factory=dict)


def watched_of(state: State) -> Watched | None:
    """What to watch in a run; None before it began and after its end."""
    program = state.program
    if program is None or not state.started or state.finished or state.paused:
        return None
    procedures = program.procedures
    item = None
    if state.asking == "item" and state.stack:
        current = program.items[state.stack[-1].item]
        item = current if isinstance(current.response, Reading) else None
    callouts = armed_callouts(state)
    return Watched(
        procedures.aircraft,
        callouts,
        tuple(m for m in procedures.moments.values() if m.condition is not None),
        item,
        state.figures,
        state.reached,
        not state.rejected,
        {c.id: MILLISECONDS_A_WORD * len(c.text.source.split()) for c in callouts if c.ahead},
    )


def watch(
    memory: Memory, watched: Watched, at: int, readings: Mapping[str, float] | None
) -> tuple[Memory, tuple[Event, ...]]:
    """What these readings show, at ``at``; ``readings`` is None when only time has passed.

    Readings that are not newer than those seen last are not looked at.
    """
    if readings is not None and at < memory.at:
        return memory, ()
    values = {} if readings is None else with_engines(watched.aircraft, readings)
    look = _Look(memory, watched, at, values)
    if readings is not None:
        look.moments()
        look.item()
        look.crossings()
        look.limits()
    look.times()
    look.changes()
    return look.memory(readings is not None), tuple(look.events())


def next_look(memory: Memory, watched: Watched) -> int | None:
    """The millisecond at which something is due that no reading brings, if there is any."""
    due = [
        at + wait
        for callout in watched.callouts
        if callout.trigger.how == "after"
        and (at := memory.reached.get(callout.trigger.subject)) is not None
        and (wait := _milliseconds(callout, watched.figures)) is not None
    ]
    return min(due, default=None)


def with_engines(aircraft: Aircraft, readings: Mapping[str, float]) -> dict[str, float]:
    """The readings, and the lowest (``_all``) and highest (``_any``) of all engines."""
    values = dict(readings)
    for rule in aircraft.readings.values():
        if rule.each_engine:
            each = [values.get(f"{rule.name}_{n}") for n in range(1, aircraft.engines + 1)]
            known = [value for value in each if value is not None]
            if len(known) == aircraft.engines:
                values[f"{rule.name}_all"] = min(known)
            if known:
                values[f"{rule.name}_any"] = max(known)
    return values


def _milliseconds(callout: Callout, figures: Mapping[str, Figure]) -> int | None:
    level = number(callout.trigger.level, figures, {})
    return None if level is None else round(level * 1000)


def number(
    formula: Expression, figures: Mapping[str, Figure], readings: Mapping[str, float]
) -> float | None:
    """The number that a formula comes to; None where a value is not known."""
    known: dict[str, float | str] = {}
    for name in formula.names:
        if name in readings:
            known[name] = readings[name]
        elif name in figures:
            known[name] = figures[name].value
        else:
            return None
    try:
        value = formula.evaluate(known)
    except CalculationError:
        return None
    return float(value) if isinstance(value, int | float) else None


class _Look:
    """One look at one set of readings: gathers what is due and what is to be remembered."""

    def __init__(
        self, memory: Memory, watched: Watched, at: int, values: Mapping[str, float]
    ) -> None:
        self._was = memory
        self._watched = watched
        self._at = at
        self._values = values
        self._near = set(memory.near)
        self._recent = dict(memory.recent)
        self._falses = dict(memory.falses)
        self._trues = dict(memory.trues)
        self._told = set(memory.told)
        self._reached = dict(memory.reached)
        self._base = dict(memory.base)
        self._limits = dict(memory.limits)
        self._due: list[tuple[float, int, Event]] = []
        for moment in watched.reached - self._reached.keys():
            self._reached[moment] = at

    def memory(self, looked: bool) -> Memory:
        """What was seen, with this look."""
        return Memory(
            self._at if looked else self._was.at,
            frozenset(self._near),
            self._recent,
            self._falses,
            self._trues,
            frozenset(self._told),
            self._reached,
            self._base,
            self._limits,
        )

    def events(self) -> Iterator[Event]:
        """What is due, in the order in which it came."""
        for _, _, event in sorted(self._due, key=lambda due: due[:2]):
            yield event

    def _add(self, event: Event, when: float | None = None) -> None:
        self._due.append((self._at if when is None else when, len(self._due), event))

    def moments(self) -> None:
        """Moments whose condition has come to hold."""
        for moment in self._watched.moments:
            assert moment.condition is not None
            truth = holds(moment.condition, self._watched.figures, self._values)
            key = moment.id
            if truth is None:
                continue
            if not truth:
                self._trues.pop(key, None)
                since = self._falses.setdefault(key, self._at)
                if key in self._told and self._at - since >= AGAIN:
                    self._told.discard(key)
                continue
            if key in self._told:
                self._falses.pop(key, None)
                continue
            since = self._trues.setdefault(key, self._at)
            if key in self._falses and self._at - since >= STEADY:
                self._falses.pop(key)
                self._trues.pop(key)
                self._told.add(key)
                self._reached[key] = self._at
                self._add(MomentReached(self._at, key, self._used(moment.condition)))

    def item(self) -> None:
        """The item that waits for a reading."""
        item = self._watched.item
        if item is None or not isinstance(item.response, Reading):
            return
        key = f"item {item.id}"
        condition = item.response.condition
        if not holds(condition, self._watched.figures, self._values):
            self._trues.pop(key, None)
        elif self._at - self._trues.setdefault(key, self._at) >= STEADY:
            self._trues.pop(key)
            self._add(ReadingShown(self._at, item.id, self._used(condition)))

    def crossings(self) -> None:
        """Callouts of levels, in the order in which their levels are reached."""
        for callout in self._watched.callouts:
            trigger = callout.trigger
            if trigger.how not in ("rises", "falls"):
                continue
            value = self._values.get(trigger.subject)
            level = number(trigger.level, self._watched.figures, self._values)
            if value is None or level is None:
                continue
            sign = 1 if trigger.how == "rises" else -1
            short = sign * (level - value)
            if short > 0:
                self._near.add(callout.id)
            if callout.id not in self._near:
                continue
            lead = self._lead(callout, sign, value, short) if callout.ahead else 0.0
            if short <= lead:
                self._near.discard(callout.id)
                used = ((trigger.subject, value), ("level", level))
                self._add(Crossed(self._at, callout.id, used), self._at + short - lead)

    def _lead(self, callout: Callout, sign: int, value: float, short: float) -> float:
        """How much before its level a callout is due, in the reading's unit."""
        subject = callout.trigger.subject
        past = (*self._was.recent.get(subject, ()), (self._at, value))
        kept = tuple(p for p in past if p[0] >= self._at - RATE_WINDOW)
        self._recent[subject] = kept
        if short <= 0:
            return 0.0
        rate = sign * _slope(kept)
        words = self._watched.words_ms.get(callout.id, MILLISECONDS_A_WORD)
        return max(0.0, rate * min(LONGEST_LEAD, words + LATENCY))

    def times(self) -> None:
        """Callouts that come so long after a moment."""
        for callout in self._watched.callouts:
            if callout.trigger.how != "after":
                continue
            began = self._reached.get(callout.trigger.subject)
            wait = _milliseconds(callout, self._watched.figures)
            if began is not None and wait is not None and self._at >= began + wait:
                self._add(Crossed(self._at, callout.id), began + wait)

    def changes(self) -> None:
        """Figures that have moved since they were said; a target that is to be set lower begins
        with manifold pressure, one that is to be set higher with RPM."""
        moved: list[tuple[str, float, Callout, float]] = []
        for callout in self._watched.callouts:
            if callout.trigger.how != "changes":
                continue
            figure = self._watched.figures.get(callout.trigger.subject)
            level = number(callout.trigger.level, self._watched.figures, self._values)
            if figure is None or isinstance(figure.value, str) or level is None:
                continue
            base = self._base.setdefault(callout.id, figure.value)
            if abs(figure.value - base) >= level - 1e-9:
                moved.append((figure.kind, figure.value - base, callout, figure.value))
        rising = sum(change for kind, change, _, _ in moved if kind == "manifold_pressure") > 0
        order = {"rpm": 0, "manifold_pressure": 1} if rising else {"manifold_pressure": 0, "rpm": 1}
        for _, _, callout, value in sorted(moved, key=lambda m: order.get(m[0], 2)):
            self._base[callout.id] = value
            self._add(Crossed(self._at, callout.id, ((callout.trigger.subject, value),)))

    def limits(self) -> None:
        """Limits that are passed, engine by engine."""
        aircraft = self._watched.aircraft
        if not self._watched.limits:
            return
        for place, limit in enumerate(aircraft.limits):
            rule = aircraft.readings.get(limit.reading)
            if rule is None:
                continue
            armed = limit.condition is None or holds(
                limit.condition, self._watched.figures, self._values
            )
            engines = range(1, aircraft.engines + 1) if rule.each_engine else (0,)
            for engine in engines:
                name = f"{limit.reading}_{engine}" if engine else limit.reading
                value = self._values.get(name)
                if value is not None:
                    self._limit((place, engine), limit, value, bool(armed))

    def _limit(self, key: tuple[int, int], limit: Limit, value: float, armed: bool) -> None:
        low = None if limit.low is None else number(limit.low, self._watched.figures, self._values)
        high = (
            None if limit.high is None else number(limit.high, self._watched.figures, self._values)
        )
        known = self._limits.get(key)
        back = BACK if known is not None and known.called is not None else 0.0
        below = low is not None and value < low + abs(low) * back
        above = high is not None and value > high - abs(high) * back
        if not armed or not (below or above):
            self._limits.pop(key, None)
            return
        if known is None:
            known = LimitMemory(self._at)
        lasts = self._at - known.since >= limit.hold * 1000
        fresh = known.called is None or self._at - known.called >= limit.every * 1000
        if lasts and fresh:
            known = replace(known, called=self._at)
            bound = low if below else high
            assert bound is not None
            self._add(
                LimitPassed(self._at, key[0], key[1], "low" if below else "high", value, bound)
            )
        self._limits[key] = known

    def _used(self, condition: Expression) -> tuple[tuple[str, float], ...]:
        return tuple((n, self._values[n]) for n in sorted(condition.names) if n in self._values)


def _slope(points: tuple[tuple[int, float], ...]) -> float:
    """The rate of change per millisecond, by least squares; 0 where there are too few points."""
    if len(points) < 3:
        return 0.0
    middle = sum(t for t, _ in points) / len(points)
    mean = sum(v for _, v in points) / len(points)
    square = sum((t - middle) ** 2 for t, _ in points)
    if square <= 0:
        return 0.0
    return sum((t - middle) * (v - mean) for t, v in points) / square
