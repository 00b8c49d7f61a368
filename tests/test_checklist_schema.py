"""The schemas that editors use know what the loader knows, and judge files as it does."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, get_args

import pytest
import yaml
from jsonschema import Draft202012Validator

import runner.checklist
from checklist_files import AIRCRAFT, MARK, PROCEDURES, VOICE, edited, errors_of
from runner.checklist import aircraft, callouts, items, procedures, schedules, tables, voice
from runner.checklist.files import shipped_files
from runner.checklist.load import kind_of
from runner.checklist.nodes import compose, plain
from runner.checklist.problems import Problems
from runner.feed import map_file
from runner.feed.decode import Format
from runner.phrasing.speech import CONTROLS, PHRASES
from test_checklist_errors import AIRCRAFT_MISTAKES, PROCEDURE_MISTAKES, VOICE_MISTAKES

FEED = """\
runner: 1
feed: Desk simulator
aircraft: whimbrel-four-aircraft
time: sim_time_ms in ms
engines from: 0
format: csv
separator: semicolon
header:
  - sim_time_ms
  - ias
names:
  ias: airspeed in m/s
  eng<engine>_map: manifold_pressure in hPa
  gear:
    reading: gear_position
    range: 0 to 1
    words:
      up: 0
      down: 1
"""

FILES = {"procedures": PROCEDURES, "aircraft": AIRCRAFT, "voice": VOICE, "feed": FEED}


def schema(kind: str) -> dict[str, Any]:
    folder = Path(runner.checklist.__file__).parent / "schema"
    read: dict[str, Any] = json.loads((folder / f"{kind}.schema.json").read_text())
    return read


def data(text: str) -> tuple[Any, list[str]]:
    problems = Problems()
    root = compose(text, "f.yaml", problems)
    return None if root is None else plain(root), [str(p) for p in problems.found]


def is_valid(kind: str, value: Any) -> bool:
    return bool(Draft202012Validator(schema(kind)).is_valid(value))


@pytest.mark.parametrize("kind", FILES)
def test_a_schema_is_one_of_draft_2020_12(kind: str) -> None:
    read = schema(kind)
    assert read["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    Draft202012Validator.check_schema(read)


def described(part: Any, path: str = "") -> list[str]:
    """Keys of a schema that have no description."""
    missing: list[str] = []
    if isinstance(part, dict):
        for name, value in part.get("properties", {}).items():
            if (isinstance(value, dict) and len(value) > 1) or "$ref" in value:
                missing += [] if "description" in value else [f"{path}/{name}"]
        for name, value in part.items():
            missing += described(value, f"{path}/{name}")
    elif isinstance(part, list):
        for value in part:
            missing += described(value, path)
    return missing


@pytest.mark.parametrize("kind", FILES)
def test_every_key_is_described(kind: str) -> None:
    assert [m for m in described(schema(kind)) if not m.endswith("/if/kind")] == []


KEYS = [
    ("procedures", "", procedures.PROCEDURES_KEYS),
    ("procedures", "phase", procedures.PHASE_KEYS),
    ("procedures", "list", procedures.LIST_KEYS),
    ("procedures", "moment", callouts.MOMENT_KEYS),
    ("procedures", "callout", callouts.CALLOUT_KEYS),
    ("procedures", "item", [k for k in items.ITEM_KEYS if k not in ("say", "same as")]),
    ("procedures", "say", items.SAY_KEYS),
    ("procedures", "same as", items.SAME_AS_KEYS),
    ("aircraft", "", aircraft.AIRCRAFT_KEYS),
    ("aircraft", "input", aircraft.INPUT_KEYS),
    ("aircraft", "table", tables.TABLE_KEYS),
    ("aircraft", "figure", aircraft.FIGURE_KEYS),
    ("aircraft", "reading", aircraft.READING_KEYS),
    ("aircraft", "limit", aircraft.LIMIT_KEYS),
    ("aircraft", "schedule", schedules.SCHEDULE_KEYS),
    ("aircraft", "chart", schedules.CHART_KEYS),
    ("aircraft", "envelope", schedules.ENVELOPE_KEYS),
    ("aircraft", "steps", schedules.STEPS_KEYS),
    ("voice", "", voice.VOICE_KEYS),
    ("feed", "", map_file.MAP_KEYS),
    ("feed", "name", map_file.NAME_KEYS),
]


@pytest.mark.parametrize(("kind", "part", "keys"), KEYS)
def test_schema_and_loader_know_the_same_keys(kind: str, part: str, keys: list[str]) -> None:
    read = schema(kind)
    properties = (read["$defs"][part] if part else read)["properties"]
    assert sorted(properties) == sorted(keys)


def test_schema_and_loader_know_the_same_words() -> None:
    defs, craft = schema("procedures")["$defs"], schema("aircraft")["$defs"]
    assert sorted(defs["list"]["properties"]["kind"]["enum"]) == sorted(procedures.LIST_KINDS)
    assert sorted(defs["list"]["properties"]["start"]["enum"]) == sorted(procedures.STARTS)
    assert sorted(defs["phase"]["properties"]["wordiness"]["enum"]) == sorted(procedures.WORDINESS)
    for part in ("input", "figure", "reading"):
        assert sorted(craft[part]["properties"]["kind"]["enum"]) == sorted(aircraft.KINDS)
    constant = craft["constant"]["anyOf"][1]["properties"]
    assert sorted(constant) == sorted(aircraft.CONSTANT_KEYS)
    style = schema("voice")["properties"]
    assert sorted(style["control"]["properties"]) == sorted(CONTROLS)
    assert sorted(style["phrases"]["properties"]) == sorted(PHRASES)
    assert sorted(style["numbers"]["enum"]) == sorted(voice.NUMBER_STYLES)
    feed = schema("feed")["properties"]
    assert sorted(feed["format"]["enum"]) == sorted(get_args(Format))
    assert sorted(feed["separator"]["enum"]) == sorted(map_file.SEPARATORS)
    assert {int(number) for number in feed["engines from"]["enum"]} == set(map_file.ENGINES_FROM)


@pytest.mark.parametrize("kind", FILES)
def test_a_good_file_is_valid(kind: str) -> None:
    assert is_valid(kind, data(FILES[kind])[0])


@pytest.mark.parametrize("path", list(shipped_files()), ids=lambda path: path.name)
def test_every_shipped_file_is_valid_as_text_and_as_an_editor_reads_it(path: Path) -> None:
    root = compose(path.read_text(), path.name, Problems())
    assert root is not None
    kind = kind_of(root)
    assert kind is not None
    assert is_valid(kind, plain(root))


def test_an_editor_that_reads_numbers_finds_a_good_file_valid() -> None:
    value = yaml.load(VOICE, Loader=yaml.CSafeLoader)
    assert value["rate"] == 170
    assert is_valid("voice", value)
    value["rate"] = 900
    assert not is_valid("voice", value)


BROKEN = [
    *(("procedures", *one) for one in PROCEDURE_MISTAKES),
    *(("aircraft", *one) for one in AIRCRAFT_MISTAKES),
    *(("voice", *one) for one in VOICE_MISTAKES),
]


def test_what_the_schema_refuses_the_loader_refuses_too_and_the_schema_sees_most_shapes() -> None:
    refused = 0
    for kind, old, new, _ in BROKEN:
        text, _ = edited(FILES[kind], old, new)
        value, problems = data(text)
        assert errors_of(kind, text)
        if value is not None and not problems and not is_valid(kind, value):
            refused += 1
    assert refused >= 60


SHAPES = [
    ("procedures", "wordiness: full", "wordiness: ¦fully"),
    ("procedures", "about: Inv", "¦abuot: Inv"),
    ("procedures", "kind: flow", "kind: ¦flows"),
    ("procedures", "    said: gear coming up", "    ¦name: gear up"),
    ("procedures", "critical: yes", "critical: ¦true"),
    ("procedures", "- challenge: Flaps\n", "- ¦chalenge: Flaps\n"),
    ("procedures", "            critical: yes\n", "            ¦readback: rotate_speed\n"),
    ("procedures", "            keep: runway_surface\n", ""),
    ("procedures", "when: airspeed rises to rotate_speed", "when: ¦airspeed at 90 kt"),
    ("procedures", "same as: before-takeoff.flaps", "same as: ¦flaps"),
    ("procedures", "runner: 1", "runner: ¦2"),
    ("aircraft", "engines: 2", "engines: ¦13"),
    ("aircraft", "range: 20000 to 30000", "range: ¦20000"),
    ("aircraft", "choices: dry, wet", "choices: dry, wet\n    ¦unit: ft"),
    ("aircraft", "    gives: kt\n", ""),
    ("aircraft", "by: gross_weight in lb, next row up", "by: ¦gross_weight in lb, next row"),
    ("aircraft", "round: up to 1", "round: ¦upwards"),
    ("aircraft", "    at least: 50 psi\n    at most: 100 psi\n", ""),
    ("voice", "numbers: icao", "numbers: ¦caio"),
    ("voice", "rate: 170", "rate: ¦17"),
    ("voice", "stand_by: stand by", "¦standby: stand by"),
    ("voice", "muted: microphone off", "¦deaf: microphone off"),
]


@pytest.mark.parametrize(("kind", "old", "new"), SHAPES)
def test_schema_and_loader_refuse_the_same_shapes(kind: str, old: str, new: str) -> None:
    text, _ = edited(FILES[kind], old, new)
    assert MARK not in text
    value, problems = data(text)
    assert not problems
    assert errors_of(kind, text)
    assert not is_valid(kind, value)


GOOD = [
    ("procedures", "calls: line up list", "calls: [line up list, runway list]"),
    ("procedures", "figures: rotate_speed, gross_weight", "figures: [rotate_speed, gross_weight]"),
    ("procedures", "            critical: yes\n", "            critical: no\n"),
    ("procedures", "        kind: flow\n", "        kind: read and do\n"),
    ("procedures", "voice: cockpit\n", ""),
    ("procedures", "            tolerance: 1 kt\n", ""),
    ("aircraft", "choices: dry, wet", "choices: [dry, wet]"),
    ("aircraft", "across: -40 0 60", "across: [-40, 0, 60]"),
    ("aircraft", "engines: 2", "engines: 02"),
    ("aircraft", "limits:\n", "limits:\n  - reading: airspeed\n    at most: 200 kt\n"),
    ("aircraft", "      30000: 100, -", "      30000: ['100', '-']"),
    ("voice", "rate: 170", "rate: 450"),
    ("voice", "numbers: icao\n", ""),
    ("voice", "on: selected on", "on: [selected on]"),
]


@pytest.mark.parametrize(("kind", "old", "new"), GOOD)
def test_schema_and_loader_accept_the_same_shapes(kind: str, old: str, new: str) -> None:
    assert old in FILES[kind]
    text = FILES[kind].replace(old, new, 1)
    assert errors_of(kind, text) == []
    assert is_valid(kind, data(text)[0])
