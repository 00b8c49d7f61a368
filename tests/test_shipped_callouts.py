"""The shipped callouts, limits and offers, flown over made-up readings.

What a crew calls on a take-off roll, in the climb, the descent and the approach is common
practice of two-pilot crews with a flight engineer; the aircraft and its numbers are invented.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

import pytest

from flying_watch import FlyingWatch, Series, Spoken
from runner.checklist.load import load_procedures
from runner.engine.events import (
    Crossed,
    FeedChanged,
    FiguresChanged,
    LimitPassed,
    MomentReached,
)
from runner.engine.watch import MILLISECONDS_A_WORD
from shipped_answers import figures, shipped
from shipped_runs import started

PROCEDURES = shipped()
FIGURES = figures(PROCEDURES)


def value(name: str) -> float:
    """A figure of the usual load and day."""
    return float(FIGURES[name].value)


V1, ROTATE = value("decision_speed"), value("rotate_speed")


def flight(phase: str) -> FlyingWatch:
    """The shipped flight from a phase on, what is said first said to its end."""
    flown = FlyingWatch(*started(PROCEDURES, phase=phase))
    return flown.wait(30_000)


def ramp(
    flown: FlyingWatch, reading: str, begin: float, end: float, a_second: float, step: int = 20
) -> Iterator[tuple[int, dict[str, float]]]:
    """A reading that goes evenly from one value to another, from now on."""
    count = round(abs(end - begin) / a_second * 1000 / step)
    start = flown.at + step
    for n in range(count + 1):
        yield start + n * step, {reading: begin + (end - begin) * n / count}


def hold(
    flown: FlyingWatch, seconds: float, values: dict[str, float], step: int = 20
) -> Iterator[tuple[int, dict[str, float]]]:
    """The same readings for so long."""
    start = flown.at + step
    for n in range(round(seconds * 1000 / step)):
        yield start + n * step, values


def engines(**each: float) -> dict[str, float]:
    """Readings that all four engines have alike."""
    return {f"{name}_{n}": number for name, number in each.items() for n in range(1, 5)}


class TestTheUsualSet:
    """Common practice."""

    @pytest.mark.parametrize(
        ("phase", "words"),
        [
            ("takeoff", "take-off power set"),
            ("takeoff", "airspeed alive"),
            ("takeoff", "seventy"),
            ("takeoff", "decision"),
            ("takeoff", "rotate"),
            ("takeoff", "positive rate"),
            ("takeoff", "safety speed"),
            ("takeoff", "flaps ten speed"),
            ("takeoff", "flaps up speed"),
            ("takeoff", "two minutes"),
            ("climb", "transition"),
            ("climb", "passing ten thousand"),
            ("climb", "one thousand to level"),
            ("climb", "blower shift"),
            ("climb", "climb manifold pressure now"),
            ("cruise", "top of descent"),
            ("descent", "transition"),
            ("descent", "gear speed"),
            ("descent", "one thousand above the field"),
            ("landing", "five hundred"),
            ("landing", "fifty"),
        ],
    )
    def test_is_in_the_phase_that_it_belongs_to(self, phase: str, words: str) -> None:
        (found,) = (p for p in PROCEDURES.phases if p.id == phase)
        calls = [c.text.source.lower() for each in found.lists for c in each.callouts]
        assert any(words in call for call in calls), calls

    def test_only_decision_speed_is_called_ahead_and_only_what_a_go_around_repeats_again(
        self,
    ) -> None:
        callouts = [c for one in PROCEDURES.lists.values() for c in one.callouts]
        assert [c.id for c in callouts if c.ahead] == ["takeoff-roll.decision"]
        assert {c.id.partition(".")[0] for c in callouts if c.again} == {"landing-callouts"}


class TestTakeOff:
    def test_the_roll_is_called_in_order_and_each_speed_once(self) -> None:
        flown = flight("takeoff")
        flown.fly(ramp(flown, "airspeed", 0, 135, 3.0))
        assert flown.called == [
            "airspeed-alive",
            "seventy-bmep-not-less-than-minimum-takeoff-bmep",
            "decision",
            "rotate",
            "safety-speed",
            "flaps-ten-speed",
            "flaps-up-speed",
        ]

    @pytest.mark.parametrize("rate", [2.0, 3.0, 5.0])
    def test_the_word_for_decision_speed_has_ended_and_rotate_begins_at_its_speed(
        self, rate: float
    ) -> None:
        flown = flight("takeoff")
        began = flown.at + 20
        flown.fly(ramp(flown, "airspeed", 0, 120, rate))
        for one in flown.spoken:
            if one.text == "Decision":
                assert one.completed
                assert one.ended <= began + V1 / rate * 1000 <= one.ended + 150
            elif one.text == "Rotate":
                assert 0 <= one.began - (began + ROTATE / rate * 1000) <= 1000 / rate

    def test_decision_and_rotate_that_fall_together_are_one_call(self) -> None:
        flown = flight("takeoff")
        flown.give(with_values(flown, decision_speed=ROTATE))
        began = flown.at + 20
        flown.fly(ramp(flown, "airspeed", 0, 120, 3.0))
        call = flown.said("Decision, rotate")
        assert "Decision" not in flown.texts and "Rotate" not in flown.texts
        reached = began + ROTATE / 3.0 * 1000
        assert call.began + MILLISECONDS_A_WORD <= reached <= call.ended

    def test_power_that_lasts_too_long_is_called_and_power_that_was_reduced_is_not(self) -> None:
        for pressure, calls in ((value("takeoff_manifold_pressure"), 1), (40.0, 0)):
            flown = flight("takeoff")
            idle = engines(manifold_pressure=30.0)
            full = engines(manifold_pressure=value("takeoff_manifold_pressure"))
            flown.fly(hold(flown, 1, idle)).fly(hold(flown, 10, full))
            flown.fly(hold(flown, 125, engines(manifold_pressure=pressure), step=100))
            assert flown.called.count("two-minutes-meto-power") == calls
            assert flown.called.count("take-off-power-set") == 1

    def test_time_for_which_the_simulator_stands_still_does_not_count(self) -> None:
        flown = flight("takeoff")
        full = engines(manifold_pressure=value("takeoff_manifold_pressure"))
        flown.fly(hold(flown, 1, engines(manifold_pressure=30.0))).fly(hold(flown, 100, full, 100))
        flown.give(FeedChanged(flown.at, "paused"))
        flown.wait(60_000)
        flown.give(FeedChanged(flown.at, "running"))
        flown.fly(hold(flown, 18, full, 100))
        assert "two-minutes-meto-power" not in flown.called
        flown.fly(hold(flown, 4, full, 100))
        assert "two-minutes-meto-power" in flown.called

    def test_callouts_of_other_phases_are_not_armed(self) -> None:
        flown = flight("takeoff")
        flown.fly(ramp(flown, "altitude", 300, 14_000, 100, 200))
        flown.fly(ramp(flown, "height", 1000, 0, 50))
        assert [c for c in flown.called if c != "four-hundred-feet"] == []

    def test_an_abnormal_list_in_between_disarms_nothing(self) -> None:
        flown = flight("takeoff")
        flown.hears("call:engine-failure-after-decision:3")
        flown.fly(ramp(flown, "airspeed", 80, 120, 3.0))
        assert flown.called[:3] == ["decision", "rotate", "safety-speed"]


def with_values(flown: FlyingWatch, **values: float) -> FiguresChanged:
    """Figures changed to these values."""
    changed = tuple(replace(FIGURES[name], value=number) for name, number in values.items())
    return FiguresChanged(flown.at, changed, followed=True)


class TestWhatCutsOffWhat:
    def limit(self, flown: FlyingWatch) -> None:
        flown.give(LimitPassed(flown.at, 0, 3, "high", 59.0, 57.0))

    def test_a_limit_does_not_cut_off_a_speed_and_is_said_after_it(self) -> None:
        flown = flight("takeoff")
        flown.give(Crossed(flown.at, "takeoff-roll.rotate"))
        flown.wait(100)
        self.limit(flown)
        flown.wait(10_000)
        assert flown.spoken[-2:][0].text == "Rotate" and flown.spoken[-2].completed
        assert flown.texts[-1].startswith("number 3 manifold pressure high, 59")

    def test_a_speed_cuts_off_a_limit_which_is_said_again_after_it(self) -> None:
        flown = flight("takeoff")
        self.limit(flown)
        flown.wait(800)
        at = flown.at
        flown.give(Crossed(at, "takeoff-roll.rotate"))
        flown.wait(10_000)
        limit = "number 3 manifold pressure high, 59.0 inHg"
        (cut,) = (one for one in flown.spoken if not one.completed and one.text == limit)
        assert cut.ended == at
        assert flown.said("Rotate").began == at
        assert flown.said(limit).began == flown.said("Rotate").ended

    def test_a_speed_waits_for_another_speed_and_cuts_off_a_question(self) -> None:
        flown = FlyingWatch(*started(PROCEDURES, phase="takeoff"))
        flown.wait(300)
        flown.give(Crossed(flown.at, "takeoff-roll.decision"))
        flown.give(Crossed(flown.at, "takeoff-roll.rotate"))
        assert [one.completed for one in flown.spoken] == [False]
        flown.wait(10_000)
        decision, rotate = flown.said("Decision"), flown.said("Rotate")
        assert (decision.began, rotate.began) == (300, decision.ended)

    def test_a_question_that_was_cut_off_is_asked_again(self) -> None:
        flown = FlyingWatch(*started(PROCEDURES, phase="takeoff"))
        flown.wait(300)
        flown.give(Crossed(flown.at, "takeoff-roll.rotate"))
        flown.wait(10_000)
        assert flown.texts == ["Rotate", "METO manifold pressure?"]

    def test_reject_silences_even_a_speed_and_brings_the_list(self) -> None:
        flown = flight("takeoff")
        flown.fly(ramp(flown, "airspeed", 0, V1 - 1, 3.0))
        flown.hears("control:reject")
        assert flown.spoken[-1] == Spoken(
            "Decision", flown.spoken[-1].began, flown.at, completed=False
        )
        heard = len(flown.spoken)
        rest = engines(manifold_pressure=60.0)
        start = flown.at
        flown.fly((at, {**rest, **speed}) for at, speed in ramp(flown, "airspeed", V1, 130, 3.0))
        flown.wait(20_000)
        said = [one.text for one in flown.spoken[heard:]]
        assert said[0].startswith("rejected, Rejected take-off")
        assert all("Throttles" in text for text in said[1:])
        assert not [
            e for e in flown.events if isinstance(e, Crossed | LimitPassed) and e.at > start
        ]


class TestClimbAndDescent:
    def test_altitudes_are_called_once_in_their_order(self) -> None:
        flown = flight("climb")
        flown.fly(ramp(flown, "altitude", 3000, 11_900, 20, 100))
        bumps = [(flown.at + n * 100, {"altitude": 12_000 + 30 * (-1) ** n}) for n in range(1, 100)]
        flown.fly(bumps).fly(ramp(flown, "altitude", 12_000, 12_990, 10, 100))
        assert flown.called == [
            "passing-five-thousand",
            "transition-altimeters-standard",
            "five-hundred-to-the-blower-shift",
            "passing-ten-thousand-oxygen",
            "one-thousand-to-level",
        ]
        assert ("blower_altitude", 0) in flown.moments

    def test_below_the_blower_shift_nothing_is_said_of_it(self) -> None:
        flown = flight("climb").change(cruise_altitude=9_800.0)
        flown.fly(ramp(flown, "altitude", 3000, 9_700, 20, 100))
        assert "five-hundred-to-the-blower-shift" not in flown.called
        assert ("blower_altitude", 0) not in flown.moments

    def test_a_target_is_called_when_the_altitude_has_moved_it_enough(self) -> None:
        """By the aircraft's own chart: each call is half an inch or more from the last."""
        flown = flight("climb")
        flown.fly(hold(flown, 0.1, {}))
        told = [value("climb_manifold_pressure")]
        for altitude in range(400, 9_800, 200):
            flown.change(followed=True, pressure_altitude=float(altitude))
            flown.wait(5_000).fly([(flown.at, {})])
            events = [e for e in flown.events if isinstance(e, Crossed) and e.at == flown.at]
            told += [dict(e.values)["climb_manifold_pressure"] for e in events]
        flown.wait(5_000)
        assert len(told) > 3
        assert all(abs(b - a) >= 0.5 for a, b in pairwise(told))
        spoken = [text for text in flown.texts if text.startswith("Climb manifold pressure now")]
        assert spoken == [f"Climb manifold pressure now {one:.1f} inHg" for one in told[1:]]

    @pytest.mark.parametrize(
        ("more", "order"),
        [
            (1.0, ["climb-rpm-now-climb-rpm", "climb-manifold-pressure-now-climb-manifold"]),
            (-1.0, ["climb-manifold-pressure-now-climb-manifold", "climb-rpm-now-climb-rpm"]),
        ],
    )
    def test_power_is_called_in_the_order_in_which_it_is_set(
        self, more: float, order: list[str]
    ) -> None:
        """Common practice: increasing, RPM first; reducing, manifold pressure first."""
        flown = flight("climb")
        flown.fly(hold(flown, 0.1, {}))
        pressure, rpm = value("climb_manifold_pressure"), value("climb_rpm")
        flown.give(
            with_values(flown, climb_manifold_pressure=pressure + more, climb_rpm=rpm + 50 * more)
        )
        flown.fly(hold(flown, 0.1, {}))
        assert [name for name in flown.called if "now" in name] == order

    def test_top_of_descent_comes_by_time_from_level_flight(self) -> None:
        flown = flight("cruise")
        flown.give(MomentReached(flown.at, "level_off"))
        begun, minutes = flown.at, value("time_to_descent")
        flown.wait(round((minutes + 1) * 60_000))
        times = {e.callout: e.at for e in flown.events if isinstance(e, Crossed)}
        assert times["cruise-callouts.top-of-descent"] == begun + minutes * 60_000
        ahead = times["cruise-callouts.five-minutes-to-the-top-of-descent"]
        assert ahead == begun + (minutes - 5) * 60_000

    def test_heights_over_the_field_in_the_descent(self) -> None:
        flown = flight("descent")
        flown.fly(ramp(flown, "altitude", 13_000, 1_500, 30, 100))
        field = value("destination_elevation")
        levels = [dict(e.values)["level"] for e in flown.events if isinstance(e, Crossed)]
        assert levels == [10_000, 6_000, field + 3_000, field + 1_000]

    def test_heights_of_the_approach_come_again_after_a_go_around_and_not_by_a_bump(self) -> None:
        flown = flight("landing")
        flown.fly(ramp(flown, "height", 900, 150, 12))
        flown.fly(ramp(flown, "height", 150, 250, 12)).fly(ramp(flown, "height", 250, 150, 12))
        assert flown.called == ["five-hundred-gear-and-flaps", "two-hundred"]
        flown.fly(ramp(flown, "height", 150, 1200, 25)).fly(ramp(flown, "height", 1200, 10, 12))
        assert flown.called[2:] == [
            "five-hundred-gear-and-flaps",
            "two-hundred",
            "one-hundred",
            "fifty",
            "twenty",
        ]


