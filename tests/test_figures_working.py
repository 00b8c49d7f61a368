"""Why a figure is what it is, and inputs as a pilot writes them."""

from __future__ import annotations

import pytest

from figures_aircraft import aircraft, figure, number
from runner.errors import RunnerError
from runner.figures.given import read_given
from runner.figures.model import Constant
from runner.figures.sheet import Sheet, Worked
from test_figures_sheet import CONSTANTS, FIGURES, INPUTS

CRAFT = aircraft(INPUTS, FIGURES, constants=CONSTANTS)


@pytest.fixture(scope="module")
def sheet() -> Sheet:
    return Sheet(CRAFT)


@pytest.fixture
def worked(sheet: Sheet) -> Worked:
    return sheet.work_out({"altitude": 1000.0, "weight": 54000.0})


def test_the_working_of_a_figure_from_a_table(worked: Worked) -> None:
    assert worked.why("pressure") == (
        "pressure: 41.2 inHg",
        "  power(blower, altitude, carburettor)",
        "  = power(low, 1000 ft, 15 degC)",
        "  table power, manifold pressure; source: invented",
        "    blower low: exact, row low",
        "    altitude 1000 ft: linear between rows 0 and 4000 ft, 0.25 of the way",
        "    temperature 15 degC: linear between rows 0 and 20 degC, 0.75 of the way",
        "    pressure: 41 x 0.1875 + 42 x 0.5625 + 39 x 0.0625 + 40 x 0.1875 = 41.25 inHg",
        "  = 41.25 inHg",
        "  rounded down to 0.1 inHg: 41.2 inHg",
        "  limit: at most limit = 46 inHg",
    )


def test_the_working_of_a_figure_from_others(worked: Worked) -> None:
    assert worked.why("decision") == (
        "decision: 87 kt",
        "  rotate - (4 kt if surface == dry else 9 kt)",
        "  = 91 kt - (4 kt if dry == dry else 9 kt)",
        "  = 87 kt",
        "  rounded down to 1 kt: 87 kt",
    )


def test_the_working_of_inputs(sheet: Sheet, worked: Worked) -> None:
    assert worked.why("weight") == ("weight: 54000 lb, given",)
    assert worked.why("outside") == ("outside: 10 degC, the aircraft's default",)
    assert worked.why("spare") == ("spare: not given",)
    assert worked.why("carburettor") == (
        "carburettor: 15 degC, worked out because it is not given",
        "  outside + 5 degC",
        "  = 10 degC + 5 degC",
        "  = 15 degC",
    )
    given = sheet.change(worked, {"carburettor": 0.0})
    assert given.why("carburettor") == ("carburettor: 0 degC, given, instead of outside + 5 degC",)
    assert worked.why("limit") == ("manifold pressure limit: 46 inHg, a constant of the aircraft",)


def test_the_working_of_words_and_conditions(sheet: Sheet, worked: Worked) -> None:
    assert worked.why("advice") == (
        "advice: dry",
        "  wet if surface == wet else dry",
        "  = wet if dry == wet else dry",
        "  = dry",
    )
    assert worked.why("wet_only") == (
        "wet only: does not apply now",
        "  if surface == wet",
        "   = dry == wet: false",
    )
    wet = sheet.change(worked, {"surface": "wet"})
    assert wet.why("wet_only")[1:3] == ("  if surface == wet", "   = wet == wet: true")


def test_the_working_of_what_cannot_be_worked_out(sheet: Sheet) -> None:
    worked = sheet.work_out({"weight": 40000.0})
    assert worked.why("rotate") == (
        "rotate: cannot be worked out",
        "  speeds.rotate(weight)",
        "  = speeds.rotate(40000 lb)",
        "  table speeds covers weight from 52000 to 60000 lb, not 40000 lb",
    )
    assert worked.why("blower") == (
        "blower: cannot be worked out, worked out because it is not given",
        "  low if altitude < 10000 ft else high",
        "  needs altitude, which is not given",
    )
    assert "  needs blower, which cannot be worked out" in worked.why("pressure")


def test_limits_are_worked_out_in_the_unit_of_the_figure() -> None:
    craft = aircraft(
        (number("a", "kt", default=50.0), number("b", "kt")),
        (figure("f", "a", "kt", low="40 kt", high="a + 10 kt"), figure("g", "a", "kt", high="b")),
    )
    worked = Sheet(craft).work_out({})
    assert worked.why("f")[-2:] == (
        "  limit: at least 40 kt",
        "  limit: at most a + 10 kt = 50 kt + 10 kt = 60 kt",
    )
    assert worked.why("g")[-1] == "  limit: at most b = needs b, which is not known"


def test_a_look_up_made_twice_is_told_once() -> None:
    craft = aircraft(
        (number("weight", "lb", default=54000.0),),
        (figure("f", "max(speeds.rotate(weight), speeds.rotate(weight) - 1 kt)", "kt"),),
        constants=(Constant("unused", 1.0),),
    )
    lines = Sheet(craft).work_out({}).why("f")
    assert sum(line.startswith("  table speeds") for line in lines) == 1
    assert lines[-1] == "  rounded to nearest 1 kt: 91 kt"


def test_there_is_no_working_of_what_is_not_there(worked: Worked) -> None:
    with pytest.raises(RunnerError, match="Test Piece has no figure rotat; did you mean rotate"):
        worked.why("rotat")


def test_inputs_are_read_as_a_pilot_writes_them() -> None:
    given = read_given(
        CRAFT, ["weight = 25000 kg", "surface=wet", "altitude=1000", "outside=50degF"]
    )
    assert given == {
        "weight": pytest.approx(55115.566, abs=0.001),
        "surface": "wet",
        "altitude": 1000.0,
        "outside": pytest.approx(10.0),
    }


@pytest.mark.parametrize(
    ("pair", "message"),
    [
        ("weight", "--set weight: say it as name=value"),
        ("weight=", "--set weight=: say it as name=value"),
        ("weight=heavy", "'heavy' is not a number with a unit"),
        ("weight=5kt", "a speed (kt) is not a mass (lb)"),
        ("surface=damp", "surface is one of dry, wet, not damp"),
        ("wieght=1", "Test Piece has no input wieght; did you mean weight?"),
        ("rotate=1", "rotate is worked out for Test Piece; it cannot be set"),
        ("zzz=1", "Test Piece has no input zzz; it has weight, altitude"),
    ],
)
def test_an_input_that_cannot_be_read_is_refused_in_one_line(pair: str, message: str) -> None:
    with pytest.raises(RunnerError) as caught:
        read_given(CRAFT, [pair])
    assert message in str(caught.value)
    assert "\n" not in str(caught.value)
