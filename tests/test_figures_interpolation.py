"""Looking up in tables, held against SciPy, NumPy and worked examples in print.

SciPy's and NumPy's values are worked out when the test runs, by whatever release is
installed: any from the release that the id names gives them. Tolerance is the noise of
floating point there, and the source's own rounding for what is printed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise, product

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from runner.figures.model import Axis, LookUp, Table
from runner.figures.tables import TableError, look_up

NOISE = 1e-9
"""Of a table's largest value; a value so near to a row counts as on it."""

WAYS: tuple[LookUp, ...] = ("linear", "next row up", "exact")

HEIGHTS = (-2000.0, 0.0, 1500.0, 4000.0, 10000.0)
DEGREES = (-45.0, -20.0, 0.0, 12.5, 45.0)
WEIGHTS = (52000.0, 56000.0, 60500.0, 74000.0, 91500.0)

# Uneven rows and uneven values, so that no row or axis can stand in for another.
FLAT = (3.0, -1.5, 8.25, 2.0, 40.5)
SQUARE = tuple(float((7 * i * i + 3 * i * j + 11 * j) % 29) for i in range(5) for j in range(5))
CUBE = tuple(
    float((13 * i * j + 5 * j * k + 17 * k * i + 3 * i + 2 * k * k) % 41)
    for i in range(5)
    for j in range(5)
    for k in range(5)
)
ROWS = (HEIGHTS, DEGREES, WEIGHTS)
VALUES = {1: FLAT, 2: SQUARE, 3: CUBE}


def table(
    rows: Sequence[Sequence[float]], ways: Sequence[LookUp], values: Sequence[float]
) -> Table:
    """A table of one column with these rows on its axes, named x, y and z."""
    axes = tuple(
        Axis(name, "", tuple(one), way) for name, one, way in zip("xyz", rows, ways, strict=False)
    )
    return Table("t", axes, (("value", ""),), tuple(values), "invented")


def uneven(*ways: LookUp) -> Table:
    """The table of as many axes as there are ways of looking up."""
    return table(ROWS[: len(ways)], ways, VALUES[len(ways)])


def grid(one: Table) -> np.ndarray:
    """The table's values, an axis of the array for each of its own; holes are not a number."""
    shape = [len(axis.rows) for axis in one.axes]
    values = [math.nan if value is None else value for value in one.values]
    return np.array(values, dtype=float).reshape(shape)


def scipy_grid(one: Table, at: Sequence[float]) -> float:
    """The value by SciPy's interpolation on a grid, linear on every axis."""
    from scipy.interpolate import RegularGridInterpolator

    rows = tuple(axis.rows for axis in one.axes)
    return float(RegularGridInterpolator(rows, grid(one))([at])[0])


def scipy_axes(one: Table, at: Sequence[float]) -> float:
    """The value by SciPy's interpolation in one dimension, an axis after the other.

    *Next row up* is its kind "next"; *exact* its kind "nearest", asked for at a row.
    """
    from scipy.interpolate import interp1d

    kinds = {"linear": "linear", "next row up": "next", "exact": "nearest"}
    values = grid(one)
    for axis, value in zip(one.axes, at, strict=True):
        values = interp1d(axis.rows, values, kind=kinds[axis.look_up], axis=0)(value)
    return float(values)


GRID_POINTS = {
    1: [(-1999.0,), (-730.0,), (275.0,), (1500.0,), (3999.5,), (9100.0,)],
    2: [(-1200.0, -44.0), (10.0, -7.5), (1499.0, 3.0), (4000.0, 44.9), (7300.0, 12.5)],
    3: [
        (-1999.0, -44.0, 52001.0),
        (-40.0, -12.0, 55000.0),
        (740.0, 0.0, 58000.0),
        (2900.0, 6.25, 60500.0),
        (5200.0, 30.0, 73000.0),
        (9999.0, 44.0, 91000.0),
    ],
}


