"""What a formula refuses, in one line with its place, and what cannot be worked out."""

from __future__ import annotations

import math
import pickle

import pytest

from figures_formulas import SCOPE, compiled, work_out
from runner.figures.expression import (
    CalculationError,
    ExpressionError,
    MissingError,
    parse,
)
from runner.figures.tables import TableError

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
