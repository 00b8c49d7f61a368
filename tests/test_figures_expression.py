"""The language of formulas: what it works out, what it refuses, and where."""

from __future__ import annotations

import math
import pickle
import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from figures_aircraft import POWER, SPEEDS
from runner.figures.checking import start_of
from runner.figures.expression import (
    CalculationError,
    Expression,
    ExpressionError,
    MissingError,
    Scope,
    parse,
)
from runner.figures.grammar import DEPTH_LIMIT, NODE_LIMIT, SOURCE_LIMIT, parse_tree
from runner.figures.scope import Type, number_type, word_type
from runner.figures.tables import TableError

SCOPE = Scope(
    {
        "weight": number_type("lb"),
        "temperature": number_type("degC"),
        "outside": number_type("degF"),
        "deviation": number_type("degC", difference=True),
        "absolute": number_type("K"),
        "altitude": number_type("ft"),
        "speed": number_type("kt"),
        "bmep": number_type("psi"),
        "rpm": number_type("rpm"),
        "track": number_type("deg"),
        "share": number_type("%"),
        "x": number_type(""),
        "n": number_type(""),
        "displacement": number_type("in^3", constant=2800.0),
        "surface": word_type(("dry", "wet", "damp")),
        "blower": word_type(("low", "high")),
        "other": word_type(("wet", "icy")),
    },
    {"speeds": SPEEDS, "power": POWER},
    {"airspeed": "airspeed is a reading, which a figure cannot use"},
)
VALUES: dict[str, float | str] = {
    "weight": 54000.0,
    "temperature": 20.0,
    "outside": 68.0,
    "deviation": 5.0,
    "absolute": 293.15,
    "altitude": 4000.0,
    "speed": 100.0,
    "bmep": 150.0,
    "rpm": 2600.0,
    "track": 60.0,
    "share": 25.0,
    "x": 3.0,
    "n": -2.0,
    "surface": "wet",
    "blower": "low",
    "other": "wet",
}


def compiled(source: str, unit: str | None = None) -> Expression:
    return parse(source).compiled(SCOPE, unit)


def work_out(source: str, unit: str | None = None) -> float | str | bool:
    return compiled(source, unit).evaluate(VALUES)


@pytest.mark.parametrize(
    ("source", "expected"),
    [
        ("1 + 2 * 3 ^ 2", 19.0),
        ("-2 ^ 2", -4.0),
        ("2 ^ -1", 0.5),
        ("2 ^ 3 ^ 2", 512.0),
        ("8 / 4 / 2", 1.0),
        ("8 - 4 - 2", 2.0),
        ("(1 + 2) * 3", 9.0),
        ("- x", -3.0),
        (".5 + 1. + 2e-1", 1.7),
        ("min(3, 1, 2)", 1.0),
        ("max(3, 1, 2)", 3.0),
        ("clamp(7, 0, 5)", 5.0),
        ("clamp(-7, 0, 5)", 0.0),
        ("abs(n)", 2.0),
        ("sqrt(16)", 4.0),
        ("round(2.5)", 3.0),
        ("floor(2.9)", 2.0),
        ("ceil(2.1)", 3.0),
        ("ceil(102 kt, 5 kt)", 105.0),
        ("round(104 kt, 10 mph)", 8.68976241900648 * 12),
        ("sin(30 deg)", 0.5),
        ("cos(track)", 0.5),
        ("tan(45 deg)", 1.0),
        ("25 % * 8", 2.0),
        ("share * 8", 2.0),
        ("1 + share", 1.25),
        ("2 if x > 2 else 1", 2.0),
        ("1 if x > 3 else 2 if x > 2 else 3", 2.0),
        ("3 ft / 1 yd", 1.0),
        ("(weight / 1 lb) ^ 0.5 * 1 kt", 54000.0**0.5),
        ("displacement / 2", 1400.0),
        ("8000 ft/altitude", 2.0),
        ("8000 ft/altitude*x", 6.0),
        ("6 ft*min(1, 2) / 1 ft", 6.0),
    ],
)
def test_arithmetic(source: str, expected: float) -> None:
    assert work_out(source) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("source", "expected"),
    [
        ("x > 2 and x < 4", True),
        ("x > 5 or x == 3", True),
        ("not x > 2", False),
        ("not x > 5 and x != 4", True),
        ("x >= 3 and x <= 3", True),
        ("0.1 + 0.2 == 0.3", True),
        ("0.1 + 0.2 > 0.3", False),
        ("0.1 + 0.2 <= 0.3", True),
        ("x < 3 or x != 3", False),
        ("altitude < 10000 ft", True),
        ("altitude < 1 nm", True),
        ("surface == wet", True),
        ("wet == surface", True),
        ("surface != dry", True),
        ("surface == 'wet'", True),
        ('surface == "dry"', False),
        ("surface == other", True),
        ("(surface if x > 2 else other) == damp", False),
        ("(x > 2) if surface == wet else x > 5", True),
    ],
)
def test_conditions(source: str, expected: bool) -> None:
    assert parse(source).condition(SCOPE).evaluate(VALUES) is expected


