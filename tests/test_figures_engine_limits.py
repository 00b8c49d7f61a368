"""Manifold pressure off the chart, in humid air and at full throttle, and engine limits.

"14 CFR 25.101(b)(2)" prints vapour pressures and specific humidities (moisture by dry air) of
air at 80 percent relative humidity, for correcting the power of reciprocating engines; the
share of dry air follows from either. "SFTE 2013" is the *SFTE Reference Handbook*, section 10.
The dynamometer page corrects power by SAE J607: dry pressure, and the square root of the
absolute temperature. Tolerances are half the last printed digit, or what a source's own
rounding leaves, said beside it.
"""

from __future__ import annotations

import math
from importlib.metadata import version
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from figures_engine_jsbsim import Bench
from runner.figures import air
from runner.figures import engine_limits as limits
from runner.figures.engine_power import FORMULAS
from runner.figures.tables import CalculationError

WATER_TO_AIR = 0.62198
"""Molar mass of water over that of dry air."""

JSBSIM = f"jsbsim {version('jsbsim')} FGPiston, "

HUMID_AIR = (
    # ft, inHg of vapour, half its last digit, lb of moisture in a lb of dry air
    (0, 0.403, 0.0005, 0.00849),
    (1000, 0.354, 0.0005, 0.00773),
    (2000, 0.311, 0.0005, 0.00703),
    (3000, 0.272, 0.0005, 0.00638),
    (4000, 0.238, 0.0005, 0.00578),
    (5000, 0.207, 0.0005, 0.00523),
    (6000, 0.1805, 0.00005, 0.00472),
    (7000, 0.1566, 0.00005, 0.00425),
    (8000, 0.1356, 0.00005, 0.00382),
    (9000, 0.1172, 0.00005, 0.00343),
    (10000, 0.1010, 0.00005, 0.00307),
    (15000, 0.0463, 0.00005, 0.001710),
    (20000, 0.01978, 0.000005, 0.000896),
    (25000, 0.00778, 0.000005, 0.000436),
)


def celsius(fahrenheit: float) -> float:
    return (fahrenheit - 32) / 1.8


@pytest.mark.outside
@pytest.mark.parametrize(
    ("altitude", "vapour", "half", "moisture"),
    [pytest.param(*row, id=f"14 CFR 25.101(b)(2) table, {row[0]} ft") for row in HUMID_AIR],
)
def test_the_share_of_dry_air(altitude: float, vapour: float, half: float, moisture: float) -> None:
    pressure = air.standard_pressure(altitude)
    share = limits.dry_air_share(pressure, vapour)
    # Both columns are rounded: vapour to ``half``, moisture to 0.000005.
    rounding = half / pressure + 0.0000051 / WATER_TO_AIR
    assert share == pytest.approx(1 / (1 + moisture / WATER_TO_AIR), abs=rounding)
    assert limits.humid_power(1000, pressure, vapour) == pytest.approx(1000 * share)
    assert limits.humid_pressure(45, pressure, vapour) * share == pytest.approx(45)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("fahrenheit", "humidity", "inches", "observed", "corrected", "rounding"),
    [
        # The page rounds 440.4 and, by its factor of 0.994, 439.3 to 440.
        pytest.param(
            85, 0.85, 28.85, 400, 440, 0.5, id="dynomitedynamometer.com J607, 400 hp in August"
        ),
        pytest.param(
            55, 0.35, 30.10, 442, 442 * 0.994, 0.23, id="dynomitedynamometer.com J607, 0.994"
        ),
    ],
)
def test_power_of_a_day_is_that_of_dry_standard_air(
    fahrenheit: float,
    humidity: float,
    inches: float,
    observed: float,
    corrected: float,
    rounding: float,
) -> None:
    vapour = humidity * air.vapour_pressure(celsius(fahrenheit))
    dry = corrected * inches / 29.92
    found = limits.power_off_chart(dry, celsius(60), celsius(fahrenheit))
    found = limits.humid_power(found, inches, vapour)
    assert found == pytest.approx(observed, abs=rounding)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("hp", "chart", "real", "found", "rounding"),
    [
        # One percent for 6 K and for 10 degF are the sources' rules: to half a percent.
        pytest.param(1000, 15, 21, 990, 5, id="SFTE 2013, 10.2: 6 degC warmer, 1 % less"),
        pytest.param(1000, 15, 9, 1010, 5, id="SFTE 2013, 10.2: 6 degC cooler, 1 % more"),
        pytest.param(
            157,
            celsius(54),
            celsius(14),
            163,
            0.8,
            id="easymanua.ls, engine operator's manual, page 3-24: 157 hp is 163 at 14 degF",
        ),
        pytest.param(
            110.29915330621547,
            2,
            -5,
            111.72954664842844,
            1e-9,
            id="open power-chart program in Python, doctest of pwr(): 2,000 m at -5 degC",
        ),
    ],
)
def test_power_goes_with_the_root_of_temperature(
    hp: float, chart: float, real: float, found: float, rounding: float
) -> None:
    assert limits.power_off_chart(hp, chart, real) == pytest.approx(found, abs=rounding)
    # For the same power, manifold pressure goes the other way.
    inches = limits.chart_pressure(30, chart, real)
    assert 30 / inches == pytest.approx(found / hp, rel=rounding / hp)


