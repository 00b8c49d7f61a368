"""Rounding to the safe side, without letting the noise of floating point cross it.

A value within 1e-9 of a step (relative to the value, or to one step near zero) counts as
on the step: 88.0000000001 rounded up to 1 is 88, because what stands behind it is a
calculation that came to 88.
"""

from __future__ import annotations

import math
from decimal import Decimal

from runner.figures.model import Direction, Rounding

TOLERANCE = 1e-9


def round_safe(value: float, rounding: Rounding) -> float:
    """``value`` at a multiple of the step, on the safe side of it."""
    return round_to_step(value, rounding.step, rounding.direction)


def round_to_step(value: float, step: float, direction: Direction) -> float:
    """``value`` at a multiple of ``step``: above it, below it or nearest (halves go up)."""
    count = value / step
    if not math.isfinite(count):
        return value
    whole = float(round(count))
    slack = min(TOLERANCE * max(1.0, abs(count)), 1e-3)
    if abs(count - whole) > slack:
        if direction == "up":
            whole = float(math.ceil(count))
        elif direction == "down":
            whole = float(math.floor(count))
        else:
            whole = float(math.floor(count + 0.5 + slack))
    return float(Decimal(repr(step)) * Decimal(int(whole)))


def decimals_of(step: float) -> int:
    """How many decimal places a multiple of ``step`` needs."""
    exponent = Decimal(repr(step)).normalize().as_tuple().exponent
    return max(0, -exponent) if isinstance(exponent, int) else 0


def shown(value: float) -> str:
    """A number as text, with six figures or all those before the point."""
    text = f"{value + 0.0:.6g}"
    return f"{value:.0f}" if "e" in text and 1 < abs(value) < 1e15 else text