class TestTheEngineersWatch:
    def test_engines_brought_up_together_before_the_brakes_are_let_go(self) -> None:
        flown = flight("takeoff")
        values = engines(manifold_pressure=44.0) | {"manifold_pressure_2": 41.0, "airspeed": 0.0}
        flown.fly(hold(flown, 5, values)).wait(5_000)
        assert "number 2 low, 41.0 inHg" in flown.texts

    def test_power_below_its_target_on_the_roll(self) -> None:
        flown = flight("takeoff")
        low = value("takeoff_manifold_pressure") - 3
        values = engines(manifold_pressure=low + 3) | {"manifold_pressure_4": low, "airspeed": 70.0}
        flown.fly(hold(flown, 2, values)).wait(5_000)
        assert [(e.engine, e.side) for e in flown.limits] == [(4, "low")]
        assert flown.texts[-1].startswith("number 4 below take-off power")

    def test_climb_power_is_held_to_its_target_by_engine(self) -> None:
        flown = flight("climb")
        target = value("climb_manifold_pressure")
        rest = {"vertical_speed": 800.0, "height": 4000.0, "airspeed": 145.0}
        set_right = engines(manifold_pressure=target, rpm=value("climb_rpm")) | rest
        flown.fly(hold(flown, 30, set_right, 100))
        assert not flown.limits
        flown.fly(hold(flown, 16, set_right | {"manifold_pressure_1": target + 2}, 100))
        assert [(e.engine, e.side) for e in flown.limits] == [(1, "high")]

    def test_the_least_manifold_pressure_in_the_descent(self) -> None:
        flown = flight("descent")
        low = value("minimum_descent_manifold_pressure") - 2
        values = engines(manifold_pressure=low + 4, rpm=1900.0) | {
            "manifold_pressure_2": low,
            "manifold_pressure_3": low,
            "vertical_speed": -800.0,
            "height": 5000.0,
            "carburettor_air_temperature_1": 30.0,
        }
        flown.fly(hold(flown, 4, values, 100)).wait(6_000)
        assert [(e.engine, e.also) for e in flown.limits] == [(2, (3,))]
        assert flown.texts[-1].startswith("numbers 2, 3 manifold pressure low")

    def test_carburettor_ice_is_one_call_for_all_engines(self) -> None:
        """Cool air through a throttle that is nearly closed: common practice."""
        flown = flight("descent")
        values = engines(manifold_pressure=20.0, rpm=1900.0, carburettor_air_temperature=4.0)
        flown.fly(hold(flown, 60, values, 100)).wait(5_000)
        assert [(e.engine, e.also) for e in flown.limits] == [(1, (2, 3, 4))]
        assert flown.texts[-1].startswith("all engines carburettor ice conditions")

    def test_an_engine_that_was_shut_down_has_no_oil_pressure_to_call(self) -> None:
        flown = flight("climb")
        running = engines(rpm=2250.0, oil_pressure=80.0, fuel_pressure=23.0)
        stopped = running | {"rpm_3": 0.0, "oil_pressure_3": 0.0, "fuel_pressure_3": 0.0}
        flown.fly(hold(flown, 10, stopped, 100))
        assert not flown.limits
        flown.fly(hold(flown, 3, stopped | {"oil_pressure_2": 40.0}, 100))
        assert [(e.engine, e.side) for e in flown.limits] == [(2, "low")]


