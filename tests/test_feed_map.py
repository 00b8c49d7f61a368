"""Feed maps: a source's names and units become the aircraft's readings."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.checklist.load import load_aircraft, load_aircraft_text
from runner.checklist.problems import FileErrors
from runner.feed.map import FeedMap, load_map_text, plain_map
from runner.figures.model import Aircraft

AIRCRAFT = """
runner: 1
aircraft: Test twin
engines: 2
readings:
  airspeed: {unit: kt}
  altitude: {unit: ft}
  outside_air_temperature: {unit: degC}
  gear_position: {}
  humidity: {}
  manifold_pressure: {unit: inHg, each engine: yes}
  rpm: {unit: rpm, each engine: yes}
"""


@pytest.fixture(scope="module")
def aircraft() -> Aircraft:
    return load_aircraft_text(AIRCRAFT, "twin.yaml")


def map_of(aircraft: Aircraft, names: str, more: str = "") -> FeedMap:
    lines = "\n".join("  " + line for line in names.strip("\n").splitlines())
    return load_map_text(f"runner: 1\nfeed: Desk\n{more}\nnames:\n{lines}\n", "map.yaml", aircraft)


def errors_of(aircraft: Aircraft, names: str, more: str = "") -> list[str]:
    with pytest.raises(FileErrors) as caught:
        map_of(aircraft, names, more)
    return str(caught.value).splitlines()


def test_a_name_is_tied_to_a_reading_in_the_aircrafts_unit(aircraft: Aircraft) -> None:
    feed_map = map_of(aircraft, "ias: airspeed")
    assert feed_map.convert({"ias": 98.5}) == {"airspeed": 98.5}


@pytest.mark.outside
@pytest.mark.parametrize(
    ("line", "value", "name", "expected"),
    [
        # ICAO Annex 5, 5th edition, tables 3-2 and 3-3: 1 kt is 1852/3600 m/s, 1 ft is 0.3048 m.
        ("v: airspeed in m/s", 1852 / 3600, "airspeed", 1.0),
        ("v: altitude in m", 0.3048, "altitude", 1.0),
        # By definition 0 degC is 273.15 K, and 32 degF.
        ("v: outside_air_temperature in K", 288.15, "outside_air_temperature", 15.0),
        ("v: outside_air_temperature in degF", 59.0, "outside_air_temperature", 15.0),
        # ICAO Doc 7488: the standard atmosphere at sea level is 1013.25 hPa and 29.921 inHg.
        ("v: manifold_pressure_2 in hPa", 1013.25, "manifold_pressure_2", 29.921),
        ("v: humidity in %", 55.0, "humidity", 0.55),
    ],
)
def test_units_are_converted(
    aircraft: Aircraft, line: str, value: float, name: str, expected: float
) -> None:
    converted = map_of(aircraft, line).convert({"v": value})
    assert converted == {name: pytest.approx(expected, abs=5e-4)}


def test_scale_and_offset_are_applied_in_the_sources_unit(aircraft: Aircraft) -> None:
    feed_map = map_of(
        aircraft,
        """
t:
  reading: outside_air_temperature
  unit: K
  scale: 0.1
  offset: 200
""",
    )
    assert feed_map.convert({"t": 881.5}) == {"outside_air_temperature": pytest.approx(15.0)}


def test_each_engine_has_a_name_of_its_own(aircraft: Aircraft) -> None:
    feed_map = map_of(
        aircraft,
        """
left_map: manifold_pressure_1
right_map:
  reading: manifold_pressure
  engine: 2
