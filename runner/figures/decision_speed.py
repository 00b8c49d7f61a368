"""The decision speed V1: where stopping and going on both fit in the runway.

Stopping takes more runway the later it is decided, going on takes less; the speed where both
take as much is the balanced one. V1 is never below VMCG, on the ground the least speed at
which an engine may fail, and never above VR (14 CFR 25.107(a)(2)).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from runner.figures.ranges import above_zero
from runner.figures.rounding import shown
from runner.figures.tables import CalculationError

Distance = Callable[[float], float]
"""Feet of runway by decision speed in knots."""

_SAMPLES = 24
_HALVINGS = 60


@dataclass(frozen=True, slots=True)
class DecisionSpeed:
    """V1 in knots with what it takes, and the range within which any V1 fits the runway."""

    chosen_kt: float
    stop_ft: float
    go_ft: float
    lowest_kt: float
    highest_kt: float
    runway_ft: float

    @property
    def margin_ft(self) -> float:
        """Runway left over after the longer of stopping and going on."""
        return self.runway_ft - max(self.stop_ft, self.go_ft)


def distance_by_speed(rows: Sequence[tuple[float, float]]) -> Distance:
    """A distance in feet by speed in knots from rows of a table, linear between them.

    Raises CalculationError for rows that do not increase; so does the distance itself
    outside the rows.
    """
    if len(rows) < 2 or any(not one[0] < two[0] for one, two in pairwise(rows)):
        raise CalculationError("distances by speed have two rows or more, at increasing speeds")

    def at(speed_kt: float) -> float:
        for (low, one), (high, two) in pairwise(rows):
            if low <= speed_kt <= high:
                return one + (two - one) * (speed_kt - low) / (high - low)
        raise CalculationError(
            f"the distances reach from {shown(rows[0][0])} to {shown(rows[-1][0])} kt, "
            f"not {shown(speed_kt)} kt"
        )

    return at


def decision_speed(
    runway_ft: float, stop: Distance, go: Distance, vmcg_kt: float, vr_kt: float
) -> DecisionSpeed:
    """The V1 that leaves most runway, from VMCG to VR.

    ``stop`` must rise with V1 and ``go`` must not. Raises CalculationError where they do
    otherwise, where VMCG is above VR, and where no V1 fits, by how much the runway is short.
    """
    above_zero("a runway", runway_ft, "ft")
    above_zero("VMCG", vmcg_kt, "kt")
    if not vmcg_kt <= vr_kt:
        raise CalculationError(
            f"VMCG, {shown(vmcg_kt)} kt, is above VR, {shown(vr_kt)} kt: no V1 lies between them"
        )
    _check_courses(stop, go, vmcg_kt, vr_kt)
    chosen = _first(lambda speed: stop(speed) >= go(speed), vmcg_kt, vr_kt)
    takes = max(stop(chosen), go(chosen))
    if takes > runway_ft * (1 + 1e-9):
        raise CalculationError(
            f"a runway of {shown(runway_ft)} ft is {shown(round(takes - runway_ft))} ft too "
            f"short: at the best V1, {chosen:.0f} kt, stopping takes {stop(chosen):.0f} ft and "
            f"going on {go(chosen):.0f} ft"
        )
    lowest = min(chosen, _first(lambda speed: go(speed) <= runway_ft, vmcg_kt, chosen))
    highest = max(chosen, _first(lambda speed: stop(speed) >= runway_ft, chosen, vr_kt))
    return DecisionSpeed(chosen, stop(chosen), go(chosen), lowest, highest, runway_ft)


def _first(holds: Callable[[float], bool], low: float, high: float) -> float:
    """The least speed at which it holds, the highest where it never does."""
    if holds(low) or not holds(high):
        return low if holds(low) else high
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        low, high = (low, middle) if holds(middle) else (middle, high)
    return high


def _check_courses(stop: Distance, go: Distance, low: float, high: float) -> None:
    speeds = [low + (high - low) * step / _SAMPLES for step in range(_SAMPLES + 1)]
    for one, two in pairwise(speeds):
        if stop(one) > stop(two):
            raise CalculationError(
                f"stopping must take more runway from a higher V1, yet takes {stop(one):.0f} ft "
                f"from {one:.0f} kt and {stop(two):.0f} ft from {two:.0f} kt"
            )
        if go(one) < go(two):
            raise CalculationError(
                f"going on must take less runway from a higher V1, yet takes {go(one):.0f} ft "
                f"from {one:.0f} kt and {go(two):.0f} ft from {two:.0f} kt"
            )
