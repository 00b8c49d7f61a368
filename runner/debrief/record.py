"""What is kept of a run for looking back: plain data, worked out once from its events.

Times are whole milliseconds of the run. Records go to JSON and back without loss.
"""

from __future__ import annotations

import dataclasses
import json
import types
import typing
from dataclasses import dataclass
from functools import lru_cache
from statistics import median
from typing import Any, Literal

Points = tuple[tuple[int, float], ...]
"""Milliseconds of the run with a value each."""

Failing = Literal["wrong", "not clear", "silent", "contradicted", "disagreed"]


@dataclass(frozen=True, slots=True)
class Try:
    """An answer that was not taken, or a silence; ``heard`` is what was heard instead."""

    at: int
    how: Failing
    heard: str = ""
    expected: str = ""


@dataclass(frozen=True, slots=True)
class ItemRecord:
    """One item of one list. ``answer_ms`` is from the end of its challenge to the end of
    its answer, None where it was not answered in a way that can be timed."""

    item: str
    list: str
    challenge: str
    status: str
    critical: bool = False
    answered: str = ""
    by: str = ""
    at: int | None = None
    answer_ms: int | None = None
    tries: tuple[Try, ...] = ()


@dataclass(frozen=True, slots=True)
class ListRecord:
    """One list; ``spans`` are the times for which it was on top."""

    key: str
    title: str
    kind: str
    abnormal: bool
    status: str
    spans: tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class Happening:
    """Something that happened at a moment. A callout of a reading has what the reading
    ``showed`` and the ``level`` at which it was wanted."""

    at: int
    kind: Literal["callout", "moment", "limit", "feed", "interruption", "change", "stopped"]
    text: str
    reading: str = ""
    showed: float | None = None
    level: float | None = None
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Held:
    """A reading held against its target in one phase: the target's steps, and what was
    seen, for each engine (0 where the reading has none)."""

    phase: str
    title: str
    unit: str
    decimals: int
    target: Points
    seen: tuple[tuple[int, Points], ...]


@dataclass(frozen=True, slots=True)
class Record:
    """A run, looked back on. ``phases`` are names with the time at which each began."""

    started: str
    procedures: str
    aircraft: str
    length: int
    finished: bool
    complete: bool
    phases: tuple[tuple[str, int], ...]
    lists: tuple[ListRecord, ...]
    items: tuple[ItemRecord, ...]
    happenings: tuple[Happening, ...]
    left_open: tuple[str, ...]
    held: tuple[Held, ...] = ()

    def count(self, kind: str) -> int:
        """How often something of that kind happened."""
        return sum(one.kind == kind for one in self.happenings)

    def failed(self, *how: str) -> int:
        """How many tries failed in one of these ways."""
        return sum(one.how in how for item in self.items for one in item.tries)

    @property
    def done(self) -> int:
        """How many items were done."""
        return sum(item.status == "done" for item in self.items)

    @property
    def median_ms(self) -> int | None:
        """The median time to answer, None where nothing was timed."""
        times = [item.answer_ms for item in self.items if item.answer_ms is not None]
        return round(median(times)) if times else None


def to_json(record: Record) -> str:
    """A record as one line of JSON."""
    return json.dumps(
        dataclasses.asdict(record), sort_keys=True, ensure_ascii=False, separators=(",", ":")
    )


def from_json(text: str) -> Record:
    """The record of a line. Raises ValueError for text that is none."""
    try:
        record: Record = _made(Record, json.loads(text))
        return record
    except (KeyError, TypeError, AttributeError) as error:
        raise ValueError(f"this is not the record of a run: {error}") from error


def _made(hint: Any, value: Any) -> Any:
    if dataclasses.is_dataclass(hint):
        made: Any = hint
        hints = _hints(made)
        return made(**{name: _made(hints[name], part) for name, part in value.items()})
    if isinstance(hint, types.UnionType) or typing.get_origin(hint) is not tuple:
        return value
    parts = typing.get_args(hint)
    if parts[-1] is Ellipsis:
        return tuple(_made(parts[0], one) for one in value)
    return tuple(_made(of, one) for of, one in zip(parts, value, strict=True))


@lru_cache(maxsize=16)
def _hints(of: type) -> dict[str, Any]:
    return typing.get_type_hints(of)
