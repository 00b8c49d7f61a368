"""A source's names and units turned into the aircraft's readings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from runner.feed.decode import NUMBER, Decoder, Format, Record, Separator

if TYPE_CHECKING:
    from runner.figures.model import Aircraft

MAX_VALUE = 1e9
"""A reading beyond it is nonsense, whatever it measures."""


@dataclass(frozen=True, slots=True)
class Entry:
    """What one source name gives: reading ``name``, its value times ``factor`` plus ``offset``.

    A value outside ``low`` to ``high`` (in the aircraft's unit) is not used. ``words`` gives
    texts and truth values a number; ``switch`` lets true and false be 1 and 0.
    """

    name: str
    factor: float = 1.0
    offset: float = 0.0
    low: float = -MAX_VALUE
    high: float = MAX_VALUE
    words: Mapping[str, float] = field(default_factory=dict)
    switch: bool = False

    def number(self, value: Any) -> float | None:
        """The number of a value that is none itself; None where it has none."""
        if type(value) is str:
            known = self.words.get(value.strip().lower())
            if known is not None:
                return known
            return float(value) if NUMBER.fullmatch(value) else None
        if type(value) is bool:
            word = self.words.get("true" if value else "false")
            return word if word is not None else float(value) if self.switch else None
        return None


@dataclass(frozen=True, slots=True)
class Stamps:
    """What a record says of itself: its number, the source's clock in seconds, and a pause."""

    sequence: float | None = None
    time: float | None = None
    paused: bool | None = None


@dataclass(frozen=True, slots=True)
class FeedMap:
    """A feed map: ``entries`` by source name, and the source names of a record's stamps.

    Names in ``ignored`` are known to be no readings.
    """

    name: str
    entries: Mapping[str, Entry]
    time: str = "time"
    time_factor: float = 1.0
    sequence: str = "seq"
    paused: str = "paused"
    format: Format = "any"
    header: tuple[str, ...] = ()
    separator: Separator = ""
    file: str = ""
    ignored: frozenset[str] = frozenset()

    def decoder(self) -> Decoder:
        """A new decoder for one connection to this source."""
        return Decoder(self.format, self.header, self.separator, self.entries or None)

    def convert(self, record: Record) -> dict[str, float]:
        """The readings of a record, in the aircraft's names and units. Raises nothing."""
        return self.convert_counted(record)[0]

    def convert_counted(self, record: Record) -> tuple[dict[str, float], int, int]:
        """The readings, how many names are not in the map, and how many values are no use.

        None (no value) is neither.
        """
        values: dict[str, float] = {}
        unnamed = unusable = 0
        entries = self.entries
        for name, value in record.items():
            entry = entries.get(name)
            if entry is None:
                unnamed += 1
                continue
            kind = type(value)
            if kind is not float and kind is not int:
                if value is None:
                    continue
                value = entry.number(value)
                if value is None:
                    unusable += 1
                    continue
            try:
                number = value * entry.factor + entry.offset
            except OverflowError:
                unusable += 1
                continue
            # NaN and the infinities fail this comparison too.
            if entry.low <= number <= entry.high:
                values[entry.name] = number
            else:
                unusable += 1
        for name in (self.time, self.sequence, self.paused, *self.ignored):
            if name in record and name not in entries:
                unnamed -= 1
        return values, unnamed, unusable

    def stamps(self, record: Record) -> Stamps:
        """The record's number, clock and pause, each None where it is missing or no use."""
        time = _stamp(record.get(self.time))
        return Stamps(
            _stamp(record.get(self.sequence)),
            None if time is None else time * self.time_factor,
            _yes(record.get(self.paused)),
        )


def plain_map(aircraft: Aircraft) -> FeedMap:
    """The map of a source that uses the aircraft's own names and units."""
    entries = {
        name: Entry(name, switch=not rule.unit)
        for rule in aircraft.readings.values()
        for name in names_of(rule.name, aircraft)
    }
    return FeedMap(f"{aircraft.name}, its own names", entries)


def names_of(reading: str, aircraft: Aircraft) -> tuple[str, ...]:
    """The names under which a reading of the aircraft comes: one, or one an engine."""
    if not aircraft.readings[reading].each_engine:
        return (reading,)
    return tuple(f"{reading}_{engine}" for engine in range(1, aircraft.engines + 1))


def load_map(path: str | Path, aircraft: Aircraft) -> FeedMap:
    """A map file: a path, or the name of a shipped one. Raises ``FileErrors``."""
    from runner.checklist.files import find_file
    from runner.checklist.load import read_text

    file = find_file(path, ("checklists",))
    return load_map_text(read_text(file), str(file), aircraft)


def load_map_text(text: str, file: str, aircraft: Aircraft) -> FeedMap:
    """A map file from its text; ``file`` names it in messages. Raises ``FileErrors``."""
    from runner.feed.map_file import read_map_text

    return read_map_text(text, file, aircraft)


MAX_STAMP = 1e15


def _stamp(value: Any) -> float | None:
    kind = type(value)
    if kind is str and NUMBER.fullmatch(value):
        value = float(value)
    elif kind is not float and kind is not int:
        return None
    return float(value) if -MAX_STAMP <= value <= MAX_STAMP else None


def _yes(value: Any) -> bool | None:
    kind = type(value)
    if kind is bool:
        return bool(value)
    if kind is str:
        word = value.strip().lower()
        return {"true": True, "1": True, "yes": True, "false": False, "0": False, "no": False}.get(
            word
        )
    if kind is int or kind is float:
        return bool(value) if value in (0, 1) else None
    return None
