"""Airspeeds against a library, flight computers, published tables and their own round trips."""

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


COMPUTED = (
    # kt, ft, degC, Mach, kt
    (60, 0, 15, 0.091, 60.00),
    (130, 0, 15, 0.197, 130.00),
    (66, 6500, 15, 0.112, 74.40),
    (123, 8001, 15, 0.215, 142.51),
    (111, 6912, 36, 0.191, 130.54),
    (16, 7777, 40, 0.028, 19.27),
    (40, 1200, 0, 0.062, 39.80),
    (115, -200, -7, 0.173, 110.13),
)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("calibrated", "altitude", "temperature", "mach", "true"),
    [
        pytest.param(
            *row,
            id="electronic flight computer, as tabulated in the airspeed tests of ltb (GitHub), "
            f"{row[0]} kt at {row[1]} ft, {row[2]} degC",
        )
        for row in COMPUTED
    ],
)
def test_an_electronic_flight_computer_gives_the_same_on_any_day(
    calibrated: float, altitude: float, temperature: float, mach: float, true: float
) -> None:
    assert airspeed.mach_number(calibrated, altitude) == pytest.approx(mach, abs=0.0005)
    found = airspeed.true_airspeed(calibrated, altitude, temperature)
    assert found == pytest.approx(true, abs=0.0051)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("calibrated", "feet", "true"),
    [
        pytest.param(
            290, 10000 / 0.3048, 472.003, id="nasa/MAV AerodynamicsTest, 290 kt at 10000 m"
        ),
        pytest.param(290, 10000, 334.077, id="nasa/MAV AerodynamicsTest, 290 kt at 10000 ft"),
    ],
)
def test_true_airspeed_is_that_of_a_published_calculator(
    calibrated: float, feet: float, true: float
) -> None:
    # That calculator rounds the gas constant: 0.01 kt.
    found = airspeed.true_airspeed(calibrated, feet, standard_temperature(feet))
    assert found == pytest.approx(true, abs=0.01)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("calibrated", "altitude", "temperature", "true"),
    [
        pytest.param(
            110,
            7000,
            16,
            126,
            id="clearflight.co.uk, flight computer lesson, 110 kt at 7000 ft, 16 degC",
        ),
    ],
)
def test_a_circular_flight_computer_gives_the_same(
    calibrated: float, altitude: float, temperature: float, true: float
) -> None:
    # The scale of the computer is divided in 2 kt there.
    found = airspeed.true_airspeed(calibrated, altitude, temperature)
    assert found == pytest.approx(true, abs=1)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("mach", "ratio"),
    [
        pytest.param(
            *row, id=f"Aeronautical Engineer's Data Book, table A4.1, p/p0 at Mach {row[0]}"
        )
        for row in ((0.05, 0.9983), (0.10, 0.9930), (0.15, 0.9844), (0.87, 0.6106), (0.95, 0.5595))
    ],
)
def test_impact_pressure_is_that_of_the_table_of_compressible_flow(
    mach: float, ratio: float
) -> None:
    impact = airspeed.impact_pressure_ratio(mach * airspeed.SOUND_AT_SEA_LEVEL)
    assert 1 / (1 + impact) == pytest.approx(ratio, abs=0.00005)
    inches = airspeed.impact_pressure(mach * airspeed.SOUND_AT_SEA_LEVEL)
    assert 29.9213 / (29.9213 + inches) == pytest.approx(ratio, abs=0.00005)


SPEEDS = st.floats(1, 400)
HEIGHTS = st.floats(-2000, 24000)
TEMPERATURES = st.floats(-60, 50)


@given(SPEEDS, HEIGHTS, TEMPERATURES)
def test_calibrated_and_true_round_trip(speed: float, height: float, temperature: float) -> None:
    true = airspeed.true_airspeed(speed, height, temperature)
    back = airspeed.calibrated_airspeed(true, height, temperature)
    assert back == pytest.approx(speed, rel=1e-7)


@given(SPEEDS, HEIGHTS, TEMPERATURES)
def test_every_airspeed_comes_back_by_every_way(
    speed: float, height: float, temperature: float
) -> None:
    equivalent = airspeed.equivalent_airspeed(speed, height)
    true = airspeed.true_airspeed(speed, height, temperature)
    mach = airspeed.mach_number(speed, height)
    assert airspeed.calibrated_of_equivalent(equivalent, height) == pytest.approx(speed, rel=1e-7)
    assert airspeed.true_of_equivalent(equivalent, height, temperature) == pytest.approx(true)
    assert airspeed.equivalent_of_true(true, height, temperature) == pytest.approx(equivalent)
    assert airspeed.mach_number_of_true(true, temperature) == pytest.approx(mach)
    assert airspeed.true_airspeed_of_mach(mach, temperature) == pytest.approx(true)


def test_the_speed_of_sound_at_sea_level_is_allowed() -> None:
    sound = airspeed.SOUND_AT_SEA_LEVEL
    assert airspeed.calibrated_airspeed_of_mach(1, 0) == pytest.approx(sound)
    assert airspeed.calibrated_airspeed(sound, 0, 15) == pytest.approx(sound)


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
        (lambda: airspeed.calibrated_airspeed(-5, 0, 15), "from 0 to 661 kt at 15 degC, not -5"),
        (lambda: airspeed.calibrated_airspeed(900, 0, 15), "not 900 kt"),
        (lambda: airspeed.mach_number_of_true(math.nan, 15), "not nan kt"),
        (lambda: airspeed.true_airspeed_of_mach(1.2, 15), "a Mach number is from 0 to 1 here"),
        (lambda: airspeed.calibrated_airspeed_of_mach(-0.1, 0), "not -0.1"),
        (lambda: airspeed.equivalent_of_true(-1, 0, 15), "not -1 kt"),
        (lambda: airspeed.calibrated_of_equivalent(math.nan, 0), "not nan kt"),
        (lambda: airspeed.calibrated_airspeed_of_mach(0.99, -10000), "more than the highest"),
        (lambda: airspeed.true_of_equivalent(-1, 0, 15), "from 0 to 661 kt"),
        (lambda: airspeed.true_of_equivalent(math.nan, 0, 15), "not nan kt"),
        (lambda: airspeed.true_airspeed(100, 0, 200), "not 200 degC"),
    ],
)
def test_a_speed_that_cannot_be_is_one_clear_line(call, message: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(CalculationError) as error:
        call()
    assert message in str(error.value)
