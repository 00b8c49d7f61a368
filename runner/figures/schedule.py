"""Schedules worked out: figures step by step while one input varies, and their changes.

A step is the sheet with the varying input, and the inputs that the schedule gives, changed;
only what depends on them is worked out again. A figure that cannot be worked out at a step
is absent there and has a problem: there is never a wrong number.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import partial
from itertools import groupby

from runner.errors import RunnerError
from runner.figures.aircraft import needs
from runner.figures.figure import Figure
from runner.figures.inputs import in_unit, input_figure, unfit
from runner.figures.model import FigureRule, Input, Schedule
from runner.figures.rounding import TOLERANCE, round_to_step, shown
from runner.figures.schedule_checks import AT
from runner.figures.sheet import Sheet, Worked
from runner.figures.tables import CalculationError

MAX_ROWS = 200
"""A schedule of more rows is refused."""

FEET = 10.0
"""How closely the place of a change is found where feet vary."""

LOOKS = 10
"""How many times within a step it is looked whether a figure has changed."""


@dataclass(frozen=True, slots=True)
class Row:
    """One step: ``at`` is the varying input there, unrounded, in its unit; ``varying`` the
    same as it is shown. ``figures`` holds those of the schedule that have a value, and
    ``problems`` for the others why not; a figure that does not apply there is in neither."""

    at: float
    varying: Figure
    figures: Mapping[str, Figure]
    problems: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class WorkedSchedule:
    """A schedule worked out. ``titles`` holds the titles of what varies and of its figures."""

    schedule: Schedule
    titles: Mapping[str, str]
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class Change:
    """A change worth calling: the figure ``name`` is ``after`` from the value ``at`` of the
    varying input on, having been called ``before``."""

    name: str
    at: float
    varying: Figure
    before: Figure
    after: Figure


def work_schedule(sheet: Sheet, worked: Worked, schedule: Schedule) -> WorkedSchedule:
    """``schedule``, one of ``sheet.aircraft``, for the inputs of ``worked``.

    The first row is where it begins, exactly; then come the multiples of its step, and the
    last row is where it ends. Raises RunnerError where its ends cannot be worked out, or
    where it would have more than ``MAX_ROWS`` rows.
    """
    stepper = _Stepper(sheet, worked, schedule, schedule.figures)
    rows = tuple(stepper.row(at) for at in _stops(worked, schedule))
    return WorkedSchedule(schedule, stepper.titles(), rows)


def next_changes(sheet: Sheet, worked: Worked, schedule: Schedule) -> tuple[Change, ...]:
    """Where figures change so much that it is called, in the order in which they come.

    A figure of ``changes`` is called at the first place where its shown value differs by at
    least the set amount from what was called last, at the beginning or since; a change that
    rounding hides is none. A figure that is a word, such as a blower's gear, is called where
    it becomes another. Places are found by bisection on multiples of 10 ft, or of the last
    shown decimal where no feet vary; what comes and goes within a tenth of a step may be
    missed. Raises RunnerError as ``work_schedule`` does.
    """
    least: dict[str, float] = dict(schedule.changes)
    names = tuple(dict.fromkeys((*schedule.figures, *least)))
    stepper = _Stepper(sheet, worked, schedule, names)
    start, *_, end = *_stops(worked, schedule), _end(worked, schedule)
    grain = _grain(stepper.varying)
    look = max(grain, round_to_step(schedule.step / LOOKS, grain, "up"))
    called = dict(stepper.row(start).figures)
    changes: list[Change] = []
    before = start
    for here in _multiples(start, end, look)[1:]:
        found = stepper.row(here).figures
        for name in names:
            low = before
            while name in found:
                if name not in called:
                    called[name] = found[name]
                was = called[name]
                if not _differs(was, found[name], least.get(name)):
                    break
                differs = partial(_changed, name=name, was=was, least=least.get(name))
                low, row = stepper.first(low, here, grain, differs)
                called[name] = row.figures[name]
                changes.append(Change(name, low, row.varying, was, called[name]))
        before = here
    way = 1 if end >= start else -1
    return tuple(sorted(changes, key=lambda change: (change.at * way, names.index(change.name))))


def schedule_lines(done: WorkedSchedule, width: int = 80) -> list[str]:
    """A schedule as plain lines for a data card, of at most ``width`` characters where that
    is room for the varying input and one column.

    The varying input stands first, then a column for each figure; columns that find no
    room follow below, beside the varying input again. A figure that is absent is a dash,
    and its problems follow as warnings.
    """
    schedule = done.schedule
    lines = _wrapped(schedule.title, width)
    first = _Column.of(done.titles[schedule.varies], [row.varying for row in done.rows])
    columns = [
        _Column.of(done.titles[name], [row.figures.get(name) for row in done.rows])
        for name in schedule.figures
    ]
    while columns:
        taken = [first]
        while columns and (len(taken) == 1 or _width([*taken, columns[0]]) <= width):
            taken.append(columns.pop(0))
        lines += ["", *_block(taken)]
    warnings = _warnings(done)
    if warnings:
        lines.append("")
        for warning in warnings:
            lines += _wrapped(f"Warning: {warning}", width, "  ")
    return lines


def change_lines(changes: Iterable[Change], width: int = 80) -> list[str]:
    """Changes as plain lines: where, and what the figure is from there on."""
    lines: list[str] = []
    for change in changes:
        title = change.after.title or change.name.replace("_", " ")
        text = (
            f"at {change.varying.shown_with_unit}: {title} {change.after.shown_with_unit}, "
            f"was {change.before.shown_with_unit}"
        )
        lines += _wrapped(text, width, "  ")
    return lines


class _Stepper:
    """Works out one step after another, each from the one before."""

    def __init__(
        self, sheet: Sheet, worked: Worked, schedule: Schedule, names: Sequence[str]
    ) -> None:
        self.varying: Input = sheet.aircraft.inputs[schedule.varies]
        self._sheet = sheet
        self._schedule = schedule
        self._names = names
        self._today = worked.values
        self._last = worked

    def row(self, at: float) -> Row:
        """The step where the varying input is ``at``."""
        changes: dict[str, float | str | None] = {}
        failed: dict[str, str] = {}
        self._take(self.varying, lambda: at, changes, failed)
        here = {**self._today, AT: at}
        for name, formula in self._schedule.given:
            one = self._sheet.aircraft.inputs[name]
            self._take(one, partial(formula.evaluate, here), changes, failed)
        self._last = worked = self._sheet.change(self._last, changes)
        lost = self._lost(failed, worked.given)
        figures: dict[str, Figure] = {}
        problems: dict[str, str] = {}
        for name in self._names:
            if name in lost:
                problems[name] = lost[name]
            elif name in worked.figures:
                figures[name] = worked.figures[name]
            elif name not in worked.absent:
                problems[name] = worked.problems.get(name, "is not given")
        return Row(at, input_figure(self.varying, at), figures, problems)

    def first(
        self, low: float, high: float, grain: float, holds: Callable[[Row], bool]
    ) -> tuple[float, Row]:
        """The first multiple of ``grain`` after ``low`` where ``holds``, else ``high``, where
        it does; at ``low`` it does not."""
        places = _multiples(low, high, grain)[1:]
        found = self.row(places[-1])
        below, above = -1, len(places) - 1
        while above - below > 1:
            middle = (below + above) // 2
            row = self.row(places[middle])
            if holds(row):
                above, found = middle, row
            else:
                below = middle
        return places[above], found

    def titles(self) -> dict[str, str]:
        """The titles of what varies and of each figure."""
        craft = self._sheet.aircraft
        titles: dict[str, str] = {}
        for name in (self.varying.name, *self._names):
            rule = craft.inputs.get(name) or craft.figures[name]
            titles[name] = rule.title or name.replace("_", " ")
        return titles

    def _take(
        self,
        one: Input,
        value_of: Callable[[], float | str],
        changes: dict[str, float | str | None],
        failed: dict[str, str],
    ) -> None:
        """A value for an input at this step, or why it has none."""
        try:
            value = value_of()
        except CalculationError as error:
            failed[one.name] = str(error)
            return
        if problem := unfit(one, value):
            failed[one.name] = f"should be {problem}"
        else:
            changes[one.name] = value

    def _lost(self, failed: Mapping[str, str], given: Mapping[str, float | str]) -> dict[str, str]:
        """Every input and figure that an input without a value leaves without one, and why."""
        lost = dict(failed)
        if not failed:
            return lost
        craft = self._sheet.aircraft
        rules: dict[str, Input | FigureRule] = {
            name: one for name, one in craft.inputs.items() if one.formula and name not in given
        }
        rules.update(craft.figures)
        causes = {name: f"needs {name}, which {problem}" for name, problem in failed.items()}
        size = 0
        while size < len(causes):
            size = len(causes)
            for name, rule in rules.items():
                source = min((one for one in needs(rule) if one in causes), default=None)
                if source is not None and name not in causes:
                    lost[name] = causes[name] = causes[source]
        return lost


def _stops(worked: Worked, schedule: Schedule) -> list[float]:
    """Where the rows are. Raises RunnerError where they cannot be told or are too many."""
    start, end = _value(worked, schedule, "from"), _end(worked, schedule)
    span = abs(end - start)
    if (
        span > schedule.step * (MAX_ROWS + 1)
        or len(stops := _multiples(start, end, schedule.step)) > MAX_ROWS
    ):
        unit = in_unit(worked.aircraft.inputs[schedule.varies].unit)
        needed = span / (MAX_ROWS - 2)
        digit = 10.0 ** (math.floor(math.log10(needed)) - 1)
        enough = shown(math.ceil(needed / digit) * digit)
        raise RunnerError(
            f"schedule {schedule.name}: every {shown(schedule.step)}{unit} from {shown(start)} to "
            f"{shown(end)}{unit} is more than {MAX_ROWS} rows; every {enough}{unit} would do"
        )
    return stops


def _end(worked: Worked, schedule: Schedule) -> float:
    return _value(worked, schedule, "to")


def _value(worked: Worked, schedule: Schedule, key: str) -> float:
    formula = schedule.start if key == "from" else schedule.end
    try:
        return float(formula.evaluate(worked.values))
    except CalculationError as error:
        raise RunnerError(f"schedule {schedule.name}: '{key}' {error}") from error


def _multiples(start: float, end: float, step: float) -> list[float]:
    """``start``, the multiples of ``step`` between, and ``end``; one alone where they meet."""
    slack = TOLERANCE * max(1.0, abs(start / step), abs(end / step))
    if abs(end - start) <= slack * step:
        return [start]
    if end > start:
        counts = range(math.floor(start / step + slack) + 1, math.ceil(end / step - slack))
    else:
        counts = range(math.ceil(start / step - slack) - 1, math.floor(end / step + slack), -1)
    size = Decimal(repr(step))
    return [start, *(float(size * count) for count in counts), end]


def _grain(varying: Input) -> float:
    last = 10.0**-varying.decimals
    return max(FEET, last) if varying.unit == "ft" else last


def _changed(row: Row, name: str, was: Figure, least: float | None) -> bool:
    now = row.figures.get(name)
    return now is not None and _differs(was, now, least)


def _differs(was: Figure, now: Figure, least: float | None) -> bool:
    """Whether a change is called: of a word any, of a number one of at least ``least``."""
    if isinstance(was.value, str) or isinstance(now.value, str):
        return was.value != now.value
    if least is None:
        return False
    slack = TOLERANCE * max(abs(was.value), abs(now.value), least)
    return now.value != was.value and abs(now.value - was.value) >= least - slack


@dataclass(frozen=True, slots=True)
class _Column:
    """A column of a schedule: its heading in lines and its cells."""

    heading: tuple[str, ...]
    cells: tuple[str, ...]
    words: bool

    @classmethod
    def of(cls, title: str, figures: Sequence[Figure | None]) -> _Column:
        units = {figure.unit for figure in figures if figure is not None and figure.unit}
        heading = (*_wrapped(title, 12), *sorted(units))
        cells = tuple("-" if figure is None else figure.shown for figure in figures)
        return cls(heading, cells, any(f is not None and isinstance(f.value, str) for f in figures))

    @property
    def width(self) -> int:
        return max(map(len, (*self.heading, *self.cells)))

    def line(self, text: str) -> str:
        return text.ljust(self.width) if self.words else text.rjust(self.width)


def _block(columns: Sequence[_Column]) -> list[str]:
    """Columns beside one another, their headings standing on the rows."""
    height = max(len(column.heading) for column in columns)
    tall = [
        [*[""] * (height - len(column.heading)), *column.heading, *column.cells]
        for column in columns
    ]
    return [
        "  ".join(
            ["", *(column.line(text) for column, text in zip(columns, texts, strict=True))]
        ).rstrip()
        for texts in zip(*tall, strict=True)
    ]


def _width(columns: Sequence[_Column]) -> int:
    return sum(column.width + 2 for column in columns)


def _warnings(done: WorkedSchedule) -> list[str]:
    """What could not be worked out: a line for each run of steps, with its first reason."""
    found: dict[tuple[str, str], list[str]] = {}
    for name in done.schedule.figures:
        for rows in _failed(done.rows, name):
            first, last = rows[0].varying, rows[-1].varying
            reasons = {row.problems[name] for row in rows}
            where = f"at {first.shown_with_unit}"
            reason = rows[0].problems[name]
            if len(rows) > 1:
                if len(reasons) > 1:
                    reason = f"{where}, {reason}"
                where = f"from {first.shown} to {last.shown_with_unit}"
            found.setdefault((where, reason), []).append(done.titles[name])
    return [
        f"no {', no '.join(titles)} {where}: {reason}" for (where, reason), titles in found.items()
    ]


def _failed(rows: Iterable[Row], name: str) -> list[list[Row]]:
    """The runs of steps at which a figure has a problem."""
    return [list(run) for failed, run in groupby(rows, lambda row: name in row.problems) if failed]


def _wrapped(text: str, width: int, indent: str = "") -> list[str]:
    return textwrap.wrap(text, width, subsequent_indent=indent) or [""]
