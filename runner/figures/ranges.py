"""Refusing a number that a calculation cannot take, with the range that would do."""

from __future__ import annotations

import math

from runner.figures.rounding import shown
from runner.figures.tables import CalculationError


def within(name: str, value: float, low: float, high: float, unit: str = "") -> float:
    """``value`` where it lies from ``low`` to ``high``, both included.

    Raises CalculationError naming ``name``, the value and the range; ``high`` may be endless.
    """
    if math.isfinite(value) and low <= value <= high:
        return value
    given = shown(value) if math.isfinite(value) else str(value)
    top = f"{shown(low)} to {shown(high)}" if math.isfinite(high) else f"{shown(low)} or more"
    raise CalculationError(
        f"{name} must be {top} {unit}".rstrip() + f", not {given} {unit}".rstrip()
    )


def above_zero(name: str, value: float, unit: str = "") -> float:
    """``value`` where it is more than 0. Raises CalculationError."""
    if math.isfinite(value) and value > 0.0:
        return value
    given = shown(value) if math.isfinite(value) else str(value)
    raise CalculationError(
        f"{name} must be more than 0 {unit}".rstrip() + f", not {given} {unit}".rstrip()
    )


def zero_or_more(name: str, value: float, unit: str = "") -> float:
    """``value`` where it is not negative. Raises CalculationError."""
    return within(name, value, 0.0, math.inf, unit)


def a_number(name: str, value: float, unit: str = "") -> float:
    """``value`` where it is a number at all, of either sign. Raises CalculationError."""
    if math.isfinite(value):
        return value
    raise CalculationError(f"{name} must be a number {unit}".rstrip() + f", not {value}")
