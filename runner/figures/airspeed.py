"""Airspeeds: calibrated, equivalent, true and Mach, with the air's compressibility.

Subsonic isentropic flow (NASA RP-1046, *Measurement of Aircraft Speed and Altitude*, 1980,
chapter III; the same equations as ISO 5878). Speeds are in knots; altitudes are pressure
altitudes in feet. Indicated to calibrated airspeed is a table of each aircraft.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType

from runner.figures.air import (
    INCH_OF_MERCURY,
    SEA_LEVEL_PRESSURE,
    density_ratio,
    pressure_ratio,
    speed_of_sound,
)
from runner.figures.formula import Formula
from runner.figures.tables import CalculationError

SOUND_AT_SEA_LEVEL = speed_of_sound(15.0)
"""Knots, on a standard day."""

HIGHEST_MACH = 1.0
"""The equations hold without a shock wave before the pressure tube."""


def impact_pressure_ratio(calibrated_kt: float) -> float:
    """Impact pressure of a calibrated airspeed over standard sea-level pressure.

    Raises CalculationError for a negative speed or one above that of sound.
    """
    if not 0 <= calibrated_kt <= SOUND_AT_SEA_LEVEL * HIGHEST_MACH:
        raise CalculationError(
            f"a calibrated airspeed is from 0 to {SOUND_AT_SEA_LEVEL:.0f} kt, "
            f"not {calibrated_kt:g} kt"
        )
    return float((1 + 0.2 * (calibrated_kt / SOUND_AT_SEA_LEVEL) ** 2) ** 3.5 - 1)


def impact_pressure(calibrated_kt: float) -> float:
    """Impact pressure in inHg that an airspeed indicator feels at a calibrated airspeed.

    Raises CalculationError for a negative speed or one above that of sound.
    """
    return impact_pressure_ratio(calibrated_kt) * SEA_LEVEL_PRESSURE / INCH_OF_MERCURY


def mach_number(calibrated_kt: float, altitude_ft: float) -> float:
    """Mach number of a calibrated airspeed at a pressure altitude. Raises CalculationError."""
    impact = impact_pressure_ratio(calibrated_kt) / pressure_ratio(altitude_ft)
    mach = math.sqrt(5 * ((impact + 1) ** (2 / 7) - 1))
    if mach > HIGHEST_MACH:
        raise CalculationError(
            f"{calibrated_kt:g} kt at {altitude_ft:g} ft is faster than sound, Mach {mach:.2f}"
        )
    return mach


def calibrated_airspeed_of_mach(mach: float, altitude_ft: float) -> float:
    """Calibrated airspeed of a Mach number at a pressure altitude. Raises CalculationError."""
    if not 0 <= mach <= HIGHEST_MACH:
        raise CalculationError(f"a Mach number is from 0 to {HIGHEST_MACH:g} here, not {mach:g}")
    impact = pressure_ratio(altitude_ft) * ((1 + 0.2 * mach**2) ** 3.5 - 1)
    calibrated = SOUND_AT_SEA_LEVEL * math.sqrt(5 * ((impact + 1) ** (2 / 7) - 1))
    # Mach 1 at sea level comes back a rounding above the limit.
    if calibrated > SOUND_AT_SEA_LEVEL * HIGHEST_MACH * (1 + 1e-12):
        raise CalculationError(
            f"Mach {mach:g} at {altitude_ft:g} ft is more than the highest calibrated airspeed"
        )
    return calibrated


def true_airspeed(calibrated_kt: float, altitude_ft: float, temperature_c: float) -> float:
    """True airspeed of a calibrated one at a pressure altitude and an air temperature in degC.

    Raises CalculationError for a negative speed or one above that of sound.
    """
    return mach_number(calibrated_kt, altitude_ft) * speed_of_sound(temperature_c)


def calibrated_airspeed(true_kt: float, altitude_ft: float, temperature_c: float) -> float:
    """Calibrated airspeed of a true one at a pressure altitude and an air temperature in degC.

    Raises CalculationError for a negative speed or one above that of sound.
    """
    return calibrated_airspeed_of_mach(mach_number_of_true(true_kt, temperature_c), altitude_ft)


def mach_number_of_true(true_kt: float, temperature_c: float) -> float:
    """Mach number of a true airspeed at an air temperature in degC. Raises CalculationError."""
    sound = speed_of_sound(temperature_c)
    if not 0 <= true_kt <= sound * HIGHEST_MACH:
        raise CalculationError(
            f"a true airspeed is from 0 to {sound * HIGHEST_MACH:.0f} kt at {temperature_c:g} "
            f"degC, not {true_kt:g} kt"
        )
    return true_kt / sound


def true_airspeed_of_mach(mach: float, temperature_c: float) -> float:
    """True airspeed of a Mach number at an air temperature in degC. Raises CalculationError."""
    if not 0 <= mach <= HIGHEST_MACH:
        raise CalculationError(f"a Mach number is from 0 to {HIGHEST_MACH:g} here, not {mach:g}")
    return mach * speed_of_sound(temperature_c)


def equivalent_airspeed(calibrated_kt: float, altitude_ft: float) -> float:
    """Equivalent airspeed of a calibrated one at a pressure altitude: with compressibility gone.

    Raises CalculationError for a negative speed or one above that of sound.
    """
    mach = mach_number(calibrated_kt, altitude_ft)
    return mach * SOUND_AT_SEA_LEVEL * math.sqrt(pressure_ratio(altitude_ft))


def calibrated_of_equivalent(equivalent_kt: float, altitude_ft: float) -> float:
    """Calibrated airspeed of an equivalent one at a pressure altitude. Raises CalculationError."""
    sound = SOUND_AT_SEA_LEVEL * math.sqrt(pressure_ratio(altitude_ft))
    _check_equivalent(equivalent_kt, sound)
    return calibrated_airspeed_of_mach(equivalent_kt / sound, altitude_ft)


def equivalent_of_true(true_kt: float, altitude_ft: float, temperature_c: float) -> float:
    """Equivalent airspeed of a true one at a pressure altitude and an air temperature in degC.

    By the square root of the density ratio. Raises CalculationError for a negative speed or
    one above that of sound.
    """
    mach_number_of_true(true_kt, temperature_c)
    return true_kt * math.sqrt(density_ratio(altitude_ft, temperature_c))


def true_of_equivalent(equivalent_kt: float, altitude_ft: float, temperature_c: float) -> float:
    """True airspeed of an equivalent one at a pressure altitude and an air temperature in degC.

    By the square root of the density ratio. Raises CalculationError for a negative speed or
    one above that of sound.
    """
    _check_equivalent(equivalent_kt, SOUND_AT_SEA_LEVEL * math.sqrt(pressure_ratio(altitude_ft)))
    return equivalent_kt / math.sqrt(density_ratio(altitude_ft, temperature_c))


def _check_equivalent(equivalent_kt: float, sound: float) -> None:
    if not 0 <= equivalent_kt <= sound * HIGHEST_MACH:
        raise CalculationError(
            f"an equivalent airspeed is from 0 to {sound * HIGHEST_MACH:.0f} kt at this altitude, "
            f"not {equivalent_kt:g} kt"
        )


_SOURCE = "NASA RP-1046, chapter III, subsonic flow"
_CALIBRATED = ("calibrated airspeed", "kt")
_EQUIVALENT = ("equivalent airspeed", "kt")
_TRUE = ("true airspeed", "kt")
_MACH = ("Mach number", "")
_ALTITUDE = ("pressure altitude", "ft")
_TEMPERATURE = ("temperature", "degC")

FORMULAS: Mapping[str, Formula] = MappingProxyType(
    {
        "impact_pressure": Formula((_CALIBRATED,), "inHg", impact_pressure, _SOURCE),
        "mach_number": Formula((_CALIBRATED, _ALTITUDE), "", mach_number, _SOURCE),
        "true_airspeed": Formula(
            (_CALIBRATED, _ALTITUDE, _TEMPERATURE), "kt", true_airspeed, _SOURCE
        ),
        "calibrated_airspeed": Formula(
            (_TRUE, _ALTITUDE, _TEMPERATURE), "kt", calibrated_airspeed, _SOURCE
        ),
        "equivalent_airspeed": Formula(
            (_CALIBRATED, _ALTITUDE), "kt", equivalent_airspeed, _SOURCE
        ),
        "calibrated_airspeed_of_mach": Formula(
            (_MACH, _ALTITUDE), "kt", calibrated_airspeed_of_mach, _SOURCE
        ),
        "mach_number_of_true": Formula((_TRUE, _TEMPERATURE), "", mach_number_of_true, _SOURCE),
        "true_airspeed_of_mach": Formula(
            (_MACH, _TEMPERATURE), "kt", true_airspeed_of_mach, _SOURCE
        ),
        "calibrated_of_equivalent": Formula(
            (_EQUIVALENT, _ALTITUDE), "kt", calibrated_of_equivalent, _SOURCE
        ),
        "equivalent_of_true": Formula(
            (_TRUE, _ALTITUDE, _TEMPERATURE), "kt", equivalent_of_true, _SOURCE
        ),
        "true_of_equivalent": Formula(
            (_EQUIVALENT, _ALTITUDE, _TEMPERATURE), "kt", true_of_equivalent, _SOURCE
        ),
    }
)
