"""Fuel and time: for a leg, a descent, a reserve and what is left to go.

Distances in nautical miles, speeds in knots over the ground, times in minutes, flows in lb an
hour, weights in lb. Source: FAA-H-8083-25, *Pilot's Handbook of Aeronautical Knowledge*,
chapter on navigation (time, distance, fuel consumption).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from runner.figures.formula import Formula
from runner.figures.ranges import above_zero, within, zero_or_more
from runner.figures.rounding import shown
from runner.figures.tables import CalculationError

MILE = 1852 / 0.3048
"""Feet in a nautical mile."""


@dataclass(frozen=True, slots=True)
class FuelPlan:
    """Fuel of a flight in lb, part by part; ``total_lb`` is what must be aboard."""

    taxi_lb: float
    climb_lb: float
    cruise_lb: float
    descent_lb: float
    reserve_lb: float

    @property
    def burnt_lb(self) -> float:
        """What is gone at landing, if the reserve is not touched."""
        return self.taxi_lb + self.climb_lb + self.cruise_lb + self.descent_lb

    @property
    def total_lb(self) -> float:
        """Everything."""
        return self.burnt_lb + self.reserve_lb


def fuel_plan(
    taxi_lb: float, climb_lb: float, cruise_lb: float, descent_lb: float, reserve_lb: float
) -> FuelPlan:
    """The parts as a plan. Raises CalculationError for a part below 0."""
    parts = {
        "taxi": taxi_lb,
        "climb": climb_lb,
        "cruise": cruise_lb,
        "descent": descent_lb,
        "reserve": reserve_lb,
    }
    for name, pounds in parts.items():
        zero_or_more(f"the fuel for {name}", pounds, "lb")
    return FuelPlan(taxi_lb, climb_lb, cruise_lb, descent_lb, reserve_lb)


def leg_time(distance_nm: float, groundspeed_kt: float) -> float:
    """Minutes to fly a distance. Raises CalculationError."""
    zero_or_more("a distance", distance_nm, "nm")
    return distance_nm / above_zero("a groundspeed", groundspeed_kt, "kt") * 60


def fuel_burnt(time_min: float, flow_pph: float) -> float:
    """Fuel in lb burnt in a time at a flow. Raises CalculationError."""
    zero_or_more("a time", time_min, "min")
    return time_min / 60 * zero_or_more("a fuel flow", flow_pph, "pph")


def leg_fuel(distance_nm: float, groundspeed_kt: float, flow_pph: float) -> float:
    """Fuel in lb for a distance. Raises CalculationError."""
    return fuel_burnt(leg_time(distance_nm, groundspeed_kt), flow_pph)


def endurance(fuel_lb: float, reserve_lb: float, flow_pph: float) -> float:
    """Minutes until only the reserve is left.

    Raises CalculationError where there is less than the reserve, by how much.
    """
    zero_or_more("the fuel aboard", fuel_lb, "lb")
    zero_or_more("the reserve", reserve_lb, "lb")
    if fuel_lb < reserve_lb:
        raise CalculationError(
            f"{shown(fuel_lb)} lb of fuel is {shown(reserve_lb - fuel_lb)} lb less than the "
            f"reserve, {shown(reserve_lb)} lb"
        )
    return (fuel_lb - reserve_lb) / above_zero("a fuel flow", flow_pph, "pph") * 60


def fuel_left(fuel_lb: float, burnt_lb: float) -> float:
    """Fuel in lb left when some is burnt. Raises CalculationError where it runs out."""
    zero_or_more("the fuel aboard", fuel_lb, "lb")
    if zero_or_more("the fuel burnt", burnt_lb, "lb") > fuel_lb:
        raise CalculationError(
            f"{shown(fuel_lb)} lb of fuel is {shown(burnt_lb - fuel_lb)} lb short of the "
            f"{shown(burnt_lb)} lb to be burnt"
        )
    return fuel_lb - burnt_lb


def landing_weight(takeoff_lb: float, burnt_lb: float) -> float:
    """Weight in lb at landing. Raises CalculationError where more is burnt than there is."""
    above_zero("a take-off weight", takeoff_lb, "lb")
    if not zero_or_more("the fuel burnt", burnt_lb, "lb") < takeoff_lb:
        raise CalculationError(
            f"the fuel burnt is below the take-off weight, {shown(takeoff_lb)} lb, "
            f"not {shown(burnt_lb)} lb"
        )
    return takeoff_lb - burnt_lb


def descent_time(from_ft: float, to_ft: float, rate_fpm: float) -> float:
    """Minutes to come down at a rate of descent, given above 0. Raises CalculationError."""
    if not (math.isfinite(from_ft) and math.isfinite(to_ft) and to_ft <= from_ft):
        raise CalculationError(
            f"a descent ends at or below where it begins, {shown(from_ft)} ft, "
            f"not at {shown(to_ft)} ft"
        )
    return (from_ft - to_ft) / above_zero("a rate of descent", rate_fpm, "ft/min")


def descent_distance(from_ft: float, to_ft: float, rate_fpm: float, groundspeed_kt: float) -> float:
    """Nautical miles before a point at which to leave a height: the top of descent."""
    speed = above_zero("a groundspeed", groundspeed_kt, "kt")
    return descent_time(from_ft, to_ft, rate_fpm) / 60 * speed


def rate_of_descent(angle_deg: float, groundspeed_kt: float) -> float:
    """Rate of descent in ft/min on a path of so many degrees. Raises CalculationError.

    The tangent, since the speed is that over the ground; the rate of descent table of the
    U.S. Terminal Procedures Publication is the same within its 5 ft/min up to 3 degrees.
    """
    slope = math.tan(math.radians(within("an angle of descent", angle_deg, 0, 45, "deg")))
    return slope * zero_or_more("a groundspeed", groundspeed_kt, "kt") * MILE / 60


def fuel_weight(volume_gal: float, density_lb_gal: float) -> float:
    """Weight in lb of so many US gallons of fuel of a density. Raises CalculationError."""
    density = within("a fuel's density", density_lb_gal, 5.0, 8.0, "lb/gal")
    return zero_or_more("a volume of fuel", volume_gal, "gal") * density


def fuel_volume(weight_lb: float, density_lb_gal: float) -> float:
    """US gallons of so many lb of fuel of a density. Raises CalculationError."""
    density = within("a fuel's density", density_lb_gal, 5.0, 8.0, "lb/gal")
    return zero_or_more("a weight of fuel", weight_lb, "lb") / density


_LEG = "FAA-H-8083-25, chapter 16: time, distance and fuel"
_DESCENT = "height over rate, times groundspeed"
_DENSITY = "volume times density"
_DOWN = (("from height", "ft"), ("to height", "ft"), ("rate of descent", "ft/min"))

FORMULAS: Mapping[str, Formula] = MappingProxyType(
    {
        "leg_time": Formula((("distance", "nm"), ("groundspeed", "kt")), "min", leg_time, _LEG),
        "fuel_burnt": Formula((("time", "min"), ("fuel flow", "pph")), "lb", fuel_burnt, _LEG),
        "leg_fuel": Formula(
            (("distance", "nm"), ("groundspeed", "kt"), ("fuel flow", "pph")), "lb", leg_fuel, _LEG
        ),
        "endurance": Formula(
            (("fuel", "lb"), ("reserve", "lb"), ("fuel flow", "pph")), "min", endurance, _LEG
        ),
        "fuel_left": Formula((("fuel", "lb"), ("fuel burnt", "lb")), "lb", fuel_left, _LEG),
        "landing_weight": Formula(
            (("take-off weight", "lb"), ("fuel burnt", "lb")), "lb", landing_weight, _LEG
        ),
        "descent_time": Formula(_DOWN, "min", descent_time, _DESCENT),
        "descent_distance": Formula(
            (*_DOWN, ("groundspeed", "kt")), "nm", descent_distance, _DESCENT
        ),
        "rate_of_descent": Formula(
            (("angle of descent", "deg"), ("groundspeed", "kt")),
            "ft/min",
            rate_of_descent,
            "U.S. Terminal Procedures Publication, rate of descent table",
        ),
        "fuel_weight": Formula(
            (("volume", "gal"), ("density", "lb/gal")), "lb", fuel_weight, _DENSITY
        ),
        "fuel_volume": Formula(
            (("weight", "lb"), ("density", "lb/gal")), "gal", fuel_volume, _DENSITY
        ),
    }
)
"""What formulas may call."""
