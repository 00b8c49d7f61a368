"""The language of formulas: what it works out, and how it is bounded."""

from __future__ import annotations

import pickle
import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from figures_formulas import SCOPE, VALUES, compiled, work_out
from runner.figures.checking import start_of
from runner.figures.expression import (
    ExpressionError,
    Scope,
    parse,
)
from runner.figures.grammar import DEPTH_LIMIT, NODE_LIMIT, SOURCE_LIMIT, parse_tree
from runner.figures.scope import Type, word_type


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
@pytest.mark.parametrize(
    ("bmep", "rpm"),
    [
        pytest.param(
            *(150.0, 2600.0),
            id="epi-eng.com, Brake Mean Effective Pressure, equation 8-a: 150 psi, 2800 in^3",
        )
    ],
)
def test_engine_power_from_brake_mean_effective_pressure(bmep: float, rpm: float) -> None:
    # BMEP (psi) = 150.8 x torque (lb-ft) / displacement (cubic inches), four strokes; and
    # power (hp) = torque x RPM / 5252, common practice. 150.8 is printed to four figures.
    torque = bmep * 2800.0 / 150.8
    power = compiled("bmep * displacement * rpm / 2", "hp").evaluate(VALUES | {"bmep": bmep})
    assert power == pytest.approx(torque * rpm / 5252, rel=4e-4)
    assert power == pytest.approx(bmep * 2800.0 * rpm / 792000, rel=1e-12)


ATMOSPHERE = {
    -1000.0: (62.6, 15.236),
    0.0: (59.0, 14.696),
    2000.0: (51.9, 13.664),
    5000.0: (41.2, 12.230),
    10000.0: (23.4, 10.108),
    20000.0: (-12.3, 6.758),
}
"""Altitude in feet to temperature in degrees Fahrenheit and pressure in psi:
engineersedge.com, "Standard Atmospheric Data for Altitude and Temperature", table 1."""


def atmosphere_cases(column: int, unit: str) -> list[object]:
    """A case for each altitude, with one column of the table."""
    title = "engineersedge.com, Standard Atmospheric Data, table 1"
    return [
        pytest.param(altitude, row[column], id=f"{title}: {altitude:.0f} ft, {unit}")
        for altitude, row in ATMOSPHERE.items()
    ]


@pytest.mark.outside
@pytest.mark.parametrize(("altitude", "fahrenheit"), atmosphere_cases(0, "degF"))
def test_the_standard_temperature_written_as_a_formula(altitude: float, fahrenheit: float) -> None:
    for formula in (
        "15 degC - 1.98 degC * (altitude / 1000 ft)",
        "288.15 K - 0.0065 K/m * altitude",
    ):
        value = compiled(formula, "degF").evaluate({"altitude": altitude})
        assert value == pytest.approx(fahrenheit, abs=0.1)


@pytest.mark.outside
@pytest.mark.parametrize(("altitude", "psi"), atmosphere_cases(1, "psi"))
def test_the_standard_pressure_written_as_a_formula(altitude: float, psi: float) -> None:
    formula = "29.921 inHg * ((288.15 K - 0.0065 K/m * altitude) / 288.15 K) ^ 5.2559"
    value = compiled(formula, "psi").evaluate({"altitude": altitude})
    # The formula's own constants stand to four and five figures, which is 0.006 psi at most.
    assert value == pytest.approx(psi, abs=0.006)


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
