"""Whether a condition holds with today's figures: yes, no, or not known."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from runner.figures.figure import Figure

if TYPE_CHECKING:
    from runner.checklist.model import Checklist, Item
    from runner.figures.expression import Expression


def holds(
    condition: Expression,
    figures: Mapping[str, Figure],
    readings: Mapping[str, float] | None = None,
) -> bool | None:
    """Whether the condition holds; None where a value that it needs is not known."""
    from runner.figures.tables import CalculationError

    known: dict[str, float | str] = {}
    for name in condition.names:
        if readings is not None and name in readings:
            known[name] = readings[name]
        elif name in figures:
            known[name] = figures[name].value
        else:
            return None
    try:
        return bool(condition.evaluate(known))
    except CalculationError:
        return None


def applies(thing: Item | Checklist, figures: Mapping[str, Figure]) -> bool:
    """Whether an item or a list applies. What is not known applies: no line is skipped by
    ignorance."""
    condition = thing.condition
    return condition is None or holds(condition, figures) is not False
