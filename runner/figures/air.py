"""The air: the standard atmosphere, any other day, and what a carburettor draws of it.

Source: U.S. Standard Atmosphere, 1976 (NOAA-S/T 76-1562), part 1, equations 18 to 42 and
tables 2 and 4; the same constants as ICAO Doc 7488. Altitudes are in feet, geopotential
unless said otherwise; temperatures in degrees Celsius.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType

from runner.figures.formula import Formula
from runner.figures.tables import CalculationError

FOOT = 0.3048
"""Metres in a foot, exactly."""

KELVIN = 273.15
"""Kelvin at 0 degrees Celsius."""

GRAVITY = 9.80665
"""Standard acceleration of free fall, m/s2."""

GAS = 287.05287
"""Specific gas constant of dry air, J/(kg K)."""

HEAT_RATIO = 1.4
"""Ratio of the specific heats of air."""

SEA_LEVEL_TEMPERATURE = 288.15
"""Kelvin."""

SEA_LEVEL_PRESSURE = 101_325.0
"""Pascal."""

SEA_LEVEL_DENSITY = SEA_LEVEL_PRESSURE / (GAS * SEA_LEVEL_TEMPERATURE)
"""kg/m3."""

INCH_OF_MERCURY = 3386.389
"""Pascal in an inch of mercury at 0 degrees Celsius."""

WATER_TO_AIR = 0.622
"""Molar mass of water over that of dry air."""

HIGHEST_VAPOUR_SHARE = 0.5
"""Of the air's pressure; any weather is far below."""

HIGHEST_SPEED = 700.0
"""Knots: about the speed of sound on the hottest day, above which a ram rise is not simple."""

EARTH_RADIUS = 6_356_766.0
"""Metres, for geometric altitudes (US Standard Atmosphere 1976, equation 18)."""

_LAYERS: tuple[tuple[float, float], ...] = (
    (-5_000.0, -0.0065),
    (11_000.0, 0.0),
    (20_000.0, 0.001),
    (32_000.0, 0.0028),
    (47_000.0, 0.0),
    (51_000.0, -0.0028),
    (71_000.0, -0.002),
)
"""Base in metres and lapse in K/m of each layer (US Standard Atmosphere 1976, table 4)."""

LOWEST, HIGHEST = -5_000.0, 84_852.0
"""Metres, geopotential: where the model begins and ends."""


def _bases() -> tuple[tuple[float, float, float, float], ...]:
    """Base, lapse, temperature and pressure of each layer."""
    pressure = SEA_LEVEL_PRESSURE * _pressure_step(SEA_LEVEL_TEMPERATURE, -0.0065, LOWEST)
    temperature = SEA_LEVEL_TEMPERATURE - 0.0065 * LOWEST
    made = []
    for number, (base, lapse) in enumerate(_LAYERS):
        made.append((base, lapse, temperature, pressure))
        top = _LAYERS[number + 1][0] if number + 1 < len(_LAYERS) else HIGHEST
        pressure *= _pressure_step(temperature, lapse, top - base)
        temperature += lapse * (top - base)
    return tuple(made)


def _pressure_step(temperature: float, lapse: float, climb: float) -> float:
    """The pressure after ``climb`` metres as a share of the pressure before."""
    if lapse == 0.0:
        return math.exp(-GRAVITY * climb / (GAS * temperature))
    return float((1 + lapse * climb / temperature) ** (-GRAVITY / (GAS * lapse)))


_BASES = _bases()
_BOTTOM_PRESSURE = _BASES[0][3]
_TOP_PRESSURE = _BASES[-1][3] * _pressure_step(
    _BASES[-1][2], _BASES[-1][1], HIGHEST - _BASES[-1][0]
)


def _layer(metres: float) -> tuple[float, float, float, float]:
    if not LOWEST <= metres <= HIGHEST:
        raise CalculationError(_outside(metres))
    return next(layer for layer in reversed(_BASES) if metres >= layer[0])