@pytest.mark.parametrize(
    ("source", "expected"),
    [
        ("low if altitude < 5000 ft else high", "low"),
        ("surface", "wet"),
        ("wet if x > 5 else damp if x > 2 else dry", "damp"),
    ],
)
def test_a_formula_may_give_a_word(source: str, expected: str) -> None:
    assert work_out(source) == expected


@pytest.mark.parametrize(
    ("source", "unit"),
    [
        ("speed", "kt"),
        ("weight / 1000 ft^2", "lb/ft^2"),
        ("speed * 1 h", "kt*h"),
        ("sqrt(1 ft^2)", "ft"),
        ("altitude ^ (1/2)", "ft^1/2"),
        ("altitude ^ -1", "1/ft"),
        ("kelvin(temperature)", "K"),
        ("temperature - 5 degC", "degC"),
        ("min(speed, 50 mph)", "kt"),
        ("speeds.rotate(weight)", "kt"),
        ("x > 1", ""),
        ("surface", ""),
        ("altitude / 1 m", ""),
    ],
)
def test_the_unit_of_a_formula_is_known_before_any_value(source: str, unit: str) -> None:
    assert parse(source).check(SCOPE) == unit


@pytest.mark.outside
def test_engine_power_from_brake_mean_effective_pressure() -> None:
    # epi-eng.com, "Brake Mean Effective Pressure: an important performance yardstick",
    # equation 8-a: BMEP (psi) = 150.8 x torque (lb-ft) / displacement (cubic inches), four
    # strokes; and power (hp) = torque x RPM / 5252, common practice.
    torque = 150.0 * 2800.0 / 150.8
    power = work_out("bmep * displacement * rpm / 2", "hp")
    assert power == pytest.approx(torque * 2600.0 / 5252, rel=1e-4)
    assert power == pytest.approx(150.0 * 2800.0 * 2600.0 / 792000, rel=1e-12)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("altitude", "fahrenheit", "psi"),
    [
        # engineersedge.com, "Standard Atmospheric Data for Altitude and Temperature", table 1.
        (-1000.0, 62.6, 15.236),
        (0.0, 59.0, 14.696),
        (2000.0, 51.9, 13.664),
        (5000.0, 41.2, 12.230),
        (10000.0, 23.4, 10.108),
        (20000.0, -12.3, 6.758),
    ],
)
def test_the_standard_atmosphere_written_as_formulas(
    altitude: float, fahrenheit: float, psi: float
) -> None:
    values = {"altitude": altitude}
    temperature = "15 degC - 1.98 degC * (altitude / 1000 ft)"
    assert compiled(temperature, "degF").evaluate(values) == pytest.approx(fahrenheit, abs=0.1)
    kelvin = "288.15 K - 0.0065 K/m * altitude"
    assert compiled(kelvin, "degF").evaluate(values) == pytest.approx(fahrenheit, abs=0.1)
    pressure = "29.921 inHg * ((288.15 K - 0.0065 K/m * altitude) / 288.15 K) ^ 5.2559"
    assert compiled(pressure, "psi").evaluate(values) == pytest.approx(psi, abs=0.006)


