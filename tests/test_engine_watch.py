"""The watch: what readings show, once each and in their order. Invented readings."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runner.engine.events import Crossed, Event, LimitPassed, MomentReached
from runner.engine.program import Program
from runner.engine.state import State, initial_state
from runner.engine.step import step
from runner.engine.watch import (
    AGAIN,
    MILLISECONDS_A_WORD,
    STEADY,
    Memory,
    Watched,
    next_look,
    watch,
    watched_of,
    with_engines,
)
from shipped_answers import shipped
from shipped_runs import started

PROCEDURES = shipped()
ROLL = "takeoff-roll"


def at_take_off() -> State:
    """The shipped procedures at the take-off phase."""
    event, program = started(PROCEDURES, phase="takeoff")
    state, _ = step(initial_state(program), event)
    return state


STATE = at_take_off()
WATCHED = watched_of(STATE)
assert WATCHED is not None
SPEEDS = {name: float(STATE.figures[name].value) for name in ("decision_speed", "rotate_speed")}


def watching(
    readings: list[tuple[int, dict[str, float]]], watched: Watched = WATCHED
) -> list[Event]:
    """What a series of readings shows; callouts that were said are not said again."""
    memory, found, said = Memory(), [], set[str]()
    for at, values in readings:
        now = replace(watched, callouts=tuple(c for c in watched.callouts if c.id not in said))
        memory, events = watch(memory, now, at, values)
        found += events
        said |= {e.callout for e in events if isinstance(e, Crossed)}
    return found


def called(events: list[Event]) -> list[str]:
    return [e.callout.removeprefix(f"{ROLL}.") for e in events if isinstance(e, Crossed)]


def roll(
    rate: float = 3.0, top: float = 130.0, step_ms: int = 20
) -> list[tuple[int, dict[str, float]]]:
    """An even acceleration from a standstill, in knots a second."""
    count = round(top / rate * 1000 / step_ms)
    return [(n * step_ms, {"airspeed": n * step_ms / 1000 * rate}) for n in range(count + 1)]


def test_speeds_are_called_in_their_order_once_each() -> None:
    names = called(watching(roll()))
    assert len(names) == len(set(names))
    assert [n for n in names if n in ("airspeed-alive", "decision", "rotate", "safety-speed")] == [
        "airspeed-alive",
        "decision",
        "rotate",
        "safety-speed",
    ]


@pytest.mark.parametrize("rate", [1.5, 3.0, 5.0])
def test_the_word_for_decision_speed_ends_by_the_time_it_is_reached(rate: float) -> None:
    (call,) = (
        e for e in watching(roll(rate)) if isinstance(e, Crossed) and "decision" in e.callout
    )
    reached = SPEEDS["decision_speed"] / rate * 1000
    assert reached - MILLISECONDS_A_WORD - 150 <= call.at <= reached - MILLISECONDS_A_WORD


@pytest.mark.parametrize("rate", [1.5, 3.0, 5.0])
def test_rotate_is_never_called_before_its_speed(rate: float) -> None:
    (call,) = (e for e in watching(roll(rate)) if isinstance(e, Crossed) and "rotate" in e.callout)
    speed = dict(call.values)["airspeed"]
    assert SPEEDS["rotate_speed"] <= speed < SPEEDS["rotate_speed"] + rate * 0.021


def test_where_both_speeds_fall_together_one_call_follows_the_other_at_once() -> None:
    figures = dict(STATE.figures)
    figures["decision_speed"] = replace(figures["decision_speed"], value=SPEEDS["rotate_speed"])
    events = watching(roll(), replace(WATCHED, figures=figures))
    decision, rotate = (
        next(e for e in events if isinstance(e, Crossed) and e.callout.endswith(name))
        for name in (".decision", ".rotate")
    )
    # Rotate begins when the word before it has just ended.
    assert 0 <= rotate.at - decision.at - MILLISECONDS_A_WORD <= 120


def test_what_was_beyond_its_level_from_the_start_is_not_called() -> None:
    assert called(watching([(n * 20, {"airspeed": 150.0}) for n in range(100)])) == []


@given(st.integers(0, 2**32 - 1))
@settings(max_examples=60, deadline=None)
def test_noise_drop_outs_repeats_and_late_readings_change_no_call(seed: int) -> None:
    rng = random.Random(seed)
    series: list[tuple[int, dict[str, float]]] = []
    for at, values in roll(rng.uniform(1.5, 4.0)):
        if rng.random() < 0.2:
            continue
        noisy = {"airspeed": values["airspeed"] + rng.gauss(0, 0.2)}
        series += [(at, noisy)] * rng.choice((1, 1, 1, 2))
        if rng.random() < 0.05 and len(series) > 5:
            series.append(series[-4])
    events = watching(series)
    names = called(events)
    assert len(names) == len(set(names))
    assert {"airspeed-alive", "decision", "rotate", "safety-speed"} <= set(names)
    for event in events:
        if isinstance(event, Crossed):
            values = dict(event.values)
            early = 3.0 if event.callout.endswith(".decision") else 0.0
            assert values["airspeed"] >= values["level"] - early


def test_a_hovering_value_says_it_once_and_a_moment_comes_once() -> None:
    series = [(n * 20, {"flap_position": 20.0}) for n in range(50)]
    series += [
        (1000 + n * 20, {"flap_position": 0.5 + (0.1 if n % 2 else -0.1)}) for n in range(50)
    ]
    series += [(2000 + n * 20, {"flap_position": 0.0}) for n in range(100)]
    came = [e for e in watching(series) if isinstance(e, MomentReached)]
    assert [e.moment for e in came] == ["flaps_up"]
    assert came[0].at >= 2000 + STEADY - 20


def test_a_moment_may_come_again_after_it_was_over_for_a_while() -> None:
    series: list[tuple[int, dict[str, float]]] = []
    at = 0
    for flaps, lasts in ((20.0, 1000), (0.0, 1000), (20.0, AGAIN + 500), (0.0, 1000)):
        series += [(at + t, {"flap_position": flaps}) for t in range(0, lasts, 20)]
        at += lasts
    assert len([e for e in watching(series) if isinstance(e, MomentReached)]) == 2


def powers(engine: int, value: float, others: float = 40.0) -> dict[str, float]:
    """Manifold pressures with one engine apart, at a good speed."""
    values = {f"manifold_pressure_{n}": others for n in range(1, 5)}
    return values | {f"manifold_pressure_{engine}": value, "airspeed": 150.0}


def test_a_limit_is_called_with_its_engine_when_it_lasts_and_again_while_it_does() -> None:
    high = [(n * 100, powers(3, 59.0)) for n in range(1300)]
    found = [e for e in watching(high) if isinstance(e, LimitPassed)]
    assert [(e.engine, e.side) for e in found] == [(3, "high")] * 3
    assert [e.at for e in found] == [1000, 61_000, 121_000]
    limit = PROCEDURES.aircraft.limits[found[0].limit]
    assert limit.reading == "manifold_pressure" and found[0].value == 59.0


def test_a_short_excursion_is_not_called_and_one_that_hovers_is_called_once() -> None:
    short = [(n * 100, powers(2, 59.0 if n == 5 else 50.0, 50.0)) for n in range(100)]
    assert not [e for e in watching(short) if isinstance(e, LimitPassed)]
    hovering = [(n * 100, powers(2, 57.2)) for n in range(15)]
    hovering += [(1500 + n * 100, powers(2, 57.2 if n % 2 else 56.8)) for n in range(200)]
    assert len([e for e in watching(hovering) if isinstance(e, LimitPassed)]) == 1


def test_engines_that_are_not_brought_up_together_are_named() -> None:
    series = [(n * 100, powers(4, 36.0) | {"airspeed": 0.0}) for n in range(60)]
    found = [e for e in watching(series) if isinstance(e, LimitPassed)]
    assert [(e.engine, e.side) for e in found] == [(4, "low")]


def test_the_lowest_and_highest_of_all_engines_are_known_when_all_are() -> None:
    aircraft = PROCEDURES.aircraft
    values = with_engines(aircraft, powers(2, 31.0))
    assert values["manifold_pressure_all"] == 31.0 and values["manifold_pressure_any"] == 40.0
    assert "manifold_pressure_all" not in with_engines(aircraft, {"manifold_pressure_1": 30.0})


def test_a_time_after_a_moment_comes_without_a_reading() -> None:
    watched = replace(WATCHED, reached={"takeoff_power_set": 5_000})
    memory, events = watch(Memory(), watched, 5_000, None)
    assert called(list(events)) == ["take-off-power-set"]
    said = frozenset(e.callout for e in events if isinstance(e, Crossed))
    watched = replace(watched, callouts=tuple(c for c in watched.callouts if c.id not in said))
    due = next_look(memory, watched)
    assert due == 125_000
    memory, events = watch(memory, watched, due - 1, None)
    assert not events
    memory, events = watch(memory, watched, due, None)
    assert [type(e) for e in events] == [Crossed]


def test_a_target_that_moved_is_called_and_then_from_there_on() -> None:
    event, program = started(PROCEDURES, phase="climb")
    state, _ = step(initial_state(program), event)
    watched = watched_of(state)
    assert watched is not None
    name = "climb_manifold_pressure"
    figure = state.figures[name]
    memory, found = Memory(), []
    for n, drop in enumerate((0.0, 0.3, 0.5, 0.8, 1.0, 1.4, 1.5)):
        moved = replace(figure, value=float(figure.value) - drop)
        now = replace(watched, figures={**state.figures, name: moved})
        memory, events = watch(memory, now, n * 1000, None)
        found += [(drop, e.callout) for e in events if isinstance(e, Crossed)]
    assert [drop for drop, callout in found if "climb-manifold" in callout] == [0.5, 1.0, 1.5]


def test_after_reject_nothing_is_watched_for_but_what_was_asked() -> None:
    state = STATE.__class__.__new__(STATE.__class__)
    state.__dict__.update(STATE.__dict__ | {"rejected": True})
    watched = watched_of(state)
    assert watched is not None and not watched.callouts and not watched.limits


def test_the_program_is_the_shipped_one() -> None:
    assert isinstance(STATE.program, Program) and len(WATCHED.callouts) >= 9
