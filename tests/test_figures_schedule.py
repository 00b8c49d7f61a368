"""Schedules worked out: their steps, the changes worth calling, and what cannot be told."""

from __future__ import annotations

import pickle
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from figures_aircraft import aircraft, choice, figure, number
from runner.errors import RunnerError
from runner.figures.expression import parse
from runner.figures.model import Aircraft, Axis, Picture, Schedule, Table
from runner.figures.schedule import (
    MAX_ROWS,
    Change,
    WorkedSchedule,
    change_lines,
    next_changes,
    schedule_lines,
    work_schedule,
)
from runner.figures.sheet import Sheet, Worked

RAM = Table(
    "ram",
    (Axis("altitude", "ft", (0.0, 12000.0), "linear"),),
    (("ram", "inHg"),),
    (2.0, 1.0),
    "invented",
)
INPUTS = (
    number("altitude", "ft", -1000.0, 20000.0, 500.0),
    number("top", "ft", -1000.0, 20000.0, 8000.0),
    number("outside", "degC", -30.0, 50.0, 15.0),
    number("carburettor", "degC", -40.0, 60.0, formula="outside + 5 degC"),
    choice("blower", ("low", "high"), formula="low if altitude < 5000 ft else high"),
    number("spare", "lb"),
)
FIGURES = (
    figure(
        "power",
        "40 inHg - altitude / 1000 ft * 1 inHg + (0 inHg if blower == low else 6 inHg)",
        "inHg",
        round_="down",
        step=0.1,
        decimals=1,
    ),
    figure("warmth", "carburettor + 0 degC", "degC", round_="up"),
    figure("ram_pressure", "ram(altitude)", "inHg", step=0.01, decimals=2),
    figure("cold_only", "carburettor + 1 degC", "degC", if_="carburettor < 10 degC"),
    figure("loaded", "spare + 1 lb", "lb"),
)
CLIMB = Schedule(
    "climb",
    "climb power",
    "altitude",
    parse("altitude"),
    parse("top"),
    1000.0,
    ("blower", "power", "warmth"),
    (("outside", parse("outside - 2 degC * ((at - altitude) / 1000 ft)")),),
    (("power", 1.0),),
)


def craft(schedule: Schedule = CLIMB, *pictures: Picture) -> Aircraft:
    whole = aircraft(INPUTS, FIGURES, (RAM,))
    return replace(
        whole,
        schedules={schedule.name: schedule},
        pictures={one.name: one for one in pictures},
    )


def ready(schedule: Schedule = CLIMB, **values: float | str) -> tuple[Sheet, Worked, Schedule]:
    sheet = Sheet(craft(schedule))
    return sheet, sheet.work_out(values), sheet.aircraft.schedules[schedule.name]


def worked(schedule: Schedule = CLIMB, **values: float | str) -> WorkedSchedule:
    return work_schedule(*ready(schedule, **values))


def at(done: WorkedSchedule) -> list[float]:
    return [row.at for row in done.rows]


def places(changes: tuple[Change, ...], name: str) -> list[float]:
    return [change.at for change in changes if change.name == name]


def test_rows_begin_at_the_beginning_and_go_on_at_round_multiples_of_the_step() -> None:
    assert at(worked(altitude=512.5, top=3000.0)) == [512.5, 1000.0, 2000.0, 3000.0]


def test_the_end_is_a_row_though_it_is_no_multiple() -> None:
    assert at(worked(altitude=-400.0, top=1250.0)) == [-400.0, 0.0, 1000.0, 1250.0]


def test_an_end_at_the_beginning_is_one_row() -> None:
    assert at(worked(altitude=3000.0, top=3000.0)) == [3000.0]


def test_a_descent_goes_down_by_the_same_multiples() -> None:
    assert at(worked(altitude=4300.0, top=2000.0)) == [4300.0, 4000.0, 3000.0, 2000.0]


def test_each_row_has_the_figures_of_its_step() -> None:
    done = worked(altitude=3500.0, top=6000.0)
    assert [(r.varying.shown_with_unit, r.figures["power"].shown) for r in done.rows] == [
        ("3500 ft", "36.5"),
        ("4000 ft", "36.0"),
        ("5000 ft", "41.0"),
        ("6000 ft", "40.0"),
    ]
    assert [row.figures["blower"].value for row in done.rows] == ["low", "low", "high", "high"]
    assert [row.figures["warmth"].shown for row in done.rows] == ["20", "19", "17", "15"]
    assert all(not row.problems for row in done.rows)


