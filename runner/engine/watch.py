"""The watch: readings in, events out. Pure, like ``step``, and beside it.

Readings come many times a second and are no events. What they show is: a callout's
threshold crossed, a moment of the flight, a limit passed, an item that waits for a reading.
``watch`` keeps what it has seen in a ``Memory`` and gives each of these once:

- A callout is due when its reading is seen on the near side of the level and then at or
  beyond it; nothing is due of what was beyond it from the start. ``State.called_out`` says
  what has been said, so a value that hovers says it once; one that may come ``again`` waits
  until the reading has been back by so much.
- A callout that is to be said ``ahead`` is due so early that its words have ended when the
  level is reached, by the rate of change of the last second. A speed whose level is reached
  while those words are spoken is called in one breath with it.
- A value that stands alone is not believed (``runner.engine.watch_track``).
- A moment comes when its condition, seen to be false, has held for ``STEADY``.
- A limit is called for each engine (``runner.engine.watch_limits``).

Values are in the aircraft file's units; times are milliseconds of the run.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from runner.checklist.model import Callout, Item, Moment, Reading
from runner.engine.conditions import holds
from runner.engine.events import Crossed, Event, MomentReached, ReadingShown
from runner.engine.state import State
from runner.engine.triggers import armed_callouts, callout_line
from runner.engine.watch_limits import Key, LimitMemory, pass_limits
from runner.engine.watch_track import Track, follow
from runner.engine.watch_values import number, with_engines
from runner.figures.figure import Figure

if TYPE_CHECKING:
    from runner.figures.expression import Expression
    from runner.figures.model import Aircraft

__all__ = ["Memory", "Watched", "next_look", "number", "watch", "watched_of", "with_engines"]

STEADY = 300
"""Milliseconds that a condition holds before it counts."""

APART = 15
"""Milliseconds between looks at what has to hold for a while; levels are looked at each time."""

AGAIN = 2_000
"""Milliseconds that a moment's condition is false before the moment may come again."""

FRESH = 2_000
"""Milliseconds after which a reading says nothing any more."""

LATE = 10_000
"""Milliseconds after which a callout of a time is not said any more, as one that was not armed
when its time came."""

LONGEST_LEAD = 2_500
"""Milliseconds; nothing is called further ahead."""

MILLISECONDS_A_WORD = 365
LATENCY = 60
"""Milliseconds from a reading to the first sound."""

NO_LENGTHS: Mapping[str, int] = {}


@dataclass(frozen=True, slots=True)
class Memory:
    """What the watch has seen. ``at`` is the time of the readings seen last."""

    at: int = -1
    steady_at: int = -APART
    values: Mapping[str, float] = field(default_factory=dict)
    near: frozenset[str] = frozenset()
    """Callouts whose reading was on the near side of the level."""

    tracks: Mapping[str, Track] = field(default_factory=dict)
    """The last second of the readings of which a level is called."""

    falses: Mapping[str, int] = field(default_factory=dict)
    """Moments that may come: since when their condition is false."""

    trues: Mapping[str, int] = field(default_factory=dict)
    """Moments and items whose condition holds, since when."""

    told: frozenset[str] = frozenset()
    """Moments that were told and have not been false for long enough since."""

    over: frozenset[str] = frozenset()
    """Callouts whose time came while they were not wanted."""

    base: Mapping[str, float] = field(default_factory=dict)
    """A figure's value when its callout of a change was said last, or first armed."""

    limits: Mapping[Key, LimitMemory] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Watched:
    """What is worth watching at this moment of a run; made once for each state.

    ``called`` are the callouts that were said, ``reached`` when each moment came,
    ``words_ms`` how long it takes to say those that are called ahead, and ``still`` whether
    the simulator stands still: no time passes then.
    """

    aircraft: Aircraft
    callouts: tuple[Callout, ...]
    moments: tuple[Moment, ...]
    item: Item | None
    figures: Mapping[str, Figure]
    reached: Mapping[str, int]
    limits: bool
    words_ms: Mapping[str, int] = field(default_factory=dict)
    called: frozenset[str] = frozenset()
    still: bool = False


def watched_of(state: State, lengths: Mapping[str, int] = NO_LENGTHS) -> Watched | None:
    """What to watch in a run; None before it began and after its end.

    ``lengths`` are the milliseconds that speeches take, by what the synthesiser is given,
    as far as they are known; of others it is supposed by their words.
    """
    program = state.program
    if program is None or not state.started or state.finished or state.paused:
        return None
    procedures = program.procedures
    item = None
    if state.asking == "item" and state.stack:
        current = program.items[state.stack[-1].item]
        item = current if isinstance(current.response, Reading) else None
    callouts = armed_callouts(state)
    words_ms: dict[str, int] = {}
    for callout in callouts:
        if callout.ahead:
            speech = callout_line(program, callout, state.figures).speech
            supposed = MILLISECONDS_A_WORD * len(speech.split())
            words_ms[callout.id] = lengths.get(speech, supposed)
    return Watched(
        procedures.aircraft,
        callouts,
        tuple(m for m in procedures.moments.values() if m.conditions),
        item,
        state.figures,
        state.reached,
        not state.rejected,
        words_ms,
        state.called_out,
        state.still is not None,
    )


