"""Schedules and pictures of an aircraft file, and the places of what is wrong with them.

Names and units are checked by ``runner.figures.schedule_checks`` once the whole file is
read; what is kept here under its keys is where each of them stands.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from runner.checklist.fields import Fields
from runner.checklist.nodes import Mapping as MappingNode
from runner.checklist.nodes import Scalar
from runner.checklist.problems import Problems, one_of, shorten
from runner.checklist.quantities import read_formula, read_quantity

if TYPE_CHECKING:
    from runner.checklist.aircraft import Places
    from runner.figures.aircraft import Fault
    from runner.figures.expression import Expression
    from runner.figures.model import (
        Aircraft,
        Chart,
        Envelope,
        FigureRule,
        Input,
        Picture,
        Schedule,
        Steps,
        Table,
    )
    from runner.figures.sheet import Worked

SCHEDULE_KEYS = ("title", "varies", "from", "to", "every", "with", "figures", "changes")
CHART_KEYS = ("title", "table", "column", "across", "lines", "figure")
ENVELOPE_KEYS = ("title", "across", "up", "between")
STEPS_KEYS = ("title", "schedule", "figures")

_BETWEEN = re.compile(r"(\S+)\s+and\s+(\S+)")


def read_schedules(
    fields: Fields,
    inputs: Mapping[str, Input],
    figures: Mapping[str, FigureRule],
    places: Places,
    problems: Problems,
) -> dict[str, Schedule]:
    """The schedules, as far as they could be read, with what is wrong noted."""
    made: dict[str, Schedule] = {}
    for name, node in fields.named("schedules"):
        owner = f"schedule {name.text}"
        entry = _Entry(owner, places, problems)
        before = len(problems.found)
        if isinstance(node, MappingNode):
            made[name.text] = _schedule(name.text, node, inputs, figures, entry)
        else:
            keys = one_of(SCHEDULE_KEYS)
            problems.error(node.where, f"'{name.text}' has keys of its own: {keys}")
            places.unsure.add(name.text)
        if len(problems.found) > before:
            places.unsure.add(owner)
    return made


def read_pictures(
    fields: Fields, tables: Mapping[str, Table], places: Places, problems: Problems
) -> dict[str, Picture]:
    """The pictures, as far as they could be read, with what is wrong noted."""
    made: dict[str, Picture] = {}
    for name, node in fields.named("pictures"):
        owner = f"picture {name.text}"
        entry = _Entry(owner, places, problems)
        before = len(problems.found)
        if isinstance(node, MappingNode):
            picture = _picture(name.text, node, tables, entry)
            if picture is not None:
                made[name.text] = picture
        else:
            problems.error(
                node.where,
                f"'{name.text}' has keys of its own: 'table', 'between' or 'schedule' and others",
            )
        if len(problems.found) > before:
            places.unsure.add(owner)
    return made


def note_fault(fault: Fault, places: Places, problems: Problems) -> bool:
    """Note a fault of a schedule or a picture at its place; False where it is of neither.

    What follows from something that is wrong by itself is not told again.
    """
    if not fault.name.startswith(("schedule ", "picture ")):
        return False
    scalar = places.formulas.get((fault.name, fault.key))
    entry = places.entries[fault.name]
    words = re.findall(r"\w+", f"{scalar.text if scalar else ''} {fault.message}")
    if not places.unsure.isdisjoint(words):
        return True
    if scalar is not None:
        problems.error(scalar.at(fault.offset), fault.message)
    elif fault.name not in places.unsure:
        problems.error(entry.at(fault.key), fault.message)
    return True


def schedule_advice(aircraft: Aircraft, worked: Worked, places: Places, problems: Problems) -> None:
    """Advice on schedules that cannot be worked out for what ``worked`` is worked out for."""
    from runner.errors import RunnerError
    from runner.figures.schedule import work_schedule
    from runner.figures.sheet import Sheet

    sheet = Sheet(aircraft)
    for name, schedule in aircraft.schedules.items():
        where = places.entries[f"schedule {name}"].where
        try:
            done = work_schedule(sheet, worked, schedule)
        except RunnerError as error:
            problems.advise(where, f"for the inputs' defaults: {error}")
            continue
        for figure in schedule.figures:
            if not any(figure in row.figures for row in done.rows):
                reasons = [row.problems[figure] for row in done.rows if figure in row.problems]
                because = f": {reasons[0]}" if reasons else ""
                problems.advise(
                    where,
                    f"'{figure}' has no value at any step for the inputs' defaults{because}",
                )


class _Entry:
    """One schedule or picture, ``owner``, whose texts are kept with their places."""

    def __init__(self, owner: str, places: Places, problems: Problems) -> None:
        self.owner = owner
        self.places = places
        self.problems = problems

    def fields(self, node: MappingNode, what: str, keys: tuple[str, ...]) -> Fields:
        """The keys, which are kept too."""
        fields = Fields(node, what, keys, self.problems)
        self.places.entries[self.owner] = fields
        return fields

    def keep(self, key: str, scalar: Scalar) -> str:
        """The text of a scalar, its place kept under ``key``."""
        self.places.formulas[self.owner, key] = scalar
        return scalar.text.strip()

    def name(self, fields: Fields, key: str) -> str:
        """A name, '' where there is none."""
        scalar = fields.scalar(key)
        return "" if scalar is None else self.keep(key, scalar)

    def names(self, fields: Fields, key: str) -> tuple[str, ...]:
        """Several names, each but once."""
        found: dict[str, None] = {}
        for scalar in fields.names(key):
            if scalar.text in found:
                self.problems.error(scalar.where, f"'{shorten(scalar.text)}' stands twice")
            else:
                found[self.keep(f"{key} {scalar.text}", scalar)] = None
        return tuple(found)

    def pairs(self, fields: Fields, key: str) -> list[tuple[str, Scalar]]:
        """Names with a text each, as lines ``name: text``."""
        found: list[tuple[str, Scalar]] = []
        for name, value in fields.named(key):
            if isinstance(value, Scalar) and value.text.strip():
                found.append((self.keep(f"{key} {name.text}", name), value))
            else:
                self.problems.error(value.where, f"'{name.text}' is one line of text here")
        return found


def _schedule(
    name: str,
    node: MappingNode,
    inputs: Mapping[str, Input],
    figures: Mapping[str, FigureRule],
    entry: _Entry,
) -> Schedule:
    """A schedule; what could not be read is put so that it gives no second error."""
    from runner.figures.expression import parse
    from runner.figures.model import Schedule

    fields = entry.fields(node, "a schedule", SCHEDULE_KEYS)
    problems = entry.problems
    for key in ("varies", "from", "to", "every", "figures"):
        fields.require(key)
    varies = entry.name(fields, "varies")
    unread = parse(varies if varies in inputs else "0")

    def formula(key: str) -> Expression:
        scalar = fields.scalar(key)
        if scalar is not None:
            entry.keep(key, scalar)
        return read_formula(scalar, problems) or unread

    def amount(key: str, scalar: Scalar | None, of: str) -> float:
        holder = inputs.get(of) or figures.get(of)
        if scalar is None or holder is None or of in entry.places.unsure:
            return 1.0
        entry.keep(key, scalar)
        if of in inputs and inputs[of].choices:
            return 1.0
        value = read_quantity(scalar, holder.unit, problems, difference=True)
        return 1.0 if value is None else value

    given: list[tuple[str, Expression]] = []
    for input_name, text in entry.pairs(fields, "with"):
        entry.keep(f"with {input_name} from", text)
        read = read_formula(text, problems)
        if read is not None:
            given.append((input_name, read))
    changes = entry.pairs(fields, "changes")
    return Schedule(
        name,
        fields.line("title") or name.replace("_", " "),
        varies,
        formula("from"),
        formula("to"),
        amount("every", fields.scalar("every"), varies if varies in inputs else ""),
        entry.names(fields, "figures"),
        tuple(given),
        tuple((one, amount(f"changes {one} by", text, one)) for one, text in changes),
    )


def _picture(
    name: str, node: MappingNode, tables: Mapping[str, Table], entry: _Entry
) -> Picture | None:
    kinds = [key for key in ("table", "between", "schedule") if node.get(key) is not None]
    if len(kinds) > 1:
        first, second = kinds[:2]
        entry.problems.error(
            node.where,
            f"a picture has '{first}' or '{second}', not both: make two pictures of it",
        )
        return None
    if kinds:
        return _READERS[kinds[0]](name, node, tables, entry)
    before = len(entry.problems.found)
    Fields(
        node,
        "a picture",
        tuple(dict.fromkeys((*CHART_KEYS, *ENVELOPE_KEYS, *STEPS_KEYS))),
        entry.problems,
    )
    if len(entry.problems.found) == before:
        entry.problems.error(
            node.where,
            "a picture needs the key 'table' for a chart, 'between' for a balance envelope or "
            "'schedule' for the steps of a schedule",
        )
    return None


def _title(name: str, fields: Fields) -> str:
    return fields.line("title") or name.replace("_", " ")


def _chart(name: str, node: MappingNode, tables: Mapping[str, Table], entry: _Entry) -> Chart:
    from runner.figures.model import Chart

    fields = entry.fields(node, "a picture of a table", CHART_KEYS)
    fields.require("across")
    of = entry.name(fields, "table")
    column = entry.name(fields, "column")
    table = tables.get(of)
    if table is not None and len(table.columns) == 1 and "column" not in fields:
        column = table.columns[0][0]
    return Chart(
        name,
        _title(name, fields),
        of,
        column,
        entry.name(fields, "across"),
        entry.name(fields, "lines"),
        entry.name(fields, "figure"),
    )


def _envelope(
    name: str, node: MappingNode, _tables: Mapping[str, Table], entry: _Entry
) -> Envelope:
    from runner.figures.model import Envelope

    fields = entry.fields(node, "a picture of an envelope", ENVELOPE_KEYS)
    for key in ("across", "up"):
        fields.require(key)
    low, high = "", ""
    between = fields.scalar("between")
    if between is not None:
        parts = _BETWEEN.fullmatch(between.text.strip())
        if parts is None:
            entry.problems.error(
                between.where,
                "an envelope lies between two tables, as 'forward_limit and aft_limit' or "
                f"'limits.forward and limits.aft', not '{shorten(between.text)}'",
            )
        else:
            low = entry.keep("between low", between.piece(*parts.span(1)))
            high = entry.keep("between high", between.piece(*parts.span(2)))
    across, up = entry.name(fields, "across"), entry.name(fields, "up")
    return Envelope(name, _title(name, fields), across, up, low, high)


def _steps(name: str, node: MappingNode, _tables: Mapping[str, Table], entry: _Entry) -> Steps:
    from runner.figures.model import Steps

    fields = entry.fields(node, "a picture of a schedule", STEPS_KEYS)
    fields.require("figures")
    schedule = entry.name(fields, "schedule")
    return Steps(name, _title(name, fields), schedule, entry.names(fields, "figures"))


_READERS: Mapping[str, Callable[[str, MappingNode, Mapping[str, Table], _Entry], Picture]] = {
    "table": _chart,
    "between": _envelope,
    "schedule": _steps,
}
