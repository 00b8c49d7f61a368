"""Manifold pressure of a supercharged engine: off the chart, in humid air, at its limits.

At one RPM and blower gear, below full throttle, power goes with manifold pressure over the
square root of the carburettor air's absolute temperature (*SFTE Reference Handbook*, 2013,
section 10.3: partial throttle standardisation with the usual exponent of 0.5, and power in
proportion to manifold pressure). What an engine may do, its limits and how long, is data of
the aircraft.

Functions take and give plain numbers in the units of their names. Each raises
CalculationError where its arguments are impossible.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from itertools import pairwise
from types import MappingProxyType

from runner.figures.air import KELVIN, altitude_of_pressure, standard_pressure
from runner.figures.formula import Formula
from runner.figures.ranges import a_number, above_zero, within, zero_or_more
from runner.figures.tables import CalculationError

Curve = Callable[[float], float]
"""Manifold pressure in inHg at full throttle by pressure altitude in feet; it falls."""

HEIGHT_STEP = 0.01
"""Feet to which a height on a curve is found."""


def _kelvin(name: str, temperature_c: float) -> float:
    return within(name, temperature_c, -80.0, 120.0, "degC") + KELVIN


def chart_pressure(
    chart_inhg: float, chart_temperature_c: float, carburettor_temperature_c: float
) -> float:
    """Manifold pressure in inHg for the same power off a chart's carburettor air temperature.

    ``chart_temperature_c`` heads the chart's column, ``carburettor_temperature_c`` is the
    air's. It goes with the square root of the absolute temperature; within one blower gear
    and below full throttle.
    """
    above_zero("manifold pressure", chart_inhg, "inHg")
    real = _kelvin("carburettor air temperature", carburettor_temperature_c)
    chart = _kelvin("the chart's carburettor air temperature", chart_temperature_c)
    return chart_inhg * math.sqrt(real / chart)


def power_off_chart(
    power_hp: float, chart_temperature_c: float, carburettor_temperature_c: float
) -> float:
    """Power in hp at one manifold pressure where the carburettor air is not the chart's."""
    zero_or_more("power", power_hp, "hp")
    real = _kelvin("carburettor air temperature", carburettor_temperature_c)
    chart = _kelvin("the chart's carburettor air temperature", chart_temperature_c)
    return power_hp * math.sqrt(chart / real)


def limited_pressure(wanted_inhg: float, limit_inhg: float, full_throttle_inhg: float) -> float:
    """Manifold pressure in inHg to set: the wanted one, within its limit and the throttle's."""
    above_zero("manifold pressure", wanted_inhg, "inHg")
    above_zero("the limit of manifold pressure", limit_inhg, "inHg")
    above_zero("manifold pressure at full throttle", full_throttle_inhg, "inHg")
    return min(wanted_inhg, limit_inhg, full_throttle_inhg)


def power_at_pressure(power_hp: float, wanted_inhg: float, set_inhg: float) -> float:
    """Power in hp that is left where less manifold pressure can be set than is wanted for it.

    In proportion to manifold pressure. Friction does not fall with it, so that near full
    power the loss is really larger, about this over the mechanical efficiency. Raises
    CalculationError for more pressure than the power wants: more than a rating is no rating.
    """
    zero_or_more("power", power_hp, "hp")
    above_zero("manifold pressure for the power", wanted_inhg, "inHg")
    within("manifold pressure that can be set", set_inhg, 0.0, wanted_inhg, "inHg")
    return power_hp * (set_inhg / wanted_inhg)


def full_throttle_pressure(rated_inhg: float, rated_ft: float, altitude_ft: float) -> float:
    """Manifold pressure in inHg at full throttle, from that at one pressure altitude in feet.

    At one RPM and gear the blower multiplies the pressure that it draws. Its ratio rises a
    little in the colder air above, so that more than this is there, not less.
    """
    above_zero("manifold pressure at full throttle", rated_inhg, "inHg")
    return rated_inhg * standard_pressure(altitude_ft) / standard_pressure(rated_ft)


def full_throttle_height(wanted_inhg: float, rated_inhg: float, rated_ft: float) -> float:
    """Pressure altitude in feet up to which a manifold pressure can be held, as above."""
    above_zero("manifold pressure", wanted_inhg, "inHg")
    above_zero("manifold pressure at full throttle", rated_inhg, "inHg")
    drawn = standard_pressure(rated_ft) * wanted_inhg / rated_inhg
    try:
        return altitude_of_pressure(drawn)
    except CalculationError:
        raise CalculationError(
            f"an engine with {rated_inhg:g} inHg at full throttle at {rated_ft:g} ft has "
            f"{wanted_inhg:g} inHg at no height"
        ) from None


