"""A flight's instruments: readings in, what the watch makes of them out, inputs that follow.

Stands between a feed (``runner.feed``) and the flight. Readings are no events: only what
the watch sees in them is. Inputs that the aircraft file lets follow the readings are
changed as the flight goes, once they have moved by their step.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from runner.checklist.model import Item, Reading
from runner.engine.conditions import holds
from runner.engine.events import Event, FeedChanged
from runner.engine.state import State
from runner.engine.watch import (
    Memory,
    Watched,
    next_look,
    number,
    watch,
    watched_of,
    with_engines,
)

LOOK = "look"
"""The name of the timer after which something is due that no reading brings."""

STATES = {
    "readings lost": "lost",
    "readings back": "back",
    "paused": "paused",
    "running": "running",
}


class Instruments:
    """What is known from readings. ``post`` takes events in, ``follow`` changed inputs."""

    def __init__(
        self,
        post: Callable[[Event], None],
        follow: Callable[[Mapping[str, float]], None],
        set_timer: Callable[[str, int], None],
    ) -> None:
        self._post = post
        self._follow = follow
        self._set_timer = set_timer
        self._memory = Memory()
        self._state: State | None = None
        self._watched: Watched | None = None
        self._values: dict[str, float] = {}

    def read(self, state: State, at: int, values: Mapping[str, float]) -> None:
        """One set of readings, at that millisecond of the run."""
        watched = self._look_for(state)
        if watched is None:
            return
        self._values = with_engines(watched.aircraft, values)
        self._memory, events = watch(self._memory, watched, at, values)
        for event in events:
            self._post(event)
        changes = self._moved(watched)
        if changes:
            self._follow(changes)

    def look(self, state: State, at: int) -> None:
        """Time has passed, or the run has changed: what is due without a reading."""
        watched = self._look_for(state)
        if watched is None:
            return
        self._memory, events = watch(self._memory, watched, at, None)
        for event in events:
            self._post(event)
        if not events and (due := next_look(self._memory, watched)) is not None:
            self._set_timer(LOOK, max(1, due - at))

    def changed(self, state: str, at: int) -> None:
        """The feed said that readings were lost or came back, or that the simulator stands."""
        if state == "readings lost":
            self._values = {}
        known = STATES.get(state)
        if known is not None:
            self._post(FeedChanged(at, known))  # type: ignore[arg-type]

    def for_item(self, state: State) -> tuple[tuple[str, float], ...]:
        """The readings that the current item's answer is held against."""
        if state.program is None or state.asking != "item" or not state.stack:
            return ()
        names = _names(state.program.items[state.stack[-1].item])
        return tuple((name, self._values[name]) for name in sorted(names) if name in self._values)

    def answers(self, state: State) -> bool:
        """Whether the current item is one that the readings answer, and they are there."""
        watched = self._look_for(state)
        item = watched.item if watched is not None else None
        return item is not None and _names(item) <= self._values.keys()

    def _look_for(self, state: State) -> Watched | None:
        if state is not self._state:
            self._state, self._watched = state, watched_of(state)
        return self._watched

    def _moved(self, watched: Watched) -> dict[str, float]:
        found: dict[str, float] = {}
        for name, rule in watched.aircraft.inputs.items():
            if rule.follows is None:
                continue
            if rule.follows_if is not None and not holds(
                rule.follows_if, watched.figures, self._values
            ):
                continue
            value = number(rule.follows, watched.figures, self._values)
            known = watched.figures.get(name)
            if value is None or not rule.low <= value <= rule.high:
                continue
            now = known.value if known is not None else None
            if isinstance(now, str) or (now is not None and abs(value - now) < rule.step):
                continue
            found[name] = round(value / rule.step) * rule.step if rule.step else value
        return found


def _names(item: Item) -> frozenset[str]:
    names = item.check.names if item.check is not None else frozenset()
    if isinstance(item.response, Reading):
        names |= item.response.condition.names
    return names