def test_a_figure_that_depends_on_an_input_out_of_range_is_absent_there() -> None:
    done = worked(altitude=0.0, top=12000.0, outside=-10.0)
    last_good = done.rows[10]
    assert last_good.at == 10000.0
    assert last_good.figures["warmth"].value == -25.0
    for row in done.rows[11:]:
        assert "warmth" not in row.figures
        assert row.problems["warmth"].startswith(
            "needs outside, which should be from -30 to 50 degC, not -3"
        )
        assert "power" in row.figures


def test_what_was_given_today_does_not_follow_the_input_that_fails() -> None:
    done = worked(altitude=0.0, top=12000.0, outside=-10.0, carburettor=7.0)
    assert [row.figures["warmth"].value for row in done.rows] == [7.0] * 13


def test_a_step_out_of_the_range_of_what_varies_has_no_figures_that_depend_on_it() -> None:
    done = worked(replace(CLIMB, end=parse("21500 ft")), altitude=19000.0, outside=40.0)
    assert at(done) == [19000.0, 20000.0, 21000.0, 21500.0]
    assert [sorted(row.figures) for row in done.rows] == [
        ["blower", "power", "warmth"],
        ["blower", "power", "warmth"],
        ["warmth"],
        ["warmth"],
    ]
    assert done.rows[2].problems["power"] == (
        "needs altitude, which should be from -1000 to 20000 ft, not 21000 ft"
    )


def test_a_figure_outside_its_table_is_absent_with_the_range_of_the_table() -> None:
    done = worked(replace(CLIMB, figures=("ram_pressure",)), altitude=11000.0, top=13000.0)
    assert [row.figures.keys() for row in done.rows] == [{"ram_pressure"}, {"ram_pressure"}, set()]
    assert "table ram covers altitude from 0 to 12000 ft" in done.rows[2].problems["ram_pressure"]


def test_a_figure_that_does_not_apply_at_a_step_has_no_problem() -> None:
    schedule = replace(CLIMB, figures=("cold_only",))
    done = worked(schedule, altitude=3000.0, top=6000.0, outside=9.5)
    assert [sorted(row.figures) for row in done.rows] == [[], [], [], ["cold_only"]]
    assert not any(row.problems for row in done.rows)


def test_an_input_that_is_not_given_is_a_problem_of_its_row() -> None:
    (row, *_) = worked(replace(CLIMB, figures=("spare", "loaded"))).rows
    assert row.problems == {"spare": "is not given", "loaded": "needs spare, which is not given"}


def test_a_formula_of_a_step_that_fails_takes_what_depends_on_it() -> None:
    cooler = parse("15 degC - 1 degC / ((at - 3000 ft) / 1000 ft)")
    done = worked(replace(CLIMB, given=(("outside", cooler),)), altitude=2000.0, top=4000.0)
    assert [sorted(row.figures) for row in done.rows] == [
        ["blower", "power", "warmth"],
        ["blower", "power"],
        ["blower", "power", "warmth"],
    ]
    assert done.rows[1].problems == {"warmth": "needs outside, which divides by 0"}


def test_an_end_that_cannot_be_worked_out_is_one_clear_line() -> None:
    schedule = replace(CLIMB, end=parse("1000 ft * (spare / 1 lb)"))
    for work in (work_schedule, next_changes):
        with pytest.raises(RunnerError) as caught:
            work(*ready(schedule))
        assert str(caught.value) == "schedule climb: 'to' needs spare, which is not known"


def test_too_many_rows_are_one_clear_line_that_names_a_step_that_would_do() -> None:
    with pytest.raises(RunnerError) as caught:
        worked(replace(CLIMB, step=10.0), altitude=0.0, top=20000.0)
    assert str(caught.value) == (
        "schedule climb: every 10 ft from 0 to 20000 ft is more than 200 rows; "
        "every 110 ft would do"
    )
    assert len(worked(replace(CLIMB, step=110.0), altitude=0.0, top=20000.0).rows) == 183
    with pytest.raises(RunnerError, match="more than 200 rows"):
        next_changes(*ready(replace(CLIMB, step=1e-300), altitude=0.0, top=20000.0))


def test_two_hundred_rows_are_not_too_many() -> None:
    schedule = replace(CLIMB, step=100.0)
    assert len(worked(schedule, altitude=0.0, top=19900.0).rows) == MAX_ROWS
    with pytest.raises(RunnerError):
        worked(schedule, altitude=0.0, top=19910.0)


@settings(max_examples=60, deadline=None)
@given(
    st.floats(-1000, 20000), st.floats(-1000, 20000), st.sampled_from([250.0, 500.0, 984.25, 5e3])
)
def test_rows_run_from_the_beginning_to_the_end_at_multiples_between(
    start: float, end: float, step: float
) -> None:
    found = at(worked(replace(CLIMB, step=step), altitude=start, top=end))
    assert found[0] == start
    assert found[-1] == pytest.approx(end, abs=1e-4)
    assert all((a < b) == (start < end) for a, b in pairwise(found))
    assert all(abs(b - a) <= step * (1 + 1e-6) for a, b in pairwise(found))
    for one in found[1:-1]:
        assert one / step == pytest.approx(round(one / step), abs=1e-9)


