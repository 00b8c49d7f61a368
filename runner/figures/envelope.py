"""Loading: what stands on each station, and whether weight and balance lie in the envelope.

Weights are in lb, arms in inches behind the datum or in percent of the mean aerodynamic
chord, whichever the envelope is drawn in. Source: FAA-H-8083-1, *Weight and Balance
Handbook*, chapters on theory and on loading.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

from runner.figures.balance import centre_of_gravity
from runner.figures.ranges import a_number, above_zero, zero_or_more
from runner.figures.rounding import TOLERANCE, shown
from runner.figures.tables import CalculationError

Edge = tuple[tuple[float, float], tuple[float, float]]
"""A side of an envelope, from corner to corner; each is a place and a weight."""


@dataclass(frozen=True, slots=True)
class Station:
    """A place for load: its arm in inches behind the datum and, where it has one, its limit."""

    name: str
    arm_in: float
    limit_lb: float = math.inf


@dataclass(frozen=True, slots=True)
class Load:
    """A weight in lb on a station."""

    station: Station
    weight_lb: float


@dataclass(frozen=True, slots=True)
class Room:
    """How far a point in an envelope lies from its sides; none is negative.

    ``forward`` and ``aft`` are to the limits at its weight, in the envelope's unit;
    ``above_lb`` and ``below_lb`` to the edges over and under it at its centre of gravity.
    """

    forward: float
    aft: float
    above_lb: float
    below_lb: float


@dataclass(frozen=True, slots=True)
class Envelope:
    """The corners of a centre-of-gravity envelope, in order round it, as (place, weight in lb).

    ``unit`` is that of the places, ``in`` or ``% MAC``. At each weight there is one forward
    and one aft limit. Raises CalculationError where the corners draw anything else.
    """

    corners: tuple[tuple[float, float], ...]
    unit: str = "in"

    def __post_init__(self) -> None:
        if len(self.corners) < 3:
            raise CalculationError(
                f"an envelope has three corners or more, not {len(self.corners)}"
            )
        for place, weight in self.corners:
            a_number("a corner of the envelope", place, self.unit)
            zero_or_more("a weight of the envelope", weight, "lb")
        if not self._goes_round():
            raise CalculationError(
                "an envelope's corners go round it in order, with one forward and one aft limit "
                "at each weight"
            )

    @property
    def lightest_lb(self) -> float:
        """The least weight in it."""
        return min(weight for _, weight in self.corners)

    @property
    def heaviest_lb(self) -> float:
        """The greatest weight in it."""
        return max(weight for _, weight in self.corners)

    def limits(self, weight_lb: float) -> tuple[float, float]:
        """Forward and aft limit at a weight. Raises CalculationError outside its weights."""
        weight = a_number("a weight", weight_lb, "lb")
        if weight > self.heaviest_lb * (1 + TOLERANCE):
            raise CalculationError(
                f"a weight of {shown(weight)} lb is {shown(weight - self.heaviest_lb)} lb above "
                f"the envelope's heaviest, {shown(self.heaviest_lb)} lb"
            )
        if weight < self.lightest_lb * (1 - TOLERANCE):
            raise CalculationError(
                f"a weight of {shown(weight)} lb is {shown(self.lightest_lb - weight)} lb below "
                f"the envelope's lightest, {shown(self.lightest_lb)} lb"
            )
        weight = min(max(weight, self.lightest_lb), self.heaviest_lb)
        met = [place for edge in self._edges() for place in _met(edge, weight)]
        return min(met), max(met)

    def room(self, place: float, weight_lb: float) -> Room:
        """How far a loading lies from the envelope's sides.

        ``place`` is its centre of gravity in the envelope's unit. Raises CalculationError
        where it lies outside, saying on which side and by how much.
        """
        forward, aft = self.limits(weight_lb)
        slack = TOLERANCE * max(1.0, abs(forward), abs(aft))
        for name, limit, outside in (
            ("forward", forward, forward - a_number("a centre of gravity", place, self.unit)),
            ("aft", aft, place - aft),
        ):
            if outside > slack:
                way = "ahead of" if name == "forward" else "behind"
                raise CalculationError(
                    f"a centre of gravity at {shown(place)} {self.unit} is {shown(outside)} "
                    f"{self.unit} {way} the {name} limit, {shown(limit)} {self.unit} at "
                    f"{shown(weight_lb)} lb"
                )
        place = min(max(place, forward), aft)
        over = [weight for edge in self._edges() for weight in _met(_turned(edge), place)]
        return Room(
            place - forward,
            aft - place,
            min((weight for weight in over if weight >= weight_lb), default=weight_lb) - weight_lb,
            weight_lb - max((weight for weight in over if weight <= weight_lb), default=weight_lb),
        )

    def _edges(self) -> tuple[Edge, ...]:
        return tuple(zip(self.corners, self.corners[1:] + self.corners[:1], strict=True))

    def _goes_round(self) -> bool:
        """Whether it climbs once, comes down once, and never crosses itself."""
        slopes = [two[1] - one[1] for one, two in self._edges() if two[1] != one[1]]
        turns = sum((one > 0) != (two > 0) for one, two in pairwise([*slopes, *slopes[:1]]))
        if turns != 2:
            return False
        widths = []
        weights = sorted({weight for _, weight in self.corners})
        for low, high in pairwise(weights):
            climbing, falling = sorted(
                (edge for edge in self._edges() if _covers(edge, low, high)),
                key=lambda edge: edge[1][1] < edge[0][1],
            )
            for weight in (low, high):
                widths.append(_met(falling, weight)[0] - _met(climbing, weight)[0])
        return any(widths) and (min(widths) >= 0 or max(widths) <= 0)


def loaded(loads: Iterable[Load]) -> tuple[float, float]:
    """Total weight in lb and the arm in inches of its centre.

    The loads of one station count together. Raises CalculationError for a negative weight, a
    station over its limit, and nothing loaded at all.
    """
    on_station: dict[Station, float] = {}
    for load in loads:
        zero_or_more(f"the weight on {load.station.name}", load.weight_lb, "lb")
        on_station[load.station] = on_station.get(load.station, 0.0) + load.weight_lb
    for station, weight in on_station.items():
        if weight > station.limit_lb:
            raise CalculationError(
                f"{shown(weight)} lb on {station.name} is {shown(weight - station.limit_lb)} lb "
                f"over its limit, {shown(station.limit_lb)} lb"
            )
    return centre_of_gravity((weight, station.arm_in) for station, weight in on_station.items())


def arm_after_change(total_lb: float, arm_in: float, change_lb: float, at_in: float) -> float:
    """Arm in inches after a weight is added, or taken out where it is negative.

    FAA-H-8083-25, chapter 10, weight addition or removal. Raises CalculationError where
    nothing would be left.
    """
    above_zero("a total weight", total_lb, "lb")
    return centre_of_gravity([(total_lb, arm_in), (change_lb, at_in)])[1]


def _met(edge: Edge, weight: float) -> tuple[float, ...]:
    """Where a side meets a weight: one place, both ends where it lies along it, or none."""
    (one, low), (two, high) = edge
    if low == high:
        return (one, two) if low == weight else ()
    share = (weight - low) / (high - low)
    return (one + share * (two - one),) if 0.0 <= share <= 1.0 else ()


def _turned(edge: Edge) -> Edge:
    """A side with place and weight changed about, to be met by a place."""
    (one, low), (two, high) = edge
    return (low, one), (high, two)


def _covers(edge: Edge, low: float, high: float) -> bool:
    (_, one), (_, two) = edge
    return min(one, two) <= low and max(one, two) >= high