@pytest.mark.parametrize(
    ("source", "unit", "expected"),
    [
        ("temperature + 5 degC", "degC", 25.0),
        ("5 degC + temperature", "degC", 25.0),
        ("temperature + 9 degF", "degC", 25.0),
        ("temperature - 5 degC", "degC", 15.0),
        ("temperature + 5 K", "degC", 25.0),
        ("temperature + deviation", "degC", 25.0),
        ("temperature - deviation", "degC", 15.0),
        ("temperature - outside", "degC", 0.0),
        ("temperature - outside", "K", 0.0),
        ("15 degC - temperature", "degC", -5.0),
        ("deviation + 3 degC", "degC", 8.0),
        ("deviation - 3 degC", "degC", 2.0),
        ("deviation", "degF", 9.0),
        ("deviation", "K", 5.0),
        ("temperature", "degF", 68.0),
        ("temperature", "K", 293.15),
        ("absolute", "degC", 20.0),
        ("kelvin(temperature) * 2", "K", 586.3),
        ("kelvin(outside)", "degC", 20.0),
        ("kelvin(5 degC)", "K", 278.15),
        ("sqrt(kelvin(temperature) / 293.15 K)", "", 1.0),
        ("15 degC - 2 degC * (altitude / 1000 ft)", "degC", 7.0),
        ("2 degC * 3 + 15 degC", "degC", 21.0),
        ("temperature - (15 degC - 2 degC * (altitude / 1000 ft))", "degC", 13.0),
        ("1 kt/degC * (temperature - 15 degC)", "kt", 5.0),
        ("max(-45 degC, temperature)", "degC", 20.0),
        ("max(temperature, 86 degF)", "degC", 30.0),
        ("max(absolute, temperature)", "degC", 20.0),
        ("min(deviation, 18 degF)", "degC", 5.0),
        ("abs(deviation - 9 degC)", "degC", 4.0),
        ("-deviation", "degC", -5.0),
        ("round(temperature, 3 degC)", "degC", 21.0),
        ("5 degC if x > 1 else 7 degC", "degC", 5.0),
        ("temperature if x > 5 else 7 degC", "degC", 7.0),
        ("5 degC + 3 degC", "degC", 8.0),
        ("5 degC - 3 degC", "degC", 2.0),
    ],
)
def test_temperatures_and_their_differences(source: str, unit: str, expected: float) -> None:
    assert work_out(source, unit) == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize(
    ("source", "expected"),
    [
        ("temperature > 50 degF", True),
        ("temperature == 293.15 K", True),
        ("deviation < 18 degF", True),
        ("temperature - outside < 1 degC", True),
        ("kelvin(temperature) > 280 K", True),
    ],
)
def test_temperatures_are_compared_as_points_and_differences_as_differences(
    source: str, expected: bool
) -> None:
    assert work_out(source) is expected


def test_a_difference_of_temperatures_is_known_as_one() -> None:
    kind = compiled("temperature - outside", "degC").type
    assert kind is not None and kind.sense == "difference"
    kind = compiled("temperature + 5 degC", "degC").type
    assert kind is not None and kind.sense == "point"


@pytest.mark.parametrize(
    ("source", "expected"),
    [
        ("speeds.rotate(weight)", 91.0),
        ("speeds.rotate(25 t)", 91.0),
        ("power(blower, altitude, temperature)", 40.0),
        ("power(low, altitude, outside)", 40.0),
        ("power('high', 0 ft, -20 degC)", 45.0),
        ("power.pressure(high if x > 5 else low, 0 ft, 0 degC)", 41.0),
    ],
)
def test_tables_are_looked_up_with_units_converted(source: str, expected: float) -> None:
    assert work_out(source) == pytest.approx(expected)


SYNTAX = [
    ("", "something is missing at the end", 0),
    ("1 +", "something is missing at the end", 3),
    ("(1", "')' is missing", 2),
    ("1)", "')' without a '(' before it", 1),
    ("1 2", "an operator is missing before '2'", 2),
    ("x x", "an operator is missing before 'x'", 2),
    ("1 else 2", "'else' without an 'if' before it", 2),
    ("1 if x > 1", "'if' wants an 'else' after its condition", 10),
    ("* 2", "a number, a name or '(' should stand here, not '*'", 0),
    ("1 < x < 3", "comparisons do not chain; write 'a < b and b < c'", 6),
    ("x = 1", "'=' is written '==' in a comparison", 2),
    ("!x", "'!' is written 'not'", 0),
    ("x & 1", "'&' is written 'and'", 2),
    ("x | 1", "'|' is written 'or'", 2),
    ("x % 2", "'%' stands only after a number", 2),
    ("x == 'wet", "a quote that does not end", 5),
    ('"wet', "a quote that does not end", 0),
    ("x ; 1", "';' means nothing here", 2),
    ("5 knt", "'knt' is not a unit; did you mean kt?", 2),
    ("5 ft_max", "'ft_max' is not a unit", 2),
    ("5 m3", "'m3' is not a unit", 2),
    ("5 ft^99", "at most the power 24", 2),
    ("1e999", "too large a number", 0),
    ("speeds.", "the name of a column should follow '.'", 7),
    ("speeds.rotate", "a column is looked up at values in parentheses: speeds.rotate(...)", 13),
    ("min(1, 2", "')' is missing", 8),
    ("5 min(1)", "an operator is missing before '('", 5),
    ("1 '+' 2", "an operator is missing before", 2),
    ("(1 ')'", "')' is missing", 3),
]