@pytest.mark.outside
@pytest.mark.parametrize(
    ("axes", "at"),
    [
        pytest.param(
            axes,
            at,
            id=f"SciPy >=1.17 RegularGridInterpolator linear, axes: {axes}, case {number}",
        )
        for axes, points in GRID_POINTS.items()
        for number, at in enumerate(points, 1)
    ],
)
def test_linear_axes_are_those_of_scipys_grid(axes: int, at: tuple[float, ...]) -> None:
    one = uneven(*["linear"] * axes)  # type: ignore[list-item]
    assert look_up(one, *at)[0] == pytest.approx(scipy_grid(one, at), abs=NOISE * 41)


MIXED: list[tuple[tuple[LookUp, ...], list[tuple[float, ...]]]] = [
    (("next row up",), [(-1999.0,), (-1.0,), (0.0,), (0.5,), (4001.0,)]),
    (("exact",), [(-2000.0,), (1500.0,), (10000.0,)]),
    (("next row up", "linear"), [(-1500.0, -30.0), (1600.0, 2.5), (9000.0, 40.0)]),
    (("linear", "next row up"), [(-500.0, -44.0), (3000.0, 12.5), (8000.0, 13.0)]),
    (
        ("exact", "linear", "next row up"),
        [(0.0, -10.0, 56001.0), (4000.0, 10.0, 74000.0), (10000.0, 20.0, 80000.0)],
    ),
    (
        ("linear", "exact", "next row up"),
        [(1000.0, 0.0, 52500.0), (2000.0, 45.0, 60501.0), (6000.0, -20.0, 91000.0)],
    ),
]


@pytest.mark.outside
@pytest.mark.parametrize(
    ("ways", "at"),
    [
        pytest.param(ways, at, id=f"SciPy >=1.17 interp1d, {' x '.join(ways)}, case {number}")
        for ways, points in MIXED
        for number, at in enumerate(points, 1)
    ],
)
def test_each_way_of_looking_up_is_a_kind_of_scipys(
    ways: tuple[LookUp, ...], at: tuple[float, ...]
) -> None:
    one = uneven(*ways)
    assert look_up(one, *at)[0] == pytest.approx(scipy_axes(one, at), abs=NOISE * 41)


PRINTED = [
    (
        "FAA-H-8083-25A (2008) p. 10-19: ground roll at 2,500 ft of 1,115 and 1,230 ft",
        ((2000.0, 3000.0), (1115.0, 1230.0), 2500.0),
        1173.0,
        # 1,172.5 ft, printed to the foot.
        0.5,
    ),
    (
        "flynorthaero.com, Performance and Limitations 1, question 3: FAA-CT-8080-2H fig. 38",
        ((0.0, 2500.0), (445.0, 470.0), 1250.0),
        457.0,
        # 457.5 ft, its half cut off in print.
        0.5,
    ),
    (
        "AOPA Training Tip, 29 March 2019: FAA-CT-8080-2H fig. 35, manifold pressure at 6,500 ft",
        ((6000.0, 8000.0), (21.0, 20.8), 6500.0),
        20.95,
        0.005,
    ),
    (
        "askacfi.com 3685, Interpolation: cruise table fig. 36, true airspeed at 9,500 ft",
        ((8000.0, 10000.0), (181.0, 184.0), 9500.0),
        183.25,
        0.005,
    ),
    (
        "jetcareers.com thread 8640, Interpolations: take-off distance at 6,000 ft",
        ((5000.0, 7500.0), (1500.0, 1800.0), 6000.0),
        1620.0,
        0.5,
    ),
    (
        "dofpro.org, Interpolation: saturated steam, specific volume at 9 degC",
        ((8.0, 10.0), (120.8, 106.3), 9.0),
        113.55,
        0.005,
    ),
    (
        "NumPy reference, numpy.interp, example 1: at 2.5",
        ((1.0, 2.0, 3.0), (3.0, 2.0, 0.0), 2.5),
        1.0,
        NOISE,
    ),
    (
        "NumPy reference, numpy.interp, example 2: at 1.5",
        ((1.0, 2.0, 3.0), (3.0, 2.0, 0.0), 1.5),
        2.5,
        NOISE,
    ),
    (
        "NumPy reference, numpy.interp, example 2: at 2.72",
        ((1.0, 2.0, 3.0), (3.0, 2.0, 0.0), 2.72),
        0.56,
        NOISE,
    ),
]


