"""Temperatures in formulas: points on a scale, and differences between them.

Temperatures in degC and degF are *points* on a scale or *differences*. A value of the
aircraft in degC is a point. A literal (``5 degC``) is whichever its place wants: added to
a point it is a difference, compared with one it is a point. A point minus a point is a
difference, and so is a product (``2 degC * (pressure_altitude / 1000 ft)``). Two points
are not added, and a point is not multiplied; ``kelvin(x)`` gives the absolute temperature
for that. A value in K serves as either.
"""

from __future__ import annotations

from runner.figures import program as p
from runner.figures.grammar import ExpressionError
from runner.figures.quantity import Checked, scaled
from runner.figures.scope import KELVIN, Sense, Type
from runner.figures.units import Unit

NO_PRODUCT = "a temperature on its scale cannot be multiplied or negated; use kelvin(...)"


def sum_of_temperatures(
    left: Type, right: Type, plus: bool, offset: int
) -> tuple[Sense, Unit, bool]:
    """Sense and unit of a sum, and whether both sides are converted as points."""
    senses = (left.sense, right.sense)
    if plus:
        if senses == ("point", "point"):
            raise ExpressionError(
                "two temperatures cannot be added, only a difference to a temperature", offset
            )
        if "point" in senses:
            return "point", left.unit if left.sense == "point" else right.unit, False
        return ("either" if "either" in senses else "difference"), left.unit, False
    if right.sense == "point":
        if left.sense == "difference":
            raise ExpressionError("a temperature cannot be taken from a difference", offset)
        return "difference", left.unit, True
    if right.sense == "difference" or left.sense == "difference":
        return left.sense, left.unit, False
    if left.unit != right.unit:
        raise ExpressionError(
            f"{right.unit} may be a temperature or a difference here; write it in {left.unit}",
            offset,
        )
    return "either", left.unit, False


def joined(parts: list[Checked], offset: int) -> tuple[list[p.Step], Type]:
    """Several numbers of one dimension in the unit of the first, and their type."""
    unit = parts[0].type.unit
    senses = {part.type.sense for part in parts}
    if senses >= {"point", "difference"}:
        raise ExpressionError(
            "a temperature and a difference of temperatures cannot be compared", offset
        )
    if senses == {"either"} and any(part.type.unit != unit for part in parts):
        raise ExpressionError(
            "temperatures in different units may be differences here; write them in one unit",
            offset,
        )
    point = "point" in senses
    sense: Sense = parts[0].type.sense
    if sense:
        sense = "point" if point else "difference" if "difference" in senses else "either"
    steps = [scaled(part.step, part.type.unit, unit, point) for part in parts]
    if point and unit == KELVIN:
        sense = "either"
    return steps, Type("number", unit, sense)
