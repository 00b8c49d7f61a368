"""Field performance: runs and distances by wind, slope and speed; V1; climb; stall and glide.

Runs are those of uniform acceleration: distance goes with the square of the speed over the
ground (FAA-H-8083-25, *Pilot's Handbook of Aeronautical Knowledge*, chapter 11). Speeds are
true airspeeds or speeds over the ground in knots, distances in feet.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType

from runner.figures.formula import Formula
from runner.figures.tables import CalculationError

KNOT = 1852 / 0.3048 / 3600
"""Feet a second in a knot."""

MILE = 1852 / 0.3048
"""Feet in a nautical mile."""

STANDARD_GRAVITY = 9.80665 / 0.3048
"""ft/s2."""

HEADWIND_CREDIT, TAILWIND_COUNT = 0.5, 1.5
"""Shares of the reported wind that performance may count (14 CFR 25.105(d)(1), 25.125(f))."""


def _above_zero(**values: float) -> None:
    for name, value in values.items():
        if not 0 < value < math.inf:
            raise CalculationError(f"{name.replace('_', ' ')} is above 0, not {value:g}")


def factored_wind(headwind_kt: float) -> float:
    """The wind to reckon with in kt: half of a headwind, one and a half of a tailwind."""
    if not abs(headwind_kt) <= 100:
        raise CalculationError(f"a wind along the runway is at most 100 kt, not {headwind_kt:g} kt")
    return headwind_kt * (HEADWIND_CREDIT if headwind_kt >= 0 else TAILWIND_COUNT)


def wind_factor(headwind_kt: float, speed_kt: float) -> float:
    """A run in a wind over the run in none: (1 - wind / speed) squared.

    ``speed_kt`` is the true airspeed of lift-off or touchdown; a tailwind is below 0.
    Raises CalculationError for a headwind of that speed or more.
    """
    _above_zero(speed=speed_kt)
    if not headwind_kt < speed_kt:
        raise CalculationError(
            f"a headwind of {headwind_kt:g} kt is not below the speed, {speed_kt:g} kt"
        )
    return (1 - headwind_kt / speed_kt) ** 2


def slope_factor(slope: float, acceleration_g: float) -> float:
    """A run on a slope over the run on the level; ``slope`` is a share, above 0 uphill.

    The slope takes its share of gravity from an acceleration given in g. Raises
    CalculationError where nothing is left of it.
    """
    _above_zero(acceleration=acceleration_g)
    if not abs(slope) <= 0.1:
        raise CalculationError(f"a runway's slope is at most 10 %, not {slope * 100:g} %")
    if acceleration_g - slope <= 0:
        raise CalculationError(f"a slope of {slope * 100:g} % leaves no acceleration")
    return acceleration_g / (acceleration_g - slope)


def ground_run(speed_kt: float, acceleration_g: float) -> float:
    """Feet to reach or lose a speed over the ground at a uniform acceleration in g."""
    _above_zero(acceleration=acceleration_g)
    if not 0 <= speed_kt < 400:
        raise CalculationError(f"a speed on the ground is from 0 to 400 kt, not {speed_kt:g} kt")
    return (speed_kt * KNOT) ** 2 / (2 * acceleration_g * STANDARD_GRAVITY)


def accelerate_stop_distance(
    decision_kt: float, acceleration_g: float, deceleration_g: float, reaction_s: float
) -> float:
    """Feet to reach the decision speed, react at that speed, and stop."""
    _reaction(reaction_s)
    run = ground_run(decision_kt, acceleration_g) + ground_run(decision_kt, deceleration_g)
    return run + decision_kt * KNOT * reaction_s


def accelerate_go_distance(
    decision_kt: float,
    lift_off_kt: float,
    acceleration_g: float,
    engine_out_g: float,
    air_ft: float,
) -> float:
    """Feet to reach the decision speed, go on to lift-off with an engine out, and climb.

    ``air_ft`` is the distance from lift-off to the end of the take-off.
    """
    if not 0 <= air_ft < math.inf:
        raise CalculationError(f"a distance in the air is 0 ft or more, not {air_ft:g} ft")
    if decision_kt > lift_off_kt:
        raise CalculationError(
            f"a decision speed is at most the lift-off speed, {lift_off_kt:g} kt, "
            f"not {decision_kt:g} kt"
        )
    going_on = ground_run(lift_off_kt, engine_out_g) - ground_run(decision_kt, engine_out_g)
    return ground_run(decision_kt, acceleration_g) + going_on + air_ft


def highest_decision_speed(
    runway_ft: float, acceleration_g: float, deceleration_g: float, reaction_s: float
) -> float:
    """The highest decision speed in kt over the ground from which the runway is enough to stop.

    The root of ``accelerate_stop_distance`` for a distance.
    """
    _above_zero(runway=runway_ft, acceleration=acceleration_g, deceleration=deceleration_g)
    _reaction(reaction_s)
    square = (1 / acceleration_g + 1 / deceleration_g) / (2 * STANDARD_GRAVITY)
    root = (-reaction_s + math.sqrt(reaction_s**2 + 4 * square * runway_ft)) / (2 * square)
    return root / KNOT


def lowest_decision_speed(
    runway_ft: float, lift_off_kt: float, acceleration_g: float, engine_out_g: float, air_ft: float
) -> float:
    """The lowest decision speed in kt over the ground from which the runway is enough to go on.

    The root of ``accelerate_go_distance`` for a distance; 0 where it is enough from the
    beginning. Raises CalculationError where it is too short with all engines, by how much.
    """
    _above_zero(runway=runway_ft, acceleration=acceleration_g, engine_out=engine_out_g)
    if engine_out_g >= acceleration_g:
        raise CalculationError(
            f"with an engine out the acceleration is below {acceleration_g:g} g, "
            f"not {engine_out_g:g} g"
        )
    whole = ground_run(lift_off_kt, acceleration_g) + air_ft
    if whole > runway_ft:
        raise CalculationError(f"the runway is {whole - runway_ft:.0f} ft too short to take off")
    from_rest = ground_run(lift_off_kt, engine_out_g) + air_ft
    if from_rest <= runway_ft:
        return 0.0
    saved = (1 / engine_out_g - 1 / acceleration_g) / (2 * STANDARD_GRAVITY)
    return math.sqrt((from_rest - runway_ft) / saved) / KNOT


def _reaction(reaction_s: float) -> None:
    if not 0 <= reaction_s <= 10:
        raise CalculationError(f"a reaction takes from 0 to 10 s, not {reaction_s:g} s")


def climb_gradient(rate_fpm: float, groundspeed_kt: float) -> float:
    """Climb gradient in ft/nm of a rate of climb in ft/min at a groundspeed."""
    _above_zero(groundspeed=groundspeed_kt)
    return rate_fpm * 60 / groundspeed_kt


def rate_of_climb(gradient_ft_nm: float, groundspeed_kt: float) -> float:
    """Rate of climb in ft/min that a gradient in ft/nm takes at a groundspeed."""
    _above_zero(groundspeed=groundspeed_kt)
    return gradient_ft_nm * groundspeed_kt / 60


def gradient_share(gradient_ft_nm: float) -> float:
    """A gradient in ft/nm as a share (0.05 is 5 %)."""
    return gradient_ft_nm / MILE


def power_climb_rate(power_hp: float, weight_lb: float) -> float:
    """Rate of climb in ft/min of thrust horsepower to spare: 33,000 ft lbf/min in a hp."""
    _above_zero(weight=weight_lb)
    return power_hp * 33_000 / weight_lb


def load_factor(bank_deg: float) -> float:
    """Load factor of a level turn: 1 over the cosine of the bank."""
    if not 0 <= bank_deg < 89:
        raise CalculationError(f"a bank is from 0 to below 89 deg, not {bank_deg:g} deg")
    return 1 / math.cos(math.radians(bank_deg))


def stall_speed_in_turn(stall_kt: float, bank_deg: float) -> float:
    """Stall speed in kt in a level turn: times the root of the load factor."""
    _above_zero(stall_speed=stall_kt)
    return stall_kt * math.sqrt(load_factor(bank_deg))


def speed_for_weight(speed_kt: float, weight_lb: float, reference_lb: float) -> float:
    """A speed of one angle of attack in kt at another weight: by the root of the weights."""
    _above_zero(speed=speed_kt, weight=weight_lb, reference_weight=reference_lb)
    return speed_kt * math.sqrt(weight_lb / reference_lb)


def hydroplaning_speed(tyre_psi: float) -> float:
    """Speed in kt from which a turning tyre may ride on water: 9 times the root of its psi
    (NASA TN D-2056, 1963)."""
    _above_zero(tyre_pressure=tyre_psi)
    return 9 * math.sqrt(tyre_psi)


def glide_distance(height_ft: float, ratio: float) -> float:
    """Distance in nm of a glide in still air."""
    _above_zero(glide_ratio=ratio)
    if not 0 <= height_ft < math.inf:
        raise CalculationError(f"a height is 0 ft or more, not {height_ft:g} ft")
    return height_ft * ratio / MILE


_RUN = "uniform acceleration, FAA-H-8083-25, chapter 11"

FORMULAS: Mapping[str, Formula] = MappingProxyType(
    {
        "factored_wind": Formula(
            (("headwind", "kt"),), "kt", factored_wind, "14 CFR 25.105(d)(1) and 25.125(f)"
        ),
        "wind_factor": Formula((("headwind", "kt"), ("speed", "kt")), "", wind_factor, _RUN),
        "slope_factor": Formula((("slope", ""), ("acceleration in g", "")), "", slope_factor, _RUN),
        "ground_run": Formula((("speed", "kt"), ("acceleration in g", "")), "ft", ground_run, _RUN),
        "accelerate_stop_distance": Formula(
            (
                ("decision speed", "kt"),
                ("acceleration in g", ""),
                ("deceleration in g", ""),
                ("reaction", "s"),
            ),
            "ft",
            accelerate_stop_distance,
            _RUN,
        ),
        "accelerate_go_distance": Formula(
            (
                ("decision speed", "kt"),
                ("lift-off speed", "kt"),
                ("acceleration in g", ""),
                ("acceleration in g with an engine out", ""),
                ("distance in the air", "ft"),
            ),
            "ft",
            accelerate_go_distance,
            _RUN,
        ),
        "highest_decision_speed": Formula(
            (
                ("runway", "ft"),
                ("acceleration in g", ""),
                ("deceleration in g", ""),
                ("reaction", "s"),
            ),
            "kt",
            highest_decision_speed,
            _RUN,
        ),
        "lowest_decision_speed": Formula(
            (
                ("runway", "ft"),
                ("lift-off speed", "kt"),
                ("acceleration in g", ""),
                ("acceleration in g with an engine out", ""),
                ("distance in the air", "ft"),
            ),
            "kt",
            lowest_decision_speed,
            _RUN,
        ),
        "climb_gradient": Formula(
            (("rate of climb", "ft/min"), ("groundspeed", "kt")),
            "ft/nm",
            climb_gradient,
            "rate over groundspeed",
        ),
        "rate_of_climb": Formula(
            (("gradient", "ft/nm"), ("groundspeed", "kt")),
            "ft/min",
            rate_of_climb,
            "gradient times groundspeed",
        ),
        "power_climb_rate": Formula(
            (("power to spare", "hp"), ("weight", "lb")),
            "ft/min",
            power_climb_rate,
            "33,000 ft lbf a minute in a horsepower",
        ),
        "stall_speed_in_turn": Formula(
            (("stall speed", "kt"), ("bank", "deg")),
            "kt",
            stall_speed_in_turn,
            "FAA-H-8083-25, chapter 5: root of the load factor",
        ),
        "speed_for_weight": Formula(
            (("speed", "kt"), ("weight", "lb"), ("reference weight", "lb")),
            "kt",
            speed_for_weight,
            "root of the weights",
        ),
        "hydroplaning_speed": Formula(
            (("tyre pressure", "psi"),), "kt", hydroplaning_speed, "NASA TN D-2056, 1963"
        ),
        "glide_distance": Formula(
            (("height", "ft"), ("glide ratio", "")), "nm", glide_distance, "height times ratio"
        ),
    }
)