@pytest.mark.outside
@pytest.mark.parametrize(
    ("worked", "expected", "rounding"),
    [pytest.param(*row[1:], id=row[0]) for row in PRINTED],
)
def test_interpolation_worked_in_print(
    worked: tuple[tuple[float, ...], tuple[float, ...], float], expected: float, rounding: float
) -> None:
    rows, values, at = worked
    assert look_up(table([rows], ["linear"], values), at)[0] == pytest.approx(
        expected, abs=rounding
    )


@pytest.mark.outside
@pytest.mark.parametrize(
    ("at", "expected"),
    [
        pytest.param(
            (2.1, 6.2, 8.3),
            125.80469388,
            id="SciPy reference, RegularGridInterpolator, example 1: at (2.1, 6.2, 8.3)",
        ),
        pytest.param(
            (3.3, 5.2, 7.1),
            146.30069388,
            id="SciPy reference, RegularGridInterpolator, example 1: at (3.3, 5.2, 7.1)",
        ),
    ],
)
def test_interpolation_in_three_axes_worked_in_print(
    at: tuple[float, ...], expected: float
) -> None:
    rows = [list(np.linspace(*ends)) for ends in ((1, 4, 11), (4, 7, 22), (7, 9, 33))]
    values = [2 * x**3 + 3 * y**2 - z for x, y, z in product(*rows)]
    one = table(rows, ["linear"] * 3, values)
    assert look_up(one, *at)[0] == pytest.approx(expected, abs=5e-9)


CELLS = st.floats(-1000.0, 1000.0)


@st.composite
def tables(draw: st.DrawFn, ways: tuple[LookUp, ...] = WAYS) -> Table:
    """A table of one to three axes, each looked up in one of these ways."""
    lines = st.sets(st.integers(-50, 50), min_size=2, max_size=4)
    rows = [[float(row) for row in sorted(draw(lines))] for _ in range(draw(st.integers(1, 3)))]
    looks = [draw(st.sampled_from(ways)) for _ in rows]
    count = math.prod(len(one) for one in rows)
    values = draw(st.lists(CELLS, min_size=count, max_size=count))
    return table(rows, looks, values)


def places(one: Table) -> st.SearchStrategy[tuple[float, ...]]:
    """Values at which the table can be looked up."""
    return st.tuples(
        *[
            st.sampled_from(axis.rows)
            if axis.look_up == "exact"
            else st.floats(axis.rows[0], axis.rows[-1])  # type: ignore[arg-type]
            for axis in one.axes
        ]
    )


def clear_of_rows(one: Table, at: tuple[float, ...]) -> bool:
    """Whether no value is so near to a row that it counts as on it without being there."""
    return all(
        value == row or abs(value - row) > 1e-6
        for axis, value in zip(one.axes, at, strict=True)
        for row in axis.rows
    )


@given(data=st.data())
@settings(deadline=None)
def test_linear_tables_of_any_shape_are_those_of_scipys_grid(data: st.DataObject) -> None:
    one = data.draw(tables(("linear",)))
    at = data.draw(places(one))
    assert look_up(one, *at)[0] == pytest.approx(scipy_grid(one, at), abs=1e-4)
    if clear_of_rows(one, at):
        assert look_up(one, *at)[0] == pytest.approx(scipy_grid(one, at), abs=NOISE * 1000)


@given(data=st.data())
@settings(deadline=None)
def test_tables_looked_up_in_any_way_are_those_of_scipys_kinds(data: st.DataObject) -> None:
    one = data.draw(tables())
    at = data.draw(places(one))
    assume(clear_of_rows(one, at))
    assert look_up(one, *at)[0] == pytest.approx(scipy_axes(one, at), abs=NOISE * 1000)


