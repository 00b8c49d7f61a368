"""Schedules and pictures of an aircraft file: what they say, and every mistake at its place."""

# A mistake stands on one line, however long, so that the tables read as tables.
# ruff: noqa: E501

from __future__ import annotations

import pickle
import subprocess
import sys
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from checklist_files import AIRCRAFT, MARK, PROCEDURES, edited, errors_of, load
from runner.checklist.cache import load_aircraft_cached
from runner.checklist.check import check_files
from runner.checklist.load import load_aircraft_text
from runner.figures.model import Chart, Envelope, Steps
from runner.figures.schedule import work_schedule
from runner.figures.sheet import Sheet
from test_checklist_schema import data, schema

PLANS = """\
schedules:
  climb:
    title: climb power by pressure altitude
    varies: pressure_altitude
    from: pressure_altitude
    to: 8000 ft
    every: 1000 ft
    with:
      outside_temperature: outside_temperature - 2 degC * ((at - pressure_altitude) / 1000 ft)
      runway_surface: wet if at > 4000 ft else dry
    figures: surface_word, climb_pressure, carburettor_temperature
    changes:
      climb_pressure: 0.5 inHg
pictures:
  climb_power:
    title: climb manifold pressure
    table: chart
    across: pressure_altitude
    lines: carburettor_temperature
    figure: climb_pressure
  rotation:
    table: speeds
    column: reference_speed
    across: gross_weight
  balance:
    across: rotate_speed
    up: gross_weight
    between: rotate_by_weight and speeds.reference_speed
  climb_steps:
    schedule: climb
    figures: climb_pressure, carburettor_temperature
"""
WHOLE = AIRCRAFT + PLANS


def test_a_schedule_is_read_with_its_formulas_compiled() -> None:
    schedule = load_aircraft_text(WHOLE, "a.yaml").schedules["climb"]
    assert schedule.title == "climb power by pressure altitude"
    assert (schedule.varies, schedule.step) == ("pressure_altitude", 1000.0)
    assert schedule.figures == ("surface_word", "climb_pressure", "carburettor_temperature")
    assert schedule.changes == (("climb_pressure", 0.5),)
    assert schedule.start.evaluate({"pressure_altitude": 500.0}) == 500.0
    assert schedule.end.evaluate({}) == 8000.0
    cooler = dict(schedule.given)["outside_temperature"]
    today = {"outside_temperature": 15.0, "pressure_altitude": 500.0, "at": 3500.0}
    assert cooler.evaluate(today) == pytest.approx(9.0)


def test_pictures_are_read_each_of_its_kind() -> None:
    assert list(load_aircraft_text(WHOLE, "a.yaml").pictures.values()) == [
        Chart(
            "climb_power",
            "climb manifold pressure",
            "chart",
            "chart",
            "pressure_altitude",
            "carburettor_temperature",
            "climb_pressure",
        ),
        Chart("rotation", "rotation", "speeds", "reference_speed", "gross_weight"),
        Envelope(
            "balance",
            "balance",
            "rotate_speed",
            "gross_weight",
            "rotate_by_weight",
            "speeds.reference_speed",
        ),
        Steps("climb_steps", "climb steps", "climb", ("climb_pressure", "carburettor_temperature")),
    ]


def test_amounts_are_read_in_the_units_of_what_they_are_of() -> None:
    text = WHOLE.replace("every: 1000 ft", "every: 300 m").replace("0.5 inHg", "10 hPa")
    schedule = load_aircraft_text(text, "a.yaml").schedules["climb"]
    assert schedule.step == pytest.approx(300 / 0.3048)
    assert dict(schedule.changes)["climb_pressure"] == pytest.approx(0.2953, abs=1e-4)
    warmer = WHOLE.replace("climb_pressure: 0.5 inHg", "carburettor_temperature: 9 degF")
    schedule = load_aircraft_text(warmer, "a.yaml").schedules["climb"]
    assert dict(schedule.changes)["carburettor_temperature"] == pytest.approx(5.0)


