"""The data card as data: inputs, figures with their margins, schedules and every warning.

How it is printed is in ``card_table`` and ``card_formats``.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from runner.errors import RunnerError
from runner.figures.figure import Figure
from runner.figures.inputs import in_unit
from runner.figures.model import FigureRule, Input
from runner.figures.rounding import round_to_step, shown
from runner.figures.schedule import Change, Row, WorkedSchedule, next_changes, work_schedule
from runner.figures.sheet import Sheet, Worked
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
class CardSchedule:
    """A schedule and the changes in it that are worth calling; ``worked`` is None where
    ``problem`` says why."""

    name: str
    title: str
    varies: str
    worked: WorkedSchedule | None
    changes: tuple[Change, ...]
    problem: str

    def warnings(self) -> Iterator[str]:
        """What cannot be worked out, a line for each run of steps, with its first reason."""
        if self.worked is None:
            yield f"no {self.title}: {self.problem}"
            return
        for name in self.worked.schedule.figures:
            for rows in _failed(self.worked.rows, name):
                first, last = rows[0].varying, rows[-1].varying
                where = f"at {first.shown_with_unit}"
                if len(rows) > 1:
                    where = f"from {first.shown} to {last.shown_with_unit}"
                what = f"no {self.worked.titles[name]} {where}"
                yield f"{self.title}: {what}: {rows[0].problems[name]}"


@dataclass(frozen=True, slots=True)
class Card:
    """A data card whole; ``warnings`` are one line each."""

    aircraft: str
    inputs: tuple[CardInput, ...]
    figures: tuple[CardFigure, ...]
    schedules: tuple[CardSchedule, ...]
    warnings: tuple[str, ...]


def data_card(
    worked: Worked,
    schedules: Iterable[CardSchedule] = (),
    reported: Iterable[str] = (),
    notes: Iterable[str] = (),
) -> Card:
    """The card of a sheet worked out, in the order of the aircraft's file.

    ``schedules`` are those of ``card_schedules``, ``reported`` the inputs that come from
    a weather report, ``notes`` further warnings. Figures that do not apply now are left out.
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
    troubles = [
        (_title(one), worked.problems[name])
        for name, one in craft.inputs.items()
        if name in worked.problems
    ]
    troubles += [(one.title, one.problem) for one in figures if one.problem]
    # What follows from another problem stands after those that are to be mended.
    troubles.sort(key=lambda trouble: trouble[1].startswith("needs "))
    warnings = [f"no {title}: {problem}" for title, problem in troubles]
    warnings += [
        f"{one.title} is at its limit, {limit.way} {shown(limit.value)}{in_unit(one.unit)}"
        for one in figures
        for limit in one.limits
        if limit.margin == 0
    ]
    done = tuple(schedules)
    warnings += [line for one in done for line in one.warnings()]
    return Card(craft.name, inputs, figures, done, (*warnings, *notes))


def card_schedules(sheet: Sheet, worked: Worked) -> tuple[CardSchedule, ...]:
    """The aircraft's schedules worked out for the inputs of ``worked``."""
    made = []
    for name, one in worked.aircraft.schedules.items():
        done: WorkedSchedule | None = None
        changes: tuple[Change, ...] = ()
        problem = ""
        try:
            done = work_schedule(sheet, worked, one)
            changes = next_changes(sheet, worked, one)
        except RunnerError as error:
            problem = str(error)
        made.append(CardSchedule(name, one.title, one.varies, done, changes, problem))
    return tuple(made)


def _failed(rows: Sequence[Row], name: str) -> Iterator[tuple[Row, ...]]:
    """The runs of steps at which a figure has a problem."""
    for failed, run in groupby(rows, lambda row: name in row.problems):
        if failed:
            yield tuple(run)


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
