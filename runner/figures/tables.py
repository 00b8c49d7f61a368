"""Looking up in a table of one to three axes, never outside it.

Each axis has its own way: *next row up* takes the first row not below the value, *linear*
weighs the two rows about it, *exact* wants a row. Axes combine as a product, so that two
linear axes are bilinear. A value within 1e-9 of a row (relative to the axis's largest) counts
as on it, and then only that row is used. A hole in the table is as far as the table goes.
"""

from __future__ import annotations

from bisect import bisect_left
from itertools import pairwise, product

from runner.errors import RunnerError
from runner.figures.model import Axis, Table
from runner.figures.rounding import TOLERANCE, shown


class CalculationError(RunnerError):
    """A value that cannot be worked out from these inputs; the message is one line."""


class TableError(CalculationError):
    """A value outside a table, at a hole in it, or at no row of an exact axis."""


LookedUp = tuple[Table, int, tuple[float | str, ...]]
"""A look-up that was made: the table, the column's position and the values looked up."""

Place = tuple[tuple[int, float], ...]
"""The rows used on one axis with their weights, which sum to 1."""


def look_up(table: Table, *at: float | str) -> tuple[float, ...]:
    """Every column of ``table`` at one value an axis, in the order of the axes.

    Numbers are in the axes' units, results in the columns'. Raises TableError.
    """
    return tuple(look_up_column(table, column, at) for column in range(len(table.columns)))


def look_up_column(table: Table, column: int, at: tuple[float | str, ...]) -> float:
    """One column of ``table``, by its position. Raises TableError."""
    if len(at) != len(table.axes):
        raise TableError(f"table {table.name} wants {len(table.axes)} values, not {len(at)}")
    places = tuple(_place(table, axis, value) for axis, value in zip(table.axes, at, strict=True))
    width = len(table.columns)
    total = 0.0
    for rows, weight in (_corner(chosen) for chosen in product(*places)):
        value = table.values[_cell(table, rows) * width + column]
        if value is None:
            raise TableError(_hole(table, column, rows))
        total += value * weight
    return total


def working(table: Table, column: int, at: tuple[float | str, ...]) -> tuple[str, ...]:
    """How a look-up came to its value, a line an axis and then the cells used.

    The look-up must be one that succeeds; raises TableError as it would.
    """
    value = look_up_column(table, column, at)
    places = [_place(table, axis, one) for axis, one in zip(table.axes, at, strict=True)]
    title = f", {table.title}" if table.title else ""
    lines = [f"table {table.name}{title}; source: {table.source or 'not given'}"]
    for axis, one, place in zip(table.axes, at, places, strict=True):
        lines.append(f"  {axis.name} {_text(one, axis.unit)}: {_rows_used(axis, place)}")
    name, unit = table.columns[column]
    width = len(table.columns)
    cells = []
    for rows, weight in (_corner(chosen) for chosen in product(*places)):
        cell = table.values[_cell(table, rows) * width + column]
        cells.append((f"{shown(float(cell or 0.0))}", weight))
    if len(cells) == 1:
        lines.append(f"  {name}: {_text(value, unit)}")
    else:
        sum_ = " + ".join(f"{cell} x {shown(weight)}" for cell, weight in cells)
        lines.append(f"  {name}: {sum_} = {_text(value, unit)}")
    return tuple(lines)


def table_faults(table: Table) -> tuple[str, ...]:
    """What is wrong with a table's own shape, one line each."""
    faults: list[str] = []
    if not 1 <= len(table.axes) <= 3:
        faults.append(f"a table has one to three axes, not {len(table.axes)}")
    for axis in table.axes:
        faults.extend(_axis_faults(axis))
    names = [name for name, _ in table.columns]
    if not names:
        faults.append("gives no column")
    faults.extend(f"two columns are named {n}" for n in sorted(set(names)) if names.count(n) > 1)
    cells = len(table.columns)
    for axis in table.axes:
        cells *= len(axis.rows)
    if cells != len(table.values):
        faults.append(
            f"should have {cells} values by its rows and columns, not {len(table.values)}"
        )
    if any(v is not None and not abs(v) < float("inf") for v in table.values):
        faults.append("has a value that is not a finite number")
    return tuple(faults)