@pytest.mark.parametrize(("source", "message", "offset"), SYNTAX)
def test_a_fault_of_syntax_is_one_line_with_its_place(
    source: str, message: str, offset: int
) -> None:
    with pytest.raises(ExpressionError) as caught:
        parse(source)
    assert message.strip("'") in str(caught.value)
    assert caught.value.offset == offset
    assert "\n" not in str(caught.value)


MEANING = [
    ("wieght + 1 lb", "nothing is named wieght; did you mean weight?", 0),
    ("zzzz", "nothing is named zzzz", 0),
    ("airspeed", "airspeed is a reading, which a figure cannot use", 0),
    ("speeds", "speeds is a table; look it up at values: speeds(...)", 0),
    ("speed + weight", "cannot add a speed (kt) and a mass (lb)", 6),
    ("speed - weight", "cannot take a mass (lb) from a speed (kt)", 6),
    ("speed + 1", "cannot add a speed (kt) and a plain number; write its unit: 1 kt", 6),
    ("5 > speed", "cannot compare a plain number and a speed (kt); write its unit: 5 kt", 2),
    ("speed if x > 1 else weight", "cannot choose between a speed (kt) and a mass (lb)", 6),
    ("speed if x > 1 else wet", "gives a speed (kt) before 'if' and one of wet after 'else'", 6),
    ("speed if speed else 1", "a condition should stand here, not a speed (kt)", 9),
    ("not speed", "a condition should stand here, not a speed (kt)", 4),
    ("1 + (x > 1)", "a number should stand here, not true or false", 5),
    ("-surface", "a number should stand here, not one of dry, wet, damp", 1),
    ("surface == we", "'we' is not one of dry, wet, damp; did you mean wet?", 11),
    ("surface == 1", "a word should stand here: dry or wet or damp", 11),
    ("surface > wet", "words are compared with == or !=", 8),
    ("speed ^ x", "a speed (kt) is raised only to a number written out", 8),
    ("speed ^ (x/2)", "a speed (kt) is raised only to a number written out", 9),
    ("speed ^ (1/0)", "a speed (kt) is raised only to a number written out", 9),
    ("speed ^ 99", "a unit may be raised to at most the power 24", 6),
    ("2 ^ speed", "an exponent should be a plain number, not a speed (kt)", 4),
    ("sqrt(1, 2)", "sqrt wants 1 value, not 2", 0),
    ("min(1)", "min wants 2 to 20 values, not 1", 0),
    ("clamp(1, 2)", "clamp wants 3 values, not 2", 0),
    ("min(speed, weight)", "cannot compare a speed (kt) and a mass (lb)", 0),
    ("round(speed)", "round of a speed (kt) wants a step: round(..., 1 kt)", 0),
    ("round(speed, 1 lb)", "cannot round a speed (kt) to a mass (lb)", 0),
    ("sin(1)", "sin wants an angle, such as 30 deg, not a plain number", 4),
    ("kelvin(speed)", "kelvin wants a temperature, not a speed (kt)", 7),
    ("kelvin(deviation)", "kelvin wants a temperature, not a difference", 7),
    ("temperature + temperature", "two temperatures cannot be added", 12),
    ("2 * temperature", "cannot be multiplied or negated; use kelvin(...)", 4),
    ("-temperature", "cannot be multiplied or negated; use kelvin(...)", 0),
    ("abs(temperature)", "cannot be multiplied or negated; use kelvin(...)", 0),
    ("deviation - temperature", "a temperature cannot be taken from a difference", 10),
    ("temperature - 9 degF", "degF may be a temperature or a difference here", 12),
    ("temperature > deviation", "a temperature and a difference of temperatures cannot be", 12),
    ("kelvin(temperature) > 5 degC", "temperatures in different units may be differences", 20),
    ("tables(1)", "no table or function is named tables", 0),
    ("speds.rotate(weight)", "no table is named speds; did you mean speeds?", 0),
    ("speeds(weight)", "table speeds has several columns; say which: speeds.rotate or", 0),
    ("speeds.flaps(weight)", "table speeds has no column flaps; it has rotate, climb", 0),
    ("speeds.rotate(weight, 1)", "table speeds is looked up by weight: 1 values, not 2", 0),
    ("speeds.rotate(speed)", "table speeds by weight: gives a speed (kt), not a mass (lb)", 14),
    ("speeds.rotate(surface)", "table speeds by weight: gives one of dry, wet, damp, not a", 14),
    ("power(surface, 0 ft, 0 degC)", "table power by blower wants one of low, high, not one", 6),
    ("power(speed, 0 ft, 0 degC)", "table power by blower wants one of low, high, not a speed", 6),
    ("min.x(1)", "no table is named min", 0),
]


