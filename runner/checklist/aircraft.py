"""An aircraft file as frozen data: roles, inputs, constants, tables, figures, readings, limits,
schedules and pictures."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, get_args

from runner.checklist.fields import Fields, decimal_places, good_name
from runner.checklist.model import Where
from runner.checklist.nodes import Mapping, Node, Scalar
from runner.checklist.problems import Problems, did_you_mean, one_of, shorten
from runner.checklist.quantities import (
    read_constant,
    read_formula,
    read_quantity,
    read_range,
    read_unit,
)
from runner.checklist.schedules import note_fault, read_pictures, read_schedules
from runner.checklist.tables import read_table
from runner.phrasing.style import Kind

if TYPE_CHECKING:
    from runner.figures.expression import Expression
    from runner.figures.model import (
        Aircraft,
        Constant,
        Direction,
        FigureRule,
        Input,
        Limit,
        ReadingRule,
        Rounding,
        Table,
    )

AIRCRAFT_KEYS = (
    "runner",
    "aircraft",
    "about",
    "roles",
    "engines",
    "inputs",
    "constants",
    "tables",
    "figures",
    "readings",
    "limits",
    "schedules",
    "pictures",
)
INPUT_KEYS = (
    "title",
    "unit",
    "range",
    "choices",
    "default",
    "from",
    "ask",
    "kind",
    "decimals",
    "follows",
    "step",
    "while",
)
CONSTANT_KEYS = ("title", "value")
FIGURE_KEYS = (
    "title",
    "from",
    "unit",
    "round",
    "kind",
    "decimals",
    "if",
    "at least",
    "at most",
    "group",
)
READING_KEYS = ("title", "unit", "kind", "decimals", "each engine", "shows")
LIMIT_KEYS = ("reading", "at least", "at most", "said", "if", "for", "every")
KINDS: tuple[str, ...] = get_args(Kind)
MAX_ENGINES = 12
MAX_DECIMALS = 6

RESERVED = frozenset({"engine", "after", "at"})
"""Names that texts, triggers and schedules use themselves; those of formulas are refused there."""

_ROUND = re.compile(r"(up|down) to (.+)|to (nearest) (.+)")


@dataclass(slots=True)
class Places:
    """Where each named thing of an aircraft file stands, good or not."""

    names: dict[str, Where] = field(default_factory=dict)
    kinds: dict[str, str] = field(default_factory=dict)
    formulas: dict[tuple[str, str], Scalar] = field(default_factory=dict)
    """By name and key (`from`, `if`, `at least` ...): the formula as it stands in the file. Of
    a schedule or a picture also its names and amounts."""

    entries: dict[str, Fields] = field(default_factory=dict)
    """By name, for a limit by its position, `schedule NAME`, `picture NAME`: its own keys."""

    unsure: set[str] = field(default_factory=set)
    """Names with an error of their own: what uses them is not complained of."""

    def formula(self, name: str, key: str, fields: Fields, problems: Problems) -> Expression | None:
        """Read a formula and keep its place."""
        self.entries[name] = fields
        scalar = fields.scalar(key)
        if scalar is None:
            return None
        self.formulas[name, key] = scalar
        return read_formula(scalar, problems)


def read_aircraft(
    root: Mapping, text: str, file: str, problems: Problems
) -> tuple[Aircraft, Places]:
    """What could be read of an aircraft file, and the places of its names."""
    from runner.figures.model import Aircraft

    fields = Fields(root, "an aircraft file", AIRCRAFT_KEYS, problems, "aircraft")
    fields.version()
    places = Places()
    named = [
        (section, kind, list(fields.named(section)))
        for section, kind in (
            ("inputs", "an input"),
            ("constants", "a constant"),
            ("tables", "a table"),
            ("figures", "a figure"),
            ("readings", "a reading"),
        )
    ]
    engines = fields.whole("engines", 1, MAX_ENGINES, 1)
    sections: dict[str, list[tuple[Scalar, Node]]] = {}
    for section, kind, entries in named:
        sections[section] = [
            (name, node) for name, node in entries if _declared(name, kind, places, problems)
        ]
    made: dict[str, dict[str, Any]] = {}
    for section, read in _READERS.items():
        made[section] = {}
        for name, node in sections[section]:
            before = len(problems.found)
            thing = read(name.text, node, places, problems)
            if thing is None or len(problems.found) > before:
                places.unsure.add(name.text)
            if thing is not None:
                made[section][name.text] = thing
    aircraft = Aircraft(
        name=fields.line("aircraft"),
        about=fields.line("about"),
        file=file,
        sha256=hashlib.sha256(text.encode()).hexdigest(),
        roles=tuple(_roles(fields, problems)),
        engines=engines,
        **made,
        limits=tuple(_limits(fields, places, problems)),
        schedules=read_schedules(fields, made["inputs"], made["figures"], places, problems),
        pictures=read_pictures(fields, made["tables"], places, problems),
    )
    return _compiled(aircraft, places, problems), places


def _compiled(aircraft: Aircraft, places: Places, problems: Problems) -> Aircraft:
    """The aircraft with its formulas compiled, and what is wrong with them noted."""
    from runner.figures.aircraft import compiled_aircraft

    done, faults = compiled_aircraft(aircraft)
    for fault in faults:
        if note_fault(fault, places, problems):
            continue
        name, message, offset, key = fault
        scalar = places.formulas.get((name, key))
        if scalar is not None:
            owner = aircraft.limits[int(name)].reading if name.isdigit() else name
            if places.unsure.isdisjoint([owner, *re.findall(r"\w+", scalar.text)]):
                problems.error(scalar.at(offset), message)
        elif (entry := places.entries.get(name)) is not None and key in entry:
            problems.error(entry.at(key), message)
        else:
            problems.error(places.names[name], message)
    return done


def _declared(name: Scalar, kind: str, places: Places, problems: Problems) -> bool:
    if name.text in RESERVED:
        problems.error(name.where, f"'{name.text}' has a meaning of its own; choose another name")
        return False
    if first := places.names.get(name.text):
        problems.error(
            name.where,
            f"'{name.text}' is {places.kinds[name.text]} already (line {first.line}); "
            "choose another name",
        )
        return False
    places.names[name.text] = name.where
    places.kinds[name.text] = kind
    return True


def _roles(fields: Fields, problems: Problems) -> list[str]:
    roles: list[str] = []
    for role in fields.names("roles"):
        if role.text in roles:
            problems.error(role.where, f"the role '{shorten(role.text)}' stands twice")
        else:
            roles.append(role.text)
    return roles


def _section(name: str, node: Node, what: str, keys: tuple[str, ...], problems: Problems) -> Fields:
    if isinstance(node, Mapping):
        return Fields(node, what, keys, problems)
    problems.error(node.where, f"'{name}' has keys of its own: {one_of(keys)}")
    return Fields(Mapping((), node.where), what, (), problems)


def _kind(fields: Fields, default: str = "plain") -> str:
    return fields.word("kind", KINDS, default)


def _title(name: str, fields: Fields) -> str:
    return fields.line("title") or name.replace("_", " ")


def _input(name: str, node: Node, places: Places, problems: Problems) -> Input | None:
    from runner.figures.model import Input

    if not isinstance(node, Mapping):
        _section(name, node, "an input", INPUT_KEYS, problems)
        return None
    fields = Fields(node, "an input", INPUT_KEYS, problems)
    title, ask = _title(name, fields), fields.line("ask")
    default = fields.scalar("default")
    formula = places.formula(name, "from", fields, problems)
    if "choices" in fields:
        for key in ("unit", "range", "kind", "decimals", "follows", "step", "while"):
            fields.refuse(key, "is for a number; this input is a choice")
        choices: list[str] = []
        for choice in fields.names("choices"):
            if choice.text in choices:
                problems.error(choice.where, f"the choice '{shorten(choice.text)}' stands twice")
            elif good_name(choice, problems):
                choices.append(choice.text)
        if default is not None and default.text not in choices:
            problems.error(
                default.where,
                f"'{shorten(default.text)}' is not one of the choices: {one_of(choices)}"
                + did_you_mean(default.text, choices),
            )
        return Input(
            name,
            title,
            choices=tuple(choices),
            default=None if default is None else default.text,
            ask=ask,
            formula=formula,
            kind="words",
        )
    unit = read_unit(fields.scalar("unit"), problems)
    low, high = float("-inf"), float("inf")
    if fields.require("range") and (line := fields.scalar("range")):
        low, high = read_range(line, unit, problems) or (low, high)
    value = None if default is None else read_quantity(default, unit, problems)
    if default is not None and value is not None and not low <= value <= high:
        problems.error(
            default.where, f"{value:g} is outside the range {low:g} to {high:g} of '{name}'"
        )
    decimals = fields.whole("decimals", 0, MAX_DECIMALS, 0)
    kind = _kind(fields)
    follows = places.formula(name, "follows", fields, problems)
    step = fields.scalar("step")
    moved = None if step is None else read_quantity(step, unit, problems, difference=True)
    if follows is not None and not moved:
        problems.error(
            fields.at("follows"), "'follows' needs 'step': how much it has to move, as step: 200 ft"
        )
    return Input(
        name,
        title,
        unit,
        low,
        high,
        value,
        ask=ask,
        formula=formula,
        kind=kind,
        decimals=decimals,
        follows=follows,
        step=moved or 0.0,
        follows_if=places.formula(name, "while", fields, problems),
    )


def _constant(name: str, node: Node, _places: Places, problems: Problems) -> Constant | None:
    from runner.figures.model import Constant

    title = name.replace("_", " ")
    scalar = node if isinstance(node, Scalar) else None
    if scalar is None:
        fields = _section(name, node, "a constant", CONSTANT_KEYS, problems)
        if isinstance(node, Mapping):
            fields.require("value")
        title, scalar = _title(name, fields), fields.scalar("value")
    read = None if scalar is None else read_constant(scalar, problems)
    return None if read is None else Constant(name, read[0], read[1], title)


def _figure(name: str, node: Node, places: Places, problems: Problems) -> FigureRule | None:
    from runner.figures.model import FigureRule, Rounding

    fields = _section(name, node, "a figure", FIGURE_KEYS, problems)
    if isinstance(node, Mapping):
        fields.require("from")
    formula = places.formula(name, "from", fields, problems)
    unit = read_unit(fields.scalar("unit"), problems)
    decimals = fields.whole("decimals", 0, MAX_DECIMALS, 0)
    rounding, places_needed = Rounding(step=10.0**-decimals), decimals
    if line := fields.scalar("round"):
        rounding, places_needed = _rounding(line, unit, problems)
        if "decimals" not in fields:
            decimals = places_needed
        elif decimals < places_needed:
            problems.error(
                fields.at("decimals"),
                f"{decimals} decimals cannot show steps of {rounding.step:g}: the shown figure "
                f"would leave its safe side; write {places_needed} or more",
            )
            decimals = places_needed
    condition = places.formula(name, "if", fields, problems)
    low = places.formula(name, "at least", fields, problems)
    high = places.formula(name, "at most", fields, problems)
    title, kind = _title(name, fields), _kind(fields)
    if formula is None:
        return None
    group = fields.line("group")
    return FigureRule(
        name, title, formula, unit, rounding, decimals, kind, condition, low, high, group
    )


def _rounding(scalar: Scalar, unit: str, problems: Problems) -> tuple[Rounding, int]:
    """The rounding and the decimal places that its step needs."""
    from runner.figures.model import Rounding

    parts = _ROUND.fullmatch(scalar.text.strip())
    step = parts and scalar.piece(*parts.span(2 if parts[2] else 4))
    if parts is None or step is None:
        problems.error(
            scalar.where,
            "rounding is 'up to STEP', 'down to STEP' or 'to nearest STEP', as 'up to 1', "
            f"not '{shorten(scalar.text)}'",
        )
        return Rounding(), 0
    size = read_quantity(step, unit, problems)
    if size is None:
        return Rounding(), 0
    needed = decimal_places(f"{size:.9f}")
    if size <= 0 or needed > MAX_DECIMALS:
        problems.error(
            step.where,
            f"a step is above 0 with at most {MAX_DECIMALS} decimals, as 1, 50 or 0.5",
        )
        return Rounding(), 0
    direction: Direction = "nearest"
    if parts[1]:
        direction = "up" if parts[1] == "up" else "down"
    return Rounding(direction, size), needed


def _reading(name: str, node: Node, _places: Places, problems: Problems) -> ReadingRule | None:
    from runner.figures.model import ReadingRule

    if not isinstance(node, Mapping):
        _section(name, node, "a reading", READING_KEYS, problems)
        return None
    fields = Fields(node, "a reading", READING_KEYS, problems)
    return ReadingRule(
        name,
        _title(name, fields),
        read_unit(fields.scalar("unit"), problems),
        fields.yes("each engine"),
        _kind(fields),
        fields.whole("decimals", 0, MAX_DECIMALS, 0),
        tuple(_shows(fields, problems)),
    )


def _shows(fields: Fields, problems: Problems) -> Iterator[tuple[float, str]]:
    """Values of a reading with what they mean."""
    node = fields.mapping("shows")
    if node is None:
        return
    values = Fields(node, "", (key.text for key, _ in node.entries), problems)
    for key, _ in node.entries:
        number, word = read_quantity(key, "", problems), values.line(key.text)
        if number is not None and word:
            yield number, word


def _limits(fields: Fields, places: Places, problems: Problems) -> list[Limit]:
    from runner.figures.model import Limit

    limits: list[Limit] = []
    for node in fields.mappings("limits"):
        entry = Fields(node, "a limit", LIMIT_KEYS, problems, "reading")
        name = str(len(limits))
        low = places.formula(name, "at least", entry, problems)
        high = places.formula(name, "at most", entry, problems)
        if "at least" not in entry and "at most" not in entry:
            problems.error(entry.where, "a limit needs the key 'at least' or 'at most'")
        reading = entry.scalar("reading")
        if reading is None:
            continue
        known = [n for n, kind in places.kinds.items() if kind == "a reading"]
        if reading.text not in known:
            problems.error(
                reading.where,
                f"'{shorten(reading.text)}' is not a reading of the aircraft"
                + did_you_mean(reading.text, known),
            )
            continue
        condition = places.formula(name, "if", entry, problems)
        hold, every = entry.whole("for", 0, 3600, 1), entry.whole("every", 0, 3600, 60)
        said = entry.line("said")
        limits.append(Limit(reading.text, low, high, said, condition, hold, every))
    return limits


def _table(name: str, node: Node, _places: Places, problems: Problems) -> Table | None:
    return read_table(name, node, problems)


_READERS: dict[str, Callable[[str, Node, Places, Problems], object | None]] = {
    "inputs": _input,
    "constants": _constant,
    "tables": _table,
    "figures": _figure,
    "readings": _reading,
}