def test_a_kept_aircraft_works_its_schedule_out_without_units(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("runner.checklist.cache.cache_folder", lambda: tmp_path / "cache")
    (tmp_path / "a.yaml").write_text(WHOLE)
    craft = load_aircraft_cached(tmp_path / "a.yaml")
    assert load_aircraft_cached(tmp_path / "a.yaml") == craft
    (tmp_path / "kept").write_bytes(pickle.dumps(craft))
    program = (
        "import pickle, sys\n"
        "from runner.figures.sheet import Sheet\n"
        "from runner.figures.schedule import work_schedule, next_changes\n"
        f"craft = pickle.load(open({str(tmp_path / 'kept')!r}, 'rb'))\n"
        "sheet = Sheet(craft)\n"
        "worked, schedule = sheet.work_out({}), craft.schedules['climb']\n"
        "print(len(work_schedule(sheet, worked, schedule).rows))\n"
        "print(len(next_changes(sheet, worked, schedule)) > 0)\n"
        "print('pint' in sys.modules, 'yaml' in sys.modules)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True, timeout=60
    )
    assert done.stdout.split() == ["9", "True", "False", "False"]


def test_procedures_take_an_aircraft_with_schedules() -> None:
    assert list(load(PROCEDURES, WHOLE).aircraft.schedules) == ["climb"]


MISTAKES = [
    ("varies: pressure_altitude", "varies: ¦presure_altitude", "no input is named presure_altitude; did you mean pressure_altitude?"),
    ("varies: pressure_altitude", "varies: ¦climb_pressure", "is a figure, which is worked out"),
    ("varies: pressure_altitude", "varies: ¦floor_speed", "floor_speed is a constant"),
    ("varies: pressure_altitude", "varies: ¦runway_surface", "is a choice; what varies is a number"),
    ("varies: pressure_altitude", "varies: ¦[a]", "'varies' is one line of text"),
    ("    varies: pressure_altitude\n", "    ¦varies:\n", "'varies' has no value"),
    ("    from: pressure_altitude\n", "    ¦form: pressure_altitude\n", "did you mean 'from'?"),
    ("    from: pressure_altitude\n", "    from: pressure_altitude +¦\n", "something is missing at the end"),
    ("    from: pressure_altitude\n", "    from: ¦gross_weight\n", "gives a mass (lb), not a length (ft)"),
    ("    from: pressure_altitude\n", "    from: ¦at\n", "at stands only in a schedule"),
    ("to: 8000 ft", "to: ¦8000 lb", "not a length (ft)"),
    ("to: 8000 ft", "to: ¦cruise_altitude", "nothing is named cruise_altitude"),
    ("every: 1000 ft", "every: ¦-5", "a step is above 0, not -5"),
    ("every: 1000 ft", "every: ¦0 ft", "a step is above 0, not 0"),
    ("every: 1000 ft", "every: ¦1000 kt", "a speed"),
    ("every: 1000 ft", "every: ¦thousand", "is not a number with a unit"),
    ("      outside_temperature: out", "      ¦outside_temprature: out", "did you mean outside_temperature?"),
    ("      outside_temperature: out", "      ¦climb_pressure: out", "is a figure, which is worked out"),
    ("      outside_temperature: out", "      ¦pressure_altitude: out", "is what varies; its value at a step is at"),
    ("      outside_temperature: out", "      ¦Outside: out", "is not a name"),
    ("outside_temperature - 2 degC *", "outside_temperature ¦- 2 kt *", "cannot take"),
    ("wet if at > 4000 ft else dry", "wet if at ¦> 4000 lb else dry", "cannot compare"),
    ("wet if at > 4000 ft else dry", "¦20 ft", "gives a length (ft), not one of dry, wet"),
    ("wet if at > 4000 ft else dry", "wet if at > 4000 ft else¦", "something is missing"),
    ("wet if at > 4000 ft else dry", "¦[a]", "'runway_surface' is one line of text here"),
    ("figures: surface_word, climb", "figures: ¦surfaceword, climb", "nothing is named surfaceword; did you mean surface_word?"),
    ("figures: surface_word, climb", "figures: ¦airspeed, climb", "airspeed is a reading"),
    ("figures: surface_word, climb", "figures: ¦floor_speed, climb", "floor_speed is a constant"),
    ("figures: surface_word, climb", "figures: ¦pressure_altitude, climb", "is what varies; it is shown anyway"),
    ("figures: surface_word, climb_pressure", "figures: climb_pressure, ¦climb_pressure", "stands twice"),
    ("figures: surface_word, climb_pressure, carburettor_temperature\n", "¦figures: []\n", "needs an input or a figure to show"),
    ("      climb_pressure: 0.5 inHg", "      ¦climb_presure: 0.5 inHg", "did you mean climb_pressure?"),
    ("      climb_pressure: 0.5 inHg", "      climb_pressure: ¦0.5 kt", "a speed"),
    ("      climb_pressure: 0.5 inHg", "      climb_pressure: ¦0 inHg", "a change is above 0"),
    ("      climb_pressure: 0.5 inHg", "      ¦surface_word: 1", "is one of wet, dry, not a number"),
    ("      climb_pressure: 0.5 inHg", "      ¦runway_surface: 1 ft", "is one of dry, wet, not a number"),
    ("schedules:\n", "schedules:\n  descent: ¦down\n", "'descent' has keys of its own: title, varies"),
    ("    table: chart\n", "    ¦tabel: chart\n", "did you mean 'table'?"),
    ("    table: chart\n", "    table: ¦charts\n", "no table is named charts; did you mean chart?"),
    ("    table: chart\n", "    table: chart\n    column: ¦chat\n", "is not a column of table chart, which has chart; did you mean chart?"),
    ("    column: reference_speed\n", "    column: ¦wet\n", "which has reference_speed, wetness"),
    ("  rotation:\n    table: speeds\n    column: reference_speed\n", "  rotation:\n    ¦table: speeds\n", "name one of them"),
    ("    across: pressure_altitude\n", "    across: ¦gross_weight\n", "is not an axis of table chart, which is by pressure_altitude, carburettor_temperature"),
    ("    lines: carburettor_temperature\n", "    lines: ¦carburetor_temperature\n", "did you mean carburettor_temperature?"),
    ("    lines: carburettor_temperature\n", "    lines: ¦pressure_altitude\n", "of another axis than the one across"),
    ("    title: climb manifold pressure\n    table: chart\n    across: pressure_altitude\n    lines: carburettor_temperature\n", "    ¦title: climb manifold pressure\n    table: chart\n    across: pressure_altitude\n", "table chart has 2 axes"),
    ("    figure: climb_pressure\n", "    figure: ¦climb_presure\n", "did you mean climb_pressure?"),
    ("    figure: climb_pressure\n", "    figure: ¦rotate_speed\n", "rotate_speed is a speed (kt), not a pressure (inHg)"),
    ("    figure: climb_pressure\n", "    figure: ¦surface_word\n", "not a number"),
    ("  rotation:\n    table: speeds\n    column: reference_speed\n    across: gross_weight\n", "  rotation:\n    table: ¦blowers\n    across: pressure_altitude\n    lines: surface\n", ""),
    ("    across: rotate_speed\n", "    across: ¦rotat_speed\n", "did you mean rotate_speed?"),
    ("    across: rotate_speed\n", "    across: ¦runway_surface\n", "is one of dry, wet, not a number"),
    ("    up: gross_weight\n", "    up: ¦engine\n", "nothing is named engine"),
    ("between: rotate_by_weight and", "between: ¦rotate_by_wait and", "did you mean rotate_by_weight?"),
    ("between: rotate_by_weight and", "between: ¦rotate_by_weight or", "lies between two tables"),
    ("between: rotate_by_weight and speeds.reference_speed", "between: rotate_by_weight and ¦speeds", "name one of them"),
    ("between: rotate_by_weight and speeds.reference_speed", "between: rotate_by_weight and ¦speeds.wetness", "what speeds.wetness gives is a plain number, not a speed (kt)"),
    ("between: rotate_by_weight and speeds.reference_speed", "between: ¦[a, b]", "is one line of text"),
    ("    schedule: climb\n", "    schedule: ¦clim\n", "no schedule is named clim; did you mean climb?"),
    ("    schedule: climb\n", "    ¦schedul: climb\n", "did you mean 'schedule'?"),
    ("figures: climb_pressure, carburettor_temperature\n", "figures: climb_pressure, ¦gross_weight\n", "is not in schedule climb"),
    ("figures: climb_pressure, carburettor_temperature\n", "figures: climb_pressure, ¦surface_word\n", "is one of wet, dry, not a number"),
    ("    schedule: climb\n", "    schedule: climb\n    ¦lines: x\n", "'lines' is not a key of a picture of a schedule"),
    ("  climb_steps:\n", "  climb_steps:\n    ¦table: chart\n", "a picture has 'table' or 'schedule', not both"),
    ("  climb_steps:\n    schedule: climb\n    figures: climb_pressure, carburettor_temperature\n", "  climb_steps:\n    ¦title: nothing\n", "a picture needs the key 'table'"),
    ("pictures:\n", "pictures:\n  other: ¦chart\n", "'other' has keys of its own"),
    ("pictures:\n", "pictures: ¦none\nother:\n", ""),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "message"), MISTAKES)