@pytest.mark.parametrize(("source", "message", "offset"), MEANING)
def test_a_fault_of_meaning_is_one_line_with_its_place(
    source: str, message: str, offset: int
) -> None:
    with pytest.raises(ExpressionError) as caught:
        parse(source).check(SCOPE)
    assert message in str(caught.value)
    assert caught.value.offset == offset
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("source", "unit", "message"),
    [
        ("speed", "lb", "gives a speed (kt), not a mass (lb)"),
        ("surface", "kt", "gives one of dry, wet, damp, not a number"),
        ("x > 1", "", "gives true or false, not a number"),
        ("temperature - 15 degC", "K", "may be a temperature or a difference"),
    ],
)
def test_a_result_must_measure_what_is_wanted(source: str, unit: str, message: str) -> None:
    with pytest.raises(ExpressionError) as caught:
        compiled(source, unit)
    assert message in str(caught.value)


def test_a_condition_must_be_true_or_false() -> None:
    with pytest.raises(ExpressionError, match="a condition should stand here, not a speed"):
        parse("speed").condition(SCOPE)


@pytest.mark.parametrize(
    ("source", "message"),
    [
        ("1 / (x - 3)", "divides by 0"),
        ("sqrt(n)", "the square root of a negative number"),
        ("n ^ 0.5", "a negative number to a power that is not whole"),
        ("(x - 3) ^ -1", "0 to a negative power"),
        ("9 ^ 9 ^ 9 ^ 9", "a power that is too large"),
        ("1e300 * 1e300", "comes to a number that is too large"),
        ("clamp(1, 3, 2)", "clamp with its low end above its high end"),
        ("round(1, 0)", "round to a step that is not above 0"),
        ("round(1e300, 1e-300)", "round to a step that is not above 0"),
        ("speeds.rotate(1 lb)", "table speeds covers weight from 52000 to 60000 lb, not 1 lb"),
    ],
)
def test_what_cannot_be_worked_out_is_one_line(source: str, message: str) -> None:
    with pytest.raises(CalculationError) as caught:
        work_out(source)
    assert str(caught.value) == message


def test_a_table_error_is_told_from_others() -> None:
    with pytest.raises(TableError):
        work_out("speeds.rotate(1 lb)")


def test_a_value_that_is_missing_or_not_a_number_is_named() -> None:
    for values in ({}, {"speed": math.nan}):
        with pytest.raises(MissingError) as caught:
            compiled("speed + 1 kt").evaluate(values)
        assert caught.value.name == "speed"
        assert pickle.loads(pickle.dumps(caught.value)).name == "speed"


def test_only_what_is_needed_is_looked_at() -> None:
    assert compiled("1 if x > 2 else speed / 1 kt").evaluate({"x": 3.0}) == 1.0
    assert compiled("x > 5 and speed > 1 kt").evaluate({"x": 3.0}) is False
    assert compiled("x > 2 or speed > 1 kt").evaluate({"x": 3.0}) is True


def test_names_are_those_that_must_be_known() -> None:
    source = "displacement * x if surface == wet else displacement"
    assert parse(source).names == {"displacement", "x", "surface"}
    assert compiled(source).names == {"x", "surface"}
    assert compiled(source).constants == (("displacement", 2800.0),)


def test_a_formula_is_shown_with_its_numbers_in_place() -> None:
    done = compiled("max(speed, x * 1 kt) - speed")
    assert (
        done.filled({"speed": "100 kt", "x": "3"}.__getitem__) == "max(100 kt, 3 * 1 kt) - 100 kt"
    )


def test_only_a_compiled_expression_is_evaluated() -> None:
    raw = parse("1 + 1")
    assert not raw.is_compiled
    with pytest.raises(TypeError, match="not compiled yet: 1"):
        raw.evaluate({})
    assert raw.compiled(Scope()).is_compiled


