"""What a picture shows, worked out before anything is drawn: lines, today's point, faults.

An image and a chart of text are drawn from the same diagrams. Lines pass through what
the tables give, row by row, as the tables themselves are looked up: bent at rows where an
axis is linear, in steps where it is *next row up*, points alone where it is exact. A place
where nothing can be looked up is a gap.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Literal

from runner.errors import RunnerError
from runner.figures.inputs import in_unit
from runner.figures.model import (
    Aircraft,
    Axis,
    Chart,
    Envelope,
    LookUp,
    Picture,
    Steps,
    Table,
)
from runner.figures.rounding import shown
from runner.figures.schedule import Row, WorkedSchedule, work_schedule
from runner.figures.sheet import Sheet, Worked
from runner.figures.tables import CalculationError, TableError, look_up_column
from runner.figures.units import convert
from runner.plot.shapes import Diagram, Line, Mark, Point, Scale
from runner.plot.today import title_of, told, unit_of, value_today, with_today

MOST_LINES = 7
"""A chart of more lines shows some of them, those about today's value among them."""


def diagrams_of(sheet: Sheet, worked: Worked, picture: Picture) -> tuple[Diagram, ...]:
    """A picture as diagrams: one, or for a schedule one for each unit of its figures."""
    if isinstance(picture, Chart):
        return (_chart(worked, picture),)
    if isinstance(picture, Envelope):
        return (_envelope(worked, picture),)
    return _steps(sheet, worked, picture)


def _chart(worked: Worked, one: Chart) -> Diagram:
    craft = worked.aircraft
    table = craft.tables[one.table]
    axes = {axis.name: axis for axis in table.axes}
    across = axes[one.across]
    column = [name for name, _ in table.columns].index(one.column)
    unit = table.columns[column][1]
    problems: list[str] = []
    held: dict[str, float | str] = {}
    for axis in table.axes:
        if axis.name in (one.across, one.lines):
            continue
        try:
            held[axis.name] = value_today(worked, axis.name, axis.unit)
        except CalculationError as error:
            problems.append(f"no lines: {error}")
    if problems:
        lines: tuple[Line, ...] = ()
    else:
        lines, problems = _chart_lines(worked, one, table, column, held)
    y_title = title_of(craft, one.figure) if one.figure else one.column.replace("_", " ")
    diagram = Diagram(
        one.name,
        one.title,
        Scale(title_of(craft, across.name), across.unit),
        Scale(y_title, unit),
        lines,
        lines_title=_lines_title(worked, axes[one.lines]) if one.lines else "",
        held=", ".join(
            f"{title_of(craft, name)} {told(value, axes[name].unit)}"
            for name, value in held.items()
        ),
        problems=tuple(problems),
    )
    if not one.figure:
        return diagram
    return with_today(diagram, worked, one.across, one.figure)


def _chart_lines(
    worked: Worked, one: Chart, table: Table, column: int, held: dict[str, float | str]
) -> tuple[tuple[Line, ...], list[str]]:
    axes = {axis.name: axis for axis in table.axes}
    across = axes[one.across]
    faults: list[str] = []

    def value(x: float, line: float | str | None) -> float | None:
        at = {**held, one.across: x}
        if line is not None:
            at[one.lines] = line
        try:
            return look_up_column(table, column, tuple(at[axis.name] for axis in table.axes))
        except TableError as error:
            faults.append(str(error))
            return None

    rows = [float(row) for row in across.rows]
    lines = []
    for line in _chosen(worked, axes[one.lines]) if one.lines else (None,):
        parts = _parts(rows, [value(x, line) for x in rows], across.look_up)
        if parts:
            label = "" if line is None else told(line, "")
            lines.append(Line(label, parts, across.look_up != "exact"))
    return tuple(lines), [] if lines else [f"no lines: {text}" for text in faults[:1]]


def _lines_title(worked: Worked, axis: Axis) -> str:
    title = Scale(title_of(worked.aircraft, axis.name), axis.unit).label
    try:
        return f"{title} (today {told(value_today(worked, axis.name, axis.unit), '')})"
    except CalculationError:
        return title


def _chosen(worked: Worked, axis: Axis) -> tuple[float | str, ...]:
    """The rows of an axis that have a line: all, or some and those about today's value."""
    rows: tuple[float | str, ...] = axis.rows
    if len(rows) <= MOST_LINES:
        return rows
    last = len(rows) - 1
    kept = {round(last * step / (MOST_LINES - 3)) for step in range(MOST_LINES - 2)}
    try:
        today = value_today(worked, axis.name, axis.unit)
    except CalculationError:
        today = rows[0]
    if isinstance(today, str):
        kept.add(rows.index(today) if today in rows else 0)
    else:
        above = next((n for n, row in enumerate(rows) if float(row) >= today), last)
        kept |= {above, max(above - 1, 0)}
    return tuple(rows[index] for index in sorted(kept))


def _parts(
    rows: Sequence[float], values: Sequence[float | None], way: LookUp
) -> tuple[tuple[Point, ...], ...]:
    """The path through the rows of an axis, broken where a row has no value."""
    parts: list[list[Point]] = []
    open_ = False
    before: float | None = None
    for row, value in zip(rows, values, strict=True):
        if value is None:
            open_ = False
        else:
            stepped = way == "next row up" and before is not None
            start = [(before, value)] if stepped and before is not None else []
            if not open_ or way == "exact":
                parts.append([])
                open_ = True
            parts[-1] += [*start, (row, value)]
        before = row
    return tuple(tuple(part) for part in parts)