def _outside(metres: float) -> str:
    return (
        f"the standard atmosphere reaches from {LOWEST / FOOT:.0f} to {HIGHEST / FOOT:.0f} ft, "
        f"not {metres / FOOT:.0f} ft"
    )


def standard_temperature(altitude_ft: float) -> float:
    """Standard temperature in degC at a pressure altitude in feet. Raises CalculationError."""
    base, lapse, temperature, _ = _layer(altitude_ft * FOOT)
    return temperature + lapse * (altitude_ft * FOOT - base) - KELVIN


def _pascal(altitude_ft: float) -> float:
    base, lapse, temperature, pressure = _layer(altitude_ft * FOOT)
    return pressure * _pressure_step(temperature, lapse, altitude_ft * FOOT - base)


def standard_pressure(altitude_ft: float) -> float:
    """Standard pressure in inHg at a pressure altitude in feet. Raises CalculationError."""
    return _pascal(altitude_ft) / INCH_OF_MERCURY


def standard_density(altitude_ft: float) -> float:
    """Standard density in kg/m3 at a pressure altitude in feet. Raises CalculationError."""
    return density(altitude_ft, standard_temperature(altitude_ft))


def geopotential_altitude(geometric_ft: float) -> float:
    """Geopotential feet of a geometric altitude in feet (US Standard Atmosphere, equation 18).

    Raises CalculationError where the standard atmosphere does not reach.
    """
    metres = geometric_ft * FOOT
    if not 2 * LOWEST <= metres <= 2 * HIGHEST:
        raise CalculationError(_outside(metres))
    geopotential = EARTH_RADIUS * metres / (EARTH_RADIUS + metres)
    if not LOWEST <= geopotential <= HIGHEST:
        raise CalculationError(_outside(metres))
    return geopotential / FOOT


def pressure_ratio(altitude_ft: float) -> float:
    """Pressure over that at sea level on a standard day, delta, at a pressure altitude in feet."""
    return _pascal(altitude_ft) / SEA_LEVEL_PRESSURE


def temperature_ratio(temperature_c: float) -> float:
    """Absolute temperature over 288.15 K, theta, of a temperature in degC."""
    return _kelvin(temperature_c) / SEA_LEVEL_TEMPERATURE


def density_ratio(altitude_ft: float, temperature_c: float) -> float:
    """Density over that at sea level on a standard day, sigma, for any day."""
    return pressure_ratio(altitude_ft) / temperature_ratio(temperature_c)


def density(altitude_ft: float, temperature_c: float) -> float:
    """Density of dry air in kg/m3 at a pressure altitude in feet and a temperature in degC."""
    return _pascal(altitude_ft) / (GAS * _kelvin(temperature_c))


def speed_of_sound(temperature_c: float) -> float:
    """Speed of sound in knots at a temperature in degC."""
    return math.sqrt(HEAT_RATIO * GAS * _kelvin(temperature_c)) * 3600 / 1852


def altitude_of_pressure(pressure_inhg: float) -> float:
    """Pressure altitude in feet of a static pressure in inHg. Raises CalculationError."""
    pascal = pressure_inhg * INCH_OF_MERCURY
    if not _TOP_PRESSURE <= pascal <= _BOTTOM_PRESSURE:
        raise CalculationError(
            f"a static pressure is from {_TOP_PRESSURE / INCH_OF_MERCURY:.4f} to "
            f"{_BOTTOM_PRESSURE / INCH_OF_MERCURY:.2f} inHg, not {pressure_inhg:g} inHg"
        )
    base, lapse, temperature, pressure = next(
        layer for layer in reversed(_BASES) if pascal <= layer[3]
    )
    if lapse == 0.0:
        climb = -math.log(pascal / pressure) * GAS * temperature / GRAVITY
    else:
        climb = temperature / lapse * ((pascal / pressure) ** (-GAS * lapse / GRAVITY) - 1)
    return float((base + climb) / FOOT)