class TestOffersAndGates:
    def failing(self, flown: FlyingWatch, engine: int = 3) -> Series:
        running = engines(bmep=200.0, manifold_pressure=50.0) | {"height": 600.0}
        yield from hold(flown, 1, running)
        yield from (
            (at + 1000, values) for at, values in hold(flown, 1, running | {f"bmep_{engine}": 0.0})
        )

    def test_an_engine_that_fails_offers_its_list_with_its_number(self) -> None:
        flown = flight("climb")
        asked = flown.state.stack[-1]
        flown.fly(self.failing(flown))
        assert ("engine_failed", 3) in flown.moments
        assert flown.state.asking == "offer"
        flown.wait(5_000)
        assert flown.texts[-1] == "Engine 3 has failed, engine failure list?"
        flown.hears("control:affirm").wait(20_000)
        memory = flown.texts[-1]
        assert "Directional control, holding heading" in memory and "Gear, up" in memory
        assert [frame.key for frame in flown.state.stack] == [
            asked.key,
            "engine-failure-after-decision:3",
        ]

    def test_that_engine_is_confirmed_before_its_throttle_is_closed(self) -> None:
        flown = flight("climb").fly([])
        flown.fly(self.failing(flown)).hears("control:affirm")
        for _ in range(3):
            flown.hears("answer")
        flown.hears("number", value("safety_speed"))
        assert flown.state.asking == "engine confirm"
        flown.hears("engine:2")
        assert flown.state.asking == "engine confirm"
        flown.hears("engine:3")
        assert flown.state.asking == "item"
        assert flown.state.stack[-1].item == "engine-failure-after-decision.throttle"

    def test_an_offer_that_is_declined_leads_back_to_the_very_item(self) -> None:
        flown = flight("climb")
        asked = flown.state.stack[-1]
        flown.fly(self.failing(flown)).hears("control:negative")
        assert flown.state.asking == "item" and flown.state.stack[-1] == asked

    def test_a_list_that_was_called_before_the_readings_showed_it_is_not_offered(self) -> None:
        flown = flight("climb").hears("call:engine-failure-after-decision:3")
        flown.fly(self.failing(flown))
        assert ("engine_failed", 3) in flown.moments and flown.state.asking == "item"

    def test_a_second_engine_interrupts_the_list_of_the_first(self) -> None:
        flown = flight("climb")
        asked = flown.state.stack[-1]
        flown.fly(self.failing(flown)).hears("control:affirm")
        flown.fly(self.failing(flown, 1)).hears("control:affirm")
        assert [frame.key for frame in flown.state.stack] == [
            asked.key,
            "engine-failure-after-decision:3",
            "engine-failure-after-decision:1",
        ]

    def test_take_off_power_with_the_list_before_it_open_is_called(self) -> None:
        flown = flight("before-takeoff")
        full = engines(manifold_pressure=value("takeoff_manifold_pressure"))
        flown.fly(hold(flown, 1, engines(manifold_pressure=30.0)))
        # A lever that is pushed up for a moment is no take-off.
        flown.fly(hold(flown, 0.2, full)).fly(hold(flown, 1, engines(manifold_pressure=30.0)))
        assert ("takeoff_power_set", 0) not in flown.moments
        flown.fly(hold(flown, 0.5, full)).wait(3_000)
        assert "Before take-off not complete" in flown.texts

    def test_flaps_up_offers_the_list_after_take_off_once(self) -> None:
        flown = flight("takeoff").hears("control:later").hears("control:later")
        while flown.state.asking == "item":
            flown.hears("control:later")
        flown.fly(hold(flown, 1, {"flap_position": 10.0}))
        bumps = [(flown.at + n * 20, {"flap_position": 0.5 + 0.1 * (-1) ** n}) for n in range(99)]
        flown.fly(bumps).fly(hold(flown, 1, {"flap_position": 0.0}))
        assert flown.moments.count(("flaps_up", 0)) == 1
        assert flown.state.asking == "offer" and flown.state.subject == "after-takeoff"