def _envelope(worked: Worked, one: Envelope) -> Diagram:
    craft = worked.aircraft
    x_unit, y_unit = unit_of(craft, one.across), unit_of(craft, one.up)
    limits = [_limit(craft, text) for text in (one.low, one.high)]
    lines = []
    sides: tuple[tuple[str, Literal["right", "left"]], ...] = (
        ("low limit", "right"),
        ("high limit", "left"),
    )
    for (table, column), (label, beside) in zip(limits, sides, strict=True):
        axis = table.axes[0]
        gives = table.columns[column][1]
        rows = [float(row) for row in axis.rows]
        width = len(table.columns)
        found = [table.values[n * width + column] for n in range(len(rows))]
        parts = _parts(rows, found, axis.look_up)
        turned = tuple(
            tuple((convert(v, gives, x_unit), convert(row, axis.unit, y_unit)) for row, v in part)
            for part in parts
        )
        lines.append(Line(label, turned, axis.look_up != "exact", beside))
    lines += [Line("", ((low, high),)) for low, high in _ends(*lines)]
    diagram = Diagram(
        one.name,
        one.title,
        Scale(title_of(craft, one.across), x_unit),
        Scale(title_of(craft, one.up), y_unit),
        tuple(lines),
    )
    diagram = with_today(diagram, worked, one.across, one.up, (one.up, one.across))
    if not diagram.today or diagram.today[0].refused:
        return diagram
    outside = _outside(diagram, limits)
    return replace(diagram, problems=(*diagram.problems, *outside))


def _ends(low: Line, high: Line) -> Iterable[tuple[Point, Point]]:
    """What closes an envelope below and above, where its sides end beside one another."""
    if low.parts and high.parts:
        for one, other in (
            (low.parts[0][0], high.parts[0][0]),
            (low.parts[-1][-1], high.parts[-1][-1]),
        ):
            if one[1] == other[1]:
                yield one, other


def _limit(craft: Aircraft, text: str) -> tuple[Table, int]:
    name, _, column = text.partition(".")
    table = craft.tables[name]
    columns = [one for one, _ in table.columns]
    return table, columns.index(column) if column else 0


def _outside(diagram: Diagram, limits: Sequence[tuple[Table, int]]) -> Iterable[str]:
    """Whether today's point lies outside the envelope, by the tables themselves."""
    across, up = diagram.today[0].at
    for (table, column), sign, way in zip(limits, (-1, 1), ("below", "above"), strict=True):
        axis, unit = table.axes[0], table.columns[column][1]
        try:
            limit = look_up_column(table, column, (convert(up, diagram.up.unit, axis.unit),))
        except TableError as error:
            yield f"today's point is outside the envelope: {error}"
            return
        limit = convert(limit, unit, diagram.across.unit)
        if (across - limit) * sign > 1e-9 * max(abs(across), abs(limit)):
            yield (
                f"today's point is outside the envelope: {shown(across)} is {way} "
                f"{shown(limit)}{in_unit(diagram.across.unit)}"
            )


def _steps(sheet: Sheet, worked: Worked, one: Steps) -> tuple[Diagram, ...]:
    craft = worked.aircraft
    schedule = craft.schedules[one.schedule]
    across = Scale(title_of(craft, schedule.varies), unit_of(craft, schedule.varies))
    try:
        done = work_schedule(sheet, worked, schedule)
    except RunnerError as error:
        return (Diagram(one.name, one.title, across, Scale(""), problems=(str(error),)),)
    words = [name for name in schedule.figures if _is_word(done, name)]
    marks = tuple(mark for name in words for mark in _marks(done, name))
    jumps = {mark.at for mark in marks}
    units: dict[str, list[str]] = {}
    for name in one.figures:
        units.setdefault(unit_of(craft, name), []).append(name)
    diagrams = []
    for unit, names in units.items():
        up = Scale(title_of(craft, names[0]) if len(names) == 1 else "", unit)
        lines = tuple(
            Line(title_of(craft, name), _path(done.rows, name, jumps), marked=True)
            for name in names
        )
        problems = tuple(
            f"no {title_of(craft, name)} at {row.varying.shown_with_unit}: {row.problems[name]}"
            for name in names
            if (row := next((row for row in done.rows if name in row.problems), None))
        )
        diagram = Diagram(
            one.name,
            one.title,
            across,
            up,
            lines if len(names) > 1 else tuple(replace(line, label="") for line in lines),
            marks=marks,
            problems=problems,
        )
        begin, end = sorted((done.rows[0].at, done.rows[-1].at))
        now = worked.values.get(schedule.varies)
        if isinstance(now, float | int) and begin <= now <= end:
            for name in names:
                diagram = with_today(diagram, worked, schedule.varies, name)
        diagrams.append(diagram)
    return tuple(diagrams)


def _is_word(done: WorkedSchedule, name: str) -> bool:
    return any(
        name in row.figures and isinstance(row.figures[name].value, str) for row in done.rows
    )


def _marks(done: WorkedSchedule, name: str) -> Iterable[Mark]:
    for before, after in pairwise(row for row in done.rows if name in row.figures):
        if before.figures[name].value != after.figures[name].value:
            yield Mark(after.at, f"{done.titles[name]} {after.figures[name].shown}")


def _path(rows: Sequence[Row], name: str, jumps: set[float]) -> tuple[tuple[Point, ...], ...]:
    """A figure over the steps, with a break before each step in ``jumps``: what changes
    there does so at once, and a slope between would show values that never are."""
    parts: list[list[Point]] = []
    joined = False
    for row in rows:
        if name not in row.figures:
            joined = False
            continue
        if not joined or row.at in jumps:
            parts.append([])
        parts[-1].append((row.at, float(row.figures[name].value)))
        joined = True
    return tuple(tuple(part) for part in parts)