def pressure_altitude(altitude_ft: float, qnh_inhg: float) -> float:
    """Pressure altitude in feet of an altitude above sea level in feet under a QNH in inHg.

    An altimeter set to QNH shows the standard altitude of its pressure less that of the
    QNH's. Raises CalculationError for a QNH that no altimeter can be set to, and outside the
    standard atmosphere.
    """
    if not 25.0 <= qnh_inhg <= 33.0:
        raise CalculationError(f"an altimeter setting is from 25 to 33 inHg, not {qnh_inhg:g} inHg")
    found = altitude_ft + altitude_of_pressure(qnh_inhg)
    _layer(found * FOOT)
    return found


def density_altitude(altitude_ft: float, temperature_c: float) -> float:
    """Density altitude in feet of a pressure altitude in feet and an outside temperature in degC.

    The altitude at which standard air is as dense (FAA-H-8083-25, chapter 11). Raises
    CalculationError where no standard air in the troposphere is.
    """
    return _altitude_of_density_ratio(density_ratio(altitude_ft, temperature_c))


def _altitude_of_density_ratio(sigma: float) -> float:
    exponent = GRAVITY / (GAS * 0.0065) - 1
    metres = float(SEA_LEVEL_TEMPERATURE / 0.0065 * (1 - sigma ** (1 / exponent)))
    if not LOWEST <= metres <= _LAYERS[1][0]:
        raise CalculationError(
            f"density altitude is worked out from {LOWEST / FOOT:.0f} to "
            f"{_LAYERS[1][0] / FOOT:.0f} ft, not {metres / FOOT:.0f} ft"
        )
    return metres / FOOT


def vapour_pressure(dew_point_c: float) -> float:
    """Pressure of water vapour in inHg at a dew point in degC.

    Magnus formula over water with the coefficients of WMO-No. 8 (2018), annex 4.B. Raises
    CalculationError outside -45 to 60 degC, for which they are meant.
    """
    if not -45 <= dew_point_c <= 60:
        raise CalculationError(f"a dew point is from -45 to 60 degC, not {dew_point_c:g} degC")
    hectopascal = 6.112 * math.exp(17.62 * dew_point_c / (243.12 + dew_point_c))
    return hectopascal * 100 / INCH_OF_MERCURY


def mixing_ratio(altitude_ft: float, dew_point_c: float) -> float:
    """Mass of water vapour over that of the dry air about it, kg/kg.

    At a pressure altitude in feet and a dew point in degC: 0.622 e / (p - e), by the molar
    masses of water and dry air. Raises CalculationError where so much vapour cannot be.
    """
    share = _vapour_share(altitude_ft, dew_point_c)
    return WATER_TO_AIR * share / (1 - share)


def humid_density_altitude(altitude_ft: float, temperature_c: float, dew_point_c: float) -> float:
    """Density altitude in feet with the water in the air: its vapour is lighter than air.

    By virtual temperature, T / (1 - 0.378 e / p), where 0.378 is 1 less the ratio of the
    molar masses of water and dry air. Raises CalculationError for a dew point above the
    temperature.
    """
    if dew_point_c > temperature_c:
        raise CalculationError(
            f"a dew point is at most the temperature, {temperature_c:g} degC, "
            f"not {dew_point_c:g} degC"
        )
    lighter = 1 - (1 - WATER_TO_AIR) * _vapour_share(altitude_ft, dew_point_c)
    return _altitude_of_density_ratio(density_ratio(altitude_ft, temperature_c) * lighter)


def _vapour_share(altitude_ft: float, dew_point_c: float) -> float:
    """Vapour pressure over the pressure of the air."""
    share = vapour_pressure(dew_point_c) / standard_pressure(altitude_ft)
    if share > HIGHEST_VAPOUR_SHARE:
        raise CalculationError(
            f"at {altitude_ft:.0f} ft vapour is at most half of the air's pressure, "
            f"which a dew point of {dew_point_c:g} degC would exceed"
        )
    return share


