"""Tables of an aircraft file: axes, columns, rows and blocks as flat arrays of numbers."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, cast

from runner.checklist.fields import NUMBER, Fields, good_name, number
from runner.checklist.model import Where
from runner.checklist.nodes import Mapping, Node, Scalar, Sequence
from runner.checklist.problems import Problems, did_you_mean, one_of, shorten
from runner.checklist.quantities import read_unit

if TYPE_CHECKING:
    from runner.figures.model import LookUp, Table

TABLE_KEYS = ("title", "source", "by", "across", "gives", "columns", "rows", "blocks")
LOOK_UPS = ("next row up", "linear", "exact")
HOLE = "-"
MAX_CELLS = 100_000

_AXIS = re.compile(r"\s*(\S+)(?:\s+in\s+([^,]*?))?\s*,\s*(.*?)\s*")
_COLUMN = re.compile(r"(\S+)(?:\s+in\s+(\S.*))?")


@dataclass(frozen=True, slots=True)
class _Head:
    """An axis as it is declared, before its rows are read."""

    name: str
    unit: str
    look_up: LookUp
    where: Where


def read_table(name: str, node: Node, problems: Problems) -> Table | None:
    """One table, or None with what is wrong noted."""
    if not isinstance(node, Mapping):
        problems.error(node.where, f"a table has keys of its own: {one_of(TABLE_KEYS)}")
        return None
    before = len(problems.found)
    fields = Fields(node, "a table", TABLE_KEYS, problems)
    title, source = fields.line("title"), fields.line("source")
    fields.require("source")
    fields.require("by")
    heads = tuple(_heads(fields, problems))
    columns = tuple(_columns(name, fields, problems))
    if len(problems.found) > before or not heads or not columns:
        return None
    if len(heads) == 1:
        fields.refuse("across", "is for a table of two or three axes; this one has one")
    else:
        fields.require("across")
        if len(columns) > 1:
            problems.error(
                fields.at("columns"), "a table of two or three axes gives one value: use 'gives'"
            )
    wanted, other = ("blocks", "rows") if len(heads) == 3 else ("rows", "blocks")
    fields.require(wanted)
    fields.refuse(other, f"is not for a table of {len(heads)} axes: use '{wanted}'")
    if len(problems.found) > before:
        return None
    return _filled(name, title, source, heads, columns, fields, problems)


def _heads(fields: Fields, problems: Problems) -> Iterator[_Head]:
    node = fields.get("by")
    lines: list[Scalar]
    if isinstance(node, Scalar):
        lines = [node]
    else:
        lines = list(fields.texts("by"))
        if len(lines) > 3:
            problems.error(lines[3].where, "a table has one to three axes")
            return
    seen: set[str] = set()
    for line in lines:
        parts = _AXIS.fullmatch(line.text)
        if parts is None:
            problems.error(
                line.where,
                "an axis is 'NAME in UNIT, HOW', as 'gross_weight in lb, next row up'; "
                f"HOW is {one_of(LOOK_UPS)}",
            )
            continue
        name = line.piece(*parts.span(1))
        how = line.piece(*parts.span(3))
        unit = read_unit(line.piece(*parts.span(2)), problems) if parts[2] else ""
        if not good_name(name, problems):
            continue
        if how.text not in LOOK_UPS:
            problems.error(
                how.where,
                f"'{shorten(how.text)}' is not a way of looking up; it is {one_of(LOOK_UPS)}"
                + did_you_mean(how.text, LOOK_UPS),
            )
            continue
        if name.text in seen:
            problems.error(name.where, f"'{name.text}' is the name of another axis of this table")
            continue
        seen.add(name.text)
        yield _Head(name.text, unit, cast("LookUp", how.text), line.where)


def _columns(table: str, fields: Fields, problems: Problems) -> Iterator[tuple[str, str]]:
    """Names and units of what the table gives; a single one bears the table's name."""
    if "columns" not in fields:
        fields.require("gives")
        unit = fields.scalar("gives")
        if unit is not None:
            plain = unit.text == "number"
            yield table, "" if plain else read_unit(unit, problems)
        return
    fields.refuse("gives", "and 'columns' do not go together: keep one of them")
    seen: set[str] = set()
    for column in fields.names("columns"):
        parts = _COLUMN.fullmatch(column.text)
        if parts is None or not good_name(name := column.piece(*parts.span(1)), problems):
            if parts is None:
                problems.error(column.where, "a column is 'NAME in UNIT', as rotate_speed in kt")
            continue
        if name.text in seen:
            problems.error(name.where, f"'{name.text}' is the name of another column")
        seen.add(name.text)
        unit = column.piece(*parts.span(2)) if parts[2] else None
        yield name.text, read_unit(unit, problems)