def corners(one: Table, at: tuple[float, ...]) -> list[float]:
    """The cells at the rows on either side of the values."""
    values = grid(one)
    for axis, value in zip(reversed(one.axes), reversed(at), strict=True):
        rows = np.array(axis.rows, dtype=float)
        low = max(int(np.searchsorted(rows, value + 1e-6, side="right")) - 1, 0)
        high = min(int(np.searchsorted(rows, value - 1e-6)), len(rows) - 1)
        chosen = sorted({min(low, high), max(low, high)})
        if axis.look_up == "next row up" and abs(rows[chosen[0]] - value) > 1e-6:
            chosen = chosen[1:]
        values = np.take(values, chosen, axis=one.axes.index(axis))
    return [float(cell) for cell in values.ravel()]


@given(data=st.data())
def test_no_look_up_leaves_the_rows_that_it_lies_between(data: st.DataObject) -> None:
    one = data.draw(tables())
    at = data.draw(places(one))
    assume(clear_of_rows(one, at))
    cells = corners(one, at)
    assert len(cells) <= 8
    slack = NOISE * max(map(abs, cells))
    assert min(cells) - slack <= look_up(one, *at)[0] <= max(cells) + slack


@given(data=st.data())
def test_next_row_up_is_never_below_the_value_nor_a_row_beyond_it(data: st.DataObject) -> None:
    rows = sorted(data.draw(st.sets(st.floats(-1e5, 1e5), min_size=2, max_size=6)))
    assume(all(after - before > 1e-3 for before, after in pairwise(rows)))
    one = table([rows], ["next row up"], rows)
    value = data.draw(st.floats(rows[0], rows[-1]))
    slack = NOISE * max(abs(rows[0]), abs(rows[-1]))
    (found,) = look_up(one, value)
    assert found in rows
    assert found >= value - slack
    assert not any(value + slack < row < found for row in rows)


@given(data=st.data())
def test_next_row_up_in_a_rising_table_is_never_below_the_line(data: st.DataObject) -> None:
    rows = sorted(data.draw(st.sets(st.integers(-50, 50), min_size=2, max_size=6)))
    speeds = sorted(data.draw(st.lists(CELLS, min_size=len(rows), max_size=len(rows))))
    value = data.draw(st.floats(rows[0], rows[-1]))
    up, line = (table([rows], [way], speeds) for way in ("next row up", "linear"))
    # A value counts as on a row within 5e-8 here; the steepest line climbs 2,000 in one.
    assert look_up(up, value)[0] >= look_up(line, value)[0] - 2000 * 5e-8


@given(data=st.data())
def test_a_plane_is_given_back_as_it_is(data: st.DataObject) -> None:
    slopes = data.draw(st.tuples(*[st.integers(-9, 9)] * 4))

    def plane(*at: float) -> float:
        return slopes[0] + sum(slope * value for slope, value in zip(slopes[1:], at, strict=False))

    blank = data.draw(tables(("linear",)))
    rows = [axis.rows for axis in blank.axes]
    one = table(rows, ["linear"] * len(rows), [plane(*at) for at in product(*rows)])  # type: ignore[arg-type]
    at = data.draw(places(one))
    assert look_up(one, *at)[0] == pytest.approx(plane(*at), abs=3 * 9 * 5e-8)


@given(data=st.data())
def test_every_cell_is_given_back_at_its_rows(data: st.DataObject) -> None:
    one = data.draw(tables())
    found = [look_up(one, *at)[0] for at in product(*[axis.rows for axis in one.axes])]
    assert found == list(one.values)


@given(data=st.data())
def test_one_step_outside_any_axis_there_is_no_value(data: st.DataObject) -> None:
    one = data.draw(tables())
    at = list(data.draw(places(one)))
    axis = data.draw(st.integers(0, len(at) - 1))
    rows = one.axes[axis].rows
    beyond = data.draw(st.floats(1e-6, 1e300))
    at[axis] = data.draw(
        st.sampled_from([float(rows[0]) - beyond, float(rows[-1]) + beyond, math.nan])
    )
    with pytest.raises(TableError, match=f"table t covers {one.axes[axis].name} from "):
        look_up(one, *at)


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("value", [math.inf, -math.inf])
def test_at_an_endless_value_there_is_no_value(value: float, way: LookUp) -> None:
    with pytest.raises(TableError, match="table t covers x from -2000 to 10000"):
        look_up(uneven(way), value)
