"""What is wrong with an aircraft's schedules and pictures, each a fault of its key."""

from __future__ import annotations

from dataclasses import replace

import pytest

from runner.errors import RunnerError
from runner.figures.aircraft import check_aircraft
from runner.figures.expression import parse
from runner.figures.model import Axis, Chart, Envelope, Picture, Schedule, Steps, Table
from runner.figures.sheet import Sheet
from test_figures_schedule import CLIMB, INPUTS, RAM, craft

BAD_SCHEDULES = [
    (replace(CLIMB, varies="power"), "varies", "is a figure, which is worked out"),
    (replace(CLIMB, varies="nothing"), "varies", "no input is named nothing"),
    (replace(CLIMB, varies="blower", figures=("power",)), "varies", "is a choice"),
    (replace(CLIMB, start=parse("outside")), "from", "not a length (ft)"),
    (replace(CLIMB, end=parse("at")), "to", "at stands only in a schedule"),
    (replace(CLIMB, step=0.0), "every", "above 0"),
    (replace(CLIMB, step=float("nan")), "every", "above 0"),
    (replace(CLIMB, figures=()), "figures", "needs an input or a figure"),
    (replace(CLIMB, figures=("pwer",)), "figures pwer", "did you mean power?"),
    (replace(CLIMB, given=(("power", parse("at")),)), "with power", "is a figure"),
    (replace(CLIMB, given=(("outside", parse("at")),)), "with outside from", "not a temperature"),
    (replace(CLIMB, given=(("blower", parse("at")),)), "with blower from", "not one of low, high"),
    (replace(CLIMB, changes=(("blower", 1.0),)), "changes blower", "not a number"),
    (replace(CLIMB, changes=(("power", -1.0),)), "changes power by", "above 0"),
]


@pytest.mark.parametrize(("schedule", "key", "message"), BAD_SCHEDULES)
def test_what_is_wrong_with_a_schedule_is_a_fault_of_its_key(
    schedule: Schedule, key: str, message: str
) -> None:
    (fault,) = check_aircraft(craft(schedule))
    assert (fault.name, fault.key) == ("schedule climb", key)
    assert message in fault.message
    with pytest.raises(RunnerError, match="schedule climb"):
        Sheet(craft(schedule))


GOOD_CHART = Chart("p", "p", "ram", "ram", "altitude", figure="power")
PICTURES = [
    (GOOD_CHART, ""),
    (replace(GOOD_CHART, table="rum"), "table"),
    (replace(GOOD_CHART, column="rum"), "column"),
    (replace(GOOD_CHART, across="top"), "across"),
    (replace(GOOD_CHART, lines="top"), "lines"),
    (replace(GOOD_CHART, figure="warmth"), "figure"),
    (Envelope("p", "p", "power", "altitude", "ram", "ram.ram"), ""),
    (Envelope("p", "p", "power", "top", "ram", "rum"), "between high"),
    (Envelope("p", "p", "warmth", "top", "ram", "ram"), "between low"),
    (Envelope("p", "p", "power", "warmth", "ram", "ram"), "between low"),
    (Steps("p", "p", "climb", ("power",)), ""),
    (Steps("p", "p", "clim", ("power",)), "schedule"),
    (Steps("p", "p", "climb", ("blower",)), "figures blower"),
    (Steps("p", "p", "climb", ("ram_pressure",)), "figures ram_pressure"),
    (Steps("p", "p", "climb", ()), "figures"),
]


GEARS = Table(
    "gears",
    (Axis("blower", "", ("low", "high"), "exact"), Axis("altitude", "ft", (0.0, 9.0), "linear")),
    (("gears", "inHg"),),
    (1.0, 2.0, 3.0, 4.0),
    "invented",
)
BY_BLOWER = Chart("p", "p", "gears", "gears", "altitude", "blower", "power")


@pytest.mark.parametrize(
    ("picture", "key", "message"),
    [
        (BY_BLOWER, "", ""),
        (replace(BY_BLOWER, lines=""), "lines", "table gears has 2 axes"),
        (replace(BY_BLOWER, across="blower", lines="altitude"), "across", "rows of words"),
        (Envelope("p", "p", "power", "top", "gears", "ram"), "between low", "one axis, of numbers"),
    ],
)
def test_an_axis_of_words_is_for_lines_alone(picture: Picture, key: str, message: str) -> None:
    whole = craft(CLIMB, picture)
    faults = check_aircraft(replace(whole, tables={**whole.tables, "gears": GEARS}))
    assert [fault.key for fault in faults] == ([key] if key else [])
    assert all(message in fault.message for fault in faults)


@pytest.mark.parametrize(
    ("axis", "message"),
    [
        (Axis("blower", "ft", (0.0, 12000.0), "linear"), "has rows of numbers, and blower is one"),
        (Axis("outside", "ft", (0.0, 12000.0), "linear"), "outside is a temperature (degC), not"),
        (Axis("sky", "ft", (0.0, 12000.0), "linear"), "has no value today"),
    ],
)
def test_an_axis_measures_what_bears_its_name(axis: Axis, message: str) -> None:
    whole = craft(CLIMB, Chart("p", "p", "other", "other", axis.name))
    other = Table("other", (axis,), (("other", "inHg"),), (1.0, 2.0), "invented")
    (fault,) = check_aircraft(replace(whole, tables={**whole.tables, "other": other}))
    assert (fault.name, fault.key) == ("picture p", "across")
    assert message in fault.message


def test_a_unit_that_is_not_known_is_told_once() -> None:
    whole = craft(CLIMB, GOOD_CHART, Envelope("q", "q", "power", "top", "ram", "ram"))
    ram = replace(RAM, axes=(replace(RAM.axes[0], unit="feets"),), columns=(("ram", "inches"),))
    faults = check_aircraft(replace(whole, tables={"ram": ram}))
    assert {fault.name for fault in faults} >= {"ram"}
    assert not [fault for fault in faults if fault.name.startswith(("picture", "schedule"))]
    altitude = replace(INPUTS[0], unit="feets")
    faults = check_aircraft(replace(whole, inputs={**whole.inputs, "altitude": altitude}))
    assert [fault.key for fault in faults if "'feets' is not a unit" in fault.message] == ["unit"]


@pytest.mark.parametrize(("picture", "key"), PICTURES)
def test_what_is_wrong_with_a_picture_is_a_fault_of_its_key(picture: Picture, key: str) -> None:
    faults = check_aircraft(craft(CLIMB, picture))
    assert [fault.name for fault in faults[:1]] == (["picture p"] if key else [])
    assert [fault.key for fault in faults[:1]] == ([key] if key else [])