def watch(
    memory: Memory, watched: Watched, at: int, readings: Mapping[str, float] | None
) -> tuple[Memory, tuple[Event, ...]]:
    """What these readings show, at ``at``; ``readings`` is None when only time has passed.

    Readings that are older than those seen last are not looked at.
    """
    if readings is not None and at < memory.at:
        return memory, ()
    values: Mapping[str, float] = memory.values if at - memory.at < FRESH else {}
    if readings is not None:
        values = with_engines(watched.aircraft, readings)
    look = _Look(memory, watched, at, values)
    if readings is not None:
        steady = at - memory.steady_at >= APART
        if steady:
            look.moments()
            look.item()
        look.crossings()
        if steady:
            look.limits()
    look.times()
    look.changes()
    return look.memory(readings is not None), tuple(look.events())


def next_look(memory: Memory, watched: Watched) -> int | None:
    """The millisecond at which something is due that no reading brings, if there is any."""
    if watched.still:
        return None
    due = [
        began + wait
        for callout in watched.callouts
        if callout.trigger.how == "after"
        and callout.id not in memory.over
        and (began := watched.reached.get(callout.trigger.subject)) is not None
        and (wait := _milliseconds(callout, watched.figures)) is not None
    ]
    return min(due, default=None)


def _milliseconds(callout: Callout, figures: Mapping[str, Figure]) -> int | None:
    level = number(callout.trigger.level, figures, {})
    return None if level is None else round(level * 1000)


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
        self._tracks = dict(memory.tracks)
        self._falses = dict(memory.falses)
        self._trues = dict(memory.trues)
        self._told = set(memory.told)
        self._over = set(memory.over)
        self._base = dict(memory.base)
        self._limits = memory.limits
        self._due: list[tuple[float, float, int, Event]] = []

    def memory(self, looked: bool) -> Memory:
        """What was seen, with this look."""
        return Memory(
            self._at if looked else self._was.at,
            self._at if looked and self._at - self._was.steady_at >= APART else self._was.steady_at,
            self._values if looked else self._was.values,
            frozenset(self._near),
            self._tracks,
            self._falses,
            self._trues,
            frozenset(self._told),
            frozenset(self._over),
            self._base,
            self._limits,
        )

    def events(self) -> Iterator[Event]:
        """What is due, in the order in which it came."""
        for *_, event in sorted(self._due, key=lambda due: due[:3]):
            yield event

    def _add(self, event: Event, when: float | None = None, short: float = 0.0) -> None:
        """What came first is first: ``when`` it came, and, where that is not known, how far
        short of its level the reading is."""
        self._due.append((self._at if when is None else when, short, len(self._due), event))

    def moments(self) -> None:
        """Moments whose condition has come to hold, each engine's by itself."""
        for moment in self._watched.moments:
            for engine, condition in moment.conditions:
                key = f"{moment.id} {engine}" if engine else moment.id
                if self._comes(key, condition):
                    used = self._used(condition)
                    self._add(MomentReached(self._at, moment.id, used, engine))

    def _comes(self, key: str, condition: Expression) -> bool:
        truth = holds(condition, self._watched.figures, self._values)
        if truth is None:
            return False
        if not truth:
            self._trues.pop(key, None)
            since = self._falses.setdefault(key, self._at)
            if key in self._told and self._at - since >= AGAIN:
                self._told.discard(key)
            return False
        if key in self._told:
            self._falses.pop(key, None)
            return False
        since = self._trues.setdefault(key, self._at)
        if key not in self._falses or self._at - since < STEADY:
            return False
        self._falses.pop(key)
        self._trues.pop(key)
        self._told.add(key)
        return True

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
        by_level = [c for c in self._watched.callouts if c.trigger.how in ("rises", "falls")]
        believed = {name: self._follow(name) for name in {c.trigger.subject for c in by_level}}
        joined: set[str] = set()
        for callout in sorted(by_level, key=lambda c: not c.ahead):
            if callout.id in joined or not believed[callout.trigger.subject]:
                continue
            value = self._values[callout.trigger.subject]
            short = self._short(callout, value)
            if short is None:
                continue
            back = callout.again if callout.id in self._watched.called else 0.0
            if short > (back or 0.0):
                self._near.add(callout.id)
            if callout.id not in self._near:
                continue
            lead = self._lead(callout) if callout.ahead else 0.0
            if short > max(0.0, lead):
                continue
            self._near.discard(callout.id)
            if self._not_wanted(callout):
                continue
            also = self._in_one_breath(callout, short, by_level) if callout.ahead else ()
            joined.update(also)
            level = value + self._sign(callout) * short
            used = ((callout.trigger.subject, value), ("level", level))
            rate = abs(self._tracks[callout.trigger.subject].rate)
            when = self._at + min(0.0, short - lead) / rate if rate else self._at
            self._add(Crossed(self._at, callout.id, used, also), when, short - lead)

    def _follow(self, subject: str) -> bool:
        """Keep a reading's value; whether it is there and can be believed."""
        value = self._values.get(subject)
        if value is None:
            return False
        track = self._tracks.get(subject, Track())
        self._tracks[subject], believed = follow(track, self._at, value)
        return believed

    @staticmethod
    def _sign(callout: Callout) -> int:
        return 1 if callout.trigger.how == "rises" else -1

    def _short(self, callout: Callout, value: float) -> float | None:
        """How far a reading is from a callout's level, below zero beyond it."""
        level = number(callout.trigger.level, self._watched.figures, self._values)
        return None if level is None else self._sign(callout) * (level - value)

    def _not_wanted(self, callout: Callout) -> bool:
        condition = callout.condition
        return condition is not None and (
            holds(condition, self._watched.figures, self._values) is False
        )

    def _lead(self, callout: Callout) -> float:
        """How much before its level a callout is due, in the reading's unit."""
        rate = self._sign(callout) * self._tracks[callout.trigger.subject].rate
        return rate * min(LONGEST_LEAD, self._words(callout) + LATENCY)

    def _words(self, callout: Callout) -> int:
        return self._watched.words_ms.get(callout.id, MILLISECONDS_A_WORD)

    def _in_one_breath(
        self, first: Callout, short: float, callouts: list[Callout]
    ) -> tuple[str, ...]:
        """Further callouts of the same reading whose level is reached after the first one's and
        before words as long as the first one's would have ended."""
        rate = self._sign(first) * self._tracks[first.trigger.subject].rate
        reach = max(0.0, short) + max(0.0, rate) * min(LONGEST_LEAD, self._words(first))
        value = self._values[first.trigger.subject]
        found: list[tuple[float, str]] = []
        for callout in callouts:
            trigger = callout.trigger
            if callout is first or trigger.subject != first.trigger.subject or callout.ahead:
                continue
            if trigger.how != first.trigger.how or not callout.urgent or self._not_wanted(callout):
                continue
            other = self._short(callout, value)
            fresh = callout.id not in self._watched.called
            near = callout.id in self._near or (fresh and other is not None and other > 0)
            if other is not None and near and short <= other <= reach:
                found.append((other, callout.id))
        for _, name in found:
            self._near.discard(name)
        return tuple(name for _, name in sorted(found))

    def times(self) -> None:
        """Callouts that come so long after a moment."""
        if self._watched.still:
            return
        for callout in self._watched.callouts:
            if callout.trigger.how != "after" or callout.id in self._over:
                continue
            began = self._watched.reached.get(callout.trigger.subject)
            wait = _milliseconds(callout, self._watched.figures)
            if began is None or wait is None or self._at < began + wait:
                continue
            if self._not_wanted(callout) or self._at > began + wait + LATE:
                self._over.add(callout.id)
            else:
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
            if abs(figure.value - base) >= level - 1e-9 and not self._not_wanted(callout):
                moved.append((figure.kind, figure.value - base, callout, figure.value))
        rising = sum(change for kind, change, _, _ in moved if kind == "manifold_pressure") > 0
        order = {"rpm": 0, "manifold_pressure": 1} if rising else {"manifold_pressure": 0, "rpm": 1}
        for _, _, callout, value in sorted(moved, key=lambda m: order.get(m[0], 2)):
            self._base[callout.id] = value
            self._add(Crossed(self._at, callout.id, ((callout.trigger.subject, value),)))

    def limits(self) -> None:
        """Limits that are passed, engine by engine."""
        watched = self._watched
        if not watched.limits:
            return
        self._limits, passed = pass_limits(
            self._limits, watched.aircraft, watched.figures, self._at, self._values
        )
        for event in passed:
            self._add(event)

    def _used(self, condition: Expression) -> tuple[tuple[str, float], ...]:
        return tuple((n, self._values[n]) for n in sorted(condition.names) if n in self._values)
