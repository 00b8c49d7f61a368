"""The shipped limits and offers, and figures that change within a list, over made-up readings.

What a flight engineer watches and tells the pilots is common practice; the aircraft and its
numbers are invented.
"""

from __future__ import annotations

import pytest

from flying_watch import FlyingWatch, Series
from runner.checklist.load import load_procedures
from shipped_runs import started
from shipped_watch import engines, flight, hold, procedures, value

PROCEDURES = procedures()


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
