"""What holds for the tables and figures of every shipped aircraft, whatever their numbers."""

from __future__ import annotations

import math
from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runner.checklist.load import load_aircraft
from runner.errors import RunnerError
from runner.figures.aircraft import needs
from runner.figures.model import Axis, Input, Table
from runner.figures.sheet import Sheet, Worked
from runner.figures.tables import TableError, look_up

SHIPPED = sorted(Path(__file__).parent.parent.glob("checklists/*-aircraft.yaml"))
SLACK = 1e-9

pytestmark = pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)


@cache
def sheet_of(path: Path) -> Sheet:
    """The sheet of a shipped aircraft, made once."""
    return Sheet(load_aircraft(path))


def by_scipy(table: Table, column: int, at: tuple[float | str, ...]) -> float:
    """The column by SciPy's interpolation, an axis after the other; not a number at a hole."""
    from scipy.interpolate import interp1d

    shape = [*(len(axis.rows) for axis in table.axes), len(table.columns)]
    cells = [math.nan if value is None else value for value in table.values]
    values = np.array(cells, dtype=float).reshape(shape)[..., column]
    for axis, value in zip(table.axes, at, strict=True):
        if axis.look_up == "exact":
            values = values[list(axis.rows).index(value)]  # type: ignore[arg-type]
        else:
            kind = "next" if axis.look_up == "next row up" else "linear"
            values = interp1d(axis.rows, values, kind=kind, axis=0)(value)
    return float(values)


@st.composite
def between_rows(draw: st.DrawFn, axis: Axis) -> float | str:
    """A row where one is wanted exactly, else a value well between two rows."""
    if axis.look_up == "exact" or len(axis.rows) == 1:
        return draw(st.sampled_from(axis.rows))
    low, high = draw(st.sampled_from(list(pairwise(axis.rows))))
    share = draw(st.floats(0.001, 0.999))
    return float(low) + share * (float(high) - float(low))


@given(data=st.data())
@settings(deadline=None)
def test_its_tables_are_looked_up_as_scipy_would(path: Path, data: st.DataObject) -> None:
    tables = sheet_of(path).aircraft.tables
    table = tables[data.draw(st.sampled_from(sorted(tables)))]
    at = tuple(data.draw(between_rows(axis)) for axis in table.axes)
    expected = [by_scipy(table, column, at) for column in range(len(table.columns))]
    if any(map(math.isnan, expected)):
        with pytest.raises(TableError, match="outside this hole would do"):
            look_up(table, *at)
    else:
        assert look_up(table, *at) == pytest.approx(expected, rel=1e-9)


def value_of(one: Input) -> st.SearchStrategy[float | str | None]:
    """A value that the input may have, near both ends of its range too; None for not given."""
    if one.choices:
        return st.none() | st.sampled_from(one.choices)
    ends = (max(one.low, -1e6), min(one.high, 1e6))
    return st.none() | st.sampled_from(ends) | st.floats(*ends)


def given_values(path: Path, data: st.DataObject) -> dict[str, float | str]:
    """Values for some of the aircraft's inputs."""
    inputs = sheet_of(path).aircraft.inputs
    chosen = {name: data.draw(value_of(one), label=name) for name, one in inputs.items()}
    return {name: value for name, value in chosen.items() if value is not None}


@given(data=st.data())
@settings(deadline=None, max_examples=60)
def test_its_figures_are_never_rounded_across_their_safe_side(
    path: Path, data: st.DataObject
) -> None:
    sheet = sheet_of(path)
    worked = sheet.work_out(given_values(path, data))
    numbers = 0
    for name, rule in sheet.aircraft.figures.items():
        figure = worked.figures.get(name)
        if figure is None or isinstance(figure.value, str):
            continue
        exact, said, step = float(worked.values[name]), figure.value, rule.rounding.step
        noise = SLACK * max(abs(exact), step) * 1.01
        way = rule.rounding.direction
        assert way != "up" or said >= exact - noise, name
        assert way != "down" or said <= exact + noise, name
        assert abs(said - exact) <= (step / 2 if way == "nearest" else step) + noise, name
        numbers += 1
    assert numbers or worked.problems


def same(one: Worked, other: Worked, name: str) -> bool:
    """Whether a value is the same on both sheets, or on neither."""
    return one.values.get(name) == other.values.get(name) and (name in one.absent) == (
        name in other.absent
    )


@given(data=st.data())
@settings(deadline=None, max_examples=60)
def test_one_input_changed_works_out_exactly_the_figures_that_depend_on_it(
    path: Path, data: st.DataObject
) -> None:
    sheet = sheet_of(path)
    craft = sheet.aircraft
    before = sheet.work_out(given_values(path, data))
    name = data.draw(st.sampled_from(list(craft.inputs)))
    value = data.draw(value_of(craft.inputs[name]))
    after = sheet.change(before, {name: value})
    assert after == sheet.work_out(dict(after.given))

    rules = {n: one for n, one in craft.inputs.items() if one.formula is not None}
    rules |= craft.figures
    changed = {one for one in craft.inputs | craft.figures if not same(before, after, one)}
    touched = {one for one, rule in rules.items() if needs(rule) & changed}
    assert set(after.renewed) == touched | ({name} & rules.keys())
    assert set(after.renewed) <= sheet.dependents(name) | {name}
    assert changed <= set(after.renewed) | {name}
    assert len(after.renewed) == len(set(after.renewed))


@given(data=st.data())
@settings(deadline=None, max_examples=60)
def test_a_value_beyond_an_inputs_range_is_one_line_that_names_the_range(
    path: Path, data: st.DataObject
) -> None:
    sheet = sheet_of(path)
    ranged = [one for one in sheet.aircraft.inputs.values() if math.isfinite(one.high - one.low)]
    one = data.draw(st.sampled_from(ranged))
    beyond = data.draw(st.floats(0.01, 1e9) | st.just(math.inf))
    value = data.draw(st.sampled_from([one.low - beyond, one.high + beyond, math.nan]))
    with pytest.raises(RunnerError, match=f"^{one.name} is from .* to .*, not ") as caught:
        sheet.work_out({one.name: value})
    assert "\n" not in str(caught.value)
