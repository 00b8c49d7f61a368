"""Wind: its parts along and across a runway, with gusts on the safe side, and the wind triangle.

Directions are degrees from which the wind blows, of the same north as the runway or track;
speeds are in knots. Source: FAA-H-8083-25, *Pilot's Handbook of Aeronautical Knowledge*,
chapters 11 and 16.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType

from runner.figures.formula import Formula
from runner.figures.tables import CalculationError


def _direction(name: str, degrees: float) -> float:
    if not 0 <= degrees <= 360:
        raise CalculationError(f"{name} is from 0 to 360 deg, not {degrees:g} deg")
    return degrees


def _speed(name: str, knots: float) -> float:
    if not 0 <= knots <= 250:
        raise CalculationError(f"{name} is from 0 to 250 kt, not {knots:g} kt")
    return knots


def _parts(wind_direction: float, wind: float, track: float) -> tuple[float, float]:
    angle = math.radians(_direction("a wind", wind_direction) - _direction("a runway", track))
    knots = _speed("a wind", wind)
    return knots * math.cos(angle), knots * math.sin(angle)


def runway_direction(designator: float) -> float:
    """Degrees of a runway by its number, 1 to 36."""
    if not (1 <= designator <= 36 and designator == int(designator)):
        raise CalculationError(f"a runway's number is from 1 to 36, not {designator:g}")
    return designator * 10


def headwind(wind_direction: float, wind: float, runway: float) -> float:
    """Part of a steady wind against the runway's direction; below 0 it is a tailwind."""
    return _parts(wind_direction, wind, runway)[0]


def crosswind(wind_direction: float, wind: float, runway: float) -> float:
    """Part of a steady wind across the runway; above 0 it comes from the right."""
    return _parts(wind_direction, wind, runway)[1]


def usable_headwind(wind_direction: float, wind: float, gust: float, runway: float) -> float:
    """The headwind to count on: a headwind without its gusts, a tailwind with them.

    ``gust`` is the highest speed reported, 0 where none is. Safe side: down.
    """
    steady = headwind(wind_direction, wind, runway)
    if steady >= 0:
        _gust(wind, gust)
        return steady
    return headwind(wind_direction, _gust(wind, gust), runway)


def worst_crosswind(wind_direction: float, wind: float, gust: float, runway: float) -> float:
    """The crosswind to reckon with, from whichever side: with the gusts. Safe side: up."""
    return abs(crosswind(wind_direction, _gust(wind, gust), runway))


def _gust(wind: float, gust: float) -> float:
    """The highest wind: the gust where there is one."""
    _speed("a gust", gust)
    if gust and gust < wind:
        raise CalculationError(f"a gust is at least the wind, {wind:g} kt, not {gust:g} kt")
    return max(wind, gust)


def wind_correction_angle(
    wind_direction: float, wind: float, track: float, true_airspeed: float
) -> float:
    """Degrees to head off the track into the wind; above 0 to the right.

    Raises CalculationError where the wind across is as fast as the aircraft.
    """
    across = crosswind(wind_direction, wind, track)
    if not true_airspeed > abs(across):
        raise CalculationError(
            f"a true airspeed of {true_airspeed:g} kt cannot hold a track in "
            f"{abs(across):.0f} kt across"
        )
    return math.degrees(math.asin(across / true_airspeed))


def groundspeed(wind_direction: float, wind: float, track: float, true_airspeed: float) -> float:
    """Groundspeed along a track. Raises CalculationError where the track cannot be held."""
    angle = math.radians(wind_correction_angle(wind_direction, wind, track, true_airspeed))
    speed = true_airspeed * math.cos(angle) - headwind(wind_direction, wind, track)
    if speed <= 0:
        raise CalculationError(
            f"a true airspeed of {true_airspeed:g} kt makes no way against this wind"
        )
    return speed


_SOURCE = "FAA-H-8083-25, chapter 11: wind times cosine and sine of its angle"
_TRIANGLE = "FAA-H-8083-25, chapter 16: the wind triangle"
_WIND = (("wind direction", "deg"), ("wind", "kt"))

FORMULAS: Mapping[str, Formula] = MappingProxyType(
    {
        "headwind": Formula((*_WIND, ("runway", "deg")), "kt", headwind, _SOURCE),
        "crosswind": Formula((*_WIND, ("runway", "deg")), "kt", crosswind, _SOURCE),
        "usable_headwind": Formula(
            (*_WIND, ("gust", "kt"), ("runway", "deg")), "kt", usable_headwind, _SOURCE
        ),
        "worst_crosswind": Formula(
            (*_WIND, ("gust", "kt"), ("runway", "deg")), "kt", worst_crosswind, _SOURCE
        ),
        "wind_correction_angle": Formula(
            (*_WIND, ("track", "deg"), ("true airspeed", "kt")),
            "deg",
            wind_correction_angle,
            _TRIANGLE,
        ),
        "groundspeed": Formula(
            (*_WIND, ("track", "deg"), ("true airspeed", "kt")), "kt", groundspeed, _TRIANGLE
        ),
    }
)
