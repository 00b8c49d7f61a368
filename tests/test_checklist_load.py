"""What a good file says becomes data: every kind of list, item, response and trigger."""

from __future__ import annotations

import pickle
from pathlib import Path

import pytest

from checklist_files import AIRCRAFT, PROCEDURES, VOICE, load
from runner.checklist.files import find_file, shipped, shipped_files
from runner.checklist.load import (
    load_aircraft,
    load_aircraft_text,
    load_procedures,
    load_voice,
    load_voice_text,
)
from runner.checklist.model import (
    Choice,
    Enter,
    FigureRef,
    Readback,
    Reading,
    Spoken,
    Words,
)
from runner.checklist.problems import FileErrors


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "p.yaml").write_text(PROCEDURES)
    (tmp_path / "sandpiper-aircraft.yaml").write_text(AIRCRAFT)
    (tmp_path / "v.yaml").write_text(VOICE)
    return tmp_path


def test_phases_lists_and_their_settings() -> None:
    procedures = load()
    assert [phase.id for phase in procedures.phases] == ["before-takeoff"]
    phase = procedures.phases[0]
    assert phase.figures == ("rotate_speed", "gross_weight")
    assert (phase.name, phase.wordiness) == ("Before take-off", "full")
    first = procedures.lists["before-takeoff"]
    assert (first.gate, first.challenger, first.responder) == (
        "takeoff_power_set",
        "first officer",
        "captain",
    )
    assert first.condition is not None
    assert first.condition.evaluate({"gross_weight": 20600.0}) is True
    after = procedures.lists["after-takeoff"]
    assert (after.title, after.start, after.offered_at) == ("After takeoff", "on call", "gear_up")
    assert after.offer is not None
    assert after.offer.source == "Gear up, after take-off list?"
    fire = procedures.lists["engine-fire"]
    assert (fire.argument, fire.abnormal, fire.start) == ("engine", True, "on call")
    calls = [text.source for text in fire.calls]
    assert calls == ["engine <engine> fire", "fire on engine <engine>"]
    assert procedures.lists["rejected-takeoff"].rejected_takeoff
    assert (procedures.scenario, procedures.voice) == ("Round and round.", "cockpit")


def test_the_responses_of_items() -> None:
    items = {item.id.partition(".")[2]: item for item in load().lists["before-takeoff"].items}
    flaps = items["flaps"]
    assert isinstance(flaps.response, Words)
    assert [t.source for t in flaps.response.confusable] == ["up", "twenty / full"]
    assert (flaps.who, flaps.critical, flaps.ask_again) == ("first officer", True, False)
    assert flaps.note is not None
    assert flaps.note.figures == {"rotate_speed"}
    rotate = items["rotate"].response
    assert isinstance(rotate, Readback)
    assert (rotate.figure, rotate.tolerance) == ("rotate_speed", 1.0)
    surface = items["runway-surface"].response
    assert isinstance(surface, Choice)
    assert [value for value, _ in surface.options] == ["dry", "wet"]
    assert items["gross-weight"].response == Enter("gross_weight")
    gear = items["gear"].response
    assert isinstance(gear, Reading)
    assert gear.words is not None
    assert gear.condition.evaluate({"gear_position": 0.0}) is True
    assert items["rotate"].who == "captain"


def test_an_item_uses_the_figures_that_it_quotes_or_checks() -> None:
    items = {item.id.partition(".")[2]: item for item in load().lists["before-takeoff"].items}
    assert items["rotate"].used == {"rotate_speed"}
    assert items["weight-gross-weight"].used == {"gross_weight"}
    assert items["speed-alive"].used == {"rotate_speed"}
    assert items["flaps"].used == frozenset()
    assert items["gross-weight"].used == frozenset()