@settings(max_examples=40, deadline=None)
@given(st.floats(-1000, 12000), st.floats(-1000, 20000), st.floats(-30, 50), st.booleans())
def test_every_row_is_the_sheet_worked_out_for_its_step_from_nothing(
    start: float, end: float, outside: float, high: bool
) -> None:
    given_: dict[str, float | str] = {"altitude": start, "top": end, "outside": outside}
    if high:
        given_["blower"] = "high"
    sheet, today, schedule = ready(CLIMB, **given_)
    for row in work_schedule(sheet, today, schedule).rows:
        cooler = outside - 2.0 * (row.at - start) / 1000.0
        if not -30.0 + 1e-6 < cooler < 50.0 - 1e-6:
            continue
        alone = sheet.work_out({**given_, "altitude": row.at, "outside": cooler})
        for name in ("blower", "power"):
            assert row.figures[name] == alone.figures[name]
        assert abs(float(row.figures["warmth"].value) - float(alone.figures["warmth"].value)) <= 1


@settings(max_examples=40, deadline=None)
@given(st.floats(-30, 50), st.floats(0, 20000))
def test_what_could_not_be_is_never_a_figure(outside: float, end: float) -> None:
    for row in worked(altitude=0.0, top=end, outside=outside).rows:
        cooler = outside - 2.0 * row.at / 1000.0
        if cooler < -30.0 - 1e-6:
            assert "warmth" in row.problems
            assert "warmth" not in row.figures
        assert row.figures.keys().isdisjoint(row.problems)
        assert row.figures.keys() | row.problems.keys() == {"blower", "power", "warmth"}


