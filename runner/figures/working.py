"""The working of a figure as lines of text: formula, numbers, tables, rounding, limits."""

from __future__ import annotations

from typing import TYPE_CHECKING

from runner.errors import RunnerError
from runner.figures import tables
from runner.figures.expression import Expression
from runner.figures.formulas import FORMULAS
from runner.figures.grammar import calls_in
from runner.figures.model import Constant, FigureRule, Input
from runner.figures.rounding import shown
from runner.figures.scope import near
from runner.figures.tables import CalculationError

if TYPE_CHECKING:
    from runner.figures.sheet import Worked


def working(worked: Worked, name: str) -> tuple[str, ...]:
    """How ``name`` came to its value. Raises RunnerError where there is no such name."""
    craft = worked.aircraft
    if name in craft.figures:
        return tuple(_figure(worked, craft.figures[name]))
    if name in craft.inputs:
        return tuple(_input(worked, craft.inputs[name]))
    if name in craft.constants:
        constant = craft.constants[name]
        return (f"{_title(constant)}: {_text(worked, name)}, a constant of the aircraft",)
    known = [*craft.figures, *craft.inputs, *craft.constants]
    raise RunnerError(f"{craft.name} has no figure {name}{near(name, known)}")


def _input(worked: Worked, one: Input) -> list[str]:
    name = one.name
    if name in worked.given:
        instead = f", instead of {one.formula.source}" if one.formula else ""
        return [f"{_title(one)}: {_text(worked, name)}, given{instead}"]
    if one.formula is None:
        if one.default is None:
            return [f"{_title(one)}: not given"]
        return [f"{_title(one)}: {_text(worked, name)}, the aircraft's default"]
    lines = [f"{_title(one)}: {_answer(worked, name)}, worked out because it is not given"]
    return lines + _formula(worked, one.formula, name)


def _figure(worked: Worked, rule: FigureRule) -> list[str]:
    name = rule.name
    figure = worked.figures.get(name)
    lines = [f"{_title(rule)}: {figure.shown_with_unit if figure else _answer(worked, name)}"]
    if rule.condition is not None:
        truth = _value(worked, rule.condition)
        lines.append(f"  if {rule.condition.source}")
        lines.append(f"   = {_filled(worked, rule.condition)}: {truth}")
        if name in worked.absent:
            return lines
    lines += _formula(worked, rule.formula, name, rule.unit)
    if figure is not None and isinstance(figure.value, float):
        step = f"{shown(rule.rounding.step)} {rule.unit}".strip()
        way = rule.rounding.direction
        lines.append(
            f"  rounded {'to nearest' if way == 'nearest' else way + ' to'} {step}: "
            f"{figure.shown_with_unit}"
        )
    for what, text in (("at least", rule.low), ("at most", rule.high)):
        if text is not None:
            filled = _filled(worked, text)
            same = "" if filled == text.source else f" = {filled}"
            value = _value(worked, text, rule.unit)
            ends = "" if value in (filled, text.source) else f" = {value}"
            lines.append(f"  limit: {what} {text.source}{same}{ends}")
    return lines


def _formula(worked: Worked, text: Expression, name: str, unit: str = "") -> list[str]:
    """The formula, the same with numbers, its tables, and what it comes to."""
    lines = [f"  {text.source}"]
    filled = _filled(worked, text)
    if filled != text.source:
        lines.append(f"  = {filled}")
    trace: list[tables.LookedUp] = []
    try:
        value = text.evaluate_into(worked.values, trace)
    except CalculationError:
        value = None
    seen: list[tables.LookedUp] = []
    for one in trace:
        if one in seen:
            continue
        seen.append(one)
        try:
            lines += [f"  {line}" for line in tables.working(*one)]
        except CalculationError:
            continue
    for called in dict.fromkeys(call.name for call in calls_in(text.tree())):
        if called in FORMULAS:
            lines.append(f"  {called}: {FORMULAS[called].source}")
    if value is not None:
        lines.append(f"  = {_with_unit(value, unit or text.unit)}")
    if name in worked.problems:
        lines.append(f"  {worked.problems[name]}")
    return lines


def _filled(worked: Worked, text: Expression) -> str:
    return text.filled(lambda name: _text(worked, name))


def _value(worked: Worked, text: Expression, unit: str = "") -> str:
    try:
        value = text.evaluate(worked.values)
    except CalculationError as error:
        return str(error)
    if isinstance(value, bool):
        return "true" if value else "false"
    return _with_unit(value, unit)


def _answer(worked: Worked, name: str) -> str:
    if name in worked.absent:
        return "does not apply now"
    if name in worked.problems:
        return "cannot be worked out"
    return _text(worked, name)


def _text(worked: Worked, name: str) -> str:
    """A name's unrounded value with its unit, or the name where it has none."""
    value = worked.values.get(name)
    if value is None:
        return name
    craft = worked.aircraft
    holder = craft.inputs.get(name) or craft.figures.get(name) or craft.constants[name]
    return _with_unit(value, holder.unit)


def _with_unit(value: float | str, unit: str) -> str:
    return value if isinstance(value, str) else f"{shown(value)} {unit}".strip()


def _title(one: Input | FigureRule | Constant) -> str:
    return one.title or one.name.replace("_", " ")
