"""Airspeeds against the library ``pitot``, a flight computer and their own round trips."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.figures import airspeed
from runner.figures.air import standard_temperature
from runner.figures.tables import CalculationError

CLOSE = 2e-4
"""The library takes feet and knots by factors of its own: 0.05 kt in 250 kt."""

CASES = (
    (80, 0),
    (108, 2000),
    (150, 5000),
    (180, 10000),
    (200, 15000),
    (210, 20000),
    (250, 10000),
    (250, 25000),
    (280, 35000),
    (320, 25000),
    (340, 5000),
    (260, 41000),
)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("calibrated", "altitude"),
    [pytest.param(*case, id=f"pitot 0.3 cas2tas, {case[0]} kt at {case[1]} ft") for case in CASES],
)
def test_true_airspeed_is_that_of_a_library(calibrated: float, altitude: float) -> None:
    aero = pytest.importorskip("pitot.aero")
    reference = float(aero.cas2tas(calibrated, altitude))
    found = airspeed.true_airspeed(calibrated, altitude, standard_temperature(altitude))
    assert found == pytest.approx(reference, rel=CLOSE)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("calibrated", "altitude"),
    [
        pytest.param(*case, id=f"pitot 0.3 cas2mach, {case[0]} kt at {case[1]} ft")
        for case in CASES[3:]
    ],
)
def test_mach_number_is_that_of_a_library(calibrated: float, altitude: float) -> None:
    aero = pytest.importorskip("pitot.aero")
    reference = float(aero.cas2mach(calibrated, altitude))
    assert airspeed.mach_number(calibrated, altitude) == pytest.approx(reference, rel=CLOSE)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("calibrated", "altitude"),
    [
        pytest.param(*case, id=f"pitot 0.3 tas2eas of cas2tas, {case[0]} kt at {case[1]} ft")
        for case in CASES[5:10]
    ],
)
def test_equivalent_airspeed_is_that_of_a_library(calibrated: float, altitude: float) -> None:
    aero = pytest.importorskip("pitot.aero")
    reference = float(aero.tas2eas(aero.cas2tas(calibrated, altitude), altitude))
    found = airspeed.equivalent_airspeed(calibrated, altitude)
    assert found == pytest.approx(reference, rel=CLOSE)
    true = airspeed.true_of_equivalent(found, altitude, standard_temperature(altitude))
    assert true == pytest.approx(float(aero.eas2tas(reference, altitude)), rel=CLOSE)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("calibrated", "altitude", "temperature", "true"),
    [
        pytest.param(
            110, 7000, 16, 126, id="clearflight.co.uk CRP-1 lesson, 110 kt at 7000 ft, 16 degC"
        ),
    ],
)
def test_a_flight_computer_gives_the_same(
    calibrated: float, altitude: float, temperature: float, true: float
) -> None:
    # The scale of the computer is read to a knot.
    found = airspeed.true_airspeed(calibrated, altitude, temperature)
    assert found == pytest.approx(true, abs=1)


SPEEDS = st.floats(1, 400)
HEIGHTS = st.floats(-2000, 24000)
TEMPERATURES = st.floats(-60, 50)


@given(SPEEDS, HEIGHTS, TEMPERATURES)
def test_calibrated_and_true_round_trip(speed: float, height: float, temperature: float) -> None:
    true = airspeed.true_airspeed(speed, height, temperature)
    back = airspeed.calibrated_airspeed(true, height, temperature)
    assert back == pytest.approx(speed, rel=1e-7)


@given(SPEEDS)
def test_at_sea_level_on_a_standard_day_all_airspeeds_are_one(speed: float) -> None:
    assert airspeed.true_airspeed(speed, 0, 15) == pytest.approx(speed, rel=1e-9)
    assert airspeed.equivalent_airspeed(speed, 0) == pytest.approx(speed, rel=1e-9)


@given(SPEEDS, st.floats(100, 24000))
def test_equivalent_is_below_calibrated_above_sea_level(speed: float, height: float) -> None:
    assert airspeed.equivalent_airspeed(speed, height) < speed + 1e-9


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: airspeed.mach_number(-1, 0), "from 0 to 661 kt, not -1 kt"),
        (lambda: airspeed.mach_number(math.nan, 0), "not nan kt"),
        (lambda: airspeed.mach_number(600, 36000), "faster than sound"),
        (lambda: airspeed.calibrated_airspeed(-5, 0, 15), "0 kt or more, not -5 kt"),
        (lambda: airspeed.calibrated_airspeed(900, 0, 15), "a Mach number is from 0 to 1"),
        (lambda: airspeed.calibrated_airspeed_of_mach(0.99, -10000), "more than the highest"),
        (lambda: airspeed.true_of_equivalent(-1, 0, 15), "0 kt or more"),
    ],
)
def test_a_speed_that_cannot_be_is_one_clear_line(call, message: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(CalculationError) as error:
        call()
    assert message in str(error.value)