def test_an_item_of_each_engine_stands_for_one_an_engine() -> None:
    items = [i for i in load().lists["before-takeoff"].items if i.engine is not None]
    assert [(i.id, i.engine) for i in items] == [
        ("before-takeoff.magnetos-engine-1", 1),
        ("before-takeoff.magnetos-engine-2", 2),
    ]
    second = items[1]
    assert second.challenge.parts == ("Magnetos, engine 2",)
    assert second.challenge.source == "Magnetos, engine 2"
    assert isinstance(second.response, Words)
    assert second.response.pattern.source == "both on 2"
    assert second.response.confusable[0].source == "off 2"
    assert second.condition is not None
    assert second.condition.names == {"oil_pressure_2"}
    assert second.short is not None
    assert second.note is not None
    assert (second.short.source, second.note.source) == ("Magnetos 2", "Engine 2 only.")


EACH = """\
          - challenge: Oil <engine>
            {response}
            each engine: yes
"""


@pytest.mark.parametrize(
    "response",
    [
        "readback: climb_pressure\n            shown: <climb_pressure> on <engine>",
        "choose: {dry: dry <engine>, wet: wet <engine>}\n            keep: runway_surface",
        "reading: oil_pressure_<engine> > 50 psi\n            response: up <engine>",
        "reading: oil_pressure_<engine> > 50 psi",
        "readback: climb_pressure",
    ],
)
def test_every_response_has_the_engine_filled_in(response: str) -> None:
    each = EACH.format(response=response)
    mark = "          - challenge: Weight <gross_weight>\n"
    procedures = load(PROCEDURES.replace(mark, each + mark))
    items = [i for i in procedures.lists["before-takeoff"].items if ".oil" in i.id]
    assert [i.engine for i in items] == [1, 2]
    assert "<engine>" not in repr(items)
    assert FigureRef("engine") not in items[0].challenge.parts


def test_an_item_may_stand_in_two_lists() -> None:
    procedures = load()
    after = {i.id: i for i in procedures.lists["after-takeoff"].items}
    assert list(after) == [
        "after-takeoff.landing-lights",
        "after-takeoff.magnetos-1",
        "after-takeoff.magnetos-2",
        "after-takeoff.flaps",
        "after-takeoff.again-1",
        "after-takeoff.again-2",
    ]
    original = procedures.lists["before-takeoff"].items[0]
    again = after["after-takeoff.flaps"]
    assert (again.challenge, again.response) == (original.challenge, original.response)
    assert again.condition is not None
    assert again.condition.source == "runway_surface == wet"
    assert after["after-takeoff.magnetos-2"].who == "captain"


def test_an_item_of_a_flow_without_a_response_is_answered_done() -> None:
    item = load().lists["after-takeoff"].items[0]
    assert isinstance(item.response, Words)
    assert item.response.pattern.source == "done"


def test_a_briefing_is_only_spoken() -> None:
    item = load().lists["departure-briefing"].items[0]
    assert isinstance(item.response, Spoken)
    assert item.used == {"rotate_speed", "surface_word"}


def test_the_triggers_of_callouts_are_in_the_units_of_what_they_watch() -> None:
    found = {c.id.partition(".")[2]: c for c in load().lists["takeoff-roll"].callouts}
    triggers = {
        name: (c.trigger.how, c.trigger.subject, c.trigger.level.evaluate({"rotate_speed": 90.0}))
        for name, c in found.items()
    }
    assert triggers["rotate"] == ("rises", "airspeed", 90.0)
    assert found["rotate"].urgent
    assert triggers["slow-down"][:2] == ("falls", "airspeed")
    assert triggers["slow-down"][2] == pytest.approx(90 * 1609.344 / 1852)
    assert triggers["power"] == ("after", "takeoff_power_set", 120.0)
    assert triggers["climb-pressure-climb-pressure"] == ("changes", "climb_pressure", 0.5)
    assert triggers["oil"] == ("rises", "oil_pressure_any", 100.0)