def curve_of_rows(rows: Sequence[tuple[float, float]]) -> Curve:
    """Full-throttle pressures in a table's rows of feet and inHg, linear between rows.

    Raises CalculationError for fewer than two rows, heights that do not rise or pressures
    that do not fall; the curve itself does outside its rows.
    """
    for (below_ft, below), (above_ft, above) in pairwise(rows):
        if not (below_ft < above_ft and below > above):
            raise CalculationError(
                f"full-throttle pressure must fall with height from row to row, not from "
                f"{below:g} inHg at {below_ft:g} ft to {above:g} inHg at {above_ft:g} ft"
            )
    if len(rows) < 2:
        raise CalculationError(f"a full-throttle curve needs two rows or more, not {len(rows)}")

    def pressure(altitude_ft: float) -> float:
        within("pressure altitude", altitude_ft, rows[0][0], rows[-1][0], "ft")
        low, high = next(pair for pair in pairwise(rows) if altitude_ft <= pair[1][0])
        share = (altitude_ft - low[0]) / (high[0] - low[0])
        return low[1] + share * (high[1] - low[1])

    return pressure


def height_on_curve(wanted_inhg: float, curve: Curve, low_ft: float, high_ft: float) -> float:
    """Full-throttle height in feet of a manifold pressure on a curve that falls, by bisecting.

    Found to a hundredth of a foot, from below, so that the pressure is there. Raises
    CalculationError where the curve does not pass the pressure between the two heights.
    """
    above_zero("manifold pressure", wanted_inhg, "inHg")
    if not low_ft < high_ft:
        raise CalculationError(f"heights must rise, not go from {low_ft:g} to {high_ft:g} ft")
    at_low, at_high = curve(low_ft), curve(high_ft)
    if not at_high <= wanted_inhg <= at_low:
        raise CalculationError(
            f"full throttle gives {at_low:.4g} to {at_high:.4g} inHg from {low_ft:g} to "
            f"{high_ft:g} ft, never {wanted_inhg:.4g} inHg"
        )
    while high_ft - low_ft > HEIGHT_STEP:
        middle = (low_ft + high_ft) / 2
        if curve(middle) >= wanted_inhg:
            low_ft = middle
        else:
            high_ft = middle
    return low_ft


def unsupercharged_power(sea_level_hp: float, density_ratio: float) -> float:
    """Power in hp at full throttle without a blower, by the air's density ratio.

    1.1324 sigma - 0.1324 of that at sea level (*SFTE Reference Handbook*, 2013, section
    10.3): friction takes its part whatever the density.
    """
    zero_or_more("power at sea level", sea_level_hp, "hp")
    within("density ratio", density_ratio, 0.1324 / 1.1324, 1.5)
    return sea_level_hp * (1.1324 * density_ratio - 0.1324)


def dry_air_share(pressure_inhg: float, vapour_inhg: float) -> float:
    """The share of moist air's pressure that is dry air's, and so of its power.

    Water vapour takes the air's place and burns nothing: indicated power goes with the
    oxygen drawn (NACA Report 426, *The effect of humidity on engine power at altitude*).
    That a carburettor meters by all that passes, and so gets richer, is not reckoned.
    """
    above_zero("air pressure", pressure_inhg, "inHg")
    if not 0 <= vapour_inhg < pressure_inhg:
        raise CalculationError(
            f"vapour pressure must be 0 to below {pressure_inhg:g} inHg, the air's pressure, "
            f"not {vapour_inhg:g} inHg"
        )
    return 1 - vapour_inhg / pressure_inhg


def humid_power(power_hp: float, pressure_inhg: float, vapour_inhg: float) -> float:
    """Power in hp in moist air at the manifold pressure that gives ``power_hp`` in dry air.

    ``pressure_inhg`` and ``vapour_inhg`` are of the air outside; vapour keeps its share of
    the pressure through the blower.
    """
    zero_or_more("power", power_hp, "hp")
    return power_hp * dry_air_share(pressure_inhg, vapour_inhg)


def humid_pressure(dry_inhg: float, pressure_inhg: float, vapour_inhg: float) -> float:
    """Manifold pressure in inHg that gives in moist air the power of ``dry_inhg`` in dry air."""
    above_zero("manifold pressure", dry_inhg, "inHg")
    return dry_inhg / dry_air_share(pressure_inhg, vapour_inhg)


