"""Everything that is wrong with an aircraft is found, and named where it stands."""

from __future__ import annotations

from dataclasses import replace

import pytest

from figures_aircraft import POWER, SPEEDS, aircraft, choice, figure, maybe, number
from runner.errors import RunnerError
from runner.figures.aircraft import (
    Fault,
    check_aircraft,
    compiled_aircraft,
    formulas_of,
    needs,
    order,
    reading_names,
    scope_of,
)
from runner.figures.model import Aircraft, Axis, Constant, Limit, ReadingRule, Rounding
from runner.figures.sheet import Sheet

WEIGHT = number("weight", "lb", 40000.0, 60000.0, 54000.0)
SURFACE = choice("surface", ("dry", "wet"), "dry")


def faults(*figures: object, **parts: object) -> list[Fault]:
    inputs = parts.pop("inputs", (WEIGHT, SURFACE))
    return check_aircraft(aircraft(inputs, figures, **parts))  # type: ignore[arg-type]


def test_a_sound_aircraft_has_no_faults() -> None:
    sound = figure(
        "rotate", "speeds.rotate(weight)", "kt", round_="up", if_="surface == dry", low="80 kt"
    )
    assert faults(sound, figure("word", "dry if weight > 1 lb else surface")) == []


@pytest.mark.parametrize(
    ("formula", "unit", "message", "offset"),
    [
        ("wieght", "lb", "nothing is named wieght; did you mean weight?", 0),
        ("weight + 1 kt", "lb", "cannot add a mass (lb) and a speed (kt)", 7),
        ("weight", "kt", "gives a mass (lb), not a speed (kt)", 0),
        ("weight", "", "gives a mass (lb), not a plain number; give it the unit lb", 0),
        ("speed(weight)", "kt", "no table or function is named speed; did you mean speeds?", 0),
        ("speeds.turn(weight)", "kt", "table speeds has no column turn; it has rotate, climb", 0),
        ("speeds.rotate()", "kt", "table speeds is looked up by weight: 1 values, not 0", 0),
        ("speeds.rotate(1 kt)", "kt", "table speeds by weight: gives a speed (kt), not a mass", 14),
        ("surface", "kt", "gives one of dry, wet, not a number in kt", 0),
        ("weight > 1 lb", "", "gives true or false, not a number", 0),
        ("max(weight)", "lb", "max wants 2 to 20 values, not 1", 0),
        ("airspeed", "kt", "airspeed is a reading, which a figure cannot use", 0),
        ("rpm_all", "rpm", "rpm_all is a reading, which a figure cannot use", 0),
    ],
)
def test_a_fault_in_a_formula_is_named_with_its_place(
    formula: str, unit: str, message: str, offset: int
) -> None:
    readings = (ReadingRule("airspeed", "airspeed", "kt"), ReadingRule("rpm", "RPM", "rpm", True))
    (fault,) = faults(figure("it", formula, unit), readings=readings)
    assert (fault.name, fault.key, fault.offset) == ("it", "from", offset)
    assert message in fault.message
    assert "\n" not in fault.message


def test_conditions_and_limits_have_their_own_keys() -> None:
    bad = figure("it", "1 kt", "kt", if_="weight", low="1 lb", high="2 kg")
    assert [(fault.key, fault.message) for fault in faults(bad)] == [
        ("if", "a condition should stand here, not a mass (lb)"),
        ("at least", "gives a mass (lb), not a speed (kt)"),
        ("at most", "gives a mass (kg), not a speed (kt)"),
    ]


def test_a_circle_is_told_once_with_the_way_round_it() -> None:
    found = faults(
        figure("one", "two", "kt"), figure("two", "three", "kt"), figure("three", "one", "kt")
    )
    assert [(fault.name, fault.message) for fault in found] == [
        ("one", "goes round in a circle: one needs two needs three needs one")
    ]


def test_a_figure_that_needs_itself_is_a_circle() -> None:
    (fault,) = faults(figure("one", "one + 1 kt", "kt"))
    assert fault.message == "goes round in a circle: one needs one"


def test_a_circle_through_an_input_that_is_worked_out_is_found() -> None:
    inputs = (number("a", "kt", formula="b"),)
    (fault,) = faults(figure("b", "a", "kt"), inputs=inputs)
    assert fault.message == "goes round in a circle: a needs b needs a"