def _filled(
    name: str,
    title: str,
    source: str,
    heads: tuple[_Head, ...],
    columns: tuple[tuple[str, str], ...],
    fields: Fields,
    problems: Problems,
) -> Table | None:
    from runner.figures.model import Axis, Table

    before = len(problems.found)
    rows: list[tuple[float, ...] | tuple[str, ...]] = []
    values: list[float | None] = []
    width = len(columns)
    across: tuple[float, ...] | tuple[str, ...] = ()
    if len(heads) > 1:
        node = fields.get("across")
        assert node is not None
        cells = _cells(node, "across", problems)
        across = _axis_rows(heads[-1], cells, problems)
        width = len(cells)
    if len(heads) == 3:
        blocks = fields.mapping("blocks")
        entries = blocks.entries if blocks is not None else ()
        rows.append(_axis_rows(heads[0], tuple(key for key, _ in entries), problems))
        second: tuple[float, ...] | tuple[str, ...] | None = None
        for key, block in entries:
            if not isinstance(block, Mapping):
                problems.error(block.where, f"the block '{shorten(key.text)}' holds rows")
                continue
            here = _rows(heads[1], block, width, values, problems)
            if second is None:
                second = here
            elif here != second:
                problems.error(
                    key.where,
                    f"the block '{shorten(key.text)}' has other rows than the first block; "
                    "all blocks have the same rows",
                )
        rows.append(second or ())
    else:
        only = fields.mapping("rows")
        rows.append(_rows(heads[0], only, width, values, problems) if only is not None else ())
    if len(heads) > 1:
        rows.append(across)
    if len(problems.found) == before and not all(rows):
        problems.error(fields.where, "a table has at least one row")
    if len(values) > MAX_CELLS:
        problems.error(fields.where, f"a table has at most {MAX_CELLS:,} cells")
    if len(problems.found) > before:
        return None
    axes = tuple(
        Axis(head.name, head.unit, at, head.look_up) for head, at in zip(heads, rows, strict=True)
    )
    return Table(name, axes, columns, tuple(values), source, title)


def _rows(
    head: _Head, node: Mapping, width: int, values: list[float | None], problems: Problems
) -> tuple[float, ...] | tuple[str, ...]:
    """The axis values of the rows; their cells are added to ``values``."""
    for key, value in node.entries:
        cells = _cells(value, key.text, problems)
        if len(cells) != width and cells:
            problems.error(
                value.where,
                f"the row '{shorten(key.text)}' has {len(cells)} "
                f"value{'' if len(cells) == 1 else 's'}, not {width}",
            )
        for cell in cells:
            hole = cell.text == HOLE
            values.append(None if hole else number(cell, problems, "a value of a table"))
    return _axis_rows(head, tuple(key for key, _ in node.entries), problems)


def _cells(node: Node, row: str, problems: Problems) -> tuple[Scalar, ...]:
    """The values of one row: with spaces or commas between them, or a YAML list."""
    if isinstance(node, Scalar):
        cells = tuple(node.piece(*m.span()) for m in re.finditer(r"[^\s,]+", node.text))
    elif isinstance(node, Sequence) and all(isinstance(item, Scalar) for item in node.items):
        cells = cast("tuple[Scalar, ...]", node.items)
    else:
        problems.error(node.where, f"the row '{shorten(row)}' is a line of numbers")
        return ()
    if not cells:
        problems.error(node.where, f"the row '{shorten(row)}' has no values")
    return cells


def _axis_rows(
    head: _Head, keys: tuple[Scalar, ...], problems: Problems
) -> tuple[float, ...] | tuple[str, ...]:
    """The values along an axis: numbers that increase, or words for an exact choice."""
    words = tuple(key.text for key in keys)
    if not head.unit and head.look_up == "exact" and not all(map(NUMBER.fullmatch, words)):
        for key in keys:
            good_name(key, problems)
        return words
    numbers: list[float] = []
    for key in keys:
        value = number(key, problems, f"a row of '{head.name}'")
        if value is None:
            continue
        if numbers and value <= numbers[-1]:
            problems.error(
                key.where,
                f"'{shorten(key.text)}' does not come after {numbers[-1]:g}: "
                "rows go from the lowest up, none twice",
            )
            continue
        numbers.append(value)
    return tuple(numbers)