""",
    )
    assert feed_map.convert({"left_map": 30, "right_map": 31}) == {
        "manifold_pressure_1": 30.0,
        "manifold_pressure_2": 31.0,
    }


def test_one_line_serves_all_engines_where_the_name_has_the_number(aircraft: Aircraft) -> None:
    feed_map = map_of(aircraft, "engines.<engine>.n: rpm")
    assert feed_map.convert({"engines.1.n": 2300, "engines.2.n": 2310}) == {
        "rpm_1": 2300.0,
        "rpm_2": 2310.0,
    }
    from_nought = map_of(aircraft, "rpm[<engine>]: rpm", "engines from: 0")
    assert from_nought.convert({"rpm[0]": 2300, "rpm[1]": 2310, "rpm[2]": 5}) == {
        "rpm_1": 2300.0,
        "rpm_2": 2310.0,
    }


def test_words_and_switches_have_numbers(aircraft: Aircraft) -> None:
    feed_map = map_of(
        aircraft,
        """
gear:
  reading: gear_position
  words:
    Up: 0
    down: 1
ias: airspeed
""",
    )
    assert feed_map.convert({"gear": "UP"}) == {"gear_position": 0.0}
    assert feed_map.convert({"gear": "down"}) == {"gear_position": 1.0}
    assert feed_map.convert({"gear": True}) == {"gear_position": 1.0}
    assert feed_map.convert_counted({"gear": "stuck"}) == ({}, 0, 1)
    assert feed_map.convert_counted({"ias": True}) == ({}, 0, 1)


@pytest.mark.parametrize(
    "value",
    [
        math.nan,
        math.inf,
        -math.inf,
        1e10,
        10**400,
        "",
        "fast",
        "nan",
        "1_000",
        "٣",
        "0x10",
        "1e999",
        "9" * 500,
        [1],
        {"a": 1},
        True,
    ],
)
def test_a_value_that_is_no_number_is_dropped_and_the_others_kept(
    aircraft: Aircraft, value: Any
) -> None:
    feed_map = map_of(aircraft, "ias: airspeed\nalt: altitude")
    assert feed_map.convert_counted({"ias": value, "alt": 300}) == ({"altitude": 300.0}, 0, 1)


@pytest.mark.parametrize("text", ["98.5", " 98.5 ", "+98.5", "985e-1", "98.50"])
def test_a_number_may_be_a_text(aircraft: Aircraft, text: str) -> None:
    assert map_of(aircraft, "ias: airspeed").convert({"ias": text}) == {"airspeed": 98.5}


def test_a_value_outside_its_range_is_dropped(aircraft: Aircraft) -> None:
    feed_map = map_of(
        aircraft,
        """
ias:
  reading: airspeed
  unit: m/s
  range: 0 to 300 kt
