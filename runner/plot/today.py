"""Today's values for a picture: those of the sheet, and one past its limit, as it would be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from runner.figures.figure import Figure
from runner.figures.inputs import in_unit
from runner.figures.model import Aircraft, FigureRule
from runner.figures.rounding import round_safe, shown
from runner.figures.sheet import Worked
from runner.figures.tables import CalculationError
from runner.figures.units import convert
from runner.plot.shapes import Diagram, Today


def with_today(
    diagram: Diagram, worked: Worked, across: str, up: str, said: Sequence[str] = ()
) -> Diagram:
    """A diagram with the point of two values of today, or why there is none; beside it
    stand the values of ``said``, or the one that goes up."""
    try:
        now = {
            across: _now(worked, across, diagram.across.unit),
            up: _now(worked, up, diagram.up.unit),
        }
    except CalculationError as error:
        return replace(diagram, problems=(*diagram.problems, f"no point for today: {error}"))
    past = [name for name, one in now.items() if one.refused]
    label = ", ".join(now[name].figure.shown_with_unit for name in said or (up,))
    label = f"past its limit: {label}" if past else f"today {label}"
    problems = (f"{title_of(worked.aircraft, name)} {worked.problems[name]}" for name in past)
    return replace(
        diagram,
        today=(*diagram.today, Today((now[across].value, now[up].value), label, bool(past))),
        problems=(*diagram.problems, *problems),
    )


@dataclass(frozen=True, slots=True)
class _Now:
    """A value of today, unrounded in the unit asked for, and as it is said."""

    value: float
    figure: Figure
    refused: bool = False


def _now(worked: Worked, name: str, unit: str) -> _Now:
    """A number of today; one past its limit too, as a picture shows best how far."""
    rule = worked.aircraft.figures.get(name)
    if rule is not None and (past := _past(rule, worked)) is not None:
        said = round_safe(past, rule.rounding)
        figure = Figure(name, said, rule.unit, rule.decimals)
        return _Now(convert(past, rule.unit, unit), figure, refused=True)
    value = value_today(worked, name, unit)
    if isinstance(value, str):
        raise CalculationError(f"{title_of(worked.aircraft, name)} is {value}, not a number")
    return _Now(value, worked.figures[name])


def _past(rule: FigureRule, worked: Worked) -> float | None:
    """The value of a figure that has none because it is past one of its limits."""
    if rule.name not in worked.problems:
        return None
    values = worked.values
    try:
        if rule.condition is not None:
            rule.condition.evaluate(values)
        value = float(rule.formula.evaluate(values))
        said = round_safe(value, rule.rounding)
        low, high = (
            None if text is None else float(text.evaluate(values)) for text in (rule.low, rule.high)
        )
    except CalculationError:
        return None
    past = (low is not None and said < low) or (high is not None and said > high)
    return value if past else None


def value_today(worked: Worked, name: str, unit: str) -> float | str:
    """Today's value of an input, a figure or a constant in ``unit``, or a word.

    Raises CalculationError, with its title and why, where it has none.
    """
    title = title_of(worked.aircraft, name)
    if name in worked.absent:
        raise CalculationError(f"{title} does not apply now")
    if name not in worked.values:
        raise CalculationError(f"{title} {worked.problems.get(name, 'is not given')}")
    value = worked.values[name]
    return value if isinstance(value, str) else convert(value, unit_of(worked.aircraft, name), unit)


def told(value: float | str, unit: str) -> str:
    """A value as text, with its unit behind it."""
    return value if isinstance(value, str) else f"{shown(value)}{in_unit(unit)}"


def _holder(craft: Aircraft, name: str) -> tuple[str, str]:
    one = craft.inputs.get(name) or craft.figures.get(name) or craft.constants[name]
    return one.title or name.replace("_", " "), one.unit


def title_of(craft: Aircraft, name: str) -> str:
    """The title of an input, a figure or a constant, or its name."""
    return _holder(craft, name)[0]


def unit_of(craft: Aircraft, name: str) -> str:
    """The unit of an input, a figure or a constant."""
    return _holder(craft, name)[1]
