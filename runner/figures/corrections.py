"""A distance of the book corrected for the day, and the runway that is left over.

What each correction is worth stands in the aircraft's manual (a take-off chart's notes) and
comes as data; nothing here knows a number of its own. Corrections multiply, as those of the
UK CAA's Safety Sense leaflet on aeroplane performance do.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from runner.figures.formula import Formula
from runner.figures.ranges import above_zero, within, zero_or_more
from runner.figures.rounding import shown
from runner.figures.tables import CalculationError


@dataclass(frozen=True, slots=True)
class Corrections:
    """What a condition adds to a distance, in percent; a negative one takes off.

    For each knot along the runway, each percent of slope, each 1,000 ft of density altitude
    above that of the distance, and each surface by name.
    """

    per_kt_of_headwind: float = 0.0
    per_kt_of_tailwind: float = 0.0
    per_percent_up: float = 0.0
    per_percent_down: float = 0.0
    per_1000_ft: float = 0.0
    surfaces: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Corrected:
    """A corrected distance in feet and how it came about, a line a correction."""

    distance_ft: float
    working: tuple[str, ...]


def corrected(
    distance_ft: float,
    by: Corrections,
    headwind_kt: float = 0.0,
    slope_percent: float = 0.0,
    above_ft: float = 0.0,
    surface: str = "",
) -> Corrected:
    """A distance for this wind (tail negative), slope (up positive), air and surface.

    ``above_ft`` is how far the density altitude lies above that of the distance; air that is
    better than that is not credited. Raises CalculationError for a surface that is not among
    the corrections and where they would leave no distance at all.
    """
    distance = above_zero("a distance", distance_ft, "ft")
    within("a wind along the runway", headwind_kt, -100, 100, "kt")
    within("a runway's slope", slope_percent, -10, 10, "%")
    surfaces = dict(by.surfaces)
    if surface and surface not in surfaces:
        raise CalculationError(
            f"there is no correction for a surface of {surface}; there is for "
            f"{', '.join(surfaces) or 'none'}"
        )
    along = by.per_kt_of_headwind if headwind_kt >= 0 else by.per_kt_of_tailwind
    sloping = by.per_percent_up if slope_percent >= 0 else by.per_percent_down
    thousands = max(0.0, within("a density altitude", above_ft, -60_000, 60_000, "ft")) / 1000
    working = [f"{shown(distance)} ft from the book"]
    for name, percent in (
        ("headwind" if headwind_kt >= 0 else "tailwind", along * abs(headwind_kt)),
        ("slope", sloping * abs(slope_percent)),
        ("density altitude", by.per_1000_ft * thousands),
        (surface, surfaces.get(surface, 0.0)),
    ):
        if percent == 0.0:
            continue
        if not percent > -100.0:
            raise CalculationError(f"a correction of {shown(percent)} % for {name} leaves nothing")
        distance *= 1 + percent / 100
        working.append(f"{name} {percent:+.3g} %: {distance:.0f} ft")
    return Corrected(distance, tuple(working))


def runway_margin(required_ft: float, runway_ft: float) -> float:
    """Feet of runway left over; negative by how much it is short. Raises CalculationError."""
    zero_or_more("a distance required", required_ft, "ft")
    return above_zero("a runway", runway_ft, "ft") - required_ft


def distance_fits(name: str, required_ft: float, runway_ft: float) -> float:
    """The margin in feet of a distance that fits.

    Raises CalculationError where it does not, by how much the runway is short.
    """
    margin = runway_margin(required_ft, runway_ft)
    if margin < 0:
        raise CalculationError(
            f"a runway of {shown(runway_ft)} ft is {shown(round(-margin))} ft too short for "
            f"the {name}, {required_ft:.0f} ft"
        )
    return margin


FORMULAS: Mapping[str, Formula] = MappingProxyType(
    {
        "runway_margin": Formula(
            (("distance required", "ft"), ("runway", "ft")),
            "ft",
            runway_margin,
            "runway less distance",
        )
    }
)
"""What formulas may call."""
