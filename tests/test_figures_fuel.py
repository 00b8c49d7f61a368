"""Fuel, time and descent against worked examples in print.

Tolerance is the source's own rounding: half of the last figure it prints.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.figures import fuel
from runner.figures.tables import CalculationError

FT_MARCH = "AOPA Flight Training, March 2013, computing time, fuel, distance"
TABLE = "FAA approach charts, rate of descent table, in Stern, Flying on Instruments, app. B"
EASA = "EASA ECQB general navigation 12, as atplquestions.com prints"


@pytest.mark.outside
@pytest.mark.parametrize(
    ("got", "printed", "half"),
    [
        pytest.param(
            fuel.leg_time(66, 130), 30.5, 0.05, id=f"66 nm at 130 kt, 30.5 min: {FT_MARCH}"
        ),
        pytest.param(
            fuel.fuel_burnt(88, 14 * 6) / 6,
            20.5,
            0.05,
            id="88 min at 14 gal/h, 20.5 gal: bobtait.com.au forum 2473, exercise N6",
        ),
        pytest.param(
            fuel.descent_distance(4500, 2500, 500, 130),
            8.67,
            0.005,
            id=f"4500 to 2500 ft at 130 kt, 8.67 nm: {EASA}",
        ),
        pytest.param(fuel.descent_time(4500, 2500, 500), 4, 1e-9, id=f"4 min: {EASA}"),
        pytest.param(
            fuel.descent_time(10_000, 1000, 500),
            18,
            1e-9,
            id="10000 to 1000 ft, 18 min: pilotworkshop.com, calculating your descent",
        ),
        pytest.param(
            fuel.endurance(90 - 15, 45 / 2, 45),
            70,
            1e-9,
            id="75 left at 45 an hour with 30 min kept, 70 min: hitpages.com 4504571363721216",
        ),
        pytest.param(
            fuel.descent_distance(36_000, 6000, 1500, 420),
            140,
            1e-9,
            id="30000 ft at 1500 ft/min and 420 kt, 140 nm: scribd.com 725516162, rules of thumb 3",
        ),
    ],
)
def test_time_fuel_and_descent_are_those_worked_in_print(
    got: float, printed: float, half: float
) -> None:
    assert abs(got - printed) <= half + 1e-9


@pytest.mark.outside
@pytest.mark.parametrize(
    ("angle", "knots", "rate"),
    [
        pytest.param(angle, knots, rate, id=f"{angle} deg at {knots} kt, {rate} ft/min: {TABLE}")
        for angle, knots, rate in (
            (2.0, 30, 105),
            (2.0, 90, 320),
            (2.0, 150, 530),
            (2.5, 105, 465),
            (3.0, 60, 320),
            (3.0, 90, 480),
            (3.0, 120, 635),
            (3.0, 180, 955),
        )
    ],
)
def test_rates_of_descent_are_those_of_the_table(angle: float, knots: float, rate: float) -> None:
    # The table is in steps of 5 ft/min, and of the sine, which parts from the tangent above 3.
    assert abs(fuel.rate_of_descent(angle, knots) - rate) <= 2.5


@given(st.floats(0, 5000), st.floats(50, 400), st.floats(100, 4000))
def test_a_leg_burns_what_its_time_does(distance: float, speed: float, flow: float) -> None:
    time = fuel.leg_time(distance, speed)
    burnt = fuel.leg_fuel(distance, speed, flow)
    assert burnt == pytest.approx(time / 60 * flow)
    assert fuel.endurance(burnt + 100, 100, flow) == pytest.approx(time, abs=1e-6)


@given(st.floats(0, 10_000), st.floats(5.5, 7.5))
def test_gallons_come_back_from_pounds(gallons: float, density: float) -> None:
    assert fuel.fuel_volume(fuel.fuel_weight(gallons, density), density) == pytest.approx(gallons)


@given(st.floats(1000, 100_000), st.floats(0, 1))
def test_landing_is_take_off_less_what_was_burnt(weight: float, share: float) -> None:
    burnt = weight * share * 0.9
    assert fuel.landing_weight(weight, burnt) + burnt == pytest.approx(weight)


def test_a_plan_is_the_sum_of_its_parts() -> None:
    plan = fuel.fuel_plan(120, 900, 4200, 300, 1500)
    assert (plan.burnt_lb, plan.total_lb) == (5520, 7020)
    assert fuel.fuel_left(plan.total_lb, plan.burnt_lb) == plan.reserve_lb


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: fuel.leg_time(-1, 100), "a distance must be 0 or more nm, not -1 nm"),
        (lambda: fuel.leg_time(10, 0), "a groundspeed must be more than 0 kt, not 0 kt"),
        (lambda: fuel.fuel_burnt(10, float("nan")), "a fuel flow must be 0 or more pph, not nan"),
        (lambda: fuel.endurance(400, 500, 100), "400 lb of fuel is 100 lb less than the reserve"),
        (lambda: fuel.fuel_left(400, 460), "400 lb of fuel is 60 lb short of the 460 lb"),
        (lambda: fuel.landing_weight(5000, 5000), "below the take-off weight, 5000 lb, not 5000"),
        (lambda: fuel.landing_weight(-5, 0), "a take-off weight must be more than 0 lb, not -5"),
        (lambda: fuel.descent_time(1000, 2000, 500), "begins, 1000 ft, not at 2000 ft"),
        (lambda: fuel.descent_time(2000, 1000, -500), "a rate of descent must be more than 0"),
        (lambda: fuel.rate_of_descent(50, 100), "an angle of descent must be 0 to 45 deg, not 50"),
        (lambda: fuel.fuel_weight(10, 1), "a fuel's density must be 5 to 8 lb/gal, not 1 lb/gal"),
        (lambda: fuel.fuel_volume(-1, 6), "a weight of fuel must be 0 or more lb, not -1 lb"),
        (lambda: fuel.fuel_plan(0, 0, 0, -1, 0), "the fuel for descent must be 0 or more lb"),
    ],
)
def test_what_cannot_be_is_one_clear_line(call: Callable[[], object], says: str) -> None:
    with pytest.raises(CalculationError) as told:
        call()
    assert says in str(told.value) and "\n" not in str(told.value)


def test_formulas_take_their_arguments_in_order() -> None:
    assert fuel.FORMULAS["leg_fuel"].rule(120, 240, 1000) == pytest.approx(500)
    assert fuel.FORMULAS["descent_distance"].rule(9000, 3000, 500, 200) == pytest.approx(40)
    assert fuel.FORMULAS["endurance"].rule(3000, 1000, 1000) == pytest.approx(120)
    assert fuel.FORMULAS["fuel_volume"].rule(600, 6) == pytest.approx(100)
