"""Tyres, banks, gradients, glide and runs against more values in print.

Tolerance is half of the last figure that the source prints. Left out of the chart of load
factors: 70 and 80 degrees, which it prints as 2.923 and 5.747 where one over the cosine is
2.924 and 5.759.
"""

from __future__ import annotations

import math

import pytest

from runner.figures import field

CHART = "load factor chart of the FAA knowledge test, as jsfiddle.net parte/4582533 prints"
TRAINING = "FAA AC 61-21A Flight Training Handbook, load factors and stalling speeds (avstop.com)"
LESSON = "clearflight.co.uk, load factor and stalling"
GRADIENT = "aviator.nyc, climb gradients for IFR departures"


@pytest.mark.outside
@pytest.mark.parametrize(
    ("bank", "factor"),
    [
        pytest.param(bank, factor, id=f"{bank} degrees, {factor}: {CHART}")
        for bank, factor in ((10, 1.015), (30, 1.154), (45, 1.414), (85, 11.473))
    ],
)
def test_load_factor_of_a_bank(bank: float, factor: float) -> None:
    # The chart cuts off what follows the third decimal.
    assert 0 <= field.load_factor(bank) - factor < 0.001


@pytest.mark.outside
@pytest.mark.parametrize(
    ("stall", "gees", "raised", "half"),
    [
        pytest.param(50, 4, 100, 0.5, id=f"50 kt at 4 g, 100 kt: {TRAINING}"),
        pytest.param(50, 9, 150, 0.5, id=f"50 kt at 9 g, 150 kt: {TRAINING}"),
        pytest.param(70, 2, 99, 0.5, id=f"70 kt at 60 degrees, 99 kt: {LESSON}"),
        pytest.param(47, math.sqrt(2), 56, 0.5, id=f"47 kt at 45 degrees, 56 kt: {LESSON}"),
    ],
)
def test_stall_speed_under_load(stall: float, gees: float, raised: float, half: float) -> None:
    bank = math.degrees(math.acos(1 / gees))
    assert abs(field.stall_speed_in_turn(stall, bank) - raised) <= half
    assert abs(field.speed_for_weight(stall, gees * 5000, 5000) - raised) <= half


@pytest.mark.outside
@pytest.mark.parametrize(
    ("gees", "stalled"),
    [
        pytest.param(
            2.89,
            102,
            id="60 kt under 2.89 g, 102 kt: FAA handbook, load factors and stalling speeds "
            "(aeronauticalhandbook.blogspot.com)",
        )
    ],
)
def test_the_load_of_a_stall_at_speed(gees: float, stalled: float) -> None:
    assert abs(field.speed_for_weight(60, gees * 5000, 5000) - stalled) <= 0.5


@pytest.mark.outside
@pytest.mark.parametrize(
    ("psi", "knots"),
    [
        pytest.param(36, 54, id="36 psi, 54 kt: FAA-H-8083-25B chapter 11, figure 11-18"),
        pytest.param(35, 53, id="35 psi, 53 kt: answercult.com 206848, Horne's formula"),
        pytest.param(200, 127, id="200 psi, 127 kt: answercult.com 206848, Horne's formula"),
    ],
)
def test_hydroplaning_speed_of_a_tyre(psi: float, knots: float) -> None:
    assert abs(field.hydroplaning_speed(psi) - knots) <= 0.5


@pytest.mark.outside
@pytest.mark.parametrize(
    ("gradient", "knots", "rate"),
    [
        pytest.param(
            200, 100, 333, id="200 ft/nm at 100 kt, 333 ft/min: keynomen.com, rate of climb table"
        ),
        pytest.param(
            350,
            120,
            700,
            id="350 ft/nm at 120 kt, 700 ft/min: keynomen.com, climb gradient formula",
        ),
        pytest.param(200, 70, 233, id=f"200 ft/nm at 70 kt, 233 ft/min: {GRADIENT}"),
        pytest.param(200, 110, 367, id=f"200 ft/nm at 110 kt, 367 ft/min: {GRADIENT}"),
        pytest.param(200, 160, 533, id=f"200 ft/nm at 160 kt, 533 ft/min: {GRADIENT}"),
    ],
)
def test_the_rate_that_a_gradient_takes(gradient: float, knots: float, rate: float) -> None:
    assert abs(field.rate_of_climb(gradient, knots) - rate) <= 0.5
    assert field.climb_gradient(rate, knots) == pytest.approx(gradient, abs=0.5 * 60 / knots)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("height", "ratio", "feet", "half"),
    [
        pytest.param(
            1000,
            10,
            10_000,
            0.5,
            id="10 to 1 from 1000 ft, 10000 ft: FAA-H-8083-3, glides (flight-study.com)",
        ),
        pytest.param(
            13_500,
            9,
            20 * field.MILE,
            0.5 * field.MILE,
            id="9 nm from 6080 ft, from 13500 ft 20 nm: SW Aviator, April 2000, glide performance",
        ),
    ],
)
def test_how_far_a_glide_reaches(height: float, ratio: float, feet: float, half: float) -> None:
    assert abs(field.glide_distance(height, ratio) * field.MILE - feet) <= half


@pytest.mark.outside
@pytest.mark.parametrize(
    ("kilometres_an_hour", "seconds", "metres"),
    [
        pytest.param(
            270, 10, 375, id="270 km/h in 10 s takes 375 m: univerkov.com, take-off of an aircraft"
        )
    ],
)
def test_a_run_of_uniform_acceleration(
    kilometres_an_hour: float, seconds: float, metres: float
) -> None:
    gees = kilometres_an_hour / 3.6 / seconds / 9.80665
    run = field.ground_run(kilometres_an_hour / 1.852, gees)
    assert abs(run * 0.3048 - metres) <= 0.5
