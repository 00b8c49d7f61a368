"""The numbers that the watch looks at: readings of all engines, and what formulas come to."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from runner.figures.figure import Figure
from runner.figures.tables import CalculationError

if TYPE_CHECKING:
    from runner.figures.expression import Expression
    from runner.figures.model import Aircraft


def with_engines(aircraft: Aircraft, readings: Mapping[str, float]) -> dict[str, float]:
    """The readings, and the lowest (``_all``) and highest (``_any``) of all engines."""
    values = dict(readings)
    for rule in aircraft.readings.values():
        if rule.each_engine:
            each = [values.get(f"{rule.name}_{n}") for n in range(1, aircraft.engines + 1)]
            known = [value for value in each if value is not None]
            if len(known) == aircraft.engines:
                values[f"{rule.name}_all"] = min(known)
            if known:
                values[f"{rule.name}_any"] = max(known)
    return values


def of_engine(
    aircraft: Aircraft, values: Mapping[str, float], engine: int, names: frozenset[str]
) -> Mapping[str, float]:
    """The values, with those of ``names`` that each engine has by their plain names too."""
    own = {
        name: values[f"{name}_{engine}"]
        for name in names
        if (rule := aircraft.readings.get(name)) is not None
        and rule.each_engine
        and f"{name}_{engine}" in values
    }
    return {**values, **own} if own else values


def number(
    formula: Expression, figures: Mapping[str, Figure], readings: Mapping[str, float]
) -> float | None:
    """The number that a formula comes to; None where a value is not known."""
    known: dict[str, float | str] = {}
    for name in formula.names:
        if name in readings:
            known[name] = readings[name]
        elif name in figures:
            known[name] = figures[name].value
        else:
            return None
    try:
        value = formula.evaluate(known)
    except CalculationError:
        return None
    return float(value) if isinstance(value, int | float) else None
