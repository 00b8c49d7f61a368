"""Round numbers for the scales of a chart."""

from __future__ import annotations

import math
from collections.abc import Sequence

from runner.figures.rounding import decimals_of


def room(low: float, high: float) -> tuple[float, float]:
    """The ends of a scale that shows all from ``low`` to ``high``, somewhat apart where
    they are one."""
    if high - low > 1e-9 * max(abs(low), abs(high)):
        return low, high
    spare = max(abs(low) * 0.05, 0.5)
    return low - spare, high + spare


def ticks(low: float, high: float, most: int) -> list[float]:
    """The multiples of a step from ``low`` to ``high``, which are apart: the smallest step of
    1, 2 or 5 times a power of ten that makes no more than ``most``, at least 2, of them."""
    most = max(most, 2)
    step = 10.0 ** math.floor(math.log10((high - low) / most))
    factors = iter((2.0, 2.5, 2.0) * 2)
    while True:
        slack = 1e-9 * max(1.0, abs(low / step), abs(high / step))
        first, last = math.ceil(low / step - slack), math.floor(high / step + slack)
        if last - first < most:
            return [round(count * step, 12) for count in range(first, last + 1)]
        step *= next(factors)


def tick_labels(places: Sequence[float]) -> list[str]:
    """Numbers as short as they can be, all with the same places."""
    digits = max((decimals_of(place) if place else 0 for place in places), default=0)
    return [f"{place + 0.0:.{min(digits, 6)}f}" for place in places]
