"""The shipped callouts, flown over made-up readings.

What a crew calls on a take-off roll, in the climb, the descent and the approach is common
practice of two-pilot crews with a flight engineer; the aircraft and its numbers are invented.
"""

from __future__ import annotations

from itertools import pairwise

import pytest

from flying_watch import FlyingWatch, Spoken
from runner.engine.events import Crossed, FeedChanged, LimitPassed, MomentReached
from runner.engine.watch import MILLISECONDS_A_WORD
from shipped_runs import started
from shipped_watch import engines, flight, hold, procedures, ramp, value, with_values

PROCEDURES = procedures()
V1, ROTATE = value("decision_speed"), value("rotate_speed")


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
