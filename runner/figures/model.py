"""An aircraft's figures as frozen data: inputs, constants, tables, formulas, limits.

Made by ``runner.checklist.aircraft``; nothing here knows of YAML. Numbers are plain
floats in the unit named beside them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from runner.figures.expression import Expression

LookUp = Literal["next row up", "linear", "exact"]
Direction = Literal["up", "down", "nearest"]


@dataclass(frozen=True, slots=True)
class Input:
    """A value given by the pilot: a number in ``unit`` from ``low`` to ``high``, or a choice.

    ``formula`` works it out where it is not given; what is given wins.
    """

    name: str
    title: str
    unit: str = ""
    low: float = float("-inf")
    high: float = float("inf")
    default: float | str | None = None
    choices: tuple[str, ...] = ()
    ask: str = ""
    formula: Expression | None = None
    kind: str = "plain"
    decimals: int = 0
    follows: Expression | None = None
    """While ``follows_if`` holds the input follows this formula of readings, once it has moved by
    ``step``."""

    step: float = 0.0
    follows_if: Expression | None = None


@dataclass(frozen=True, slots=True)
class Constant:
    """A fixed value of the aircraft."""

    name: str
    value: float
    unit: str = ""
    title: str = ""


@dataclass(frozen=True, slots=True)
class Axis:
    """One axis of a table: rows strictly increasing in ``unit`` (words for exact choices)."""

    name: str
    unit: str
    rows: tuple[float, ...] | tuple[str, ...]
    look_up: LookUp


@dataclass(frozen=True, slots=True)
class Table:
    """A table of one to three axes giving one or more columns.

    ``values`` is flat, first axis slowest, column fastest; a hole is None and looking
    into it is an error like leaving the table. ``source`` says where the numbers are from.
    """

    name: str
    axes: tuple[Axis, ...]
    columns: tuple[tuple[str, str], ...]
    values: tuple[float | None, ...]
    source: str
    title: str = ""


@dataclass(frozen=True, slots=True)
class Rounding:
    """The safe side: ``direction`` to a multiple of ``step`` in the figure's unit."""

    direction: Direction = "nearest"
    step: float = 1.0


@dataclass(frozen=True, slots=True)
class FigureRule:
    """How one figure is worked out, rounded, limited and spoken.

    ``group`` is the heading under which a data card shows it, '' for none of its own.
    """

    name: str
    title: str
    formula: Expression
    unit: str = ""
    rounding: Rounding = Rounding()
    decimals: int = 0
    kind: str = "plain"
    condition: Expression | None = None
    low: Expression | None = None
    high: Expression | None = None
    group: str = ""


@dataclass(frozen=True, slots=True)
class ReadingRule:
    """A quantity that a simulator may feed: its unit, and whether each engine has one.

    ``words`` are values with what they mean, as 0 ``off`` and 1 ``set``.
    """

    name: str
    title: str
    unit: str = ""
    each_engine: bool = False
    kind: str = "plain"
    decimals: int = 0
    words: tuple[tuple[float, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Limit:
    """A reading's limit, for the engineer's watch: not below ``low`` nor above ``high`` for
    more than ``hold`` seconds while ``condition`` holds; called again every ``every`` seconds
    as long as it lasts. In the formulas of a limit of each engine, a reading of each engine by
    its plain name is that of the engine that is looked at."""

    reading: str
    low: Expression | None = None
    high: Expression | None = None
    said: str = ""
    condition: Expression | None = None
    hold: float = 1.0
    every: float = 60.0


@dataclass(frozen=True, slots=True)
class Schedule:
    """Targets step by step while one input varies, as power targets do in a climb.

    ``varies`` is the input; it goes from ``start`` to ``end`` by ``step``, all in its unit.
    ``given`` are formulas for further inputs at each step, in which ``at`` is the value of
    ``varies`` there and every other name has today's value. ``changes`` are figures with the
    least change, in the figure's unit, that is worth calling.
    """

    name: str
    title: str
    varies: str
    start: Expression
    end: Expression
    step: float
    figures: tuple[str, ...]
    given: tuple[tuple[str, Expression], ...] = ()
    changes: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Chart:
    """A picture of a table: its values over the rows of axis ``across``, a line for each
    row of axis ``lines`` ('' for a table of one axis), at today's values of the others, with
    today's ``figure`` on it. An axis takes its value today from the name that it bears."""

    name: str
    title: str
    table: str
    column: str
    across: str
    lines: str = ""
    figure: str = ""


@dataclass(frozen=True, slots=True)
class Envelope:
    """A picture of a balance envelope: figure ``across`` over figure or input ``up``, between
    tables ``low`` and ``high``, each looked up by ``up``, with today's point."""

    name: str
    title: str
    across: str
    up: str
    low: str
    high: str


@dataclass(frozen=True, slots=True)
class Steps:
    """A picture of a schedule: ``figures`` of the schedule over what varies in it."""

    name: str
    title: str
    schedule: str
    figures: tuple[str, ...]


Picture = Chart | Envelope | Steps


@dataclass(frozen=True, slots=True)
class Aircraft:
    """An aircraft file, whole."""

    name: str
    about: str
    file: str
    sha256: str
    roles: tuple[str, ...] = ()
    engines: int = 1
    inputs: Mapping[str, Input] = field(default_factory=dict)
    constants: Mapping[str, Constant] = field(default_factory=dict)
    tables: Mapping[str, Table] = field(default_factory=dict)
    figures: Mapping[str, FigureRule] = field(default_factory=dict)
    readings: Mapping[str, ReadingRule] = field(default_factory=dict)
    limits: tuple[Limit, ...] = ()
    schedules: Mapping[str, Schedule] = field(default_factory=dict)
    pictures: Mapping[str, Picture] = field(default_factory=dict)