def static_band(expected_rpm: float, tolerance_rpm: float) -> tuple[float, float]:
    """Least and most RPM of a static power check that passes.

    With manifold pressure at the field's barometric pressure and the propeller on its low
    pitch stop, a sound engine turns the same RPM whatever the air's density, because what
    the engine gives and what the propeller takes both go with it (CAA New Zealand, *Vector*,
    "Performance checking of supercharged radial engines"). The field's barometric pressure is
    ``standard_pressure`` of its pressure altitude; RPM and tolerance are the aircraft's data.
    """
    above_zero("expected RPM", expected_rpm)
    within("tolerance of RPM", tolerance_rpm, 0.0, expected_rpm)
    return expected_rpm - tolerance_rpm, expected_rpm + tolerance_rpm


def least_static_rpm(expected_rpm: float, tolerance_rpm: float) -> float:
    """Least RPM of a static power check that passes; less means a weak engine."""
    return static_band(expected_rpm, tolerance_rpm)[0]


def least_takeoff_bmep(expected_psi: float, share: float) -> float:
    """Least BMEP in psi with which a take-off goes on: a share of what is expected."""
    zero_or_more("expected BMEP", expected_psi, "psi")
    return expected_psi * within("share of the expected BMEP", share, 0.5, 1.0)


def least_descent_pressure(rpm: float) -> float:
    """Least manifold pressure in inHg for an RPM with the engine driving: common practice,
    an inch for each hundred RPM, so that the propeller does not drive the engine."""
    return above_zero("RPM", rpm) / 100


def margin_below(limit: float, value: float) -> float:
    """How far a value is under its upper limit, both in one unit; negative beyond it.

    A margin is rounded down where it is shown, so that it never looks larger than it is.
    """
    return a_number("a limit", limit) - a_number("a value", value)


def margin_above(limit: float, value: float) -> float:
    """How far a value is over its lower limit, both in one unit; negative beyond it."""
    return a_number("a value", value) - a_number("a limit", limit)


_ROOT = "SFTE Reference Handbook, 2013, 10.3: square root of absolute carburettor temperature"
_BLOWER = "one blower ratio at one RPM: manifold pressure in proportion to the air's"
_OXYGEN = "NACA Report 426: indicated power goes with the oxygen drawn"
_POWER, _CHART = ("power", "hp"), ("chart carburettor temperature", "degC")
_WARM = ("carburettor temperature", "degC")
_PRESSURE, _FULL = ("manifold pressure", "inHg"), ("full-throttle manifold pressure", "inHg")
_AIR, _VAPOUR = ("air pressure", "inHg"), ("vapour pressure", "inHg")
_RATED = ("pressure altitude of it", "ft")

FORMULAS: Mapping[str, Formula] = MappingProxyType(
    {
        "chart_pressure": Formula(
            (("chart manifold pressure", "inHg"), _CHART, _WARM), "inHg", chart_pressure, _ROOT
        ),
        "power_off_chart": Formula((_POWER, _CHART, _WARM), "hp", power_off_chart, _ROOT),
        "limited_pressure": Formula(
            (_PRESSURE, ("limit", "inHg"), _FULL),
            "inHg",
            limited_pressure,
            "the least of the three",
        ),
        "power_at_pressure": Formula(
            (_POWER, ("manifold pressure for it", "inHg"), _PRESSURE),
            "hp",
            power_at_pressure,
            "SFTE Reference Handbook, 2013, 10.3: in proportion to manifold pressure",
        ),
        "full_throttle_pressure": Formula(
            (_FULL, _RATED, ("pressure altitude", "ft")), "inHg", full_throttle_pressure, _BLOWER
        ),
        "full_throttle_height": Formula(
            (_PRESSURE, _FULL, _RATED), "ft", full_throttle_height, _BLOWER
        ),
        "unsupercharged_power": Formula(
            (("power at sea level", "hp"), ("density ratio", "")),
            "hp",
            unsupercharged_power,
            "SFTE Reference Handbook, 2013, 10.3: 1.1324 sigma - 0.1324",
        ),
        "dry_air_share": Formula((_AIR, _VAPOUR), "", dry_air_share, _OXYGEN),
        "humid_power": Formula((_POWER, _AIR, _VAPOUR), "hp", humid_power, _OXYGEN),
        "humid_pressure": Formula((_PRESSURE, _AIR, _VAPOUR), "inHg", humid_pressure, _OXYGEN),
        "least_static_rpm": Formula(
            (("expected RPM", "rpm"), ("tolerance", "rpm")),
            "rpm",
            least_static_rpm,
            "expected RPM less its tolerance",
        ),
        "least_takeoff_bmep": Formula(
            (("expected BMEP", "psi"), ("share", "")),
            "psi",
            least_takeoff_bmep,
            "a share of the expected BMEP",
        ),
        "least_descent_pressure": Formula(
            (("RPM", "rpm"),),
            "inHg",
            least_descent_pressure,
            "common practice: an inch for each hundred RPM",
        ),
    }
)
