"""A load and a day drawn at random, for a figure to be known by."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import floor, isfinite, log10
from random import Random

from runner.engine.lines import Line, form_of, listed, number_line
from runner.engine.program import Program
from runner.errors import RunnerError
from runner.figures.aircraft import needs
from runner.figures.figure import Figure
from runner.figures.inputs import input_figure
from runner.figures.model import Aircraft, Input
from runner.figures.rounding import round_to_step
from runner.figures.sheet import Sheet, Worked

STEPS = 40
"""An input's range is drawn in about so many round steps: nobody loads to the pound."""

TRIES = 200
"""Draws in which the figure cannot be worked out (outside a table) are drawn again."""

SHARES = (0.05, 0.03, 0.02, 0.01)
"""By level of difficulty: how far from the figure an answer may be, as a share of it. Never
less than the figure's own rounding step, nor than the list's tolerance; a figure that is the
same every day is wanted as it stands."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """Inputs as drawn, the sheet worked out for them, and the figure asked for."""

    inputs: Mapping[str, float | str]
    worked: Worked
    figure: Figure


def inputs_of(aircraft: Aircraft, figure: str) -> tuple[str, ...]:
    """The inputs nearest to a figure: those it is worked out from, not those they are worked
    out from in their turn; in the file's order."""
    found: set[str] = set()
    open_names = [figure]
    seen: set[str] = set()
    while open_names:
        name = open_names.pop()
        if name in seen:
            continue
        seen.add(name)
        if name in aircraft.inputs:
            found.add(name)
        elif (rule := aircraft.figures.get(name)) is not None:
            open_names.extend(needs(rule))
    return tuple(name for name in aircraft.inputs if name in found)


def draw(sheet: Sheet, figure: str, given: Mapping[str, float | str], random: Random) -> Drawn:
    """A load and a day in which the figure can be worked out and spoken.

    Raises RunnerError where none was found: the aircraft's ranges hardly meet its tables.
    """
    aircraft = sheet.aircraft
    names = inputs_of(aircraft, figure)
    for _ in range(TRIES):
        drawn = {name: _one(aircraft.inputs[name], random) for name in names}
        _keep_air_possible(drawn)
        try:
            worked = sheet.work_out({**given, **drawn})
        except RunnerError:
            continue
        found = worked.figures.get(figure)
        if found is not None and not isinstance(found.value, str):
            return Drawn(drawn, worked, found)
    raise RunnerError(
        f"{aircraft.name}: {figure} cannot be worked out for any of {TRIES} loads and days drawn "
        "within the ranges of its inputs"
    )


def _keep_air_possible(drawn: dict[str, float | str]) -> None:
    """Air is never drier than its dew point: no day has one above its temperature."""
    dew, air = drawn.get("dew_point"), drawn.get("outside_temperature")
    if isinstance(dew, float) and isinstance(air, float):
        drawn["dew_point"] = min(dew, air)


def _one(one: Input, random: Random) -> float | str:
    if one.choices:
        return random.choice(one.choices)
    if not (isfinite(one.low) and isfinite(one.high)) or one.high <= one.low:
        return one.default if one.default is not None else 0.0
    step = _round_step((one.high - one.low) / STEPS, one.decimals)
    value = round_to_step(random.uniform(one.low, one.high), step, "nearest")
    return min(max(value, one.low), one.high)


def _round_step(about: float, decimals: int) -> float:
    power = 10.0 ** floor(log10(about))
    step = next(size * power for size in (1.0, 2.0, 5.0, 10.0) if size * power >= about)
    return float(max(round(step, 12), 10.0**-decimals))


def tolerance(aircraft: Aircraft, figure: Figure, level: int, own: float = 0.0) -> float:
    """How far from the figure an answer may be at this level, in its unit and as it is shown."""
    step = aircraft.figures[figure.name].rounding.step
    if not inputs_of(aircraft, figure.name):
        return float(max(own, step))
    share = abs(float(figure.value)) * SHARES[level]
    return float(max(own, step, round(share, figure.decimals)))


def day_line(program: Program, drawn: Drawn) -> Line:
    """The load and the day as they are said."""
    aircraft = program.procedures.aircraft
    lines = []
    for name, value in drawn.inputs.items():
        one = aircraft.inputs[name]
        shown = input_figure(one, value)
        number = number_line(program, shown.value, form_of(shown))
        title = one.title or name.replace("_", " ")
        lines.append(Line(f"{title} {number.text}", f"{title} {number.speech}"))
    if not lines:
        return Line("Any day", "Any day")
    day = listed(lines)
    return Line(day.text[0].upper() + day.text[1:], day.speech)