def test_a_mistake_in_a_schedule_or_a_picture_is_named_at_its_place(
    old: str, new: str, message: str
) -> None:
    plans = PLANS.replace(old, new, 1)
    assert plans != PLANS, f"not in the file: {old}"
    whole = AIRCRAFT + plans.replace(MARK, "")
    before = (AIRCRAFT + plans).partition(MARK)[0].split("\n")
    place = f"a.yaml:{len(before)}:{len(before[-1]) + 1}: "
    found = errors_of("aircraft", whole)
    assert found
    if message:
        assert found[0].startswith(place), found
        assert message in found[0]
        assert len(found) == 1, found


def test_all_that_is_wrong_with_schedules_and_pictures_is_told_in_one_go() -> None:
    text = WHOLE.replace("every: 1000 ft", "every: -1 ft")
    text = text.replace("to: 8000 ft", "to: 8000 +").replace("climb_pressure: 0.5", "climb: 0.5")
    text = text.replace("    up: gross_weight", "    up: gross")
    text = text.replace("figure: climb_pressure", "figure: floor_speed")
    lines = [line.split(": ", 1) for line in errors_of("aircraft", text)]
    start = AIRCRAFT.count("\n")
    assert [int(place.split(":")[1]) - start for place, _ in lines] == [6, 7, 13, 20, 27]


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("      25000: 90\n", "      25000: ninety\n"),
        ("    unit: inHg\n", "    unit: inHgg\n"),
        ("    range: -1000 to 20000\n", "    range: -1000\n"),
        ("  climb_pressure:\n    from: chart(", "  climb_pressure:\n    form: chart("),
        ("  chart:\n    source: invented\n", "  chart:\n"),
    ],
)
def test_what_is_wrong_elsewhere_is_not_told_again_of_schedules_and_pictures(
    old: str, new: str
) -> None:
    alone = errors_of("aircraft", edited(AIRCRAFT, old, new)[0])
    assert alone
    assert errors_of("aircraft", edited(WHOLE, old, new)[0]) == alone