def test_a_change_of_temperature_is_a_difference() -> None:
    changed = PROCEDURES.replace(
        "climb_pressure changes by 0.5 inHg", "carburettor_temperature changes by {}"
    )
    trigger = load(changed.format("5 degC")).lists["takeoff-roll"].callouts[3].trigger
    assert trigger.level.evaluate({}) == 5.0
    with pytest.raises(FileErrors, match="a difference in degC, as 5 degC"):
        load(changed.format("9 degF"))


def test_a_tolerance_of_degrees_is_a_difference() -> None:
    changed = PROCEDURES.replace("readback: rotate_speed", "readback: outside_temperature")
    item = (
        load(changed.replace("tolerance: 1 kt", "tolerance: 9 degF"))
        .lists["before-takeoff"]
        .items[1]
    )
    assert isinstance(item.response, Readback)
    assert item.response.tolerance == pytest.approx(5.0)


def test_moments_come_by_reading_and_by_voice() -> None:
    moments = load().moments
    power = moments["takeoff_power_set"]
    assert power.condition is not None
    assert power.condition.names == {"airspeed", "oil_pressure_all"}
    assert power.said is not None
    assert power.said.source == "(take off)? power set"
    assert (moments["gear_up"].name, moments["gear_up"].condition) == ("gear up", None)


def test_an_aircraft_has_its_inputs_tables_and_figures() -> None:
    craft = load_aircraft_text(AIRCRAFT, "a.yaml")
    assert (craft.name, craft.roles, craft.engines) == (
        "Sandpiper Two",
        ("captain", "first officer"),
        2,
    )
    weight = craft.inputs["gross_weight"]
    assert (weight.low, weight.high, weight.default, weight.unit) == (20000, 30000, 25000, "lb")
    assert craft.inputs["runway_surface"].choices == ("dry", "wet")
    # 122 degrees Fahrenheit are 50 degrees Celsius by the definition of the scales.
    assert craft.inputs["outside_temperature"].high == pytest.approx(50.0)
    assert craft.constants["floor_speed"].title == "floor"
    assert craft.constants["displacement"].unit == "in^3"
    table = craft.tables["rotate_by_weight"]
    assert table.values == (84.0, 90.0, 97.0)
    assert table.columns == (("rotate_by_weight", "kt"),)
    assert craft.tables["speeds"].values == (90.0, 1.0, 100.0, None)
    assert craft.tables["speeds"].columns == (("reference_speed", "kt"), ("wetness", ""))
    assert craft.tables["chart"].values == (40, 42, 44, 38, 39, 40)
    blowers = craft.tables["blowers"]
    assert [axis.rows for axis in blowers.axes] == [("dry", "wet"), (-1000, 20000), (1, 2)]
    assert blowers.values == (1, 2, 3, 4, 5, 6, 7, 8)
    rules = craft.figures
    assert (rules["rotate_speed"].rounding.direction, rules["rotate_speed"].decimals) == ("up", 0)
    assert (rules["climb_pressure"].rounding.step, rules["climb_pressure"].decimals) == (0.5, 1)
    assert (rules["wet_extra"].rounding.direction, rules["wet_extra"].decimals) == ("nearest", 3)
    assert craft.readings["oil_pressure"].each_engine
    assert craft.limits[0].low is not None
    assert craft.limits[0].low.evaluate({}) == 50.0


def test_a_voice_has_its_phrases() -> None:
    style = load_voice_text(VOICE, "v.yaml")
    assert (style.name, style.numbers, style.rate) == ("plain", "icao", 170)
    assert style.control["say_again"] == "say again / repeat"
    assert style.phrases["list_complete"] == "<list> is complete"
    assert style.synonyms == {"set": ("is set", "set now"), "on": ("selected on",)}
    assert style.pronunciations == {"METO": "meeto"}


def test_procedures_can_be_pickled_and_evaluated_again() -> None:
    procedures = load()
    again = pickle.loads(pickle.dumps(procedures))
    assert again == procedures
    condition = again.lists["before-takeoff"].condition
    assert condition is not None
    assert condition.evaluate({"gross_weight": 20000.0}) is False


