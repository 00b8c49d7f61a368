"""What a source sends: each name with its last value, its range and how often it comes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from runner.feed.decode import NUMBER, Record

MAX_SEEN = 2000
"""Names that are kept; a source has no more."""


@dataclass(slots=True)
class Name:
    """One name. ``low`` and ``high`` are None until it has had a number."""

    name: str
    last: Any = None
    low: float | None = None
    high: float | None = None
    count: int = 0
    first_at: float = 0.0
    last_at: float = 0.0

    @property
    def rate(self) -> float:
        """Times a second; 0 where it came once."""
        spent = self.last_at - self.first_at
        return (self.count - 1) / spent if spent > 0 else 0.0

    @property
    def number(self) -> float | None:
        """The last value as a number, where it is one."""
        return as_number(self.last)


class Seen:
    """Names in the order in which they came first. ``records`` counts the records."""

    def __init__(self) -> None:
        self.names: dict[str, Name] = {}
        self.records = 0

    def take(self, record: Record, at: float) -> None:
        """A record that arrived ``at`` (seconds)."""
        self.records += 1
        for name, value in record.items():
            if value is None:
                continue
            found = self.names.get(name)
            if found is None:
                if len(self.names) >= MAX_SEEN:
                    continue
                found = self.names[name] = Name(name, first_at=at)
            found.last, found.last_at = value, at
            found.count += 1
            number = as_number(value)
            if number is not None:
                found.low = number if found.low is None else min(found.low, number)
                found.high = number if found.high is None else max(found.high, number)


def as_number(value: Any) -> float | None:
    """A value as a number; truth values and other texts are none."""
    if type(value) is str:
        return float(value) if NUMBER.fullmatch(value) else None
    if type(value) is not float and type(value) is not int:
        return None
    try:
        number = float(value)
    except OverflowError:
        return None
    return number if abs(number) < 1e15 else None


def shown(text: object, limit: int = 40) -> str:
    """A text of the source's as it may stand on a terminal: one line, nothing but characters."""
    line = "".join(c if c.isprintable() else f"\\x{ord(c):02x}" for c in str(text)[: limit + 1])
    return line if len(line) <= limit else line[: limit - 3] + "..."


def shown_value(value: Any) -> str:
    """A value in a few characters."""
    if type(value) is bool or as_number(value) is None:
        return shown(value, 14)
    number = as_number(value)
    assert number is not None
    return f"{number:.6g}"
