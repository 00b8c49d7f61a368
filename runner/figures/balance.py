"""Weight and balance: moments, centre of gravity, percent of the mean aerodynamic chord, shifts.

Source: FAA-H-8083-1, *Weight and Balance Handbook*, chapters 2 to 7. Weights are in lb, arms
in inches behind the datum. The sum of an aircraft's stations is a formula of its file; its
envelope is a pair of tables.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from types import MappingProxyType

from runner.figures.formula import Formula
from runner.figures.tables import CalculationError


def centre_of_gravity(stations: Iterable[tuple[float, float]]) -> tuple[float, float]:
    """Total weight and the arm of its centre, of weights in lb and arms in inches.

    A weight taken out is below 0; the total must be above 0. Raises CalculationError.
    """
    weight = moment = 0.0
    for pounds, arm in stations:
        weight += pounds
        moment += pounds * arm
    return weight, arm_of_moment(moment, weight)


def arm_of_moment(moment_lb_in: float, weight_lb: float) -> float:
    """Arm in inches of a total moment in lb in and a total weight."""
    if not 0 < weight_lb < math.inf or not math.isfinite(moment_lb_in):
        raise CalculationError(f"a total weight is above 0 lb, not {weight_lb:g} lb")
    return moment_lb_in / weight_lb


def chord_share(arm_in: float, leading_edge_in: float, chord_in: float) -> float:
    """Where an arm lies on the mean aerodynamic chord, as a share (0.25 is 25 % MAC)."""
    _chord(chord_in)
    return (arm_in - leading_edge_in) / chord_in


def arm_of_chord_share(share: float, leading_edge_in: float, chord_in: float) -> float:
    """Arm in inches of a share of the mean aerodynamic chord."""
    _chord(chord_in)
    return leading_edge_in + share * chord_in


def shift_of_centre(moved_lb: float, distance_in: float, total_lb: float) -> float:
    """How far the centre moves in inches when a weight is moved: weight x distance / total."""
    if not 0 <= moved_lb <= total_lb or total_lb <= 0:
        raise CalculationError(
            f"a weight moved is from 0 to the total, {total_lb:g} lb, not {moved_lb:g} lb"
        )
    return moved_lb * distance_in / total_lb


def weight_to_move(centre_shift_in: float, distance_in: float, total_lb: float) -> float:
    """Weight in lb that moves the centre so far when it is moved over a distance."""
    if distance_in == 0:
        raise CalculationError("a weight moved over no distance moves no centre")
    moved = centre_shift_in * total_lb / distance_in
    if not 0 <= moved <= total_lb:
        raise CalculationError(
            f"moving a weight by {distance_in:g} in cannot move the centre by "
            f"{centre_shift_in:g} in"
        )
    return moved


def ballast(total_lb: float, centre_in: float, wanted_in: float, ballast_arm_in: float) -> float:
    """Ballast in lb at an arm that brings the centre to where it is wanted."""
    if ballast_arm_in == wanted_in:
        raise CalculationError("ballast at the centre that is wanted moves nothing")
    pounds = total_lb * (centre_in - wanted_in) / (wanted_in - ballast_arm_in)
    if pounds < 0:
        raise CalculationError(
            f"ballast at {ballast_arm_in:g} in cannot move the centre from {centre_in:g} "
            f"to {wanted_in:g} in"
        )
    return pounds


def _chord(chord_in: float) -> None:
    if not 0 < chord_in < math.inf:
        raise CalculationError(f"a mean aerodynamic chord is above 0 in, not {chord_in:g} in")


_SOURCE = "FAA-H-8083-1, Weight and Balance Handbook"

FORMULAS: Mapping[str, Formula] = MappingProxyType(
    {
        "chord_share": Formula(
            (("arm", "in"), ("leading edge of the mean chord", "in"), ("mean chord", "in")),
            "",
            chord_share,
            _SOURCE,
        ),
        "shift_of_centre": Formula(
            (("weight moved", "lb"), ("distance", "in"), ("total weight", "lb")),
            "in",
            shift_of_centre,
            _SOURCE,
        ),
        "weight_to_move": Formula(
            (("shift of the centre", "in"), ("distance", "in"), ("total weight", "lb")),
            "lb",
            weight_to_move,
            _SOURCE,
        ),
    }
)
