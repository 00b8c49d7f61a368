"""A feed map's YAML file: source names, and what each of them is in the aircraft.

runner: 1
feed: Desk simulator
aircraft: my-airliner-aircraft.yaml
time: sim_time_ms in ms
names:
  ias: airspeed in m/s
  eng<engine>_map: manifold_pressure in hPa
  gear:
    reading: gear_position
    words:
      up: 0
      down: 1
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, cast, get_args

from runner.checklist.fields import Fields, number
from runner.checklist.nodes import Mapping, Node, Scalar, compose
from runner.checklist.problems import Problems, did_you_mean, one_of, shorten
from runner.checklist.quantities import read_range
from runner.feed.decode import Format, Separator
from runner.feed.map import MAX_VALUE, Entry, FeedMap
from runner.figures.units import UnitError, conversion, parse_unit

if TYPE_CHECKING:
    from runner.figures.model import Aircraft, ReadingRule

MAP_KEYS = (
    "runner",
    "feed",
    "about",
    "aircraft",
    "time",
    "sequence",
    "paused",
    "format",
    "header",
    "separator",
    "engines from",
    "names",
)
NAME_KEYS = ("reading", "unit", "engine", "scale", "offset", "range", "words")
ENGINES_FROM = (0, 1)
SEPARATORS: dict[str, Separator] = {"comma": ",", "semicolon": ";", "tab": "\t"}
ENGINE = "<engine>"
SECONDS = {"ms": 0.001, "us": 0.000001}
"""Units of time that clocks of programs have and pilots do not."""


def read_map_text(text: str, file: str, aircraft: Aircraft) -> FeedMap:
    """The map in ``text``. Raises ``FileErrors`` with all that is wrong in it."""
    problems = Problems()
    root = compose(text, file, problems)
    made = None if root is None else _read(root, file, aircraft, problems)
    problems.stop_on_errors()
    assert made is not None
    return made


def _read(root: Mapping, file: str, aircraft: Aircraft, problems: Problems) -> FeedMap:
    fields = Fields(root, "a feed map", MAP_KEYS, problems, "feed")
    fields.version()
    first = fields.whole("engines from", *ENGINES_FROM, 1)
    entries: dict[str, Entry] = {}
    given: dict[str, Scalar] = {}
    if fields.require("names") and (names := fields.mapping("names")) is not None:
        if not names.entries:
            problems.error(names.where, "'names' is empty; a map ties one name at least")
        for key, node in names.entries:
            for source, entry in _entries(key, node, first, aircraft, problems):
                _tie(source, entry, key, entries, given, problems)
    time, time_factor = _time(fields, problems)
    separator = fields.word("separator", SEPARATORS)
    return FeedMap(
        name=fields.line("feed"),
        entries=entries,
        time=time,
        time_factor=time_factor,
        sequence=fields.line("sequence", "seq"),
        paused=fields.line("paused", "paused"),
        format=cast("Format", fields.word("format", get_args(Format), "any")),
        header=_header(fields, problems),
        separator=SEPARATORS.get(separator, ""),
        file=file,
    )


def _tie(
    source: str,
    entry: Entry,
    key: Scalar,
    entries: dict[str, Entry],
    given: dict[str, Scalar],
    problems: Problems,
) -> None:
    if source in entries:
        problems.error(key.where, f"'{shorten(source)}' is tied already; keep one of them")
    elif (other := given.get(entry.name)) is not None:
        problems.error(
            key.where,
            f"'{entry.name}' comes from '{shorten(other.text)}' already (line {other.where.line}); "
            "keep one of them",
        )
    else:
        entries[source] = entry
        given[entry.name] = key


def _entries(
    key: Scalar, node: Node, first: int, aircraft: Aircraft, problems: Problems
) -> Iterator[tuple[str, Entry]]:
    """The entries of one line: one, or one an engine where the name has ``<engine>`` in it."""
    if isinstance(node, Mapping):
        fields = Fields(node, "a name of the source", NAME_KEYS, problems, "reading")
        reading, unit = fields.scalar("reading"), fields.scalar("unit")
    elif isinstance(node, Scalar) and node.text.strip():
        fields = Fields(Mapping((), node.where), "a name of the source", NAME_KEYS, problems)
        reading, unit = _in(node)
    else:
        problems.error(
            node.where,
            f"'{shorten(key.text)}' needs a reading of the aircraft, as 'airspeed in kt'",
        )
        return
    if reading is None or (known := _reading(reading, aircraft, problems)) is None:
        return
    rule, engine = known
    engine = _engine(fields, engine, aircraft, problems)
    shape = _shape(rule, unit, fields, problems)
    if ENGINE in key.text:
        if not rule.each_engine or engine:
            problems.error(
                key.where,
                f"{ENGINE} stands for each engine in turn, but '{shorten(reading.text)}' is "
                + ("of one engine" if engine else "not a reading of each engine"),
            )
            return
        for each in range(1, aircraft.engines + 1):
            source = key.text.replace(ENGINE, str(each - 1 + first))
            yield source, _named(shape, f"{rule.name}_{each}")
    elif rule.each_engine and not engine:
        if "engine" not in fields:
            problems.error(
                reading.where,
                f"'{rule.name}' is a reading of each engine: write {rule.name}_1 for engine 1, "
                f"or {ENGINE} where the source's name has the engine's number",
            )
    else:
        yield key.text, _named(shape, f"{rule.name}_{engine}" if engine else rule.name)


def _named(shape: Entry, name: str) -> Entry:
    return Entry(name, shape.factor, shape.offset, shape.low, shape.high, shape.words, shape.switch)


def _in(scalar: Scalar) -> tuple[Scalar, Scalar | None]:
    """`NAME in UNIT` as its parts; the unit is None where none is written."""
    text = scalar.text
    place = text.rfind(" in ")
    if place < 0:
        return scalar.piece(0, len(text.rstrip())), None
    unit = place + 4 + len(text[place + 4 :]) - len(text[place + 4 :].lstrip())
    return scalar.piece(0, len(text[:place].rstrip())), scalar.piece(unit, len(text.rstrip()))


def _reading(
    scalar: Scalar, aircraft: Aircraft, problems: Problems
) -> tuple[ReadingRule, int] | None:
    """The reading that is named, and its engine or 0."""
    text = scalar.text.strip()
    if (rule := aircraft.readings.get(text)) is not None:
        return rule, 0
    name, _, last = text.rpartition("_")
    rule = aircraft.readings.get(name)
    if rule is not None and rule.each_engine and last.isascii() and last.isdecimal():
        if last == str(int(last)) and 1 <= int(last) <= aircraft.engines:
            return rule, int(last)
        problems.error(
            scalar.where, f"there is no engine {shorten(last)}; they are 1 to {aircraft.engines}"
        )
        return None
    names = list(aircraft.readings)
    problems.error(
        scalar.where,
        f"'{shorten(text)}' is not a reading of {aircraft.name}"
        + (did_you_mean(text, names) or f"; its readings are {one_of(names)}"),
    )
    return None


def _engine(fields: Fields, named: int, aircraft: Aircraft, problems: Problems) -> int:
    engine = fields.whole("engine", 1, aircraft.engines, 0)
    if named and engine and named != engine:
        problems.error(
            fields.at("engine"), f"the reading names engine {named}, this line engine {engine}"
        )
    return named or engine


def _shape(rule: ReadingRule, unit: Scalar | None, fields: Fields, problems: Problems) -> Entry:
    """How a value becomes the reading: everything of an entry but its name."""
    factor, offset = 1.0, 0.0
    if unit is not None:
        try:
            source = parse_unit(unit.text)
            factor, offset = conversion(source, parse_unit(rule.unit), absolute=True)
        except UnitError as error:
            problems.error(unit.where, f"{rule.name}: {error}")
    scale = _number(fields, "scale", 1.0, problems)
    plus = _number(fields, "offset", 0.0, problems)
    if scale == 0:
        problems.error(fields.at("scale"), "'scale' is not 0: every value would be the same")
    low, high = -MAX_VALUE, MAX_VALUE
    if line := fields.scalar("range"):
        low, high = read_range(line, rule.unit, problems) or (low, high)
    return Entry(
        rule.name,
        scale * factor,
        plus * factor + offset,
        max(low, -MAX_VALUE),
        min(high, MAX_VALUE),
        dict(_words(fields, problems)),
        not rule.unit,
    )


def _number(fields: Fields, key: str, default: float, problems: Problems) -> float:
    scalar = fields.scalar(key)
    found = None if scalar is None else number(scalar, problems, f"'{key}'")
    return default if found is None else found


def _words(fields: Fields, problems: Problems) -> Iterator[tuple[str, float]]:
    node = fields.mapping("words")
    for key, value in node.entries if node is not None else ():
        if isinstance(value, Scalar):
            found = number(value, problems, f"what '{shorten(key.text)}' stands for")
            if found is not None:
                yield key.text.strip().lower(), found
        else:
            problems.error(value.where, f"'{shorten(key.text)}' stands for one number")


def _time(fields: Fields, problems: Problems) -> tuple[str, float]:
    scalar = fields.scalar("time")
    if scalar is None:
        return "time", 1.0
    name, unit = _in(scalar)
    if unit is None:
        return name.text.strip(), 1.0
    if unit.text in SECONDS:
        return name.text.strip(), SECONDS[unit.text]
    try:
        return name.text.strip(), conversion(parse_unit(unit.text), parse_unit("s"))[0]
    except UnitError as error:
        problems.error(unit.where, f"time: {error}")
        return name.text.strip(), 1.0


def _header(fields: Fields, problems: Problems) -> tuple[str, ...]:
    header: list[str] = []
    for column in fields.names("header"):
        if column.text in header:
            problems.error(column.where, f"the column '{shorten(column.text)}' stands twice")
        else:
            header.append(column.text)
    if header and fields.line("format") == "json":
        problems.error(fields.at("header"), "'header' names the columns of CSV, not of JSON")
    return tuple(header)
