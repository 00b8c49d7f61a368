"""Field performance, climb, stall and glide against handbook statements and worked examples.

PHAK stands for FAA-H-8083-25, *Pilot's Handbook of Aeronautical Knowledge*; its chapter on
performance states what weight and wind do to a run, which uniform acceleration has to give.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.figures import field
from runner.figures.tables import CalculationError


@pytest.mark.memory
@pytest.mark.parametrize(
    ("share", "change"),
    [
        pytest.param(0.10, -0.19, id="PHAK performance: headwind of 10 % takes 19 % off take-off"),
        pytest.param(-0.10, 0.21, id="PHAK performance: tailwind of 10 % adds 21 % to take-off"),
    ],
)
def test_what_wind_does_to_a_run(share: float, change: float) -> None:
    assert field.wind_factor(share * 80, 80) - 1 == pytest.approx(change, abs=0.005)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("weight", "speed", "least_run"),
    [
        pytest.param(1.10, 1.05, 1.10, id="PHAK page 10-14: 10 % more weight, 5 % more speed"),
    ],
)
def test_what_weight_does_to_speed_and_run(weight: float, speed: float, least_run: float) -> None:
    found = field.speed_for_weight(100, weight * 10000, 10000)
    assert found / 100 == pytest.approx(speed, abs=0.005)
    # Braked alike, the run goes with the square of the speed: as the weight.
    assert field.ground_run(found, 0.3) / field.ground_run(100, 0.3) == pytest.approx(
        least_run, abs=0.005
    )


@pytest.mark.outside
@pytest.mark.parametrize(
    ("bank", "factor"),
    [
        pytest.param(45, 1.41, id="machinecalcs.com load factor: 45 degrees, 1.41"),
        pytest.param(60, 2.0, id="PHAK chapter 5: load factor of 60 degrees, 2"),
    ],
)
def test_load_factor_of_a_bank(bank: float, factor: float) -> None:
    assert field.load_factor(bank) == pytest.approx(factor, abs=0.0051)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("stall", "bank", "turning"),
    [pytest.param(50, 45, 59.5, id="machinecalcs.com load factor: 50 kt at 45 degrees, 59.5 kt")],
)
def test_stall_speed_in_a_turn(stall: float, bank: float, turning: float) -> None:
    assert field.stall_speed_in_turn(stall, bank) == pytest.approx(turning, abs=0.051)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("psi", "knots"),
    [
        pytest.param(36, 54, id="askacfi.com 5927: hydroplaning at 36 psi, 54 kt"),
        pytest.param(36, 54, id="aus-soaring list 10897: hydroplaning at 36 psi, 54 kt"),
    ],
)
def test_hydroplaning_speed_of_a_tyre(psi: float, knots: float) -> None:
    assert field.hydroplaning_speed(psi) == pytest.approx(knots, abs=0.5)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("feet", "miles", "per_mile", "percent"),
    [
        pytest.param(300, 1, 300, 4.9, id="aviationthrust.com climb gradient: 300 ft in 1 nm"),
        pytest.param(1800, 6.5, 276.9, 4.54, id="calculator.city ft per nm: 1800 ft in 6.5 nm"),
    ],
)
def test_a_gradient_in_feet_a_mile_and_in_percent(
    feet: float, miles: float, per_mile: float, percent: float
) -> None:
    gradient = feet / miles
    assert gradient == pytest.approx(per_mile, abs=0.051)
    digits = 0.06 if miles == 1 else 0.0051 + 0.02
    assert field.gradient_share(gradient) * 100 == pytest.approx(percent, abs=digits)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("percent", "knots", "rate"),
    [
        pytest.param(7, 102, 723, id="flightinfo.com 33153: 7 % at 102 kt, 723 ft/min"),
        pytest.param(3.3, 150, 500, id="pprune.org 447154: 3.3 % at 150 kt, 495 rounded to 500"),
    ],
)
def test_the_rate_that_a_gradient_takes(percent: float, knots: float, rate: float) -> None:
    found = field.rate_of_climb(percent / 100 * field.MILE, knots)
    assert found == pytest.approx(rate, abs=0.51 if rate == 723 else 5)
    assert field.climb_gradient(found, knots) / field.MILE == pytest.approx(percent / 100)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("headwind", "counted"),
    [
        pytest.param(20, 10, id="14 CFR 25.105(d)(1): at most half of a headwind"),
        pytest.param(-10, -15, id="14 CFR 25.105(d)(1): at least 150 percent of a tailwind"),
    ],
)
def test_the_wind_that_may_be_counted(headwind: float, counted: float) -> None:
    assert field.factored_wind(headwind) == pytest.approx(counted)


@given(st.floats(1, 200), st.floats(0.05, 0.6))
def test_a_run_is_that_of_uniform_acceleration(knots: float, gees: float) -> None:
    # v squared = 2 a s.
    metres = (knots * 1852 / 3600) ** 2 / (2 * gees * 9.80665)
    assert field.ground_run(knots, gees) == pytest.approx(metres / 0.3048, rel=1e-9)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("height", "ratio", "miles", "tolerance"),
    [
        pytest.param(
            2100, 23, 8, 0.06, id="FAA private pilot test: 23:1 loses 2,100 ft in 8 nm (nearest 50)"
        ),
        pytest.param(6080, 9, 9, 0.01, id="swaviator.com AM00: nine miles for 6,080 ft is 9:1"),
        pytest.param(6500, 9, 9.5, 0.15, id="swaviator.com AM00: 6,500 ft is about 9.5 miles"),
    ],
)
def test_how_far_a_glide_goes(height: float, ratio: float, miles: float, tolerance: float) -> None:
    assert field.glide_distance(height, ratio) == pytest.approx(miles, abs=tolerance)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("lighter", "heavier", "more_run"),
    [
        pytest.param(
            10000, 11000, 0.21, id="PHAK page 10-14: 10 % more weight, at least 21 % more take-off"
        ),
    ],
)
def test_a_heavier_take_off_runs_longer_by_weight_twice(
    lighter: float, heavier: float, more_run: float
) -> None:
    # The same force: the acceleration falls as the weight grows, the speed grows by its root.
    speed = field.speed_for_weight(100, heavier, lighter)
    run = field.ground_run(speed, 0.2 * lighter / heavier) / field.ground_run(100, 0.2)
    assert run - 1 == pytest.approx(more_run, abs=0.0051)


GEES = st.floats(0.08, 0.3)


@given(st.floats(60, 130), GEES, st.floats(0.15, 0.5), st.floats(0, 4))
def test_the_highest_decision_speed_just_stops(
    speed: float, going: float, stopping: float, reaction: float
) -> None:
    distance = field.accelerate_stop_distance(speed, going, stopping, reaction)
    found = field.highest_decision_speed(distance, going, stopping, reaction)
    assert found == pytest.approx(speed, rel=1e-9)


@given(st.floats(60, 110), st.floats(0, 20), GEES, st.floats(0.3, 0.9), st.floats(0, 2000))
def test_the_lowest_decision_speed_just_goes(
    speed: float, more: float, going: float, share: float, air: float
) -> None:
    lift_off = speed + more
    engine_out = going * share
    distance = field.accelerate_go_distance(speed, lift_off, going, engine_out, air)
    found = field.lowest_decision_speed(distance, lift_off, going, engine_out, air)
    assert found == pytest.approx(speed, rel=1e-6)


def test_a_long_runway_lets_one_go_on_from_rest() -> None:
    assert field.lowest_decision_speed(30000, 110, 0.2, 0.12, 1000) == 0


@given(st.floats(-30, 60), st.floats(70, 140))
def test_a_headwind_shortens_and_a_tailwind_lengthens(headwind: float, speed: float) -> None:
    factor = field.wind_factor(headwind, speed)
    assert (factor <= 1) == (headwind >= 0) or math.isclose(factor, 1)


@given(st.floats(-0.02, 0.02), st.floats(0.1, 0.3))
def test_uphill_lengthens_a_take_off(slope: float, gees: float) -> None:
    factor = field.slope_factor(slope, gees)
    assert (factor >= 1) == (slope >= 0) or math.isclose(factor, 1)


def test_glide_and_climb_of_power() -> None:
    assert field.glide_distance(field.MILE, 10) == pytest.approx(10)
    assert field.power_climb_rate(100, 3300) == pytest.approx(1000)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: field.wind_factor(90, 80), "a headwind of 90 kt is not below the speed, 80 kt"),
        (lambda: field.wind_factor(0, 0), "speed is above 0, not 0"),
        (lambda: field.slope_factor(0.5, 0.2), "a runway's slope is at most 10 %, not 50 %"),
        (lambda: field.slope_factor(0.09, 0.05), "leaves no acceleration"),
        (lambda: field.ground_run(-1, 0.2), "from 0 to 400 kt, not -1 kt"),
        (lambda: field.ground_run(100, 0), "acceleration is above 0, not 0"),
        (lambda: field.accelerate_stop_distance(90, 0.2, 0.3, -1), "a reaction takes from 0"),
        (lambda: field.accelerate_go_distance(90, 80, 0.2, 0.1, 0), "at most the lift-off speed"),
        (lambda: field.accelerate_go_distance(70, 80, 0.2, 0.1, -1), "0 ft or more, not -1 ft"),
        (lambda: field.lowest_decision_speed(2000, 110, 0.2, 0.1, 0), "ft too short to take off"),
        (lambda: field.lowest_decision_speed(9000, 110, 0.2, 0.3, 0), "is below 0.2 g, not 0.3 g"),
        (lambda: field.highest_decision_speed(-5, 0.2, 0.3, 2), "runway is above 0, not -5"),
        (lambda: field.load_factor(90), "from 0 to below 89 deg, not 90 deg"),
        (lambda: field.hydroplaning_speed(-1), "tyre pressure is above 0, not -1"),
        (lambda: field.speed_for_weight(100, math.nan, 1), "weight is above 0, not nan"),
        (lambda: field.factored_wind(500), "at most 100 kt, not 500 kt"),
        (lambda: field.glide_distance(-1, 10), "a height is 0 ft or more"),
    ],
)
def test_what_no_field_allows_is_one_clear_line(call, message: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(CalculationError) as error:
        call()
    assert message in str(error.value)
