"""The air against the published standard atmosphere, reference libraries and handbook examples.

The imperial table is that of U.S. Standard Atmosphere, 1976, as engineeringtoolbox.com
prints it (page "U.S. Standard Atmosphere vs. Altitude"); its altitudes are geometric, which
its gravity column shows. The table of ratios is that of *Flight Theory and Aerodynamics*,
third edition, table 2.1 (as printed at hotlib.net), in geopotential feet. The layers are
those of av8n.com, "Altimetry", section 1, after the same standard. Densities are printed in
1e-4 slug/ft3. Tolerances are half the last printed digit, or for a value read off a chart
half its smallest division. The table of compressible flow is a textbook's appendix (page
640, as printed at coursepaper.com).
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.figures import air
from runner.figures.tables import CalculationError

SLUG = 515.3788184
"""kg/m3 in a slug a cubic foot."""

PSI = 6894.757293
"""Pascal in a pound a square inch."""

TABLE = (
    # ft, degF, psi, 1e-4 slug/ft3
    (-5000, 76.84, 17.554, 27.45),
    (0, 59.00, 14.696, 23.77),
    (5000, 41.17, 12.228, 20.48),
    (10000, 23.36, 10.108, 17.56),
    (15000, 5.55, 8.297, 14.96),
    (20000, -12.26, 6.759, 12.67),
    (25000, -30.05, 5.461, 10.66),
    (30000, -47.83, 4.373, 8.91),
    (35000, -65.61, 3.468, 7.38),
    (40000, -69.70, 2.730, 5.87),
    (45000, -69.70, 2.149, 4.62),
    (50000, -69.70, 1.692, 3.64),
    (60000, -69.70, 1.049, 2.26),
    (70000, -67.42, 0.651, 1.39),
)


def named(*what: object) -> str:
    return "US Standard Atmosphere 1976, imperial table, " + " ".join(map(str, what))


@pytest.mark.outside
@pytest.mark.parametrize(
    ("altitude", "fahrenheit", "psi", "slugs"),
    [pytest.param(*row, id=named(row[0], "ft")) for row in TABLE],
)
def test_temperature_pressure_and_density_are_those_of_the_table(
    altitude: float, fahrenheit: float, psi: float, slugs: float
) -> None:
    height = air.geopotential_altitude(altitude)
    celsius = air.standard_temperature(height)
    # At 20,000 ft the page rounds 248.564 K up: -12.2549 degF stands there as -12.26.
    assert celsius * 1.8 + 32 == pytest.approx(
        fahrenheit, abs=0.0052 if altitude == 20000 else 0.005
    )
    assert air.standard_pressure(height) * air.INCH_OF_MERCURY / PSI == pytest.approx(
        psi, abs=0.00051
    )
    assert air.density(height, celsius) / SLUG * 1e4 == pytest.approx(slugs, abs=0.0051)


RATIOS = (
    # ft, sigma, delta, degF, theta
    (1000, 0.9711, 0.9644, 55.43, 0.9931),
    (2000, 0.9428, 0.9298, 51.87, 0.9862),
    (3000, 0.9151, 0.8962, 48.30, 0.9794),
    (4000, 0.8881, 0.8637, 44.74, 0.9725),
    (5000, 0.8617, 0.8320, 41.17, 0.9656),
    (6000, 0.8359, 0.8014, 37.60, 0.9587),
    (7000, 0.8106, 0.7716, 34.04, 0.9519),
    (8000, 0.7860, 0.7428, 30.47, 0.9450),
    (9000, 0.7620, 0.7148, 26.90, 0.9381),
    (10000, 0.7385, 0.6877, 23.34, 0.9312),
    (15000, 0.6292, 0.5643, 5.51, 0.8969),
    (20000, 0.5328, 0.4595, -12.32, 0.8625),
    (25000, 0.4481, 0.3711, -30.15, 0.8281),
    (30000, 0.3741, 0.2970, -47.98, 0.7937),
    (35000, 0.3099, 0.2353, -65.82, 0.7594),
    (36089, 0.2971, 0.2234, -69.70, 0.7519),
    (40000, 0.2462, 0.1851, -69.70, 0.7519),
    (45000, 0.1936, 0.1455, -69.70, 0.7519),
    (50000, 0.1522, 0.1145, -69.70, 0.7519),
)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("altitude", "sigma", "delta", "fahrenheit", "theta"),
    [
        pytest.param(*row, id=f"Flight Theory and Aerodynamics, 3rd ed., table 2.1, {row[0]} ft")
        for row in RATIOS
    ],
)
def test_the_ratios_are_those_of_the_textbook_s_table(
    altitude: float, sigma: float, delta: float, fahrenheit: float, theta: float
) -> None:
    celsius = air.standard_temperature(altitude)
    assert celsius * 1.8 + 32 == pytest.approx(fahrenheit, abs=0.005)
    assert air.temperature_ratio(celsius) == pytest.approx(theta, abs=0.00005)
    assert air.pressure_ratio(altitude) == pytest.approx(delta, abs=0.00005)
    assert air.density_ratio(altitude, celsius) == pytest.approx(sigma, abs=0.00005)


@pytest.mark.outside
@pytest.mark.parametrize(
    "feet",
    [
        pytest.param(feet, id=f"fluids 1.3 ATMOSPHERE_1976, {feet} ft")
        for feet in (-1000, 500, 12500, 33000, 55000, 65000)
    ],
)
def test_temperature_pressure_and_density_are_those_of_a_library(feet: float) -> None:
    # The library takes geometric metres.
    fluids = pytest.importorskip("fluids.atmosphere")
    reference = fluids.ATMOSPHERE_1976(feet * air.FOOT)
    height = air.geopotential_altitude(feet)
    celsius = air.standard_temperature(height)
    assert celsius + 273.15 == pytest.approx(reference.T, abs=0.001)
    assert air.standard_pressure(height) * air.INCH_OF_MERCURY == pytest.approx(
        reference.P, rel=2e-5
    )
    assert air.standard_density(height) == pytest.approx(reference.rho, rel=2e-5)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("metres", "pascal", "kelvin"),
    [
        pytest.param(*row, id=f"av8n.com Altimetry, layers of the standard atmosphere, {row[0]} m")
        for row in (
            (0, 101325, 288.15),
            (11000, 22632.1, 216.65),
            (20000, 5474.89, 216.65),
            (32000, 868.019, 228.65),
            (47000, 110.906, 270.65),
            (51000, 66.9389, 270.65),
            (71000, 3.95642, 214.65),
        )
    ],
)
def test_pressure_and_temperature_at_the_layers_feet(
    metres: float, pascal: float, kelvin: float
) -> None:
    height = metres / air.FOOT
    assert air.pressure_ratio(height) * 101325 == pytest.approx(pascal, rel=1e-5)
    assert air.standard_temperature(height) + 273.15 == pytest.approx(kelvin, abs=0.005)


@pytest.mark.outside
@pytest.mark.parametrize(
    "kilometres",
    [
        pytest.param(k, id=f"ambiance 1.3 (ICAO atmosphere), {k} km geometric")
        for k in (-4.9, -2, 0, 3, 8, 11, 14, 20, 25, 32, 40, 47, 50, 60, 71, 80)
    ],
)
def test_the_whole_range_agrees_with_the_icao_atmosphere_of_a_library(kilometres: float) -> None:
    ambiance = pytest.importorskip("ambiance")
    metres = kilometres * 1000
    reference = ambiance.Atmosphere(metres)
    height = float(reference.H[0]) / air.FOOT
    assert air.geopotential_altitude(metres / air.FOOT) == pytest.approx(height, abs=0.5)
    assert air.standard_temperature(height) + 273.15 == pytest.approx(
        float(reference.temperature[0]), abs=0.001
    )
    assert air.pressure_ratio(height) * 101325 == pytest.approx(
        float(reference.pressure[0]), rel=2e-5
    )
    celsius = air.standard_temperature(height)
    assert air.density(height, celsius) == pytest.approx(float(reference.density[0]), rel=2e-5)
    assert air.speed_of_sound(celsius) == pytest.approx(
        float(reference.speed_of_sound[0]) * 3600 / 1852, rel=1e-5
    )


@pytest.mark.outside
@pytest.mark.parametrize(
    ("qnh", "elevation", "feet", "tolerance"),
    [
        pytest.param(
            29.70, 0, 205, 1, id="FAA-H-8083-25A figure 10-3, altimeter setting 29.7 adds 205 ft"
        ),
        pytest.param(
            30.10,
            5883,
            5718,
            1,
            id="FAA-H-8083-25A page 10-19, sample problem 1, 5883 ft at 30.10 is 5718 ft",
        ),
    ],
)
def test_pressure_altitude_is_elevation_with_the_setting_s_correction(
    qnh: float, elevation: float, feet: float, tolerance: float
) -> None:
    assert air.pressure_altitude(elevation, qnh) == pytest.approx(feet, abs=tolerance)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("altitude", "fahrenheit", "feet"),
    [
        pytest.param(
            5718,
            70,
            7700,
            id="FAA-H-8083-25A page 10-19, sample problem 1, density altitude 7700 ft",
        ),
    ],
)
def test_density_altitude_is_that_of_the_chart(
    altitude: float, fahrenheit: float, feet: float
) -> None:
    # Read off a chart, to half of its division of 200 ft.
    found = air.density_altitude(altitude, (fahrenheit - 32) / 1.8)
    assert found == pytest.approx(feet, abs=100)


HEIGHTS = st.floats(air.LOWEST / air.FOOT + 1, air.HIGHEST / air.FOOT - 1)


@given(HEIGHTS)
def test_pressure_and_altitude_round_trip(height: float) -> None:
    back = air.altitude_of_pressure(air.standard_pressure(height))
    assert back == pytest.approx(height, abs=0.01)


@given(HEIGHTS, HEIGHTS)
def test_pressure_falls_with_altitude(one: float, other: float) -> None:
    if abs(one - other) > 0.01:
        assert (one > other) == (air.standard_pressure(one) < air.standard_pressure(other))


@given(st.floats(-10000, 30000))
def test_standard_air_has_its_own_density_altitude(height: float) -> None:
    celsius = air.standard_temperature(height)
    assert air.density_altitude(height, celsius) == pytest.approx(height, abs=0.01)


@given(st.floats(0, 10000), st.floats(-20, 40), st.floats(0, 1))
def test_water_in_the_air_makes_it_thinner(height: float, temperature: float, share: float) -> None:
    dew = min(temperature, -30 + share * (temperature + 30))
    humid = air.humid_density_altitude(height, temperature, dew)
    assert humid > air.density_altitude(height, temperature)


@given(st.floats(0, 400), st.floats(0, 1))
def test_ram_rise_is_that_of_stagnation_times_recovery(speed: float, recovery: float) -> None:
    # T0 / T = 1 + 0.2 M squared (NASA RP-1046, chapter III).
    mach = speed / air.speed_of_sound(15)
    assert air.ram_rise(speed, recovery) == pytest.approx(
        288.15 * 0.2 * mach**2 * recovery, rel=1e-6, abs=1e-9
    )


@pytest.mark.outside
@pytest.mark.parametrize(
    "dew_point",
    [
        pytest.param(dew, id=f"psychrolib 2.5 (ASHRAE Fundamentals) GetSatVapPres, {dew} degC")
        for dew in (1, 10, 20, 30, 40)
    ],
)
def test_vapour_pressure_is_that_of_a_library(dew_point: float) -> None:
    # Magnus's formula keeps within 0.3 % of the library's longer one.
    psychrolib = pytest.importorskip("psychrolib")
    psychrolib.SetUnitSystem(psychrolib.SI)
    pascal = air.vapour_pressure(dew_point) * air.INCH_OF_MERCURY
    assert pascal == pytest.approx(psychrolib.GetSatVapPres(dew_point), rel=0.003)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("altitude", "temperature", "dew_point"),
    [
        pytest.param(
            *case, id="psychrolib 2.5 moist air, {} ft, {} degC, dew point {}".format(*case)
        )
        for case in ((0, 30, 25), (1500, 38, 27), (5000, 35, 19), (8000, 20, 10), (10000, 5, 3))
    ],
)
def test_humid_air_is_as_dense_as_in_a_library(
    altitude: float, temperature: float, dew_point: float
) -> None:
    psychrolib = pytest.importorskip("psychrolib")
    psychrolib.SetUnitSystem(psychrolib.SI)
    pascal = air.standard_pressure(altitude) * air.INCH_OF_MERCURY
    ratio = psychrolib.GetHumRatioFromTDewPoint(dew_point, pascal)
    assert air.mixing_ratio(altitude, dew_point) == pytest.approx(ratio, rel=0.004)
    found = air.standard_density(air.humid_density_altitude(altitude, temperature, dew_point))
    reference = psychrolib.GetMoistAirDensity(temperature, ratio, pascal)
    # 1e-4 of the density is 3 ft of density altitude.
    assert found == pytest.approx(reference, rel=1e-4)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("mach", "ratio"),
    [
        pytest.param(
            *row, id=f"Compressible Flow Tables, k = 1.4, table A.1, T/Tt at Mach {row[0]}"
        )
        for row in ((0.10, 0.9980), (0.15, 0.9955), (0.50, 0.9524), (0.60, 0.9328), (0.82, 0.8815))
    ],
)
def test_air_at_rest_is_as_warm_as_in_the_table_of_compressible_flow(
    mach: float, ratio: float
) -> None:
    rise = air.ram_rise(mach * air.speed_of_sound(0), 1)
    assert 273.15 / (273.15 + rise) == pytest.approx(ratio, abs=0.00005)


def test_carburettor_air_is_outside_air_with_its_rises() -> None:
    assert air.carburettor_air_temperature(-10, 6, 24) == 20


@pytest.mark.memory
def test_at_twenty_degrees_saturated_vapour_presses_23_4_hectopascal() -> None:
    # From memory: 23.4 hPa at 20 degC, common in tables of humid air; Magnus is within 0.4 %.
    hectopascal = air.vapour_pressure(20) * air.INCH_OF_MERCURY / 100
    assert hectopascal == pytest.approx(23.4, rel=0.004)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: air.standard_pressure(-20000), "from -16404 to 278386 ft, not -20000 ft"),
        (lambda: air.standard_temperature(math.inf), "not inf ft"),
        (lambda: air.standard_temperature(math.nan), "not nan ft"),
        (lambda: air.altitude_of_pressure(0), "static pressure is from"),
        (lambda: air.altitude_of_pressure(math.nan), "not nan inHg"),
        (lambda: air.pressure_altitude(0, 1013), "from 25 to 33 inHg, not 1013 inHg"),
        (lambda: air.density_altitude(0, 200), "from -120 to 120 degC, not 200 degC"),
        (lambda: air.density_altitude(38000, 0), "density altitude is worked out from"),
        (lambda: air.vapour_pressure(99), "a dew point is from -45 to 60 degC"),
        (lambda: air.humid_density_altitude(0, 10, 12), "at most the temperature, 10 degC"),
        (lambda: air.ram_rise(100, 2), "recovery factor is from 0 to 1, not 2"),
        (lambda: air.ram_rise(-1, 1), "a true airspeed is from 0 to 700 kt, not -1 kt"),
        (lambda: air.ram_rise(math.nan, 1), "not nan kt"),
        (lambda: air.pressure_altitude(math.nan, 29.92), "not nan ft"),
        (lambda: air.pressure_altitude(300000, 29.92), "standard atmosphere reaches from"),
        (lambda: air.geopotential_altitude(math.nan), "not nan ft"),
        (lambda: air.geopotential_altitude(-17000), "not -17000 ft"),
        (lambda: air.humid_density_altitude(60000, 60, 60), "at most half of the air's pressure"),
        (lambda: air.mixing_ratio(60000, 60), "dew point of 60 degC would exceed"),
        (lambda: air.humid_density_altitude(0, math.nan, 5), "not nan degC"),
        (lambda: air.carburettor_air_temperature(10, -1, 0), "a ram rise is from 0 to 240 K"),
        (lambda: air.carburettor_air_temperature(10, 0, math.nan), "a heat rise is from"),
        (lambda: air.carburettor_air_temperature(50, 10, 90), "not 150 degC"),
    ],
)
def test_what_no_air_can_be_is_one_clear_line(call, message: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(CalculationError) as error:
        call()
    assert message in str(error.value) and "\n" not in str(error.value)