def test_an_axis_of_a_picture_bears_the_name_of_something_on_the_sheet() -> None:
    plans = "pictures:\n  blowers:\n    table: blowers\n    across: pressure_altitude\n    lines: surface\n"
    (first, second) = errors_of("aircraft", AIRCRAFT + plans)
    line = AIRCRAFT.count("\n")
    assert first.startswith(f"a.yaml:{line + 3}:12: axis steps of table blowers has no value today")
    assert second.startswith(f"a.yaml:{line + 5}:12: axis surface of table blowers has no value")


@pytest.mark.parametrize("old", ["  gross_weight:\n", "  rotate_by_weight:\n", "  airspeed:\n"])
def test_at_is_a_name_for_nothing_else(old: str) -> None:
    text, place = edited(AIRCRAFT, old, "  ¦at:\n")
    assert f"a.yaml:{place}: 'at' has a meaning of its own; choose another name" in errors_of(
        "aircraft", text
    )


def test_at_stands_in_no_formula_outside_a_schedule() -> None:
    text, place = edited(WHOLE, "from: outside_temperature + 5 degC", "from: ¦at")
    assert errors_of("aircraft", text) == [
        f"a.yaml:{place}: at stands only in a schedule, for the value of what varies at a step"
    ]


def test_a_schedule_that_has_nothing_to_show_is_advised_of(tmp_path: Path) -> None:
    path = tmp_path / "a.yaml"
    path.write_text(WHOLE)
    assert check_files([path])[0][-1].endswith("no errors, no advice")
    path.write_text(WHOLE.replace("every: 1000 ft", "every: 1 ft"))
    assert "more than 200 rows; every 38 ft would do" in check_files([path])[0][0]
    path.write_text(WHOLE.replace("outside_temperature - 2 degC", "outside_temperature - 70 degC"))
    assert check_files([path])[0][-1].endswith("no advice")
    path.write_text(WHOLE.replace("(at - pressure_altitude)", "(at + 90000 ft)"))
    lines, good = check_files([path])
    assert good
    assert "'climb_pressure' has no value at any step for the inputs' defaults: needs" in lines[0]


