"""The parts of a diagram: its scales, its lines, today's points, marks and notes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Scale:
    """An axis of a diagram: its title and the unit of its numbers."""

    title: str
    unit: str = ""

    @property
    def label(self) -> str:
        """Title and unit as text."""
        return ", ".join(filter(None, (self.title, self.unit)))


@dataclass(frozen=True, slots=True)
class Line:
    """A line in unbroken parts, or points alone where it is not ``joined``.

    Its label stands ``beside`` its end, or to the right or left of its middle. ``marked``
    are lines whose every point is one that was worked out, and shown as such.
    """

    label: str
    parts: tuple[tuple[Point, ...], ...]
    joined: bool = True
    beside: Literal["end", "right", "left"] = "end"
    marked: bool = False


@dataclass(frozen=True, slots=True)
class Today:
    """Today's point and what stands beside it; ``refused`` where a figure is past its limit,
    so that the sheet gives no value of it."""

    at: Point
    label: str
    refused: bool = False


@dataclass(frozen=True, slots=True)
class Mark:
    """A place across where something becomes another, as a blower's gear does."""

    at: float
    label: str


@dataclass(frozen=True, slots=True)
class Diagram:
    """One pair of axes. ``lines_title`` is what the labels of the lines measure, ``held``
    tells the values for which the lines are drawn, ``problems`` what cannot be shown."""

    name: str
    title: str
    across: Scale
    up: Scale
    lines: tuple[Line, ...] = ()
    today: tuple[Today, ...] = ()
    marks: tuple[Mark, ...] = ()
    lines_title: str = ""
    held: str = ""
    problems: tuple[str, ...] = ()

    @property
    def note(self) -> str:
        """What the lines are, in one line of text."""
        lines = f"lines: {self.lines_title}" if self.lines_title else ""
        return "; ".join(filter(None, (lines, self.held)))