@pytest.mark.memory
def test_ten_degrees_warmer_air_wants_seven_tenths_more() -> None:
    # Common practice, no source: a chart that reads 39.1 inHg at -10 degC reads 39.8 at 0 degC.
    assert limits.chart_pressure(39.1, -10, 0) == pytest.approx(39.8, abs=0.05)


@pytest.mark.memory
def test_an_inch_for_each_hundred_rpm() -> None:
    # Common practice, no source.
    assert limits.least_descent_pressure(1900) == 19


@pytest.mark.outside
@pytest.mark.parametrize(
    "height",
    [
        pytest.param(height, id=f"{JSBSIM}manifold pressure at full throttle, {height} ft")
        for height in (14000, 18000, 20000, 24000, 28000)
    ],
)
def test_pressure_at_full_throttle_falls_as_the_airs(tmp_path: Path, height: float) -> None:
    bench = Bench(tmp_path / "bench", blower=True)
    rated = bench.at(16000).manifold_pressure
    found = limits.full_throttle_pressure(
        rated, air.geopotential_altitude(16000), air.geopotential_altitude(height)
    )
    assert found == pytest.approx(bench.at(height).manifold_pressure, rel=2e-6)


@pytest.mark.outside
@pytest.mark.parametrize(
    "height",
    [pytest.param(16000, id=f"{JSBSIM}full-throttle height, found on its own curve")],
)
def test_full_throttle_height_is_where_the_limit_runs_out(tmp_path: Path, height: float) -> None:
    bench = Bench(tmp_path / "bench", blower=True)
    # Below that height the bench's regulator holds the limit.
    limit = bench.at(2000).manifold_pressure
    assert bench.at(9000).manifold_pressure == limit
    found = limits.full_throttle_height(
        limit, bench.at(height).manifold_pressure, air.geopotential_altitude(height)
    )

    def curve(pressure_altitude: float) -> float:
        geometric = pressure_altitude / (1 - pressure_altitude * air.FOOT / air.EARTH_RADIUS)
        return bench.at(geometric).manifold_pressure

    on_curve = limits.height_on_curve(limit - 1e-5, curve, 2000, 20000)
    assert found == pytest.approx(on_curve, abs=0.1)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("sigma", "share"),
    [
        # Open sizing programs print the two constants so; SFTE 2013 has a digit more.
        pytest.param(0.5, 0.434, id="Gagg and Ferrar, 1.132 sigma - 0.132, half the density"),
    ],
)
def test_an_engine_without_a_blower_falls_faster_than_density(sigma: float, share: float) -> None:
    found = limits.unsupercharged_power(200, sigma) / 200
    assert found == pytest.approx(share, abs=0.0005)
    assert found <= sigma


@pytest.mark.outside
@pytest.mark.parametrize(
    ("rated_ft", "altitude", "share"),
    [
        pytest.param(
            16000,
            24000,
            0.715,
            id="ww2aircraft.net piston engines power charts, 71.5 % from 16,000 to 24,000 ft",
        ),
    ],
)
def test_power_above_full_throttle_height_falls_with_pressure(
    rated_ft: float, altitude: float, share: float
) -> None:
    there = limits.full_throttle_pressure(44, rated_ft, altitude)
    assert limits.power_at_pressure(1200, 44, there) / 1200 == pytest.approx(share, abs=0.0005)


ROWS = ((0.0, 52.0), (5000.0, 43.5), (10000.0, 36.0), (16000.0, 28.25))


def test_a_height_between_rows_is_linear() -> None:
    curve = limits.curve_of_rows(ROWS)
    assert [curve(height) for height, _ in ROWS] == [inches for _, inches in ROWS]
    found = limits.height_on_curve(39.75, curve, 0, 16000)
    assert found == pytest.approx(7500, abs=limits.HEIGHT_STEP)


@given(st.floats(28.25, 52))
def test_the_pressure_is_there_at_the_height_found(inches: float) -> None:
    curve = limits.curve_of_rows(ROWS)
    height = limits.height_on_curve(inches, curve, 0, 16000)
    assert curve(height) >= inches
    assert height > 16000 - 2 * limits.HEIGHT_STEP or curve(height + 0.02) < inches + 1e-9


@given(st.floats(25, 45), st.floats(30, 60), st.floats(0, 20000))
def test_height_and_pressure_at_full_throttle_round_trip(
    wanted: float, rated: float, height: float
) -> None:
    found = limits.full_throttle_height(wanted, rated, height)
    assert limits.full_throttle_pressure(rated, height, found) == pytest.approx(wanted)


