"""The stored events of a run stepped through again, to go on from where they lead."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from runner.engine.effects import Listen, SetInput
from runner.engine.events import Event, FiguresChanged, RunStarted
from runner.engine.program import Program
from runner.engine.state import State
from runner.engine.step import initial_state, step


@dataclass(frozen=True, slots=True)
class Replayed:
    """Where the events of a run lead."""

    state: State
    window: Listen | None
    """What the open question can be answered with, None where none is open."""

    given: Mapping[str, float | str]
    """The inputs that the newest stored figures were worked out for, in the aircraft's units."""

    unstored: Mapping[str, float | str]
    """The inputs given since then. An answer that gives an input and the figures that come of
    it are two events: where the run stopped between them, the sheet has still to be worked out
    again."""


def replayed(program: Program, events: Sequence[Event]) -> Replayed:
    """Step through the events of a run of this program."""
    state = initial_state(program)
    window: Listen | None = None
    given: Mapping[str, float | str] = {}
    unstored: dict[str, float | str] = {}
    for event in events:
        if isinstance(event, RunStarted | FiguresChanged):
            given = dict(event.given)
            unstored.clear()
        state, effects = step(state, event)
        unstored.update((e.name, e.value) for e in effects if isinstance(e, SetInput))
        window = next((e for e in effects if isinstance(e, Listen)), window)
    return Replayed(state, window if state.listening else None, given, unstored)
