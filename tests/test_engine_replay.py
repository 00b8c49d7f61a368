"""What holds for every list of events: a run replays byte for byte, and nothing slips through."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from engine_runs import FIGURES, program, started
from runner.engine.effects import Effect, Listen
from runner.engine.events import (
    Crossed,
    Event,
    FiguresChanged,
    Heard,
    InputEnded,
    Keyed,
    MomentReached,
    Paused,
    ReadingShown,
    Resumed,
    Said,
    TimerFired,
    Verdict,
)
from runner.engine.looking import look
from runner.engine.state import ListRun, State
from runner.engine.step import initial_state, step
from runner.engine.wire import (
    effect_from_json,
    effect_to_json,
    event_from_json,
    event_to_json,
    state_from_json,
    state_to_json,
)
from runner.figures.figure import Figure

PROGRAM = program()
CANDIDATES = (
    *("answer", "wrong:0", "option:wet", "option:dry", "number", "engine:1", "engine:3"),
    *("call:engine-fire", "call:engine-fire:3", "call:generator", "call:before-takeoff"),
    *("call:scan", "call:cruise", "moment:flaps_up", "moment:power_set", "moment:fire_bell"),
    *(
        f"control:{name}"
        for name in (
            *("say_again", "stand_by", "resume", "go_back", "later", "disagree", "disregard"),
            *("reject", "mute", "affirm", "negative", "done", "flow_complete", "why"),
            *("briefing_complete", "full", "terse", "tones"),
        )
    ),
)
NUMBERS = (97.0, 79.0, 74000.0, 1e9, float("nan"), -3.0)
KEYS = ("done", "unmute", "mute", "resume", "later", "disagree", "disregard", "reject", "affirm")

times = st.integers(0, 10_000_000)
verdicts = st.builds(
    Verdict,
    st.sampled_from(("accept", "accept", "accept", "unclear", "reject")),
    st.sampled_from(CANDIDATES),
    st.sampled_from(NUMBERS),
    st.just("something"),
)
events: st.SearchStrategy[Event] = st.one_of(
    st.builds(Heard, times, st.integers(-1, 60), times, times, st.just(()), verdicts, st.just(())),
    st.builds(Said, times, st.integers(0, 60), st.booleans()),
    st.builds(TimerFired, times, st.sampled_from(("silence", "other"))),
    st.builds(Keyed, times, st.sampled_from(KEYS), st.just(""), st.just("")),
    st.builds(
        Keyed,
        times,
        st.just("call"),
        st.sampled_from(("engine-fire", "scan", "nope")),
        st.just("2"),
    ),
    st.builds(Keyed, times, st.just("answer"), st.sampled_from(("low", "97", "")), st.just("")),
    st.builds(
        FiguresChanged,
        times,
        st.lists(st.sampled_from((*FIGURES, Figure("rotate_speed", 99.0, "kt", 0, "speed")))).map(
            lambda found: tuple({f.name: f for f in found}.values())
        ),
        st.sampled_from(((), ("rotate_speed",), ("nothing",))),
    ),
    st.builds(Crossed, times, st.sampled_from(("roll.rotate", "nope"))),
    st.builds(MomentReached, times, st.sampled_from(("flaps_up", "power_set", "nope"))),
    st.builds(ReadingShown, times, st.sampled_from(("cockpit.gear", "nope"))),
    st.builds(Paused, times),
    st.builds(Resumed, times),
)
open_window = st.builds(lambda at, verdict: ("open window", at, verdict), times, verdicts)
"""A Heard whose window is whichever is open when its turn comes."""


def fly(drawn: list[object]) -> tuple[list[Event], State, list[Effect]]:
    """A run of drawn events; those for the open window are given its number."""
    state = initial_state(PROGRAM)
    given_events: list[Event] = []
    effects: list[Effect] = []
    for one in (started(), *drawn):
        if isinstance(one, tuple):
            _, at, verdict = one
            one = Heard(at, state.window, max(0, at - 500), at, (), verdict)
        given_events.append(one)  # type: ignore[arg-type]
        before = state
        state, found = step(state, one)  # type: ignore[arg-type]
        effects += found
        check(before, one, state, found)  # type: ignore[arg-type]
    return given_events, state, effects


def check(before: State, event: Event, after: State, effects: tuple[Effect, ...]) -> None:
    """The invariants of one step."""
    assert after.window >= before.window
    windows = [e.window for e in effects if isinstance(e, Listen)]
    assert windows == sorted(set(windows))
    assert all(w > before.window for w in windows)
    view = look(after)
    if view.list is not None:
        assert sum(item.status == "current" for item in view.list.items) <= 1
    for list_run in after.lists.values():
        if list_run.status != "open" and not list_run.argument:
            assert not passed_over(list_run), list_run
    if done_items(after) - done_items(before):
        assert may_answer(before, event), event


def passed_over(list_run: ListRun) -> list[str]:
    """Items of a list that ended which were neither answered nor left open by the pilot."""
    return [
        item.id
        for item in PROGRAM.lists[list_run.list].items
        if item.id not in list_run.items or list_run.items[item.id].status == "waiting"
    ]


def done_items(state: State) -> set[tuple[str, str]]:
    """Items that somebody has answered, as opposed to lines that are only spoken."""
    return {
        (key, item)
        for key, list_run in state.lists.items()
        for item, run in list_run.items.items()
        if run.status == "done" and run.by in ("voice", "key", "feed")
    }


def may_answer(before: State, event: Event) -> bool:
    """Whether an event may make an item done: an answer of the open window, a key, the feed;
    or a figure that came back to what it was when the item was answered."""
    if isinstance(event, Heard):
        in_time = before.listening and event.window == before.window
        return in_time and event.verdict.decision == "accept"
    return isinstance(event, Keyed | ReadingShown | FiguresChanged)


runs = st.lists(st.one_of(events, open_window, open_window), max_size=40)


@settings(max_examples=300, deadline=None)
@given(runs)
def test_no_list_of_events_breaks_an_invariant_or_raises(drawn: list[object]) -> None:
    fly(drawn)


@settings(max_examples=150, deadline=None)
@given(runs)
def test_a_stored_run_replays_to_the_same_state_and_effects_byte_for_byte(
    drawn: list[object],
) -> None:
    given_events, state, effects = fly(drawn)
    stored = [event_to_json(event) for event in given_events]
    again = initial_state(PROGRAM)
    repeated: list[Effect] = []
    for text in stored:
        event = event_from_json(text)
        assert event_to_json(event) == text
        again, found = step(again, event)
        repeated += found
    assert state_to_json(again) == state_to_json(state)
    assert [effect_to_json(e) for e in repeated] == [effect_to_json(e) for e in effects]
    for effect in effects:
        assert effect_to_json(effect_from_json(effect_to_json(effect))) == effect_to_json(effect)


@settings(max_examples=60, deadline=None)
@given(runs, runs)
def test_a_state_read_back_goes_on_like_the_one_that_was_written(
    first: list[object], second: list[object]
) -> None:
    _, state, _ = fly(first)
    other = state_from_json(state_to_json(state), PROGRAM)
    for one in second:
        if isinstance(one, tuple):
            _, at, verdict = one
            one = Heard(at, state.window, max(0, at - 500), at, (), verdict)
        state, effects = step(state, one)  # type: ignore[arg-type]
        other, others = step(other, one)  # type: ignore[arg-type]
        assert effects == others or str(effects) == str(others)
    assert state_to_json(state) == state_to_json(other)


def test_timers_alone_never_finish_anything() -> None:
    state, _ = step(initial_state(PROGRAM), started())
    for at in range(200):
        state, _ = step(state, Said(at * 1000, state.utterance, True))
        state, _ = step(state, TimerFired(at * 1000, "silence"))
    assert not done_items(state)
    assert not state.finished


def test_the_end_of_input_names_everything_that_is_open() -> None:
    state, _ = step(initial_state(PROGRAM), started(phase="takeoff"))
    state, _ = step(state, InputEnded(5))
    assert state.finished and not state.complete
    assert state.left_open == ("Stop speed", "Cowl flaps", "After take-off")
