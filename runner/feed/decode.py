"""Bytes to records: JSON objects and CSV rows, one a line.

What is malformed gives no record and is counted; nothing is raised. What a record's names
mean, and which of its values can be used, is not decided here.
"""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Container, Iterator, Mapping
from typing import Any, Literal

from runner.feed.lines import MAX_LINE

Record = Mapping[str, Any]
"""Source names and their values: numbers, truth values, texts, or None for none."""

Format = Literal["any", "json", "csv"]
Separator = Literal["", ",", ";", "\t"]

MAX_NAMES = 1024
MAX_DEPTH = 4
MAX_RECORDS = 256
"""Bounds on the names of a record, its nesting, and the records of one datagram."""

NUMBER = re.compile(
    r"[ \t]*[+-]?(?:\d{1,40}(?:\.\d{0,40})?|\.\d{1,40})(?:[eE][+-]?\d{1,3})?[ \t]*", re.A
)
_NESTED = frozenset((dict, list))


class Decoder:
    """Decodes one source. It remembers the header of a CSV source, so each connection has one.

    ``header`` are the column names where the source sends none; else a row without a number
    is the header, if one of its names is among ``known`` (any, where that is None), and a
    later one replaces it. ``separator`` is taken from the header where it is not given.
    """

    def __init__(
        self,
        form: Format = "any",
        header: tuple[str, ...] = (),
        separator: Separator = "",
        known: Container[str] | None = None,
    ) -> None:
        self.malformed = 0
        self._form = form
        self._given = header
        self._header = header
        self._separator: str = separator
        self._free = not separator
        self._known = known

    def decode(self, data: bytes) -> list[Record]:
        """The records of a datagram or of a line: nearly always one."""
        if len(data) > MAX_LINE:
            self.malformed += 1
            return []
        try:
            text = data.decode("utf-8")
        except UnicodeDecodeError:
            self.malformed += 1
            return []
        text = text.strip("\ufeff \t\r\n")
        if "\n" not in text:
            return self._line(text) if text else []
        records: list[Record] = []
        for line in text.split("\n"):
            if stripped := line.strip(" \t\r"):
                records += self._line(stripped)
        if len(records) > MAX_RECORDS:
            self.malformed += len(records) - MAX_RECORDS
            del records[MAX_RECORDS:]
        return records

    def _line(self, line: str) -> list[Record]:
        if self._form == "json" or (self._form == "any" and line[0] in "{["):
            return self._json(line)
        return self._csv(line)

    def _json(self, line: str) -> list[Record]:
        try:
            found = json.loads(line)
        except (ValueError, RecursionError):
            self.malformed += 1
            return []
        items = found if type(found) is list else [found]
        if not 0 < len(items) <= MAX_RECORDS or any(type(item) is not dict for item in items):
            self.malformed += 1
            return []
        records = [record for item in items if (record := _flat(item)) is not None]
        self.malformed += len(items) - len(records)
        return records

    def _csv(self, line: str) -> list[Record]:
        cells = self._cells(line)
        if cells and self._header and tuple(cells) == self._header:
            return []
        if cells and not self._given and not any(NUMBER.fullmatch(cell) for cell in cells):
            if self._is_header(cells):
                self._header = tuple(cells)
                self._separator = self._separator_of(line)
            else:
                self.malformed += 1
            return []
        if not cells or len(cells) != len(self._header):
            self.malformed += 1
            return []
        return [{name: cell for name, cell in zip(self._header, cells, strict=True) if cell}]

    def _is_header(self, cells: list[str]) -> bool:
        if len(cells) < 2 or len(set(cells)) != len(cells) or not all(cells):
            return False
        # A damaged row must not become the header by which all that follow are read.
        return self._known is None or any(cell in self._known for cell in cells)

    def _separator_of(self, line: str) -> str:
        if not self._free:
            return self._separator
        found = max(",;\t", key=line.count)
        return found if found in line else ","

    def _cells(self, line: str) -> list[str] | None:
        """The cells of a row, by the header's separator or, where a header may be, by its own."""
        separator = self._separator or self._separator_of(line)
        if self._free and separator not in line:
            separator = self._separator_of(line)
        if line.count(separator) >= MAX_NAMES:
            return None
        if '"' not in line:
            return [cell.strip() for cell in line.split(separator)]
        try:
            rows = list(csv.reader([line], delimiter=separator, strict=True))
        except csv.Error:
            return None
        return [cell.strip() for cell in rows[0]] if len(rows) == 1 else None


def _flat(found: dict[str, Any]) -> Record | None:
    """Nested names joined by dots, entries of a list by their number from 1; None if too many."""
    if len(found) > MAX_NAMES:
        return None
    if _NESTED.isdisjoint(map(type, found.values())):
        return found
    flat: dict[str, Any] = {}
    try:
        for name, value in _leaves("", found, MAX_DEPTH):
            flat[name] = value
            if len(flat) > MAX_NAMES:
                return None
    except _TooDeep:
        return None
    return flat


class _TooDeep(Exception):
    """Nested deeper than ``MAX_DEPTH``."""


def _leaves(name: str, value: Any, depth: int) -> Iterator[tuple[str, Any]]:
    if type(value) is dict:
        inside = ((key, inner) for key, inner in value.items())
    elif type(value) is list:
        inside = ((str(number), inner) for number, inner in enumerate(value, 1))
    else:
        yield name, value
        return
    if depth == 0:
        raise _TooDeep
    for key, inner in inside:
        yield from _leaves(f"{name}.{key}" if name else key, inner, depth - 1)
