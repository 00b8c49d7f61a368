"""An invented aircraft of a few lines, for the tests of the figures."""

from __future__ import annotations

from collections.abc import Iterable

from runner.figures.expression import Expression, parse
from runner.figures.model import (
    Aircraft,
    Axis,
    Constant,
    Direction,
    FigureRule,
    Input,
    ReadingRule,
    Rounding,
    Table,
)

SPEEDS = Table(
    "speeds",
    (Axis("weight", "lb", (52000.0, 56000.0, 60000.0), "next row up"),),
    (("rotate", "kt"), ("climb", "kt")),
    (88.0, 101.0, 91.0, 105.0, 95.0, None),
    "invented",
)
POWER = Table(
    "power",
    (
        Axis("blower", "", ("low", "high"), "exact"),
        Axis("altitude", "ft", (0.0, 4000.0), "linear"),
        Axis("temperature", "degC", (-20.0, 0.0, 20.0), "linear"),
    ),
    (("pressure", "inHg"),),
    (40.0, 41.0, 42.0, 38.0, 39.0, 40.0, 45.0, 46.0, 47.0, 43.0, 44.0, 45.0),
    "invented",
    "manifold pressure",
)


def maybe(text: str | None) -> Expression | None:
    """A formula, where there is one."""
    return None if text is None else parse(text)


def figure(
    name: str,
    formula: str,
    unit: str = "",
    *,
    round_: Direction = "nearest",
    step: float = 1.0,
    decimals: int = 0,
    if_: str | None = None,
    low: str | None = None,
    high: str | None = None,
    group: str = "",
) -> FigureRule:
    """A figure from its formulas as text."""
    return FigureRule(
        name,
        name.replace("_", " "),
        parse(formula),
        unit,
        Rounding(round_, step),
        decimals,
        condition=maybe(if_),
        low=maybe(low),
        high=maybe(high),
        group=group,
    )


def number(
    name: str,
    unit: str = "",
    low: float = float("-inf"),
    high: float = float("inf"),
    default: float | None = None,
    formula: str | None = None,
    decimals: int = 0,
) -> Input:
    """An input that is a number."""
    title = name.replace("_", " ")
    return Input(name, title, unit, low, high, default, formula=maybe(formula), decimals=decimals)


def choice(
    name: str, choices: tuple[str, ...], default: str | None = None, formula: str | None = None
) -> Input:
    """An input that is one of several words."""
    title = name.replace("_", " ")
    return Input(name, title, default=default, choices=choices, formula=maybe(formula))


def aircraft(
    inputs: Iterable[Input] = (),
    figures: Iterable[FigureRule] = (),
    tables: Iterable[Table] = (SPEEDS, POWER),
    constants: Iterable[Constant] = (),
    readings: Iterable[ReadingRule] = (),
    engines: int = 2,
) -> Aircraft:
    """An aircraft of these parts."""
    return Aircraft(
        "Test Piece",
        "Invented.",
        "test.yaml",
        "",
        engines=engines,
        inputs={one.name: one for one in inputs},
        constants={one.name: one for one in constants},
        tables={one.name: one for one in tables},
        figures={one.name: one for one in figures},
        readings={one.name: one for one in readings},
    )
