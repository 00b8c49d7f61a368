"""What a named calculation tells the formulas of an aircraft file about itself.

Each room of physics (air, airspeed, engine power, wind, balance) lists its calculations so;
``runner.figures.formulas`` gathers them. A calculation works on plain numbers in the units
named here, so that units are checked and folded in when a file is loaded.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Formula:
    """A calculation that formulas may call by name.

    ``arguments`` names each argument with its unit, '' for a plain number; ``gives`` is the
    unit of the result. ``rule`` takes the arguments in that order as floats and raises
    CalculationError where they are impossible. ``source`` says where the calculation stands.
    """

    arguments: tuple[tuple[str, str], ...]
    gives: str
    rule: Callable[..., float]
    source: str
