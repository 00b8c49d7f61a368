"""Engine power against a handbook's and textbooks' examples, calculators and JSBSim.

"FAA-H-8083-32B" is *Aviation Maintenance Technician Handbook—Powerplant*, pages counted as in
its PDF; its examples were read as an open course on piston engines quotes them, page by page.
``ilovecalcs.com`` is its page "Engine horsepower calculator": a four-stroke of 2 litres at
10 bar; ``hpwizard.com`` its page "power"; ``epi-eng.com`` its page on BMEP as a yardstick.
JSBSim is asked for what ``figures_engine_jsbsim`` says it models alike. Tolerances are half
the last printed digit, or what a source's own rounded constants leave, said beside it.
"""

from __future__ import annotations

import math
from importlib.metadata import version
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from figures_engine_jsbsim import SPECIFIC_CONSUMPTION, Bench
from runner.figures import engine_power as power
from runner.figures.tables import CalculationError

LITRES = 61.0237441
"""Cubic inches in a litre."""

BAR = 14.5037738
"""psi in a bar."""

KILOWATT = 1.34102209
"""hp in a kilowatt."""

KILOGRAM = 2.20462262
"""lb in a kilogram."""

BTU = 778.169
"""ft lbf in a Btu."""

JSBSIM = f"jsbsim {version('jsbsim')} FGPiston, "


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
    ("psi", "stroke", "bore", "rpm", "cylinders", "hp"),
    [
        pytest.param(
            165, 6, 5.5, 3000, 12, 1069.123, id="FAA-H-8083-32B page 52: PLANK, 1,069.123 ihp"
        ),
    ],
)
def test_indicated_horsepower_is_plank(
    psi: float, stroke: float, bore: float, rpm: float, cylinders: float, hp: float
) -> None:
    # The page prints P as 1.65 psi; its result and its other example are those of 165 psi.
    found = power.indicated_horsepower(psi, stroke, bore, rpm, cylinders)
    assert found == pytest.approx(hp, abs=0.00051)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("hp", "rpm", "bore", "stroke", "cylinders", "psi", "rounding"),
    [
        # The page rounds the piston's area to 23.76 in2: 0.01 %.
        pytest.param(
            1000, 3000, 5.5, 6, 12, 154.32, 0.0155, id="FAA-H-8083-32B page 54: BMEP 154.32 psi"
        ),
        pytest.param(
            36 * KILOWATT,
            2250,
            11 / 2.54,
            13 / 2.54,
            4,
            3.885 * BAR,
            0.0005 * BAR,
            id="Nemotron-CC-Math, testing and performance, example 18.1: BMEP 3.885 bar",
        ),
    ],
)
def test_bmep_of_a_power(
    hp: float, rpm: float, bore: float, stroke: float, cylinders: float, psi: float, rounding: float
) -> None:
    size = power.displacement(bore, stroke, cylinders)
    assert power.bmep(hp, rpm, size) == pytest.approx(psi, abs=rounding)
    assert power.horsepower(psi, rpm, size) == pytest.approx(hp, rel=rounding / psi)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("btu", "bore", "stroke", "cylinders", "rpm", "hp", "rounding"),
    [
        pytest.param(
            1.289,
            3.5,
            3.9,
            6,
            2500,
            38.0,
            0.051,
            id="Thermodynamics, an Engineering Approach, 8th ed., 9-36E: 38.0 hp",
        ),
    ],
)
def test_work_of_a_cycle_is_mean_effective_pressure_times_displacement(
    btu: float,
    bore: float,
    stroke: float,
    cylinders: float,
    rpm: float,
    hp: float,
    rounding: float,
) -> None:
    size = power.displacement(bore, stroke, cylinders)
    found = power.horsepower(btu * BTU * 12 / size, rpm, size)
    assert found == pytest.approx(hp, abs=rounding)


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
    ("hp", "rpm", "pounds_feet", "rounding"),
    [
        pytest.param(300, 6200, 254, 0.51, id="mirage-performance.com formulas, 300 hp at 6200"),
        pytest.param(145.3, 6500, 117.4, 0.051, id="ilovecalcs.com, torque of 145.3 hp at 6500"),
        # A tenth of a horsepower is 0.18 lbf ft here.
        pytest.param(
            363.3, 3000, 636, 0.09, id="FAA-H-8083-32B page 52: 200 lb on 3.18 ft, 363.3 hp"
        ),
        pytest.param(
            13.2 * KILOWATT,
            1200,
            105 * 0.737562149,
            0.31,
            id="student.infinitycodestudio.com example 11.5: 105 N m at 1200, 13.2 kW",
        ),
    ],
)
def test_torque_is_power_over_rpm(
    hp: float, rpm: float, pounds_feet: float, rounding: float
) -> None:
    assert power.torque(hp, rpm) == pytest.approx(pounds_feet, abs=rounding)
    assert power.power_of_torque(pounds_feet, rpm) == pytest.approx(hp, rel=rounding / pounds_feet)


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
    ("bore", "stroke", "cylinders", "cubic_inches", "rounding"),
    [
        pytest.param(5.5, 5.5, 1, 130.67, 0.0051, id="FAA-H-8083-32B page 50: a cylinder, 130.67"),
        pytest.param(5.5, 5.5, 14, 1829.4, 0.051, id="FAA-H-8083-32B page 50: engine, 1,829.4"),
        # The others take pi over 4 as 0.7854, and the fifth 16.39 cc for a cubic inch.
        pytest.param(4, 4, 6, 301.5936, 0.01, id="wiseco.com calculators, 4 x 4 in, 6 cylinders"),
        pytest.param(
            math.sqrt(11.8 * 4 / math.pi),
            3.75,
            8,
            354,
            0.51,
            id="tpocr.com engine displacement, 354 in3",
        ),
        pytest.param(
            81 / 25.4, 89 / 25.4, 4, 111.9, 0.07, id="mirage-performance.com, 81 x 89 mm, 4"
        ),
        pytest.param(4, 3, 8, 301.6, 0.051, id="austintexas.org engine cubic inches, 4 x 3 in, 8"),
    ],
)
def test_displacement_is_area_times_stroke_times_cylinders(
    bore: float, stroke: float, cylinders: float, cubic_inches: float, rounding: float
) -> None:
    found = power.displacement(bore, stroke, cylinders)
    assert found == pytest.approx(cubic_inches, abs=rounding)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("bottom", "top", "ratio"),
    [pytest.param(140, 20, 7, id="FAA-H-8083-32B: 140 in3 at the bottom, 20 at the top, 7:1")],
)
def test_compression_ratio_is_volume_at_the_bottom_over_that_at_the_top(
    bottom: float, top: float, ratio: float
) -> None:
    assert power.compression_ratio(bottom - top, top) == ratio