def test_only_what_depends_on_what_varies_is_worked_out_again(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    sheet, today, schedule = ready(replace(CLIMB, given=()))
    renewed: set[str] = set()
    change = Sheet.change

    def noted(self: Sheet, before: Worked, changes: dict[str, float | str | None]) -> Worked:
        after = change(self, before, changes)
        renewed.update(after.renewed)
        return after

    monkeypatch.setattr(Sheet, "change", noted)
    work_schedule(sheet, today, schedule)
    assert renewed == {"blower", "power", "ram_pressure"}


def test_a_change_is_called_where_what_is_shown_differs_by_the_amount() -> None:
    changes = next_changes(*ready(altitude=0.0, top=4500.0))
    # Rounded down, 39.0 is shown from below 39.1 on, which is above 900 ft.
    assert places(changes, "power") == [910.0, 1910.0, 2910.0, 3910.0]
    assert [(c.before.shown, c.after.shown) for c in changes] == [
        ("40.0", "39.0"),
        ("39.0", "38.0"),
        ("38.0", "37.0"),
        ("37.0", "36.0"),
    ]


def test_a_word_is_called_where_it_becomes_another() -> None:
    changes = next_changes(*ready(altitude=4300.0, top=6000.0))
    assert [(c.name, c.at, c.before.value, c.after.value) for c in changes] == [
        ("blower", 5000.0, "low", "high"),
        ("power", 5000.0, 35.7, 41.0),
        ("power", 5910.0, 41.0, 40.0),
    ]


def test_changes_of_a_descent_come_from_the_top_down() -> None:
    changes = next_changes(*ready(altitude=6000.0, top=4300.0))
    assert [(c.name, c.at) for c in changes] == [
        ("power", 5000.0),
        ("blower", 4990.0),
        ("power", 4990.0),
    ]


def test_a_figure_may_be_called_that_no_row_shows() -> None:
    schedule = replace(CLIMB, figures=("blower",), changes=(("warmth", 3.0),))
    changes = next_changes(*ready(schedule, altitude=0.0, top=4000.0))
    assert places(changes, "warmth") == [1500.0, 3000.0]
    assert [change.after.value for change in changes] == [17.0, 14.0]


def test_a_change_too_small_to_be_shown_is_not_called() -> None:
    schedule = replace(CLIMB, changes=(("power", 0.001),))
    changes = next_changes(*ready(schedule, altitude=0.0, top=1000.0))
    shown = [change.after.shown for change in changes]
    assert shown == sorted(set(shown), reverse=True)
    assert len(shown) == 10


def test_what_has_no_value_is_not_called_until_it_has_one() -> None:
    schedule = replace(CLIMB, figures=("ram_pressure",), changes=(("ram_pressure", 0.25),))
    changes = next_changes(*ready(schedule, altitude=-1000.0, top=14000.0))
    assert places(changes, "ram_pressure") == pytest.approx(
        [2950.0, 5950.0, 8950.0, 11950.0], abs=60
    )


def test_where_no_feet_vary_a_change_is_found_to_the_last_shown_decimal() -> None:
    schedule = Schedule(
        "warm",
        "warm-up",
        "outside",
        parse("outside"),
        parse("20 degC"),
        5.0,
        ("warmth",),
        (),
        (("warmth", 3.0),),
    )
    changes = next_changes(*ready(schedule, outside=10.5))
    assert [change.at for change in changes] == [14.0, 17.0, 20.0]


@settings(max_examples=40, deadline=None)
@given(st.floats(-1000, 20000), st.floats(-1000, 20000), st.floats(0.3, 4.0))
def test_each_change_is_by_the_amount_and_none_is_missed_before_it(
    start: float, end: float, amount: float
) -> None:
    schedule = replace(CLIMB, changes=(("power", amount),), given=())
    sheet, today, schedule = ready(schedule, altitude=start, top=end)
    found = [c for c in next_changes(sheet, today, schedule) if c.name == "power"]
    called = today.figures["power"]
    where, way = start, 1 if end >= start else -1
    for change in found:
        assert change.before == called
        assert abs(float(change.after.value) - float(called.value)) >= amount - 1e-6
        assert (change.at - where) * way > 0
        just_before = change.at - 10.0 * way
        if (just_before - where) * way > 0:
            before = sheet.change(today, {"altitude": just_before}).figures["power"]
            assert abs(float(before.value) - float(called.value)) < amount
        here = sheet.change(today, {"altitude": change.at}).figures["power"]
        assert here == change.after
        called, where = change.after, change.at
    last = sheet.change(today, {"altitude": end}).figures["power"]
    assert abs(float(last.value) - float(called.value)) < amount


def test_schedule_lines_are_a_table_with_the_varying_input_first() -> None:
    assert schedule_lines(worked(altitude=3500.0, top=5000.0)) == [
        "climb power",
        "",
        "  altitude          power  warmth",
        "        ft  blower   inHg    degC",
        "      3500  low      36.5      20",
        "      4000  low      36.0      19",
        "      5000  high     41.0      17",
    ]


def test_a_dash_stands_for_a_figure_that_is_absent_and_the_problem_below() -> None:
    lines = schedule_lines(worked(altitude=8000.0, top=12000.0, outside=-25.0))
    assert [line.split()[-1] for line in lines[4:9]] == ["-20", "-22", "-24", "-", "-"]
    assert lines[9:] == [
        "",
        "Warning: no warmth from 11000 to 12000 ft: at 11000 ft, needs outside, which",
        "  should be from -30 to 50 degC, not -31 degC",
    ]


def test_a_problem_is_told_once_for_a_run_of_steps_and_for_all_that_have_it() -> None:
    schedule = replace(CLIMB, figures=("spare", "loaded", "ram_pressure"))
    assert schedule_lines(worked(schedule, altitude=10000.0, top=13000.0), 90)[-4:] == [
        "Warning: no spare from 10000 to 13000 ft: is not given",
        "Warning: no loaded from 10000 to 13000 ft: needs spare, which is not given",
        "Warning: no ram pressure at 13000 ft: table ram covers altitude from 0 to 12000 ft, not",
        "  13000 ft",
    ]


def test_columns_that_find_no_room_follow_below() -> None:
    names = ("blower", "power", "warmth", "carburettor", "outside", "ram_pressure")
    done = worked(replace(CLIMB, figures=names), top=2000.0)
    for width in (24, 30, 44, 80, 120):
        lines = schedule_lines(done, width)
        assert max(map(len, lines)) <= width
        assert sum(line.split()[:1] == ["1000"] for line in lines) == lines.count("")
        text = "\n".join(lines)
        assert all(name.replace("_", " ").split()[0] in text for name in names)
    assert schedule_lines(done, 120).count("") == 1


def test_change_lines_say_where_and_what() -> None:
    changes = next_changes(*ready(altitude=4300.0, top=5500.0))
    assert change_lines(changes) == [
        "at 5000 ft: blower high, was low",
        "at 5000 ft: power 41.0 inHg, was 35.7 inHg",
    ]
    assert max(map(len, change_lines(changes, 24))) <= 24


def test_a_compiled_schedule_is_pickled_and_is_the_same() -> None:
    sheet, today, schedule = ready()
    again = pickle.loads(pickle.dumps(schedule))
    assert work_schedule(sheet, today, again) == work_schedule(sheet, today, schedule)