def test_the_rows_of_a_read_schedule_follow_its_formulas() -> None:
    craft = load_aircraft_text(WHOLE, "a.yaml")
    sheet = Sheet(craft)
    done = work_schedule(sheet, sheet.work_out({}), craft.schedules["climb"])
    assert [row.varying.shown for row in done.rows] == [
        "500", "1000", "2000", "3000", "4000", "5000", "6000", "7000", "8000",
    ]  # fmt: skip
    assert [row.figures["surface_word"].value for row in done.rows] == ["dry"] * 5 + ["wet"] * 4
    assert [row.figures["carburettor_temperature"].value for row in done.rows[:3]] == [20, 19, 17]


def shape_refused(text: str) -> bool:
    value, problems = data(text)
    assert not problems
    return not Draft202012Validator(schema("aircraft")).is_valid(value)


def test_the_schema_takes_schedules_and_pictures_as_the_loader_does() -> None:
    assert not shape_refused(WHOLE)
    listed = WHOLE.replace(
        "figures: climb_pressure, carburettor_temperature\n", "figures: [climb_pressure]\n"
    )
    assert listed != WHOLE
    assert errors_of("aircraft", listed) == []
    assert not shape_refused(listed)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("    varies: pressure_altitude\n", ""),
        ("    every: 1000 ft\n", "    step: 1000 ft\n"),
        ("      outside_temperature: out", "      Outside: out"),
        ("    table: chart\n", ""),
        ("    table: chart\n", "    table: chart\n    schedule: climb\n"),
        ("    up: gross_weight\n", ""),
        ("rotate_by_weight and speeds.reference_speed", "rotate_by_weight"),
        ("    schedule: climb\n", "    schedule: climb\n    lines: x\n"),
    ],
)
def test_schema_and_loader_refuse_the_same_schedules_and_pictures(old: str, new: str) -> None:
    text = AIRCRAFT + PLANS.replace(old, new, 1)
    assert text != WHOLE
    assert errors_of("aircraft", text)
    assert shape_refused(text)