class TestChangesInTheMiddleOfAList:
    """New weight, runway or weather: said, and the items that used the old value asked again."""

    def answered(self, *names: str) -> FlyingWatch:
        """The before-take-off list, its figures read back up to the one named last."""
        flown = flight("before-takeoff").hears("option:dry")
        while flown.state.stack[-1].item != "before-takeoff.take-off-rpm":
            flown.hears("answer")
        for name in names:
            flown.hears("number", float(flown.state.figures[name].value))
        return flown

    READ = ("takeoff_rpm", "takeoff_manifold_pressure", "minimum_takeoff_bmep", "decision_speed")

    @pytest.mark.parametrize(
        ("given", "figure"),
        [
            ({"gross_weight": 88_000.0}, "rotate_speed"),
            ({"outside_temperature": 35.0}, "takeoff_manifold_pressure"),
            ({"runway_length": 3_500.0}, "decision_speed"),
        ],
        ids=["weight", "weather", "runway"],
    )
    def test_it_says_what_changed_and_asks_again(
        self, given: dict[str, float], figure: str
    ) -> None:
        flown = self.answered(*self.READ, "rotate_speed")
        before = flown.state.figures[figure]
        flown.change(**given).wait(20_000)
        after = flown.state.figures.get(figure)
        assert after is None or after.shown != before.shown
        shown = "not known" if after is None else after.shown_with_unit
        spoken = " ".join(text.lower() for text in flown.texts)
        assert f"{before.title} now {shown}".lower() in spoken
        lists = flown.state.lists["before-takeoff"].items
        again = {name for name, item in lists.items() if item.status == "ask again"}
        used = {
            i.id
            for i in PROCEDURES.lists["before-takeoff"].items
            if figure in i.used and i.id in lists
        }
        assert used and used <= again | {flown.state.stack[-1].item}

    def test_what_uses_no_changed_figure_is_not_asked_again(self) -> None:
        flown = self.answered(*self.READ, "rotate_speed").change(gross_weight=88_000.0)
        items = flown.state.lists["before-takeoff"].items
        assert items["before-takeoff.mixtures"].status == "done"
        assert items["before-takeoff.take-off-rpm"].status == "done"


class TestTheSingleEngine:
    """The shipped aeroplane of one engine."""

    def flight(self, phase: str) -> FlyingWatch:
        return FlyingWatch(*started(load_procedures("sanderling.yaml"), phase=phase)).wait(30_000)

    def test_its_limits_name_no_engine_and_say_which_side(self) -> None:
        flown = self.flight("climb")
        running = {"rpm": 2400.0, "oil_pressure": 60.0, "fuel_pressure": 4.0}
        flown.fly(hold(flown, 6, running | {"oil_pressure": 20.0}, 100)).wait(5_000)
        assert flown.texts[-1] == "oil pressure low, 20 psi"

    def test_nothing_is_low_in_an_engine_that_does_not_run(self) -> None:
        flown = self.flight("preflight")
        flown.fly(hold(flown, 30, {"rpm": 0.0, "oil_pressure": 0.0, "fuel_pressure": 0.0}, 100))
        assert not flown.limits
