"""Keys of callouts, moments, limits and readings: what they become, and what is refused."""

from __future__ import annotations

import pytest

from runner.checklist.load import load_aircraft_text, load_procedures_text
from runner.checklist.model import Procedures
from runner.errors import RunnerError
from runner.figures.model import Aircraft

AIRCRAFT = """\
runner: 1
aircraft: Dunlin Two
about: Invented.
engines: 2
roles: captain
readings:
  height:
    unit: ft
    kind: altitude
  rpm:
    unit: rpm
    each engine: yes
  oil_pressure:
    unit: psi
    each engine: yes
  gear_position:
    shows:
      0: up
      1: down
limits:
  - reading: oil_pressure
    at least: 40 psi
    if: rpm > 1000 rpm
  - reading: height
    at most: 20000 ft
    if: rpm_any > 500 rpm
"""

PROCEDURES = """\
runner: 1
procedures: Callouts
about: Invented.
aircraft: dunlin.yaml
moments:
  failed:
    said: engine has failed
    when: rpm_<engine> < 300 rpm and height > 400 ft
    each engine: yes
  level:
    said: level now
    when: height > 5000 ft
phases:
  - phase: one
    lists:
      - list: calls
        title: All callouts
        kind: callouts
        callouts:
          - call: Five hundred
            when: height falls to 500 ft
            again: 0.1 km
            if: gear_position < 0.5
          - call: Two minutes
            when: 120 s after level
abnormal:
  - list: failure
    title: Engine failure
    kind: challenge and response
    argument: engine
    responder: captain
    offered at: failed
    offer: Engine <engine> failed, list?
    items:
      - challenge: Throttle
        response: throttle closed
"""


def procedures(before: str = "", after: str = "") -> Procedures:
    """The procedures above with one text replaced."""
    assert before in PROCEDURES
    text = PROCEDURES.replace(before, after) if before else PROCEDURES
    return load_procedures_text(text, "calls.yaml", AIRCRAFT, "dunlin.yaml")


def aircraft(before: str = "", after: str = "") -> Aircraft:
    """The aircraft above with one text replaced."""
    assert before in AIRCRAFT
    text = AIRCRAFT.replace(before, after) if before else AIRCRAFT
    return load_aircraft_text(text, "dunlin.yaml")


def test_a_callout_comes_again_after_so_much_in_the_unit_of_its_reading() -> None:
    five, two = procedures().lists["calls"].callouts
    assert five.again == pytest.approx(328.084, abs=0.001)
    assert five.condition is not None and five.condition.names == {"gear_position"}
    assert two.again is None and two.condition is None


def test_a_moment_of_each_engine_has_a_condition_for_each() -> None:
    moments = procedures().moments
    engines = [(n, sorted(one.names)) for n, one in moments["failed"].conditions]
    assert engines == [(1, ["height", "rpm_1"]), (2, ["height", "rpm_2"])]
    assert [n for n, _ in moments["level"].conditions] == [0]


def test_a_reading_has_words_for_its_values() -> None:
    assert aircraft().readings["gear_position"].words == ((0.0, "up"), (1.0, "down"))
    assert aircraft().readings["height"].words == ()


def test_a_limit_of_each_engine_may_name_that_engine_s_other_readings() -> None:
    low, high = aircraft().limits
    assert low.condition is not None and low.condition.names == {"rpm"}
    assert high.condition is not None and high.condition.names == {"rpm_any"}


@pytest.mark.parametrize(
    ("before", "after", "message"),
    [
        ("again: 0.1 km", "again: 0 ft", "22:20: the reading has to be back by more than 0"),
        ("again: 0.1 km", "again: 5 kt", "22:20: a speed (kt) is not a length (ft)"),
        (
            "when: 120 s after level",
            "when: 120 s after level\n            again: 5 ft",
            "26:13: 'again' is for a reading that rises or falls",
        ),
        (
            "rpm_<engine> < 300 rpm and",
            "rpm_any < 300 rpm and",
            "9:5: a moment of each engine needs 'when' with <engine> in it",
        ),
        (
            "when: height > 5000 ft",
            "when: rpm_<engine> > 5 rpm",
            "12:11: a condition can name <engine> only in an item",
        ),
        ("if: gear_position < 0.5", "if: gear_positon < 0.5", "gear_positon"),
        ("    argument: engine\n", "", "no engine is known here"),
    ],
)
def test_a_mistake_in_procedures_is_named_at_its_place(
    before: str, after: str, message: str
) -> None:
    with pytest.raises(RunnerError) as raised:
        procedures(before, after)
    assert message in str(raised.value)


@pytest.mark.parametrize(
    ("before", "after", "message"),
    [
        ("      0: up", "      low: up", "low"),
        (
            "at most: 20000 ft\n    if: rpm_any > 500 rpm",
            "at most: 20000 ft\n    if: rpm > 500 rpm",
            "each engine has a rpm: name rpm_all, rpm_any or rpm_1",
        ),
        ("if: rpm > 1000 rpm", "if: rpm > 1000 ft", "ft"),
    ],
)
def test_a_mistake_in_an_aircraft_is_named_at_its_place(
    before: str, after: str, message: str
) -> None:
    with pytest.raises(RunnerError) as raised:
        aircraft(before, after)
    assert message in str(raised.value)