""",
    )
    assert feed_map.convert_counted({"ias": 200})[2] == 1
    assert feed_map.convert({"ias": 150}) == {"airspeed": pytest.approx(291.577, abs=1e-3)}


def test_names_that_the_map_does_not_have_are_counted(aircraft: Aircraft) -> None:
    feed_map = map_of(aircraft, "ias: airspeed", "time: t in ms")
    assert feed_map.convert_counted({"ias": 98, "t": 5, "airspeed": 3, "x": None}) == (
        {"airspeed": 98.0},
        2,
        0,
    )


def test_a_null_is_no_value_and_no_fault(aircraft: Aircraft) -> None:
    assert map_of(aircraft, "ias: airspeed").convert_counted({"ias": None}) == ({}, 0, 0)


def test_stamps_come_from_the_names_that_the_map_gives(aircraft: Aircraft) -> None:
    feed_map = map_of(
        aircraft, "ias: airspeed", "time: clock in ms\nsequence: frame\npaused: is paused"
    )
    stamps = feed_map.stamps({"clock": "1500", "frame": 7, "is paused": "True", "time": 3})
    assert (stamps.time, stamps.sequence, stamps.paused) == (1.5, 7.0, True)
    none = feed_map.stamps({"clock": "soon", "frame": math.nan, "is paused": 2})
    assert (none.time, none.sequence, none.paused) == (None, None, None)


def test_without_a_map_the_names_and_units_are_the_aircrafts_own() -> None:
    aircraft = load_aircraft("whimbrel-four-aircraft")
    feed_map = plain_map(aircraft)
    record = {"airspeed": 98, "manifold_pressure_4": 58, "manifold_pressure": 1, "rpm_5": 1}
    assert feed_map.convert(record) == {"airspeed": 98.0, "manifold_pressure_4": 58.0}
    assert feed_map.convert({"parking_brake": True, "airspeed": True}) == {"parking_brake": 1.0}


@pytest.mark.parametrize(
    ("names", "more", "expected"),
    [
        ("ias: airspeed in ft", "", "map.yaml:5:20: airspeed: a length (ft) is not a speed (kt)"),
        (
            "ias: airspeed in knots",
            "",
            "map.yaml:5:20: airspeed: 'knots' is not a unit; did you mean ",
        ),
        (
            "ias: airspede",
            "",
            "map.yaml:5:8: 'airspede' is not a reading of Test twin; did you mean",
        ),
        ("a: rpm", "", "map.yaml:5:6: 'rpm' is a reading of each engine: write rpm_1 for engine 1"),
        ("a: rpm_3", "", "map.yaml:5:6: there is no engine 3; they are 1 to 2"),
        ("a: rpm_01", "", "map.yaml:5:6: there is no engine 01; they are 1 to 2"),
        ("a<engine>: airspeed", "", "map.yaml:5:3: <engine> stands for each engine in turn"),
        (
            "a: airspeed\nb: airspeed",
            "",
            "map.yaml:6:3: 'airspeed' comes from 'a' already (line 5)",
        ),
        ("a: airspeed\na: altitude", "", "map.yaml:6:3: 'a' stands here twice"),
        ("a1: rpm_2\na<engine>: manifold_pressure", "", "map.yaml:6:3: 'a1' is tied already"),
        ("a: {reading: airspeed, scale: 0}", "", "'scale' is not 0"),
        ("a: {reading: airspeed, scale: much}", "", "'scale' is a number, not 'much'"),
        ("a: {unit: kt}", "", "a name of the source needs the key 'reading'"),
        ("a: {reading: rpm_1, engine: 2}", "", "the reading names engine 1, this line engine 2"),
        ("a: {reading: airspeed, range: 5 to 1}", "", "a range goes from the lower to the higher"),
        ("a: {reading: gear_position, words: {up: high}}", "", "what 'up' stands for is a number"),
        ("a: airspeed", "format: xml", "'xml' is not a format; it is any, json or csv"),
        ("a: airspeed", "time: t in kt", "map.yaml:3:12: time: a speed (kt) is not a time (s)"),
        ("a: airspeed", "header: x, x", "the column 'x' stands twice"),
        ("a: airspeed", "speed: 1", "'speed' is not a key of a feed map"),
        ("a:", "", "map.yaml:5:5: 'a' needs a reading of the aircraft, as 'airspeed in kt'"),
    ],
)
def test_what_is_wrong_is_one_line_with_its_place(
    aircraft: Aircraft, names: str, more: str, expected: str
) -> None:
    lines = errors_of(aircraft, names, more)
    assert len(lines) == 1
    assert expected in lines[0]
    assert lines[0].startswith("map.yaml:")


def test_all_that_is_wrong_is_told_in_one_go(aircraft: Aircraft) -> None:
    assert (
        len(errors_of(aircraft, "a: airspede\nb: rpm_9\nc: altitude in kg", "engines from: 7")) == 4
    )


def test_a_procedures_file_is_no_map(aircraft: Aircraft) -> None:
    with pytest.raises(FileErrors, match="'procedures' is not a key of a feed map"):
        load_map_text("runner: 1\nprocedures: x\n", "map.yaml", aircraft)


@given(st.floats(-1e5, 1e5), st.sampled_from(["kt", "m/s", "km/h", "mph", "ft/min"]))
def test_every_unit_of_a_speed_gives_the_same_speed(value: float, unit: str) -> None:
    from runner.figures.units import convert

    aircraft = load_aircraft_text(AIRCRAFT, "twin.yaml")
    feed_map = map_of(aircraft, f"v: airspeed in {unit}")
    assert feed_map.convert({"v": value})["airspeed"] == pytest.approx(
        convert(value, unit, "kt"), rel=1e-12, abs=1e-9
    )
