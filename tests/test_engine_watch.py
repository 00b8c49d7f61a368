"""The watch: what readings show, once each and in their order. Invented readings."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from hypothesis import Phase, given, settings
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
from runner.engine.wire import event_from_json, event_to_json
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
    memory, now = Memory(), watched
    found: list[Event] = []
    said: set[str] = set()
    for at, values in readings:
        memory, events = watch(memory, now, at, values)
        found += events
        heard = {n for e in events if isinstance(e, Crossed) for n in (e.callout, *e.also)}
        if heard:
            said |= heard
            left = tuple(c for c in watched.callouts if c.id not in said)
            now = replace(watched, callouts=left)
    return found


def called(events: list[Event]) -> list[str]:
    names = [n for e in events if isinstance(e, Crossed) for n in (e.callout, *e.also)]
    return [name.removeprefix(f"{ROLL}.") for name in names]


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


def both_speeds(apart: float) -> list[Event]:
    """A roll with decision speed so many knots below the speed of rotation."""
    figures = dict(STATE.figures)
    speed = SPEEDS["rotate_speed"] - apart
    figures["decision_speed"] = replace(figures["decision_speed"], value=speed)
    return watching(roll(), replace(WATCHED, figures=figures))


@pytest.mark.parametrize("apart", [0.0, 0.5, 1.0])
def test_speeds_that_fall_together_are_one_call(apart: float) -> None:
    events = both_speeds(apart)
    (call,) = (e for e in events if isinstance(e, Crossed) and e.callout.endswith(".decision"))
    assert call.also == (f"{ROLL}.rotate",)
    assert called(events).count("rotate") == 1
    # The first word has ended when decision speed is reached, and the second has not when the
    # speed of rotation is.
    decision = (SPEEDS["rotate_speed"] - apart) / 3.0 * 1000
    rotation = SPEEDS["rotate_speed"] / 3.0 * 1000
    assert call.at + MILLISECONDS_A_WORD <= decision <= call.at + MILLISECONDS_A_WORD + 150
    assert rotation <= call.at + 2 * MILLISECONDS_A_WORD + 150


def test_speeds_further_apart_than_a_word_are_two_calls() -> None:
    events = both_speeds(3.0 * MILLISECONDS_A_WORD / 1000 + 0.2)
    assert called(events).count("rotate") == 1
    assert not any(e.also for e in events if isinstance(e, Crossed))


def test_what_was_beyond_its_level_from_the_start_is_not_called() -> None:
    assert called(watching([(n * 20, {"airspeed": 150.0}) for n in range(100)])) == []


ORDER = [
    "airspeed-alive",
    "seventy-bmep-not-less-than-minimum-takeoff-bmep",
    "decision",
    "rotate",
    "safety-speed",
    "flaps-ten-speed",
    "flaps-up-speed",
]


def faulty(
    seed: int, rate: float, dropped: float, noise: float, damaged: float, step_ms: int = 20
) -> list[tuple[int, dict[str, float]]]:
    """A roll as a bad link brings it: with noise, gaps, repetitions, late and damaged values.

    No two damaged values stand beside each other, and the last half second is sound.
    """
    rng = random.Random(seed)
    series: list[tuple[int, dict[str, float]]] = []
    sound, good = roll(rate, step_ms=step_ms), 3
    for at, values in sound:
        if rng.random() < dropped:
            continue
        speed = values["airspeed"] + rng.gauss(0, noise)
        if good > 2 and rng.random() < damaged and at < sound[-1][0] - 500:
            # Nobody can tell a damaged value that lies near the right one from a gust.
            near = values["airspeed"]
            stray = rng.choice((near - rng.uniform(20, 150), near + rng.uniform(20, 300)))
            speed, good = rng.choice((0.0, -40.0, 9999.0, stray)), 0
        good += 1
        series += [(at, {"airspeed": speed})] * rng.choice((1, 1, 1, 2))
        if rng.random() < 0.05 and len(series) > 8:
            series.append(series[-6])
    end, top = sound[-1]
    return [*series, *((end + n * step_ms, top) for n in range(1, 5))]


@given(
    st.integers(0, 2**32 - 1),
    st.floats(1.5, 5.0),
    st.floats(0.0, 0.5),
    st.floats(0.0, 0.3),
    st.floats(0.0, 0.1),
)
@settings(max_examples=40, deadline=None, phases=(Phase.reuse, Phase.generate))
def test_a_bad_link_makes_no_callout_double_early_or_missing(
    seed: int, rate: float, dropped: float, noise: float, damaged: float
) -> None:
    events = watching(faulty(seed, rate, dropped, noise, damaged))
    names = called(events)
    assert sorted(names) == sorted(ORDER), names
    for event in events:
        assert isinstance(event, Crossed)
        speed = event.at / 1000 * rate
        ahead = rate * 1.0 if event.callout.endswith(".decision") else 0.0
        assert speed >= dict(event.values)["level"] - ahead - 5 * noise - 0.1
    times = [event.at for event in events]
    assert times == sorted(times)
    if noise < 0.05:
        assert names == ORDER


@given(st.lists(st.floats(-50.0, 250.0), min_size=1, max_size=120))
@settings(max_examples=200, deadline=None)
def test_whatever_the_values_each_callout_comes_once_and_at_its_level(values: list[float]) -> None:
    events = watching([(n * 20, {"airspeed": value}) for n, value in enumerate(values)])
    names = called(events)
    assert len(names) == len(set(names))
    for event in events:
        assert isinstance(event, Crossed)
        speed, level = dict(event.values)["airspeed"], dict(event.values)["level"]
        earlier = values[: event.at // 20 + 1]
        assert min(earlier) < level
        assert speed >= level or event.callout.endswith(".decision")


def test_a_value_that_was_damaged_on_its_way_calls_nothing_twice_sent_or_not() -> None:
    for times in (1, 2):
        series = roll(3.0, top=30.0)
        at = series[-200][0]
        series[-200:-200] = [(at, {"airspeed": 900.0})] * times
        assert called(watching(series)) == []


def test_a_damaged_value_does_not_bring_decision_speed_sooner() -> None:
    clean = next(e for e in watching(roll()) if isinstance(e, Crossed) and "decision" in e.callout)
    series = roll()
    place = next(n for n, (at, _) in enumerate(series) if at >= clean.at - 400)
    for damaged in (0.0, 500.0):
        hurt = list(series)
        hurt[place] = (series[place][0], {"airspeed": damaged})
        (call,) = (e for e in watching(hurt) if isinstance(e, Crossed) and "decision" in e.callout)
        assert abs(call.at - clean.at) <= 20


def test_a_reading_that_really_jumps_is_believed_with_the_next_one() -> None:
    series = [(n * 20, {"airspeed": 60.0}) for n in range(50)]
    series += [(1000 + n * 20, {"airspeed": 100.0}) for n in range(10)]
    events = watching(series)
    assert called(events) == ORDER[1:4]
    assert {e.at for e in events} == {1020}


@pytest.mark.parametrize("step_ms", [20, 100, 500, 1000])
def test_slow_feeds_call_at_the_first_reading_that_is_there(step_ms: int) -> None:
    (call,) = (
        e
        for e in watching(roll(3.0, step_ms=step_ms))
        if isinstance(e, Crossed) and "safety-speed" in e.callout
    )
    reached = float(STATE.figures["safety_speed"].value) / 3.0 * 1000
    assert 0 <= call.at - reached <= step_ms


def test_what_is_remembered_does_not_grow_with_the_rate() -> None:
    counts = []
    for step_ms in (20, 1):
        memory = Memory()
        for at, values in roll(3.0, step_ms=step_ms):
            memory, _ = watch(memory, WATCHED, at, values)
        counts.append(sum(len(track.points) for track in memory.tracks.values()))
    assert counts[1] <= counts[0] + 1


def test_events_of_the_watch_are_stored_whole() -> None:
    for event in (
        Crossed(1, "a.b", (("airspeed", 90.5),), ("a.c",)),
        LimitPassed(2, 3, 1, "high", 59.0, 57.0, (2, 4)),
        MomentReached(3, "engine_failed", (("bmep_3", 1.0),), 3),
    ):
        assert event_from_json(event_to_json(event)) == event


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


def test_one_good_value_does_not_end_an_excursion_and_half_a_second_of_them_does() -> None:
    series = [(n * 100, powers(2, 50.0 if n in (20, 30) else 59.0)) for n in range(60)]
    assert len([e for e in watching(series) if isinstance(e, LimitPassed)]) == 1
    series = [(n * 100, powers(2, 50.0 if 20 <= n < 27 else 59.0)) for n in range(60)]
    assert [e.at for e in watching(series) if isinstance(e, LimitPassed)] == [1000, 3700]


def test_engines_that_pass_a_limit_together_are_called_together_by_the_worst() -> None:
    both = [(n * 100, powers(2, 58.0) | {"manifold_pressure_3": 59.5}) for n in range(30)]
    (call,) = (e for e in watching(both) if isinstance(e, LimitPassed))
    assert (call.engine, call.also, call.value) == (2, (3,), 59.5)


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
