"""A whole sheet of the shipped four-engine aircraft, and one changed input: medians.

    python tests/bench/sheet.py

The sheet is made and its formulas are compiled beforehand, as they are when a flight starts.
Goals: 20 ms for the sheet from nothing, 2 ms after one changed input. Beside each stands how
long SciPy's RegularGridInterpolator takes for the same number of look-ups, in the same
tables at the same values, made beforehand and asked for one point at a time; linear on every
axis, since it has no *next row up*.
"""

from __future__ import annotations

import math
import statistics
import time
from collections.abc import Callable

import numpy as np
from scipy.interpolate import RegularGridInterpolator

from runner.checklist.load import load_aircraft
from runner.figures.aircraft import formulas_of
from runner.figures.model import Table
from runner.figures.sheet import Sheet, Worked
from runner.figures.tables import CalculationError, LookedUp

AIRCRAFT = "whimbrel-four-aircraft"
RUNS = 201
WHOLE_GOAL_MS = 20.0
CHANGE_GOAL_MS = 2.0

Point = tuple[RegularGridInterpolator, tuple[float, ...]]


def median_ms(work: Callable[[], object]) -> float:
    """The median time of one call, in milliseconds."""
    times = []
    for _ in range(RUNS):
        began = time.perf_counter()
        work()
        times.append(time.perf_counter() - began)
    return statistics.median(times) * 1000


def look_ups(sheet: Sheet, worked: Worked) -> list[LookedUp]:
    """Every look-up in a table made to come to ``worked`` from the sheet before it."""
    made: list[LookedUp] = []
    craft = sheet.aircraft
    for name in worked.renewed:
        rule = craft.figures.get(name) or craft.inputs[name]
        for _, formula in formulas_of(rule):
            try:
                if name not in worked.given and name not in worked.absent:
                    formula.evaluate_into(worked.values, made)
            except CalculationError:
                continue
    return made


def by_scipy(made: list[LookedUp]) -> list[Point]:
    """For each look-up SciPy's interpolator of that column, with the point to ask for."""
    ready: dict[tuple[str, int], RegularGridInterpolator] = {}
    points = []
    for table, column, at in made:
        key = (table.name, column)
        if key not in ready:
            ready[key] = interpolator(table, column)
        point = tuple(
            float(axis.rows.index(value)) if isinstance(value, str) else float(value)  # type: ignore[arg-type]
            for axis, value in zip(table.axes, at, strict=True)
        )
        points.append((ready[key], point))
    return points


def interpolator(table: Table, column: int) -> RegularGridInterpolator:
    """A column as SciPy has it: rows of words by their number, holes not a number."""
    rows = [
        range(len(axis.rows)) if isinstance(axis.rows[0], str) else axis.rows for axis in table.axes
    ]
    cells = [math.nan if value is None else value for value in table.values]
    shape = [*map(len, rows), len(table.columns)]
    values = np.array(cells, dtype=float).reshape(shape)[..., column]
    return RegularGridInterpolator([np.array(one, dtype=float) for one in rows], values)


def line(what: str, ours: float, goal: float, worked: Worked, made: list[LookedUp]) -> str:
    """One line: the median, its goal and its ratio to SciPy's look-ups."""
    points = by_scipy(made)
    theirs = median_ms(lambda: [ask([at]) for ask, at in points])
    ratio = f"{ours / theirs:.2f} times" if points else "nothing of"
    return (
        f"{what}: {ours:.3f} ms (goal {goal:g} ms), {len(worked.renewed)} worked out; "
        f"{ratio} the same {len(points)} look-ups in SciPy ({theirs:.3f} ms)"
    )


def main() -> None:
    """Print one line for the whole sheet and one for each input changed."""
    sheet = Sheet(load_aircraft(AIRCRAFT))
    craft = sheet.aircraft
    print(
        f"{craft.name}: {len(craft.inputs)} inputs, {len(craft.figures)} figures, "
        f"{len(craft.tables)} tables; medians of {RUNS}"
    )
    whole = sheet.work_out({})
    ours = median_ms(lambda: sheet.work_out({}))
    print(line("from nothing", ours, WHOLE_GOAL_MS, whole, look_ups(sheet, whole)))

    slowest = max(craft.inputs, key=lambda name: len(sheet.dependents(name)))
    for name in dict.fromkeys(("gross_weight", "outside_temperature", "qnh", slowest)):
        one = craft.inputs.get(name)
        if one is None or one.choices:
            continue
        middle = (one.low + one.high) / 2
        changed = sheet.change(whole, {name: middle})

        def change(name: str = name, middle: float = middle) -> Worked:
            return sheet.change(whole, {name: middle})

        made = look_ups(sheet, changed)
        print(line(f"{name} changed", median_ms(change), CHANGE_GOAL_MS, changed, made))


if __name__ == "__main__":
    main()