def test_an_aircraft_file_is_found_beside_its_procedures(folder: Path) -> None:
    procedures = load_procedures(folder / "p.yaml")
    assert procedures.aircraft_file == str(folder / "sandpiper-aircraft.yaml")
    assert procedures.lists["before-takeoff"].where.file == str(folder / "p.yaml")


@pytest.mark.parametrize(
    ("aircraft", "message"),
    [
        ("sandpiper.yaml", r"p\.yaml:4:11: sandpiper.yaml: there is no such file"),
        (".", r"p\.yaml:4:11: .: this is a folder"),
        ("bad.yaml", r"bad\.yaml:1:4: this is not UTF-8 text"),
        ("x" * 5000, r"p\.yaml:4:11: "),
        ("p.yaml", "this is a file with the key 'procedures'; one with 'aircraft' is wanted"),
    ],
)
def test_an_aircraft_file_that_is_not_there_or_not_good(
    folder: Path, aircraft: str, message: str
) -> None:
    (folder / "bad.yaml").write_bytes(b"a: \xff")
    text = PROCEDURES.replace("sandpiper-aircraft.yaml", aircraft)
    (folder / "p.yaml").write_text(text)
    with pytest.raises(FileErrors, match=message):
        load_procedures(folder / "p.yaml")


def test_procedures_need_a_phase(folder: Path) -> None:
    text = PROCEDURES[: PROCEDURES.index("phases:")] + "phases: []\n"
    (folder / "p.yaml").write_text(text)
    with pytest.raises(FileErrors, match="'phases' has no entry; a procedures file needs one"):
        load_procedures(folder / "p.yaml")


def test_procedures_need_an_aircraft(folder: Path) -> None:
    (folder / "p.yaml").write_text("runner: 1\nprocedures: x\nphases: []\n")
    with pytest.raises(FileErrors, match="needs the key 'aircraft'"):
        load_procedures(folder / "p.yaml")


@pytest.mark.parametrize("load_one", [load_procedures, load_aircraft, load_voice])
def test_a_file_of_another_kind_is_refused(folder: Path, load_one) -> None:  # type: ignore[no-untyped-def]
    other = "v.yaml" if load_one is not load_voice else "p.yaml"
    with pytest.raises(FileErrors, match="this is a file with the key"):
        load_one(folder / other)
    (folder / "n.yaml").write_text("hello")
    with pytest.raises(FileErrors, match="has no keys"):
        load_one(folder / "n.yaml")


def test_shipped_files_are_found_by_name_and_are_good() -> None:
    names = [path.name for path in shipped_files()]
    assert "whimbrel-four.yaml" in names
    assert find_file("whimbrel-four") == shipped("checklists") / "whimbrel-four.yaml"
    procedures = load_procedures("whimbrel-four")
    assert len(procedures.lists) >= 16
    assert load_voice("cockpit").name == "cockpit"
    assert load_aircraft("whimbrel-four-aircraft").name == "Whimbrel Four"


@pytest.mark.parametrize(
    ("name", "message"),
    [
        ("whimbrel-for", "there is no such file; did you mean 'whimbrel-four'"),
        ("zzz", "zzz: there is no such file$"),
        ("no/such/file.yaml", "there is no such file"),
        ("a\0b", "there is no such file"),
        ("x" * 5000, "there is no such file"),
    ],
)
def test_a_file_that_is_not_there_is_one_line(name: str, message: str) -> None:
    with pytest.raises(FileErrors, match=message) as caught:
        load_procedures(name)
    assert "\n" not in str(caught.value)


def test_a_wheel_holds_the_shipped_files_inside_the_package(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from runner.checklist import files

    inside = tmp_path / "runner" / "shipped" / "voices"
    inside.mkdir(parents=True)
    monkeypatch.setattr(files, "__file__", str(tmp_path / "runner" / "checklist" / "files.py"))
    assert files.shipped("voices") == inside
    assert files.shipped("checklists") == tmp_path / "checklists"
