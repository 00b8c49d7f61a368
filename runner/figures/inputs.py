"""The inputs of an aircraft: what they may be, and how they are shown."""

from __future__ import annotations

from runner.errors import RunnerError
from runner.figures.figure import Figure
from runner.figures.model import Aircraft, Input
from runner.figures.rounding import TOLERANCE
from runner.figures.scope import near


def check_given(aircraft: Aircraft, name: str, value: float | str) -> None:
    """Whether an input may have this value. Raises RunnerError in one line if not."""
    one = aircraft.inputs.get(name)
    if one is None:
        raise RunnerError(no_input(aircraft, name))
    if problem := unfit(one, value):
        raise RunnerError(f"{name} is {problem}")


def unfit(one: Input, value: float | str) -> str:
    """What an input must be where ``value`` is not that, else ''."""
    if one.choices:
        if value in one.choices:
            return ""
        return f"one of {', '.join(one.choices)}, not {_plainly(value)}"
    if isinstance(value, str):
        return f"a number{f' in {one.unit}' if one.unit else ''}, not '{value}'"
    slack = TOLERANCE * abs(value)
    if abs(value) < float("inf") and one.low - slack <= value <= one.high + slack:
        return ""
    return f"{_range(one)}, not {_plainly(value)}{in_unit(one.unit)}"


def input_figure(one: Input, value: float | str) -> Figure:
    """An input as it is shown and said."""
    if isinstance(value, str):
        return Figure(one.name, value, kind=one.kind, title=one.title)
    value = round(value, one.decimals) + 0.0
    return Figure(one.name, value, one.unit, one.decimals, one.kind, one.title)


def _range(one: Input) -> str:
    low, high = _plainly(one.low), _plainly(one.high)
    unit = in_unit(one.unit)
    if one.low == float("-inf"):
        return "a finite number" if one.high == float("inf") else f"at most {high}{unit}"
    if one.high == float("inf"):
        return f"at least {low}{unit}"
    return f"from {low} to {high}{unit}"


def _plainly(value: float | str) -> str:
    if isinstance(value, str):
        return value
    return f"{value:.0f}" if value == round(value, 0) and abs(value) < 1e15 else f"{value:.8g}"


def in_unit(unit: str) -> str:
    """A unit as it stands after a number, with a space before it."""
    return f" {unit}" if unit else ""


def no_input(aircraft: Aircraft, name: str) -> str:
    """Why ``name`` cannot be given."""
    if name in aircraft.figures:
        return f"{name} is a figure and is worked out; only inputs are given"
    if name in aircraft.constants:
        return f"{name} is a constant of {aircraft.name}; only inputs are given"
    hint = near(name, aircraft.inputs)
    return f"{aircraft.name} has no input {name}{hint}"
