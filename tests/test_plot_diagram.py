"""What a picture shows: lines through the tables, today's point, breaks and faults."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from figures_aircraft import aircraft, choice, figure, number
from plot_aircraft import FIGURES, INPUTS, PICTURES, SPEED, craft
from runner.figures.expression import parse
from runner.figures.model import Aircraft, Axis, Chart, Envelope, Input, Picture, Steps, Table
from runner.figures.sheet import Sheet
from runner.figures.tables import look_up_column
from runner.plot.diagram import MOST_LINES, diagrams_of
from runner.plot.shapes import Diagram, Mark

POWER, SPEEDS, BALANCE, STEPS = PICTURES


def drawn(picture: Picture, whole: Aircraft | None = None, **values: float | str) -> Diagram:
    (diagram,) = all_drawn(picture, whole, **values)
    return diagram


def all_drawn(
    picture: Picture, whole: Aircraft | None = None, **values: float | str
) -> tuple[Diagram, ...]:
    sheet = Sheet(whole or craft([picture]))
    return diagrams_of(sheet, sheet.work_out(values), picture)


def labels(diagram: Diagram) -> list[str]:
    return [line.label for line in diagram.lines]


def test_a_chart_has_a_line_for_each_row_at_todays_other_values() -> None:
    low = drawn(POWER)
    assert labels(low) == ["-20", "0", "20"]
    assert low.lines[0].parts == (((0.0, 40.0), (4000.0, 38.0)),)
    assert low.note == "lines: outside temperature, degC (today 10); gear low"
    high = drawn(POWER, gear="high")
    assert high.lines[2].parts == (((4000.0, 45.0), (8000.0, 43.0)),)
    assert high.note.endswith("gear high")


def test_axes_have_titles_and_units() -> None:
    diagram = drawn(POWER)
    assert (diagram.across.label, diagram.up.label) == ("altitude, ft", "pressure, inHg")
    assert drawn(replace(SPEEDS, figure="")).up.label == "rotate, kt"


def test_todays_point_is_the_figure_with_its_value_as_it_is_said() -> None:
    (today,) = drawn(POWER, altitude=2000.0).today
    assert today.at == (2000.0, 40.5)
    assert today.label == "today 40.5 inHg"
    assert drawn(replace(POWER, figure="")).today == ()


@given(st.floats(0.0, 4000.0), st.sampled_from([-20.0, 0.0, 20.0]))
def test_on_a_row_of_the_lines_todays_point_lies_on_its_line(altitude: float, row: float) -> None:
    diagram = drawn(POWER, altitude=altitude, gear="low", outside_temperature=row)
    line = next(one for one in diagram.lines if one.label == f"{row:.0f}")
    ((x, y), (other_x, other_y)) = line.parts[0]
    wanted = y + (other_y - y) * (altitude - x) / (other_x - x)
    assert diagram.today[0].at == (altitude, pytest.approx(wanted))


def test_next_row_up_is_drawn_in_steps() -> None:
    (line,) = drawn(SPEEDS).lines
    assert line.joined
    assert line.parts == (
        ((3000.0, 60.0), (3000.0, 70.0), (4000.0, 70.0), (4000.0, 78.0), (5000.0, 78.0)),
    )


@given(st.floats(3001.0, 5000.0))
def test_todays_point_lies_on_the_steps(weight: float) -> None:
    diagram = drawn(SPEEDS, weight=weight)
    treads = [
        (start, end)
        for start, end in zip(*(diagram.lines[0].parts[0][n:] for n in (0, 1)), strict=False)
        if start[1] == end[1]
    ]
    (x, y) = diagram.today[0].at
    assert any(start[0] <= x <= end[0] and y == start[1] for start, end in treads)
    assert y == look_up_column(SPEED, 0, (weight,))


def test_an_exact_axis_is_drawn_as_points() -> None:
    diagram = drawn(Chart("steps", "steps", "step_chart", "rotate", "weight"))
    (line,) = diagram.lines
    assert not line.joined
    assert line.parts == (((3000.0, 60.0),), ((4000.0, 70.0),), ((5000.0, 78.0),))


def test_a_hole_in_a_table_is_a_gap() -> None:
    table = Table(
        "holed",
        (Axis("weight", "lb", (1.0, 2.0, 3.0, 4.0), "linear"),),
        (("rotate", "kt"),),
        (60.0, None, 70.0, 80.0),
        "invented",
    )
    whole = replace(craft(), tables={**craft().tables, "holed": table})
    (line,) = drawn(Chart("holed", "holed", "holed", "rotate", "weight"), whole).lines
    assert line.parts == (((1.0, 60.0),), ((3.0, 70.0), (4.0, 80.0)))


def test_of_many_lines_some_are_shown_and_those_about_today() -> None:
    rows = tuple(float(row) for row in range(0, 400, 10))
    table = Table(
        "many",
        (
            Axis("weight", "lb", (3000.0, 5000.0), "linear"),
            Axis("altitude", "ft", rows, "linear"),
        ),
        (("rotate", "kt"),),
        tuple(float(n) for n in range(2 * len(rows))),
        "invented",
    )
    whole = replace(craft(), tables={**craft().tables, "many": table})
    chart = Chart("many", "many", "many", "rotate", "weight", "altitude")
    shown = labels(drawn(chart, whole, altitude=123.0))
    assert {"0", "120", "130", "390"} <= set(shown)
    assert len(shown) <= MOST_LINES
    assert labels(drawn(chart, whole, altitude=9000.0))[-2:] == ["380", "390"]


def test_of_many_lines_of_words_that_of_today_is_shown() -> None:
    words = tuple(f"w{n}" for n in range(20))
    table = Table(
        "worded",
        (Axis("weight", "lb", (3000.0, 5000.0), "linear"), Axis("word", "", words, "exact")),
        (("rotate", "kt"),),
        tuple(float(n) for n in range(40)),
        "invented",
    )
    chart = Chart("worded", "worded", "worded", "rotate", "weight", "word")
    for default, wanted in (("w7", "w7"), (None, "w0")):
        whole = replace(
            aircraft((INPUTS[0], choice("word", words, default)), (), (table,)),
            pictures={"worded": chart},
        )
        assert wanted in labels(drawn(chart, whole))
        assert len(labels(drawn(chart, whole))) <= MOST_LINES


def without(*names: str) -> list[Input]:
    return [replace(one, default=None) if one.name in names else one for one in INPUTS]


def test_a_chart_without_a_value_it_needs_says_so() -> None:
    whole = craft([POWER], inputs=without("altitude"))
    diagram = drawn(POWER, whole)
    assert diagram.lines == ()
    assert diagram.problems == (
        "no lines: gear needs altitude, which is not given",
        "no point for today: altitude is not given",
    )
    assert diagram.held == ""


def test_a_chart_off_its_table_says_where_the_table_ends() -> None:
    diagram = drawn(POWER, altitude=9000.0)
    assert len(diagram.lines) == 3
    assert diagram.problems == (
        "no point for today: pressure table power_chart covers altitude from 0 to 8000 ft, "
        "not 9000 ft",
    )
    held = Chart("held", "held", "power_chart", "pressure", "outside_temperature", "gear")
    diagram = drawn(held, craft([held]), altitude=9000.0)
    assert diagram.lines == ()
    assert diagram.problems[0].startswith("no lines: table power_chart covers altitude")


def test_a_figure_that_does_not_apply_has_no_point() -> None:
    whole = craft(
        [replace(SPEEDS, figure="maybe")],
        figures=(*FIGURES, figure("maybe", "rotate", "kt", if_="gear == high")),
    )
    diagram = drawn(replace(SPEEDS, figure="maybe"), whole)
    assert diagram.problems == ("no point for today: maybe does not apply now",)


def test_values_are_shown_in_the_tables_units() -> None:
    table = replace(SPEED, axes=(Axis("weight", "kg", (1000.0, 2000.0, 3000.0), "linear"),))
    whole = replace(craft(), tables={**craft().tables, "speed_chart": table})
    diagram = drawn(SPEEDS, whole)
    assert diagram.across.unit == "kg"
    assert diagram.today[0].at[0] == pytest.approx(4200 * 0.45359237)


def test_an_envelope_is_closed_and_holds_todays_point() -> None:
    diagram = drawn(BALANCE)
    assert labels(diagram) == ["low limit", "high limit", "", ""]
    low, high, bottom, top = (line.parts[0] for line in diagram.lines)
    assert low[0] == (80.0, pytest.approx(1000 / 0.45359237))
    assert bottom == (low[0], high[0])
    assert top == (low[-1], high[-1])
    assert diagram.today[0].label == "today 4200 lb, 88.0 in"
    assert diagram.problems == ()


@pytest.mark.parametrize(
    ("values", "problem"),
    [
        ({"arm": 79.5}, "today's point is outside the envelope: 79.5 is below 80 in"),
        ({"arm": 95.5}, "today's point is outside the envelope: 95.5 is above 95 in"),
        (
            {"weight": 8000.0},
            "today's point is outside the envelope: table front covers weight from 1000 to "
            "3000 kg, not 3628.74 kg",
        ),
    ],
)
def test_a_point_outside_the_envelope_is_warned_of(
    values: dict[str, float | str], problem: str
) -> None:
    assert drawn(BALANCE, **values).problems == (problem,)


@given(st.floats(70.0, 100.0), st.floats(2300.0, 6600.0))
def test_a_point_is_outside_just_where_it_is_past_a_limit(arm: float, weight: float) -> None:
    kilograms = weight * 0.45359237
    low = 80.0 if kilograms <= 2000 else 80.0 + 5 * (kilograms - 2000) / 1000
    near = min(abs(arm - low), abs(arm - 95.0)) < 1e-6
    problems = drawn(BALANCE, arm=arm, weight=weight).problems
    assert near or bool(problems) == (not low <= arm <= 95.0)


def balanced(**more: str) -> Aircraft:
    """The aircraft with a centre of gravity that has limits of its own."""
    named = replace(BALANCE, across="gravity")
    gravity = figure("gravity", "arm + 0 in", "in", decimals=1, step=0.1, **more)  # type: ignore[arg-type]
    return craft([named], figures=(*FIGURES, gravity))


@pytest.mark.parametrize("arm", [79.0, 96.0])
def test_a_figure_past_its_limit_is_shown_where_it_would_be(arm: float) -> None:
    whole = balanced(low="80 in", high="95 in")
    diagram = drawn(whole.pictures["balance"], whole, arm=arm)
    (today,) = diagram.today
    assert today.refused
    assert today.at == (arm, 4200.0)
    assert today.label == f"past its limit: 4200 lb, {arm:.1f} in"
    (problem,) = diagram.problems
    assert problem.startswith(f"gravity comes to {arm:.1f} in, ")
    (today,) = drawn(whole.pictures["balance"], whole).today
    assert not today.refused


@pytest.mark.parametrize(
    "more",
    [
        {"high": "wind_direction / 1 deg * 1 in"},
        {"high": "80 in", "if_": "wind_direction > 90 deg"},
    ],
)
def test_a_figure_with_another_problem_is_not_shown(more: dict[str, str]) -> None:
    whole = balanced(**more)
    diagram = drawn(whole.pictures["balance"], whole)
    assert diagram.today == ()
    assert diagram.problems == (
        "no point for today: gravity needs wind_direction, which is not given",
    )


def test_an_envelope_without_todays_values_is_drawn_without_a_point() -> None:
    whole = craft([BALANCE], inputs=without("arm"))
    diagram = drawn(BALANCE, whole)
    assert len(diagram.lines) == 4
    assert diagram.today == ()
    assert diagram.problems == ("no point for today: arm is not given",)


def test_sides_that_end_at_different_weights_are_not_joined() -> None:
    whole = craft([BALANCE])
    longer = replace(whole.tables["rear"], axes=(Axis("weight", "kg", (1000.0, 3500.0), "linear"),))
    whole = replace(whole, tables={**whole.tables, "rear": longer})
    assert labels(drawn(BALANCE, whole)) == ["low limit", "high limit", ""]


def test_an_envelope_with_empty_sides_is_empty() -> None:
    whole = craft([BALANCE])
    empty = replace(whole.tables["front"], values=(None, None, None))
    one = Envelope("balance", "balance", "arm", "weight", "front.arm", "rear.arm")
    diagram = drawn(one, replace(whole, tables={**whole.tables, "front": empty}))
    assert diagram.lines[0].parts == ()
    assert diagram.problems[0].startswith("today's point is outside the envelope: table front has")


def test_a_schedule_has_a_diagram_for_each_unit() -> None:
    pressure, draught = all_drawn(STEPS)
    assert (pressure.up.label, labels(pressure)) == ("inHg", ["pressure", "spare"])
    assert (draught.up.label, labels(draught)) == ("draught, kt", [""])
    assert pressure.across.label == "altitude, ft"
    assert [one.label for one in pressure.today] == ["today 41.0 inHg", "today 11.0 inHg"]
    assert all(line.marked for line in pressure.lines)


def test_a_line_of_a_schedule_breaks_where_a_word_changes() -> None:
    pressure, draught = all_drawn(STEPS)
    assert pressure.marks == draught.marks == (Mark(4000.0, "gear high"),)
    low, high = pressure.lines[0].parts
    assert (low[0], low[-1]) == ((1000.0, 41.0), (3000.0, 39.8))
    assert high[0] == (4000.0, 44.2)


def test_a_schedule_off_its_tables_ends_there_and_says_why() -> None:
    pressure, _ = all_drawn(STEPS, top=10000.0)
    assert pressure.lines[0].parts[-1][-1][0] == 8000.0
    assert pressure.problems[0].startswith("no pressure at 9000 ft: table power_chart covers")


def test_a_schedule_that_cannot_be_worked_out_says_why() -> None:
    whole = craft([STEPS], inputs=without("top"))
    diagram = drawn(STEPS, whole)
    assert diagram.lines == ()
    assert diagram.problems[0].startswith("schedule climb: 'to' ")


def test_a_schedule_that_leaves_today_out_has_no_point_for_it() -> None:
    whole = craft([STEPS])
    later = replace(whole.schedules["climb"], start=parse("5000 ft"))
    whole = replace(whole, schedules={"climb": later})
    one = Steps("steps", "steps", "climb", ("pressure",))
    assert drawn(one, whole).today == ()


def test_names_stand_in_for_titles_that_are_missing() -> None:
    whole = craft([SPEEDS], inputs=[replace(one, title="") for one in INPUTS])
    assert drawn(SPEEDS, whole).across.label == "weight, lb"


def test_a_word_is_no_point() -> None:
    whole = aircraft(
        (number("weight", "lb", default=4000.0), choice("word", ("a", "b"), "a")), (), (SPEED,)
    )
    one = Chart("odd", "odd", "speed_chart", "rotate", "weight", "", "word")
    (diagram,) = diagrams_of(Sheet(whole), Sheet(whole).work_out({}), one)
    assert diagram.problems == ("no point for today: word is a, not a number",)