@pytest.mark.outside
@pytest.mark.parametrize(
    ("hp", "pounds", "btu", "share", "rounding"),
    [
        pytest.param(
            85, 50, 18800, 0.23, 0.0051, id="FAA-H-8083-32B page 56: 85 bhp on 50 lb/h, 23 %"
        ),
        pytest.param(
            36 * KILOWATT,
            10.5 * KILOGRAM,
            42000 / 2.326,
            0.294,
            0.00051,
            id="Nemotron-CC-Math, testing and performance, example 18.1: 0.294",
        ),
        # Efficiency is 1 over g/kWh times 0.0119531 kWh/g; 608.277 g/kWh in a lb/hp/h.
        pytest.param(
            1,
            0.5,
            18500,
            1 / (0.5 * 608.277 * 0.0119531),
            2e-5,
            id="friendlywiki.com and primidi.com, 0.5 lb/hp/h of 18,500 Btu/lb",
        ),
    ],
)
def test_brake_thermal_efficiency_is_work_over_heat(
    hp: float, pounds: float, btu: float, share: float, rounding: float
) -> None:
    assert power.brake_thermal_efficiency(hp, pounds, btu) == pytest.approx(share, abs=rounding)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("hp", "consumption", "pounds", "gallons"),
    [
        pytest.param(
            200, 0.5, 100, 100 / 6, id="mirage-performance.com injectors, 200 hp at 0.50, 6 lb/gal"
        ),
    ],
)
def test_fuel_flow_is_specific_consumption_times_power(
    hp: float, consumption: float, pounds: float, gallons: float
) -> None:
    # The page: .125 x 200 for each of four cylinders, and LBS / 6 for gallons.
    flow = power.fuel_flow(hp, consumption)
    assert flow == pytest.approx(pounds)
    assert power.fuel_flow_volume(flow, 6) == pytest.approx(gallons)
    assert power.specific_consumption(flow, hp) == consumption


