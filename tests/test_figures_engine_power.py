"""Engine power against published examples, calculators in print and the engines of a library.

``ilovecalcs.com`` is its page "Engine horsepower calculator": a four-stroke of 2 litres at
10 bar; ``hpwizard.com`` its page "power"; ``epi-eng.com`` its page on BMEP as a yardstick.
Tolerances are half the last printed digit.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.figures import engine_power as power
from runner.figures.tables import CalculationError

LITRES = 61.0237441
"""Cubic inches in a litre."""

BAR = 14.5037738
"""psi in a bar."""


@pytest.mark.outside
@pytest.mark.parametrize(
    ("rpm", "hp"),
    [
        pytest.param(rpm, hp, id=f"ilovecalcs.com engine horsepower, 2 L at 10 bar, {rpm} rpm")
        for rpm, hp in (
            (1000, 22.4),
            (2000, 44.7),
            (3000, 67.1),
            (4000, 89.4),
            (5000, 111.8),
            (6000, 134.1),
            (6500, 145.3),
            (7000, 156.5),
            (8000, 178.8),
        )
    ],
)
def test_power_is_bmep_times_displacement_times_rpm(rpm: float, hp: float) -> None:
    found = power.horsepower(10 * BAR, rpm, 2 * LITRES)
    assert found == pytest.approx(hp, abs=0.051)
    assert power.bmep(hp, rpm, 2 * LITRES) == pytest.approx(10 * BAR, rel=0.051 / hp)
    assert power.torque(found, rpm) == pytest.approx(117.4, abs=0.051)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("hp", "bar", "cubic_feet"),
    [pytest.param(100, 10, 158, id="hpwizard.com power, 100 hp at 10 bar displaces 158 cfm")],
)
def test_the_volume_displaced_for_a_power(hp: float, bar: float, cubic_feet: float) -> None:
    # A four-stroke displaces half its displacement a turn.
    turns = power.rpm_for_power(hp, bar * BAR, 2 * LITRES)
    assert turns / 2 * 2 * LITRES / 1728 == pytest.approx(cubic_feet, abs=0.51)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("hp", "rpm", "pounds_feet"),
    [
        pytest.param(300, 6200, 254, id="mirage-performance.com formulas, 300 hp at 6200 rpm"),
        pytest.param(145.3, 6500, 117.4, id="ilovecalcs.com, torque of 145.3 hp at 6500 rpm"),
    ],
)
def test_torque_is_power_over_rpm(hp: float, rpm: float, pounds_feet: float) -> None:
    digits = 0.51 if float(pounds_feet).is_integer() else 0.051
    assert power.torque(hp, rpm) == pytest.approx(pounds_feet, abs=digits)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("constant", "displacement"),
    [
        pytest.param(150.8, 1, id="epi-eng.com BMEP equation 8-a, 150.8 x torque / displacement"),
    ],
)
def test_bmep_of_torque_has_the_constant_of_four_strokes(
    constant: float, displacement: float
) -> None:
    assert power.bmep_of_torque(1, displacement) == pytest.approx(constant, abs=0.051)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("bore", "stroke", "cylinders", "cubic_inches"),
    [
        pytest.param(4, 4, 6, 301.5936, id="wiseco.com calculators, 4 x 4 in, 6 cylinders"),
        pytest.param(
            math.sqrt(11.8 * 4 / math.pi), 3.75, 8, 354, id="tpocr.com engine displacement, 354 in3"
        ),
        pytest.param(
            81 / 25.4, 89 / 25.4, 4, 111.9, id="mirage-performance.com, 81 x 89 mm, 4 cylinders"
        ),
        pytest.param(4, 3, 8, 301.6, id="austintexas.org engine cubic inches, 4 x 3 in, 8"),
    ],
)
def test_displacement_is_area_times_stroke_times_cylinders(
    bore: float, stroke: float, cylinders: float, cubic_inches: float
) -> None:
    # The pages take pi over 4 as 0.7854, and the third 16.39 cc for a cubic inch.
    found = power.displacement(bore, stroke, cylinders)
    assert found == pytest.approx(cubic_inches, rel=5e-4)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("hp", "consumption", "pounds"),
    [
        pytest.param(
            200, 0.5, 100, id="mirage-performance.com injectors, 200 hp at 0.50 is 4 x 25 lb/h"
        ),
    ],
)
def test_fuel_flow_is_specific_consumption_times_power(
    hp: float, consumption: float, pounds: float
) -> None:
    # The page: .125 x 200 for each of four cylinders.
    assert power.fuel_flow(hp, consumption) == pytest.approx(pounds)


@pytest.mark.memory
def test_climb_power_shows_177_psi() -> None:
    # Common practice, no source; the displacement is from memory.
    assert power.bmep(1500, 2400, 2804) == pytest.approx(177, abs=0.5)


@pytest.mark.memory
def test_ten_degrees_warmer_air_wants_seven_tenths_more() -> None:
    # Common practice, no source: a chart that reads 39.1 inHg at -10 degC reads 39.8 at 0 degC.
    assert power.chart_pressure(39.1, -10, 0) == pytest.approx(39.8, abs=0.05)


@pytest.mark.memory
def test_an_inch_for_each_hundred_rpm() -> None:
    # Common practice, no source.
    assert power.least_descent_pressure(1900) == 19


PSI = st.floats(20, 300)
TURNS = st.floats(600, 3000)
CUBIC_INCHES = st.floats(100, 4500)
DEGREES = st.floats(-60, 60)


@given(PSI, TURNS, CUBIC_INCHES)
def test_power_and_bmep_round_trip(psi: float, turns: float, size: float) -> None:
    hp = power.horsepower(psi, turns, size)
    assert power.bmep(hp, turns, size) == pytest.approx(psi, rel=1e-12)
    assert power.rpm_for_power(hp, psi, size) == pytest.approx(turns, rel=1e-12)
    assert power.bmep_of_torque(power.torque(hp, turns), size) == pytest.approx(psi, rel=1e-12)


@given(st.floats(15, 60), DEGREES, DEGREES)
def test_warmer_air_wants_more_pressure_or_gives_less_power(
    inches: float, chart: float, air: float
) -> None:
    wanted = power.chart_pressure(inches, chart, air)
    left = power.power_off_chart(1000, chart, air)
    if abs(air - chart) > 1e-6:
        assert (wanted > inches) == (air > chart)
    assert wanted / inches * left / 1000 == pytest.approx(1)


@given(st.floats(25, 31), st.floats(0, 2))
def test_water_takes_the_place_of_air(ambient: float, vapour: float) -> None:
    share = power.dry_air_share(ambient, vapour)
    assert 0 < share <= 1 and share * ambient + vapour == pytest.approx(ambient)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: power.horsepower(-1, 2000, 2000), "BMEP is 0 or more, not -1"),
        (lambda: power.horsepower(100, 2000, 0), "displacement is above 0, not 0"),
        (lambda: power.bmep(100, 0, 2000), "RPM is above 0, not 0"),
        (lambda: power.bmep(math.nan, 2000, 2000), "power is 0 or more, not nan"),
        (lambda: power.chart_pressure(40, 0, 200), "from -80 to 120 degC, not 200 degC"),
        (lambda: power.dry_air_share(30, 31), "from 0 to below 30 inHg, not 31 inHg"),
        (lambda: power.leaned_bmep(150, 0.9), "from 0 to below 50 %, not 90 %"),
        (lambda: power.bmep_of_torque_pressure(100, -1), "torque meter constant is above 0"),
    ],
)
def test_what_no_engine_can_do_is_one_clear_line(call, message: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(CalculationError) as error:
        call()
    assert message in str(error.value)