def test_all_faults_come_in_one_go() -> None:
    found = faults(
        figure("one", "nothing", "kt"), figure("two", "1 lb", "kt"), figure("three", "1")
    )
    assert [fault.name for fault in found] == ["one", "two"]


@pytest.mark.parametrize(
    ("rounding", "decimals", "key", "message"),
    [
        (Rounding("up", 0.0), 0, "round", "a rounding step is above 0, not 0"),
        (Rounding("up", float("inf")), 0, "round", "a rounding step is above 0, not inf"),
        (Rounding("up", 0.5), 0, "decimals", "0 decimals would hide its steps of 0.5; it needs 1"),
    ],
)
def test_rounding_must_be_able_to_keep_its_side(
    rounding: Rounding, decimals: int, key: str, message: str
) -> None:
    rule = replace(figure("it", "1 kt", "kt"), rounding=rounding, decimals=decimals)
    assert faults(rule) == [Fault("it", message, 0, key)]


def test_units_that_are_not_known_are_told_once_each() -> None:
    bad_axis = replace(SPEEDS, axes=(replace(SPEEDS.axes[0], unit="pownd"),))
    bad_column = replace(POWER, columns=(("pressure", "inchHg"),))
    found = check_aircraft(
        aircraft(
            (number("weight", "lbb"),),
            (
                figure("speed", "speeds.rotate(weight)", "kts2"),
                figure("power_", "power(low, 0 ft, 0 degC)", "inHg"),
            ),
            (bad_axis, bad_column),
            (Constant("c", 1.0, "ftt"),),
            (ReadingRule("r", "r", "knotz"),),
        )
    )
    assert sorted((fault.name, fault.key) for fault in found) == [
        ("c", "unit"),
        ("power", "gives"),
        ("r", "unit"),
        ("speed", "unit"),
        ("speeds", "by"),
        ("weight", "unit"),
    ]


def test_a_table_out_of_shape_is_told_once_and_not_at_every_use() -> None:
    bad = replace(SPEEDS, values=(1.0,))
    found = faults(figure("it", "speeds.rotate(weight)", "kt"), tables=(bad,))
    assert found == [
        Fault(
            "speeds",
            "table speeds should have 6 values by its rows and columns, not 1",
            0,
            "rows",
        )
    ]


def test_names_that_clash_or_mean_something_are_told() -> None:
    table = replace(SPEEDS, name="min")
    found = faults(
        figure("weight", "1 lb", "lb"), tables=(table,), constants=(Constant("if", 1.0),)
    )
    assert {(fault.name, fault.message) for fault in found if fault.key == "name"} == {
        ("weight", "two things are named weight"),
        ("min", "min has a meaning in formulas; choose another name"),
        ("if", "if has a meaning in formulas; choose another name"),
    }


def test_an_input_that_is_worked_out_is_checked_too() -> None:
    inputs = (
        number("a", "kt", default=1.0, formula="1 kt"),
        number("b", "kt", formula="1 lb"),
        choice("c", ("x", "y"), formula="x if 1 > 2 else z"),
        choice("d", ("x", "y"), formula="1 kt"),
        choice("e", ("x", "y"), formula="surface"),
        choice("f", ("x", "y"), formula="y if 1 > 2 else x"),
        choice("g", ("x", "y"), formula="nothing"),
        SURFACE,
    )
    assert {(fault.name, fault.key): fault.message for fault in faults(inputs=inputs)} == {
        ("a", "default"): "is worked out, so its default is never used",
        ("b", "from"): "gives a mass (lb), not a speed (kt)",
        ("c", "from"): "nothing is named z",
        ("d", "from"): "gives a speed (kt), not one of x, y",
        ("e", "from"): "gives one of dry, wet, not one of x, y",
        ("g", "from"): "nothing is named nothing",
    }