@pytest.mark.outside
@pytest.mark.parametrize(
    ("size", "psi", "diameter", "height"),
    [
        pytest.param(
            size,
            psi,
            diameter,
            height,
            id=f"{JSBSIM}friction of {psi} psi in {size} in3, {diameter} in propeller, {height} ft",
        )
        for size, psi, diameter, height in (
            (2000, 20, 110, 3000),
            (2000, 12, 150, 12000),
            (3000, 15, 130, 3000),
            (1340, 22, 120, 8000),
            (360, 18, 76, 3000),
        )
    ],
)
def test_a_known_mean_effective_pressure_is_so_much_horsepower(
    tmp_path: Path, size: float, psi: float, diameter: float, height: float
) -> None:
    # Friction is all that the bench's engine loses, so that it is indicated less brake.
    shown = Bench(tmp_path / "bench", size, psi, diameter).at(height)
    indicated = shown.flow_pph / SPECIFIC_CONSUMPTION
    lost = power.friction_horsepower(indicated, shown.power)
    assert power.horsepower(psi, shown.rpm, size) == pytest.approx(lost, rel=1e-6)
    assert power.bmep(lost, shown.rpm, size) == pytest.approx(psi, rel=1e-6)
    left = power.bmep(indicated, shown.rpm, size) - psi
    assert power.bmep(shown.power, shown.rpm, size) == pytest.approx(left, rel=1e-6)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("diameter", "height"),
    [
        pytest.param(diameter, height, id=f"{JSBSIM}{what}, {diameter} in propeller, {height} ft")
        for what, diameter, height in (
            ("torque and fuel", 110, 3000),
            ("torque and fuel", 150, 12000),
        )
    ],
)
def test_torque_and_fuel_are_those_of_the_bench(
    tmp_path: Path, diameter: float, height: float
) -> None:
    shown = Bench(tmp_path / "bench", diameter=diameter).at(height)
    assert power.torque(shown.power, shown.rpm) == pytest.approx(shown.torque, rel=1e-6)
    flow = power.fuel_flow(shown.power, SPECIFIC_CONSUMPTION)
    assert flow == pytest.approx(shown.flow_pph, rel=1e-6)
    gallons = power.fuel_flow_volume(flow, shown.fuel_density)
    assert gallons == pytest.approx(shown.flow_gph, rel=1e-6)


@pytest.mark.memory
def test_climb_power_shows_177_psi() -> None:
    # Common practice, no source; the displacement is from memory.
    assert power.bmep(1500, 2400, 2804) == pytest.approx(177, abs=0.5)


def test_mechanical_efficiency_is_brake_over_indicated() -> None:
    assert power.friction_horsepower(200, 170) == 30
    assert power.mechanical_efficiency(200, 170) == pytest.approx(0.85)


def test_leaning_by_share_and_by_psi_agree() -> None:
    assert power.leaned_bmep(150, 0.08) == pytest.approx(138)
    assert power.bmep_after_drop(150, 12) == pytest.approx(138)


