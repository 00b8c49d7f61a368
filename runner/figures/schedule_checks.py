"""Checking the schedules and pictures of an aircraft, and compiling the schedules' formulas.

What is wrong is reported of ``schedule NAME`` or ``picture NAME`` under the key of the file;
one entry of a key that holds several bears its name behind it: ``figures blower``,
``with outside_temperature``, ``changes climb_bmep by``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Protocol

from runner.figures.expression import Expression
from runner.figures.grammar import ExpressionError
from runner.figures.model import Aircraft, Axis, Chart, Envelope, Picture, Schedule, Steps, Table
from runner.figures.scope import Scope, Type, near
from runner.figures.units import Unit, UnitError, described, dimensions, parse_unit

AT = "at"
"""The name of the varying input's value at a step, in the formulas of a schedule."""

ONLY_IN_SCHEDULES = f"{AT} stands only in a schedule, for the value of what varies at a step"


class Report(Protocol):
    """Takes what is wrong: of what, in which key, and where in its formula."""

    def __call__(self, name: str, message: str, key: str, offset: int = 0, /) -> None: ...


def compiled_schedules(aircraft: Aircraft, scope: Scope, report: Report) -> dict[str, Schedule]:
    """The schedules with their formulas compiled; ``scope`` must know every figure's type."""
    return {
        name: _Checking(aircraft, scope, report, f"schedule {name}").schedule(one)
        for name, one in aircraft.schedules.items()
    }


def check_pictures(aircraft: Aircraft, scope: Scope, report: Report) -> None:
    """Report what is wrong with the pictures."""
    for name, one in aircraft.pictures.items():
        _Checking(aircraft, scope, report, f"picture {name}").picture(one)