def ram_rise(true_airspeed_kt: float, recovery: float) -> float:
    """Rise in K of air brought to rest, times the share of it that is recovered.

    V squared over 2 cp, cp = 1004.7 J/(kg K); ``recovery`` is from 0 to 1. Raises
    CalculationError for another recovery or for a speed outside 0 to 700 kt.
    """
    if not 0 <= recovery <= 1:
        raise CalculationError(f"a recovery factor is from 0 to 1, not {recovery:g}")
    if not 0 <= true_airspeed_kt <= HIGHEST_SPEED:
        raise CalculationError(
            f"a true airspeed is from 0 to {HIGHEST_SPEED:.0f} kt, not {true_airspeed_kt:g} kt"
        )
    specific_heat = GAS * HEAT_RATIO / (HEAT_RATIO - 1)
    metres_a_second = true_airspeed_kt * 1852 / 3600
    return recovery * metres_a_second**2 / (2 * specific_heat)


def carburettor_air_temperature(
    temperature_c: float, ram_rise_k: float, heat_rise_k: float
) -> float:
    """Carburettor air temperature in degC: outside air with its ram rise and added heat.

    Rises are in K. Raises CalculationError for a negative rise and for a result that no
    carburettor air has.
    """
    _kelvin(temperature_c)
    for name, rise in (("ram", ram_rise_k), ("heat", heat_rise_k)):
        if not 0 <= rise <= 240:
            raise CalculationError(f"a {name} rise is from 0 to 240 K, not {rise:g} K")
    found = temperature_c + ram_rise_k + heat_rise_k
    _kelvin(found)
    return found


def _kelvin(temperature_c: float) -> float:
    if not -120 <= temperature_c <= 120:
        raise CalculationError(
            f"an air temperature is from -120 to 120 degC, not {temperature_c:g} degC"
        )
    return temperature_c + KELVIN


_ATMOSPHERE = "U.S. Standard Atmosphere, 1976, part 1"

FORMULAS: Mapping[str, Formula] = MappingProxyType(
    {
        "standard_temperature": Formula(
            (("pressure altitude", "ft"),), "degC", standard_temperature, _ATMOSPHERE
        ),
        "standard_pressure": Formula(
            (("pressure altitude", "ft"),), "inHg", standard_pressure, _ATMOSPHERE
        ),
        "pressure_ratio": Formula((("pressure altitude", "ft"),), "", pressure_ratio, _ATMOSPHERE),
        "temperature_ratio": Formula(
            (("temperature", "degC"),), "", temperature_ratio, _ATMOSPHERE
        ),
        "density_ratio": Formula(
            (("pressure altitude", "ft"), ("temperature", "degC")), "", density_ratio, _ATMOSPHERE
        ),
        "speed_of_sound": Formula((("temperature", "degC"),), "kt", speed_of_sound, _ATMOSPHERE),
        "pressure_altitude": Formula(
            (("altitude", "ft"), ("QNH", "inHg")), "ft", pressure_altitude, _ATMOSPHERE
        ),
        "altitude_of_pressure": Formula(
            (("static pressure", "inHg"),), "ft", altitude_of_pressure, _ATMOSPHERE
        ),
        "density_altitude": Formula(
            (("pressure altitude", "ft"), ("temperature", "degC")),
            "ft",
            density_altitude,
            "FAA-H-8083-25, chapter 11, by the U.S. Standard Atmosphere, 1976",
        ),
        "vapour_pressure": Formula(
            (("dew point", "degC"),), "inHg", vapour_pressure, "WMO-No. 8 (2018), annex 4.B"
        ),
        "mixing_ratio": Formula(
            (("pressure altitude", "ft"), ("dew point", "degC")),
            "",
            mixing_ratio,
            "molar masses of water and dry air",
        ),
        "humid_density_altitude": Formula(
            (("pressure altitude", "ft"), ("temperature", "degC"), ("dew point", "degC")),
            "ft",
            humid_density_altitude,
            "virtual temperature, by the molar masses of water and dry air",
        ),
        "ram_rise": Formula(
            (("true airspeed", "kt"), ("recovery", "")), "K", ram_rise, "V squared over 2 cp"
        ),
        "carburettor_air_temperature": Formula(
            (("outside temperature", "degC"), ("ram rise", "K"), ("heat rise", "K")),
            "degC",
            carburettor_air_temperature,
            "outside air with its ram rise and added heat",
        ),
    }
)