PSI = st.floats(20, 300)
TURNS = st.floats(600, 3000)
CUBIC_INCHES = st.floats(100, 4500)
CONSTANT = st.floats(0.5, 5)


@given(PSI, TURNS, CUBIC_INCHES)
def test_power_and_bmep_round_trip(psi: float, turns: float, size: float) -> None:
    hp = power.horsepower(psi, turns, size)
    assert power.bmep(hp, turns, size) == pytest.approx(psi, rel=1e-12)
    assert power.rpm_for_power(hp, psi, size) == pytest.approx(turns, rel=1e-12)
    pounds_feet = power.torque(hp, turns)
    assert power.bmep_of_torque(pounds_feet, size) == pytest.approx(psi, rel=1e-12)
    assert power.torque_of_bmep(psi, size) == pytest.approx(pounds_feet, rel=1e-12)
    assert power.power_of_torque(pounds_feet, turns) == pytest.approx(hp, rel=1e-12)


@given(PSI, TURNS, CUBIC_INCHES, CONSTANT)
def test_both_constants_of_a_torque_meter_tell_one_power(
    psi: float, turns: float, size: float, constant: float
) -> None:
    shown = power.torque_pressure(psi, constant)
    assert power.bmep_of_torque_pressure(shown, constant) == pytest.approx(psi, rel=1e-12)
    for_power = power.POWER_CONSTANT / (size * constant)
    hp = power.power_of_torque_pressure(shown, turns, for_power)
    assert hp == pytest.approx(power.horsepower(psi, turns, size), rel=1e-12)


@given(st.floats(1, 4000), st.floats(0.3, 1.2), st.floats(5.5, 7.2))
def test_fuel_flow_and_specific_consumption_round_trip(
    hp: float, consumption: float, density: float
) -> None:
    flow = power.fuel_flow(hp, consumption)
    assert power.specific_consumption(flow, hp) == pytest.approx(consumption, rel=1e-12)
    assert power.fuel_flow_volume(flow, density) * density == pytest.approx(flow, rel=1e-12)


@given(PSI, st.floats(0, 0.49))
def test_leaning_never_gains_power(psi: float, drop: float) -> None:
    lean = power.leaned_bmep(psi, drop)
    assert psi / 2 <= lean <= psi
    assert power.bmep_after_drop(psi, psi - lean) == pytest.approx(lean)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: power.horsepower(-1, 2000, 2000), "pressure must be 0 or more psi, not -1 psi"),
        (lambda: power.horsepower(100, 2000, 0), "displacement must be more than 0 in^3, not 0"),
        (lambda: power.bmep(100, 0, 2000), "RPM must be more than 0, not 0"),
        (lambda: power.bmep(math.nan, 2000, 2000), "power must be 0 or more hp, not nan hp"),
        (lambda: power.torque(math.inf, 2000), "power must be 0 or more hp, not inf hp"),
        (lambda: power.leaned_bmep(150, 0.9), "must be 0 to 50 %, not 90 %"),
        (lambda: power.bmep_after_drop(150, 80), "must be 0 to 75 psi, not 80 psi"),
        (lambda: power.bmep_of_torque_pressure(100, -1), "the torque meter's constant must be"),
        (lambda: power.fuel_flow_volume(100, 60), "must be 4 to 9 lb/gal, not 60 lb/gal"),
        (lambda: power.friction_horsepower(100, 110), "must be 110 hp, the brake horsepower, or"),
        (lambda: power.friction_horsepower(math.nan, 0), "or more, not nan hp"),
        (lambda: power.brake_thermal_efficiency(500, 50, 18800), "must be 0 to 1, not 1.35"),
        (lambda: power.compression_ratio(120, 0), "clearance volume must be more than 0"),
    ],
)
def test_what_no_engine_can_do_is_one_clear_line(call, message: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(CalculationError) as error:
        call()
    assert message in str(error.value) and "\n" not in str(error.value)
