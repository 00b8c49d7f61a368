"""Airspeeds: calibrated, equivalent, true and Mach, with the air's compressibility.

Subsonic isentropic flow (NASA RP-1046, *Measurement of Aircraft Speed and Altitude*, 1980,
chapter III; the same equations as ISO 5878). Speeds are in knots; altitudes are pressure
altitudes in feet. Indicated to calibrated airspeed is a table of each aircraft.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType

from runner.figures.air import density_ratio, pressure_ratio, speed_of_sound
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
    if calibrated > SOUND_AT_SEA_LEVEL * HIGHEST_MACH:
        raise CalculationError(
            f"Mach {mach:g} at {altitude_ft:g} ft is more than the highest calibrated airspeed"
        )
    return calibrated


def true_airspeed(calibrated_kt: float, altitude_ft: float, temperature_c: float) -> float:
    """True airspeed of a calibrated one at a pressure altitude and an air temperature in degC."""
    return mach_number(calibrated_kt, altitude_ft) * speed_of_sound(temperature_c)


def calibrated_airspeed(true_kt: float, altitude_ft: float, temperature_c: float) -> float:
    """Calibrated airspeed of a true one at a pressure altitude and an air temperature in degC.

    Raises CalculationError for a negative speed or one above that of sound.
    """
    if true_kt < 0:
        raise CalculationError(f"a true airspeed is 0 kt or more, not {true_kt:g} kt")
    return calibrated_airspeed_of_mach(true_kt / speed_of_sound(temperature_c), altitude_ft)


def equivalent_airspeed(calibrated_kt: float, altitude_ft: float) -> float:
    """Equivalent airspeed of a calibrated one at a pressure altitude: with compressibility gone."""
    mach = mach_number(calibrated_kt, altitude_ft)
    return mach * SOUND_AT_SEA_LEVEL * math.sqrt(pressure_ratio(altitude_ft))


def true_of_equivalent(equivalent_kt: float, altitude_ft: float, temperature_c: float) -> float:
    """True airspeed of an equivalent one: by the square root of the density ratio."""
    if equivalent_kt < 0:
        raise CalculationError(f"an equivalent airspeed is 0 kt or more, not {equivalent_kt:g} kt")
    return equivalent_kt / math.sqrt(density_ratio(altitude_ft, temperature_c))


_SOURCE = "NASA RP-1046, chapter III, subsonic flow"
_CALIBRATED = ("calibrated airspeed", "kt")
_ALTITUDE = ("pressure altitude", "ft")
_TEMPERATURE = ("temperature", "degC")

FORMULAS: Mapping[str, Formula] = MappingProxyType(
    {
        "mach_number": Formula((_CALIBRATED, _ALTITUDE), "", mach_number, _SOURCE),
        "true_airspeed": Formula(
            (_CALIBRATED, _ALTITUDE, _TEMPERATURE), "kt", true_airspeed, _SOURCE
        ),
        "calibrated_airspeed": Formula(
            (("true airspeed", "kt"), _ALTITUDE, _TEMPERATURE), "kt", calibrated_airspeed, _SOURCE
        ),
        "equivalent_airspeed": Formula(
            (_CALIBRATED, _ALTITUDE), "kt", equivalent_airspeed, _SOURCE
        ),
        "calibrated_airspeed_of_mach": Formula(
            (("Mach number", ""), _ALTITUDE), "kt", calibrated_airspeed_of_mach, _SOURCE
        ),
    }
)
