"""A stored run stepped through again: whether it still is one."""

from __future__ import annotations

from collections.abc import Sequence

from runner.engine.events import RULES_VERSION, Event, RunStarted
from runner.engine.program import program_of
from runner.engine.state import State
from runner.engine.step import initial_state, step
from runner.errors import RunnerError


def of_these_rules(events: Sequence[Event]) -> bool:
    """Whether the run was flown by the rules of this Runner: only then can it be replayed."""
    first = events[0]
    return isinstance(first, RunStarted) and first.rules == RULES_VERSION


def replay(events: Sequence[Event]) -> State:
    """The state that the events lead to, from the first with its files' text.

    Raises RunnerError, which says at which event, where they lead nowhere.
    """
    first = events[0]
    if not isinstance(first, RunStarted):
        raise RunnerError("it has no beginning")
    try:
        program = program_of(first)
    except RunnerError as error:
        line = str(error).splitlines()[0]
        raise RunnerError(f"its files cannot be read any more ({line})") from error
    state = initial_state(program)
    at = 0
    for number, event in enumerate(events):
        if event.at < at:
            raise RunnerError(f"event {number} ({type(event).__name__}) comes before the last one")
        at = event.at
        try:
            state, _ = step(state, event)
        except Exception as error:
            raise RunnerError(
                f"event {number} ({type(event).__name__}) cannot be replayed "
                f"({type(error).__name__}: {error})"
            ) from error
    return state