@dataclass(frozen=True, slots=True)
class _Checking:
    """One schedule or picture, ``owner``, of one aircraft."""

    aircraft: Aircraft
    scope: Scope
    report: Report
    owner: str

    def schedule(self, one: Schedule) -> Schedule:
        """The schedule compiled as far as it can be."""
        self._step("every", one.step, "a step")
        if not one.figures:
            self._wrong("figures", "a schedule needs an input or a figure to show")
        for name in one.figures:
            if name == one.varies and name in self.aircraft.inputs:
                self._wrong(f"figures {name}", f"{name} is what varies; it is shown anyway")
            else:
                self._known(f"figures {name}", name)
        for name, least in one.changes:
            if self._number(f"changes {name}", name) is not None:
                self._step(f"changes {name} by", least, "a change")
        varying = self.aircraft.inputs.get(one.varies)
        kind = self.scope.names.get(one.varies)
        if varying is None or kind is None:
            self._wrong("varies", self._no_input(one.varies))
            return one
        if varying.choices:
            self._wrong("varies", f"{one.varies} is a choice; what varies is a number")
            return one
        start = self._compiled("from", one.start, self.scope, varying.unit)
        end = self._compiled("to", one.end, self.scope, varying.unit)
        inner = replace(self.scope, names={**self.scope.names, AT: kind})
        given = tuple((name, self._given(one, name, text, inner)) for name, text in one.given)
        return replace(one, start=start, end=end, given=given)

    def picture(self, one: Picture) -> None:
        """A picture of any kind."""
        if isinstance(one, Chart):
            self._chart(one)
        elif isinstance(one, Envelope):
            self._envelope(one)
        else:
            self._steps(one)

    def _given(self, one: Schedule, name: str, text: Expression, scope: Scope) -> Expression:
        key = f"with {name}"
        held = self.aircraft.inputs.get(name)
        if held is None:
            self._wrong(key, self._no_input(name))
            return text
        if name == one.varies:
            self._wrong(key, f"{name} is what varies; its value at a step is {AT}")
            return text
        made = self._compiled(f"{key} from", text, scope, None if held.choices else held.unit)
        words = made.type.choices if made.type is not None else ()
        if held.choices and made.type and not (words and set(words) <= set(held.choices)):
            self._wrong(f"{key} from", f"gives {made.type}, not one of {', '.join(held.choices)}")
        return made

    def _compiled(self, key: str, text: Expression, scope: Scope, unit: str | None) -> Expression:
        try:
            return text.compiled(scope, unit)
        except ExpressionError as error:
            self.report(self.owner, str(error), key, error.offset)
        except UnitError:
            # The unit's own fault is reported where it stands.
            pass
        return text

    def _chart(self, one: Chart) -> None:
        figure = self._number("figure", one.figure) if one.figure else None
        table = self._table("table", one.table)
        if table is None:
            return
        unit = self._column("column", table, one.column)
        if figure is not None and unit is not None:
            self._same("figure", one.figure, figure, unit)
        across = self._axis("across", table, one.across)
        if across is not None and _has_words(across):
            self._wrong(
                "across", f"axis {one.across} has rows of words; a picture runs across numbers"
            )
        if one.lines:
            if one.lines == one.across:
                self._wrong("lines", "lines are of another axis than the one across")
            else:
                self._axis("lines", table, one.lines)
        elif len(table.axes) > 1:
            self._wrong(
                "lines",
                f"table {table.name} has {len(table.axes)} axes; 'lines' names the one that has "
                "a line for each row",
            )
        for axis in table.axes:
            self._valued(one, table, axis)

    def _valued(self, one: Chart, table: Table, axis: Axis) -> None:
        """Whether an axis has a value today, by the name that it bears."""
        parts = {one.across: "across", one.lines: "lines"}
        key = parts.get(axis.name, "table")
        kind = self.scope.names.get(axis.name)
        if kind is None:
            self._wrong(
                key,
                f"axis {axis.name} of table {table.name} has no value today, as nothing of the "
                f"sheet has that name{near(axis.name, self.scope.names)}",
            )
        elif (kind.what == "word") != _has_words(axis):
            what = "words" if _has_words(axis) else "numbers"
            self._wrong(key, f"axis {axis.name} has rows of {what}, and {axis.name} is {kind}")
        elif kind.what == "number" and (unit := _unit(axis.unit)) is not None:
            self._same(key, axis.name, kind.unit, unit)

    def _envelope(self, one: Envelope) -> None:
        across = self._number("across", one.across)
        up = self._number("up", one.up)
        for key, text in (("between low", one.low), ("between high", one.high)):
            name, _, column = text.partition(".")
            table = self._table(key, name)
            if table is None:
                continue
            if not column and len(table.columns) == 1:
                column = table.columns[0][0]
            gives = self._column(key, table, column)
            if gives is not None and across is not None:
                self._same(key, f"what {text} gives", gives, across)
            if len(table.axes) != 1 or _has_words(table.axes[0]):
                self._wrong(key, f"table {name} should have one axis, of numbers, to be looked up")
            elif up is not None and (unit := _unit(table.axes[0].unit)) is not None:
                self._same(key, f"the axis of {name}", unit, up)

    def _steps(self, one: Steps) -> None:
        if not one.figures:
            self._wrong("figures", "a picture of a schedule needs a figure to show")
        schedule = self.aircraft.schedules.get(one.schedule)
        if schedule is None:
            hint = near(one.schedule, self.aircraft.schedules)
            self._wrong("schedule", f"no schedule is named {one.schedule}{hint}")
            return
        for name in one.figures if schedule.figures else ():
            if name not in schedule.figures:
                self._wrong(
                    f"figures {name}",
                    f"{name} is not in schedule {one.schedule}, which has "
                    f"{', '.join(schedule.figures)}{near(name, schedule.figures)}",
                )
            elif name in self.scope.names:
                self._number(f"figures {name}", name)

    def _table(self, key: str, name: str) -> Table | None:
        table = self.aircraft.tables.get(name)
        if table is None:
            self._wrong(key, f"no table is named {name}{near(name, self.aircraft.tables)}")
        return table

    def _column(self, key: str, table: Table, column: str) -> Unit | None:
        columns: Mapping[str, str] = dict(table.columns)
        if column in columns:
            return _unit(columns[column])
        listed = ", ".join(columns)
        if column:
            self._wrong(
                key,
                f"{column} is not a column of table {table.name}, which has {listed}"
                f"{near(column, columns)}",
            )
        else:
            self._wrong(key, f"table {table.name} has the columns {listed}; name one of them")
        return None

    def _axis(self, key: str, table: Table, name: str) -> Axis | None:
        axes = {axis.name: axis for axis in table.axes}
        if name not in axes:
            self._wrong(
                key,
                f"{name} is not an axis of table {table.name}, which is by {', '.join(axes)}"
                f"{near(name, axes)}",
            )
        return axes.get(name)

    def _known(self, key: str, name: str) -> Type | None:
        """The type of an input or a figure."""
        craft = self.aircraft
        if name in craft.inputs or name in craft.figures:
            return self.scope.names[name]
        if name in craft.constants:
            self._wrong(key, f"{name} is a constant, not an input or a figure")
        else:
            known = [*craft.inputs, *craft.figures]
            reason = self.scope.unusable.get(name)
            self._wrong(key, reason or f"nothing is named {name}{near(name, known)}")
        return None

    def _number(self, key: str, name: str) -> Unit | None:
        kind = self._known(key, name)
        if kind is None or kind.what == "number":
            return None if kind is None else kind.unit
        self._wrong(key, f"{name} is {kind}, not a number")
        return None

    def _no_input(self, name: str) -> str:
        craft = self.aircraft
        if name in craft.figures:
            return f"{name} is a figure, which is worked out; an input should stand here"
        if name in craft.constants:
            return f"{name} is a constant; an input should stand here"
        return f"no input is named {name}{near(name, craft.inputs)}"

    def _same(self, key: str, name: str, one: Unit, other: Unit) -> None:
        if dimensions(one) != dimensions(other):
            self._wrong(key, f"{name} is {described(one)}, not {described(other)}")

    def _step(self, key: str, value: float, what: str) -> None:
        if not 0 < value < float("inf"):
            self._wrong(key, f"{what} is above 0, not {value:g}")

    def _wrong(self, key: str, message: str) -> None:
        self.report(self.owner, message, key)


def _has_words(axis: Axis) -> bool:
    return any(isinstance(row, str) for row in axis.rows)


def _unit(text: str) -> Unit | None:
    """A unit, or None where it is not known, which is reported where it stands."""
    try:
        return parse_unit(text)
    except UnitError:
        return None