def test_limits_of_readings_are_checked_in_their_units() -> None:
    craft = replace(
        aircraft(
            (WEIGHT,),
            (figure("fast", "200 kt", "kt"),),
            readings=(ReadingRule("airspeed", "airspeed", "kt"),),
        ),
        limits=(
            Limit("airspeed", low=maybe("fast / 2"), high=maybe("300 mph")),
            Limit("airspeed", high=maybe("weight")),
            Limit("nothing", high=maybe("1")),
        ),
    )
    done, found = compiled_aircraft(craft)
    assert [(fault.name, fault.key) for fault in found] == [("1", "at most"), ("2", "reading")]
    low, high = done.limits[0].low, done.limits[0].high
    assert low is not None and low.evaluate({"fast": 200.0}) == 100.0
    assert high is not None and high.evaluate({}) == pytest.approx(260.69, abs=0.01)


def test_conditions_of_a_flight_see_readings() -> None:
    craft = aircraft(
        (WEIGHT,),
        readings=(
            ReadingRule("airspeed", "airspeed", "kt"),
            ReadingRule("rpm", "RPM", "rpm", True),
        ),
    )
    scope = scope_of(craft, readings=True)
    condition = maybe("rpm_all > 500 rpm and rpm_2 < 900 rpm and airspeed < 30 mph")
    assert condition is not None
    done = condition.condition(scope)
    assert done.evaluate({"rpm_all": 600.0, "rpm_2": 600.0, "airspeed": 0.0}) is True
    bare = maybe("rpm > 1 rpm")
    assert bare is not None
    with pytest.raises(RunnerError, match="each engine has a rpm: name rpm_all, rpm_any or rpm_1"):
        bare.condition(scope)


def test_each_engine_has_a_reading() -> None:
    rule = ReadingRule("rpm", "RPM", "rpm", True)
    assert reading_names(rule, 2) == ("rpm_1", "rpm_2", "rpm_all", "rpm_any")
    assert reading_names(replace(rule, each_engine=False), 2) == ("rpm",)


def test_a_figure_that_is_a_difference_of_temperatures_is_used_as_one() -> None:
    craft = aircraft(
        (number("temperature", "degC", -50, 50, 20.0),),
        (
            figure("hotter", "temperature + deviation", "degC"),
            figure("deviation", "temperature - standard", "degC"),
            figure("standard", "15 degC - 0 degC", "degC"),
        ),
    )
    worked = Sheet(craft).work_out({})
    assert worked.values["hotter"] == 25.0
    assert scope_of(worked.aircraft).names["deviation"].sense == "difference"


def test_what_a_rule_needs_comes_from_all_its_formulas() -> None:
    craft = aircraft(
        (WEIGHT, SURFACE, number("a", "kt", default=1.0), number("b", "kt", default=1.0)),
        (figure("it", "speeds.rotate(weight)", "kt", if_="surface == dry", low="a", high="b"),),
    )
    rule = Sheet(craft).aircraft.figures["it"]
    assert needs(rule) == {"weight", "surface", "a", "b"}
    assert [key for key, _ in formulas_of(rule)] == ["from", "if", "at least", "at most"]


def test_order_puts_each_after_what_it_needs() -> None:
    names, circles = order({"c": {"a", "b"}, "a": set(), "b": {"a"}, "d": {"x"}})
    assert names == ("a", "b", "c", "d")
    assert circles == ()


def test_order_finds_every_circle_and_still_gives_all_names() -> None:
    names, circles = order({"a": {"b"}, "b": {"a"}, "c": {"c"}, "d": {"a"}})
    assert sorted(names) == ["a", "b", "c", "d"]
    assert circles == (("a", "b"), ("c",))


def test_order_is_not_stopped_by_a_long_chain() -> None:
    graph = {f"n{number}": {f"n{number + 1}"} for number in range(5000)}
    names, _ = order(graph)
    assert names[0] == "n4999"


def test_an_unsound_aircraft_has_no_sheet() -> None:
    bad: Aircraft = aircraft(figures=(figure("it", "nothing", "kt"),))
    with pytest.raises(RunnerError, match=r"^Test Piece: it: nothing is named nothing"):
        Sheet(bad)


def test_rows_of_an_axis_are_in_its_unit_whatever_is_looked_up() -> None:
    table = replace(SPEEDS, axes=(Axis("weight", "kg", (20000.0, 25000.0, 30000.0), "linear"),))
    craft = aircraft((WEIGHT,), (figure("it", "speeds.rotate(weight)", "kt"),), (table,))
    worked = Sheet(craft).work_out({"weight": 25000 / 0.45359237})
    assert worked.values["it"] == pytest.approx(91.0)