DEGREES = st.floats(-60, 60)


@given(st.floats(15, 60), DEGREES, DEGREES)
def test_warmer_air_wants_more_pressure_or_gives_less_power(
    inches: float, chart: float, real: float
) -> None:
    wanted = limits.chart_pressure(inches, chart, real)
    left = limits.power_off_chart(1000, chart, real)
    if abs(real - chart) > 1e-6:
        assert (wanted > inches) == (real > chart)
    assert wanted / inches * left / 1000 == pytest.approx(1)
    assert limits.chart_pressure(wanted, real, chart) == pytest.approx(inches)


@given(st.floats(25, 31), st.floats(0, 2))
def test_water_takes_the_place_of_air(ambient: float, vapour: float) -> None:
    share = limits.dry_air_share(ambient, vapour)
    assert 0 < share <= 1 and share * ambient + vapour == pytest.approx(ambient)


PRESSURES = st.floats(10, 70)


@given(PRESSURES, PRESSURES, PRESSURES)
def test_no_more_is_set_than_wanted_allowed_or_there(
    wanted: float, limit: float, full: float
) -> None:
    found = limits.limited_pressure(wanted, limit, full)
    assert found in (wanted, limit, full) and found <= min(wanted, limit, full)
    assert limits.power_at_pressure(1000, wanted, found) <= 1000


@given(st.floats(-1000, 1000), st.floats(-1000, 1000))
def test_a_margin_is_negative_beyond_the_limit(limit: float, value: float) -> None:
    assert (limits.margin_below(limit, value) < 0) == (value > limit)
    assert limits.margin_above(limit, value) == -limits.margin_below(limit, value)


def test_a_static_check_passes_within_its_band() -> None:
    assert limits.static_band(2300, 50) == (2250, 2350)
    assert limits.least_static_rpm(2300, 50) == 2250


def test_a_take_off_goes_on_with_a_share_of_the_expected_bmep() -> None:
    assert limits.least_takeoff_bmep(212, 0.95) == pytest.approx(201.4)


def test_formulas_have_as_many_arguments_as_their_rules() -> None:
    assert set(limits.FORMULAS) <= set(FORMULAS)
    for formula in FORMULAS.values():
        assert formula.rule.__code__.co_argcount == len(formula.arguments)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: limits.chart_pressure(40, 0, 200), "must be -80 to 120 degC, not 200 degC"),
        (lambda: limits.chart_pressure(-1, 0, 0), "must be more than 0 inHg, not -1 inHg"),
        (lambda: limits.power_off_chart(100, -300, 0), "the chart's carburettor air temperature"),
        (lambda: limits.dry_air_share(30, 31), "must be 0 to below 30 inHg, the air's pressure"),
        (lambda: limits.dry_air_share(30, math.nan), "not nan inHg"),
        (lambda: limits.power_at_pressure(1000, 40, 45), "must be 0 to 40 inHg, not 45 inHg"),
        (lambda: limits.unsupercharged_power(200, 0.05), "density ratio must be 0.1169"),
        (lambda: limits.curve_of_rows([(0, 50)]), "needs two rows or more, not 1"),
        (lambda: limits.curve_of_rows([(0, 50), (0, 40)]), "must fall with height from row to"),
        (lambda: limits.curve_of_rows([(0, 50), (5000, 51)]), "51 inHg at 5000 ft"),
        (lambda: limits.curve_of_rows(ROWS)(17000), "must be 0 to 16000 ft, not 17000 ft"),
        (
            lambda: limits.height_on_curve(60, limits.curve_of_rows(ROWS), 0, 16000),
            "full throttle gives 52 to 28.25 inHg from 0 to 16000 ft, never 60 inHg",
        ),
        (
            lambda: limits.height_on_curve(40, limits.curve_of_rows(ROWS), 5000, 5000),
            "heights must rise, not go from 5000 to 5000 ft",
        ),
        (
            lambda: limits.full_throttle_height(200, 20, 0),
            "with 20 inHg at full throttle at 0 ft has 200 inHg at no height",
        ),
        (lambda: limits.full_throttle_height(40, 20, 1e6), "the standard atmosphere reaches from"),
        (lambda: limits.static_band(2300, -50), "must be 0 to 2300, not -50"),
        (lambda: limits.least_takeoff_bmep(212, 95), "must be 0.5 to 1, not 95"),
        (lambda: limits.least_descent_pressure(0), "RPM must be more than 0, not 0"),
        (lambda: limits.margin_below(math.nan, 3), "a limit must be a number, not nan"),
    ],
)
def test_what_no_engine_can_do_is_one_clear_line(call, message: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(CalculationError) as error:
        call()
    assert message in str(error.value) and "\n" not in str(error.value)
