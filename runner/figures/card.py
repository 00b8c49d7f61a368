"""The data card as data: inputs, figures with their margins, and every warning.

How it is printed is in ``card_formats``.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from runner.figures.figure import Figure
from runner.figures.inputs import in_unit
from runner.figures.model import FigureRule, Input
from runner.figures.rounding import round_to_step, shown
from runner.figures.sheet import Worked
from runner.figures.tables import CalculationError

WARNING = "For simulation and training, not for flight; the approved manual decides."
"""Stands on every data card and every printed page."""


@dataclass(frozen=True, slots=True)
class CardInput:
    """An input: ``origin`` is 'given', 'report', 'worked out', 'default' or 'not given'."""

    name: str
    title: str
    unit: str
    figure: Figure | None
    origin: str


@dataclass(frozen=True, slots=True)
class CardLimit:
    """A limit of a figure, in its unit: ``way`` is 'at least' or 'at most'.

    ``margin`` is how far the figure as it is said keeps from it, rounded down to the
    figure's last decimal, so that it is never overstated; None where there is no figure.
    """

    way: str
    value: float
    source: str
    margin: float | None


@dataclass(frozen=True, slots=True)
class CardFigure:
    """A figure that applies now: ``figure`` is None where ``problem`` says why."""

    name: str
    title: str
    group: str
    unit: str
    decimals: int
    figure: Figure | None
    limits: tuple[CardLimit, ...]
    problem: str

    @property
    def nearest(self) -> CardLimit | None:
        """The limit with the smallest margin."""
        known = [one for one in self.limits if one.margin is not None]
        return min(known, key=lambda one: one.margin or 0.0, default=None)

    @property
    def margin(self) -> float | None:
        """The smallest margin, in the figure's unit."""
        nearest = self.nearest
        return None if nearest is None else nearest.margin


@dataclass(frozen=True, slots=True)
class Card:
    """A data card whole; ``warnings`` are one line each."""

    aircraft: str
    inputs: tuple[CardInput, ...]
    figures: tuple[CardFigure, ...]
    warnings: tuple[str, ...]


def data_card(worked: Worked, reported: Iterable[str] = (), notes: Iterable[str] = ()) -> Card:
    """The card of a sheet worked out, in the order of the aircraft's file.

    ``reported`` are the inputs that come from a weather report, ``notes`` further
    warnings. Figures that do not apply now are left out.
    """
    craft = worked.aircraft
    from_report = frozenset(reported)
    inputs = tuple(
        CardInput(name, _title(one), one.unit, worked.figures.get(name), origin)
        for name, one in craft.inputs.items()
        if (origin := _origin(worked, one, from_report))
    )
    figures = tuple(
        _figure(worked, rule) for name, rule in craft.figures.items() if name not in worked.absent
    )
    warnings = [
        f"no {_title(one)}: {worked.problems[name]}"
        for name, one in craft.inputs.items()
        if name in worked.problems
    ]
    warnings += [f"no {one.title}: {one.problem}" for one in figures if one.problem]
    warnings += [
        f"{one.title} is at its limit, {limit.way} {shown(limit.value)}{in_unit(one.unit)}"
        for one in figures
        for limit in one.limits
        if limit.margin == 0
    ]
    return Card(craft.name, inputs, figures, (*warnings, *notes))


def _figure(worked: Worked, rule: FigureRule) -> CardFigure:
    return CardFigure(
        rule.name,
        _title(rule),
        rule.group,
        rule.unit,
        rule.decimals,
        worked.figures.get(rule.name),
        tuple(_limits(worked, rule)),
        worked.problems.get(rule.name, ""),
    )


def _limits(worked: Worked, rule: FigureRule) -> Iterable[CardLimit]:
    figure = worked.figures.get(rule.name)
    said = figure.value if figure is not None and isinstance(figure.value, float) else None
    for text, way, sign in ((rule.low, "at least", -1), (rule.high, "at most", 1)):
        if text is None:
            continue
        try:
            value = float(text.evaluate(worked.values))
        except CalculationError:
            continue
        margin = None if said is None else margin_of((value - said) * sign, rule.decimals)
        yield CardLimit(way, value, text.source, margin)


def margin_of(gap: float, decimals: int) -> float:
    """A distance from a limit as it is shown: never more than it is, and never below 0,
    as a figure past its limit is no figure."""
    return max(0.0, round_to_step(gap, 10.0**-decimals, "down"))


def _origin(worked: Worked, one: Input, reported: frozenset[str]) -> str:
    """Where an input's value comes from; '' where it has none and nothing wants it."""
    if one.name in worked.given:
        return "report" if one.name in reported else "given"
    if one.name in worked.figures:
        return "worked out" if one.formula is not None else "default"
    return "not given" if one.name in worked.missing or one.name in worked.problems else ""


def _title(one: Input | FigureRule) -> str:
    return one.title or one.name.replace("_", " ")
