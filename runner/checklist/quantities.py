"""Units, quantities, ranges and formulas as scalars of a file, with their places in it."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from runner.checklist.nodes import Scalar
from runner.checklist.problems import Problems, shorten

if TYPE_CHECKING:
    from runner.figures.expression import Expression, Scope


def read_unit(scalar: Scalar | None, problems: Problems) -> str:
    """A unit in the spelling that is kept; empty where there is none or it is not known."""
    from runner.figures.units import UnitError, spelling

    if scalar is None:
        return ""
    try:
        return spelling(scalar.text.strip())
    except UnitError as error:
        problems.error(scalar.where, str(error))
        return ""


def read_quantity(
    scalar: Scalar, unit: str, problems: Problems, *, difference: bool = False
) -> float | None:
    """A number, in ``unit`` where it names none of its own; None with the reason noted.

    With ``difference`` degrees are steps on a scale, not points of it.
    """
    from runner.figures.units import UnitError, conversion, parse_quantity, parse_unit

    try:
        value, own = parse_quantity(scalar.text)
        if own is None or own == unit:
            return value
        factor, offset = conversion(parse_unit(own), parse_unit(unit), absolute=not difference)
        return value * factor + offset
    except UnitError as error:
        problems.error(scalar.where, str(error))
        return None


def read_constant(scalar: Scalar, problems: Problems) -> tuple[float, str] | None:
    """A number and its own unit."""
    from runner.figures.units import UnitError, parse_quantity

    try:
        value, unit = parse_quantity(scalar.text)
    except UnitError as error:
        problems.error(scalar.where, str(error))
        return None
    return value, unit or ""


def read_range(scalar: Scalar, unit: str, problems: Problems) -> tuple[float, float] | None:
    """`LOW to HIGH`, each in ``unit`` where it names none of its own."""
    parts = re.fullmatch(r"(.+?)\s+to\s+(.+)", scalar.text.strip())
    if parts is None:
        problems.error(
            scalar.where, f"a range is 'LOW to HIGH', as 0 to 100, not '{shorten(scalar.text)}'"
        )
        return None
    low = read_quantity(scalar.piece(*parts.span(1)), unit, problems)
    high = read_quantity(scalar.piece(*parts.span(2)), unit, problems)
    if low is None or high is None:
        return None
    if low >= high:
        problems.error(
            scalar.where, f"a range goes from the lower to the higher: '{shorten(scalar.text)}'"
        )
        return None
    return low, high


def read_formula(scalar: Scalar | None, problems: Problems) -> Expression | None:
    """A formula or a condition as it stands, or None with its first error noted."""
    from runner.figures.expression import ExpressionError, parse

    if scalar is None:
        return None
    try:
        return parse(scalar.text)
    except ExpressionError as error:
        problems.error(scalar.at(error.offset), str(error))
        return None


def compile_condition(
    formula: Expression, scalar: Scalar, scope: Scope, problems: Problems
) -> Expression | None:
    """A condition ready to be worked out, or None with its first error noted."""
    from runner.figures.expression import ExpressionError

    try:
        return formula.condition(scope)
    except ExpressionError as error:
        problems.error(scalar.at(error.offset), str(error))
        return None


def compile_number(
    formula: Expression,
    scalar: Scalar,
    unit: str | None,
    scope: Scope,
    problems: Problems,
    *,
    difference: bool = False,
) -> Expression | None:
    """A number ready to be worked out in ``unit`` (its own, where None), or None.

    With ``difference`` degrees are steps on a scale, and are written in ``unit``.
    """
    from runner.figures.expression import ExpressionError

    try:
        if not difference or unit not in ("degC", "degF"):
            return formula.compiled(scope, unit)
        made = formula.compiled(scope)
        if made.unit == unit:
            return made
        problems.error(scalar.where, f"this should be a difference in {unit}, as 5 {unit}")
    except ExpressionError as error:
        problems.error(scalar.at(error.offset), str(error))
    return None