def test_compiled_expressions_survive_pickling() -> None:
    for source in ("power(blower, altitude, temperature - 5 degC)", "not surface == wet", "-x ^ 2"):
        done = compiled(source)
        again = pickle.loads(pickle.dumps(done))
        assert again == done
        assert again.evaluate(VALUES) == done.evaluate(VALUES)


def test_an_error_survives_pickling() -> None:
    error = ExpressionError("message", 7)
    again = pickle.loads(pickle.dumps(error))
    assert (str(again), again.offset) == ("message", 7)


@pytest.mark.parametrize(
    "source",
    [
        "(" * 5000,
        "-" * 5000,
        "not " * 1500,
        "1" + " + 1" * 1900,
        "2 ^ " * 900 + "2",
        "x if x > 1 else " * 300 + "x",
        "min(" * 700 + "1",
        "(" * (DEPTH_LIMIT + 1) + "1" + ")" * (DEPTH_LIMIT + 1),
        "1" + "+1" * DEPTH_LIMIT,
        "min(" + ",".join("1" * (NODE_LIMIT + 1)) + ")",
        "1" * (SOURCE_LIMIT + 1),
    ],
)
def test_size_and_depth_are_bounded_whatever_is_written(source: str) -> None:
    began = time.perf_counter()
    with pytest.raises(ExpressionError) as caught:
        parse(source)
    assert time.perf_counter() - began < 0.5
    assert "\n" not in str(caught.value)


def test_the_deepest_that_is_allowed_works_out() -> None:
    deep = "1" + " + 1" * (DEPTH_LIMIT - 1)
    assert work_out(deep) == DEPTH_LIMIT
    nested = "(" * (DEPTH_LIMIT - 1) + "x" + ")" * (DEPTH_LIMIT - 1)
    assert work_out(nested) == 3.0


def test_units_cannot_be_driven_to_absurd_powers() -> None:
    with pytest.raises(ExpressionError, match="at most the power 24"):
        compiled("((speed ^ 12) ^ 12) ^ 12")
    with pytest.raises(ExpressionError, match="at most the power 24"):
        compiled(" * ".join(["speed"] * 30))
    with pytest.raises(ExpressionError, match="at most the power 24"):
        compiled("sqrt(sqrt(sqrt(sqrt(sqrt(speed)))))")


@given(st.text(alphabet="xyab 0123456789.+-*/^()<>=!,'\"%_kt ifelsandorminft", max_size=60))
def test_any_text_parses_or_fails_in_one_line(source: str) -> None:
    try:
        tree = parse_tree(source)
    except ExpressionError as error:
        assert 0 <= error.offset <= len(source)
        assert "\n" not in str(error)
    else:
        assert 0 <= start_of(tree) < max(len(source), 1)


@st.composite
def sums(draw: st.DrawFn, depth: int = 3) -> tuple[str, float]:
    """A sum as text, fully in parentheses, with its value by Python's own arithmetic."""
    if depth == 0 or draw(st.booleans()):
        value = draw(st.integers(0, 99))
        return str(value), float(value)
    (left, one), (right, two) = draw(sums(depth=depth - 1)), draw(sums(depth=depth - 1))
    operator = draw(st.sampled_from("+-*"))
    total: float = {"+": one + two, "-": one - two, "*": one * two}[operator]
    return f"({left} {operator} {right})", total


@given(sums())
def test_arithmetic_agrees_with_python(drawn: tuple[str, float]) -> None:
    source, value = drawn
    assert work_out(source) == pytest.approx(value)


@given(st.lists(st.sampled_from(["+", "-", "*", "/"]), min_size=1, max_size=8), st.data())
def test_operators_bind_as_in_python(operators: list[str], data: st.DataObject) -> None:
    numbers = [data.draw(st.integers(1, 9)) for _ in range(len(operators) + 1)]
    source = str(numbers[0])
    for operator, one in zip(operators, numbers[1:], strict=True):
        source += f" {operator} {one}"
    value, tail = _by_hand(numbers, operators)
    assert work_out(source) == pytest.approx(value + tail, abs=1e-9)


def _by_hand(numbers: list[int], operators: list[str]) -> tuple[float, float]:
    total = 0.0
    term = float(numbers[0])
    for operator, one in zip(operators, numbers[1:], strict=True):
        if operator == "*":
            term *= one
        elif operator == "/":
            term /= one
        else:
            total += term
            term = float(one if operator == "+" else -one)
    return total, term


def test_a_type_tells_what_it_is() -> None:
    assert str(Type("truth")) == "true or false"
    assert str(word_type(("a", "b"))) == "one of a, b"