def _axis_faults(axis: Axis) -> list[str]:
    rows = axis.rows
    if not rows:
        return [f"axis {axis.name} has no rows"]
    words = [row for row in rows if isinstance(row, str)]
    if words:
        faults = []
        if len(words) != len(rows):
            faults.append(f"axis {axis.name} mixes words and numbers")
        elif len(set(words)) != len(words):
            faults.append(f"axis {axis.name} has the same row twice")
        if axis.look_up != "exact":
            faults.append(f"axis {axis.name} has rows of words, which are looked up 'exact'")
        return faults
    numbers = [float(row) for row in rows]
    for before, after in pairwise(numbers):
        if not before < after:
            return [
                f"rows of axis {axis.name} must increase: "
                f"{shown(after)} comes after {shown(before)}"
            ]
    return []


def _place(table: Table, axis: Axis, value: float | str) -> Place:
    rows = axis.rows
    if isinstance(value, str) or isinstance(rows[0], str):
        if value in rows:
            return ((rows.index(value), 1.0),)
        raise TableError(
            f"table {table.name} has no row for {axis.name} {value}; its rows are {_listed(axis)}"
        )
    numbers: tuple[float, ...] = rows
    slack = TOLERANCE * max(abs(numbers[0]), abs(numbers[-1]))
    if not numbers[0] - slack <= value <= numbers[-1] + slack:
        raise TableError(
            f"table {table.name} covers {axis.name} from {shown(numbers[0])} to "
            f"{_text(numbers[-1], axis.unit)}, not {_text(value, axis.unit)}"
        )
    above = min(bisect_left(numbers, value - slack), len(numbers) - 1)
    if abs(numbers[above] - value) <= slack or axis.look_up == "next row up":
        return ((above, 1.0),)
    if axis.look_up == "exact":
        raise TableError(
            f"table {table.name} has no row for {axis.name} {_text(value, axis.unit)}; "
            f"its rows are {_listed(axis)}"
        )
    low, high = numbers[above - 1], numbers[above]
    share = (value - low) / (high - low)
    return ((above - 1, 1.0 - share), (above, share))


def _corner(chosen: tuple[tuple[int, float], ...]) -> tuple[tuple[int, ...], float]:
    weight = 1.0
    for _, share in chosen:
        weight *= share
    return tuple(index for index, _ in chosen), weight


def _cell(table: Table, rows: tuple[int, ...]) -> int:
    index = 0
    for axis, row in zip(table.axes, rows, strict=True):
        index = index * len(axis.rows) + row
    return index


def _hole(table: Table, column: int, rows: tuple[int, ...]) -> str:
    place = ", ".join(
        f"{axis.name} {_text(axis.rows[row], axis.unit)}"
        for axis, row in zip(table.axes, rows, strict=True)
    )
    name = table.columns[column][0]
    return f"table {table.name} has no {name} at {place}; a row outside this hole would do"


def _rows_used(axis: Axis, place: Place) -> str:
    if len(place) == 2:
        (low, _), (high, share) = place
        return (
            f"linear between rows {_text(axis.rows[low], '')} and "
            f"{_text(axis.rows[high], axis.unit)}, {shown(share)} of the way"
        )
    return f"{axis.look_up}, row {_text(axis.rows[place[0][0]], axis.unit)}"


def _listed(axis: Axis) -> str:
    texts = [_text(row, "") for row in axis.rows]
    if len(texts) > 8:
        texts = [*texts[:4], "...", *texts[-2:]]
    return ", ".join(texts) + (f" {axis.unit}" if axis.unit else "")


def _text(value: float | str, unit: str) -> str:
    text = value if isinstance(value, str) else shown(value)
    return f"{text} {unit}".strip()
