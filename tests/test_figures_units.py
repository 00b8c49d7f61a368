"""Units: exact sizes, spellings, and quantities as a pilot types them."""

from __future__ import annotations

import subprocess
import sys
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.figures.units import (
    ALIASES,
    ATOMS,
    PLAIN,
    Unit,
    UnitError,
    conversion,
    convert,
    described,
    dimension,
    dimensions,
    is_unit,
    parse_quantity,
    parse_unit,
    spelling,
)

EXACT = [
    # From memory: the international yard and pound agreement of 1959 (ft, in, yd, mi, lb).
    ("ft", "m", 0.3048),
    ("in", "cm", 2.54),
    ("yd", "m", 0.9144),
    ("mi", "km", 1.609344),
    ("lb", "kg", 0.45359237),
    ("ft^2", "m^2", 0.09290304),
    # From memory: the international nautical mile (1929), and the gallons of 231 cubic
    # inches and of 4.54609 litres.
    ("nm", "km", 1.852),
    ("kt", "m/s", 1852 / 3600),
    ("gal", "in^3", 231.0),
    ("impgal", "L", 4.54609),
    # By the definition of the units themselves.
    ("mbar", "hPa", 1.0),
    ("bar", "kPa", 100.0),
    ("degC", "K", 274.15),
]

ROUNDED = [
    # NIST Special Publication 811, appendix B.8 (factors listed alphabetically), as the
    # R package NISTunits gives them in R/NISTfactors.R.
    ("psi", "kPa", 6.894757),
    ("inHg", "kPa", 3.386389),
    ("mmHg", "Pa", 133.3224),
    ("hp", "W", 745.6999),
    ("oz", "kg", 0.02834952),
    ("lb", "kg", 0.4535924),
    ("lbf", "N", 4.448222),
    ("kt", "m/s", 0.5144444),
    ("mph", "m/s", 0.44704),
    ("nm", "m", 1852.0),
    ("gal/min", "L/s", 0.0630902),
    ("lb/gal", "kg/L", 0.1198264),
]


@pytest.mark.memory
@pytest.mark.parametrize(
    ("unit", "other", "factor"),
    [
        pytest.param(unit, other, factor, id=f"from memory: 1 {unit} in {other}")
        for unit, other, factor in EXACT
    ],
)
def test_a_unit_with_an_exact_definition_has_exactly_that_size(
    unit: str, other: str, factor: float
) -> None:
    assert convert(1.0, unit, other) == pytest.approx(factor, rel=1e-15)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("unit", "other", "factor"),
    [
        pytest.param(unit, other, factor, id=f"NIST SP 811 B.8, as in NISTunits: {unit} in {other}")
        for unit, other, factor in ROUNDED
    ],
)
def test_a_unit_has_its_published_size_to_seven_figures(
    unit: str, other: str, factor: float
) -> None:
    assert convert(1.0, unit, other) == pytest.approx(factor, rel=1e-6)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("value", "unit", "other", "expected"),
    [
        pytest.param(
            *(59.0, "degF", "degC", 15.0),
            id="aviationglossary.com, Standard atmosphere: 59 degF is 15 degC",
        ),
        pytest.param(
            *(1013.2, "mbar", "inHg", 29.92),
            id="aviationglossary.com, Standard atmosphere: 1013.2 mbar is 29.92 inHg",
        ),
        pytest.param(
            *(15.0, "degC", "K", 288.15), id="NIST SP 811 B.8, as in NISTunits: 15 degC in K"
        ),
    ],
)
def test_temperatures_and_the_standard_pressure(
    value: float, unit: str, other: str, expected: float
) -> None:
    assert convert(value, unit, other) == pytest.approx(expected, abs=0.002)


@pytest.mark.memory
def test_the_two_scales_of_temperature_meet_at_forty_below() -> None:
    assert convert(-40.0, "degF", "degC") == pytest.approx(-40.0, abs=1e-9)


def test_twelve_inches_are_one_foot_without_any_noise() -> None:
    assert convert(1.0, "ft", "in") == 12.0
    assert convert(3.0, "ft", "yd") == 1.0


PAIRS = [
    (one, other)
    for one, other in product(ATOMS, ATOMS)
    if one != other and dimensions(parse_unit(one)) == dimensions(parse_unit(other))
]


@given(st.floats(-1e6, 1e6), st.sampled_from(PAIRS))
def test_a_conversion_there_and_back_gives_the_value(value: float, pair: tuple[str, str]) -> None:
    one, other = pair
    # Near absolute zero a temperature has lost what lay below the noise of 459.67.
    assert convert(convert(value, one, other), other, one) == pytest.approx(
        value, rel=1e-12, abs=1e-9
    )


@given(st.floats(-1e6, 1e6), st.floats(0.0, 1e6), st.sampled_from(PAIRS))
def test_a_conversion_keeps_the_order_of_values(
    value: float, more: float, pair: tuple[str, str]
) -> None:
    assert convert(value + more, *pair) >= convert(value, *pair)


TRIPLES = [(one, third, other) for one, third in PAIRS for start, other in PAIRS if start == third]


@given(st.floats(-1e6, 1e6), st.sampled_from(TRIPLES))
def test_a_conversion_by_a_third_unit_is_the_conversion(
    value: float, units: tuple[str, str, str]
) -> None:
    one, third, other = units
    assert convert(convert(value, one, third), third, other) == pytest.approx(
        convert(value, one, other), rel=1e-12, abs=1e-9
    )


@pytest.mark.parametrize("name", [*ATOMS, *ALIASES])
def test_every_spelling_has_a_size_and_a_kept_spelling(name: str) -> None:
    assert is_unit(name)
    kept = spelling(name)
    assert kept in ATOMS
    assert convert(2.0, name, kept) == pytest.approx(2.0)


@pytest.mark.parametrize(
    ("text", "kept"),
    [
        ("lb/hp/h", "lb/hp/h"),
        ("ft*lbf", "ft*lbf"),
        ("1/s", "1/s"),
        ("in^3", "in^3"),
        ("lb^1/2", "lb^1/2"),
        ("ft^-1", "1/ft"),
        ("m*s/m", "s"),
        ("kts", "kt"),
        (" ", ""),
    ],
)
def test_compound_units_are_read_and_written(text: str, kept: str) -> None:
    assert spelling(text) == kept


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("knt", "'knt' is not a unit; did you mean kt?"),
        ("zzzz", "'zzzz' is not a unit; known are kt, ft, lb, inHg, degC and so on"),
        ("kt kt", "'kt kt' is not a unit"),
        ("kt/", "'kt/' is not a unit"),
        ("in^", "'in^' is not a unit"),
        ("in^3x", "'in^3x' is not a unit"),
        ("ft^1/0", "'ft^1/0' is not a unit"),
        ("ft^99", "at most the power 24"),
        ("x" * 90, "x" * 37 + "..."),
    ],
)
def test_an_unknown_unit_is_one_clear_line(text: str, message: str) -> None:
    with pytest.raises(UnitError) as caught:
        parse_unit(text)
    assert message in str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("74310lb", 74310.0, "lb"),
        ("74,310 lb", 74310.0, "lb"),
        ("29.92 inHg", 29.92, "inHg"),
        ("-12degC", -12.0, "degC"),
        ("+5", 5.0, None),
        (".5 gal", 0.5, "gal"),
        ("1e3 ft", 1000.0, "ft"),
        ("120 kts", 120.0, "kt"),
        ("50%", 50.0, "%"),
    ],
)
def test_a_quantity_is_read_as_a_pilot_types_it(text: str, value: float, unit: str | None) -> None:
    assert parse_quantity(text) == (value, unit)


@pytest.mark.parametrize(
    "text", ["", "lb", "wet", "nan", "inf", "1,23 lb", "--5", "1e999", "5 knt"]
)
def test_what_is_no_quantity_is_refused_in_one_line(text: str) -> None:
    with pytest.raises(UnitError) as caught:
        parse_quantity(text)
    assert "\n" not in str(caught.value)


def test_units_that_measure_different_things_are_not_converted() -> None:
    with pytest.raises(UnitError, match=r"^a speed \(kt\) is not a mass \(lb\)$"):
        convert(1.0, "kt", "lb")
    with pytest.raises(UnitError, match=r"a plain number is not an angle \(deg\)"):
        convert(1.0, "", "deg")


def test_what_a_unit_measures_is_told_in_words() -> None:
    assert dimension("inHg") == "a pressure"
    assert dimension("rpm") == "a rate of turning"
    assert dimension("") == "a plain number"
    assert dimension("%") == "a plain number"
    assert dimension("lb/ft^2") == "a quantity"
    assert described(PLAIN) == "a plain number"


def test_a_difference_of_temperatures_has_no_offset() -> None:
    assert conversion(parse_unit("degF"), parse_unit("degC")) == pytest.approx((5 / 9, 0.0))


def test_a_power_that_is_not_whole_still_converts() -> None:
    factor, _ = conversion(parse_unit("lb^1/2"), parse_unit("kg^1/2"))
    assert factor == pytest.approx(0.45359237**0.5)


def test_units_multiply_and_cancel() -> None:
    assert parse_unit("kt").times(parse_unit("kt"), -1) == Unit()
    assert str(parse_unit("ft").times(parse_unit("lbf"))) == "ft*lbf"


def test_no_conversion_needs_the_library_of_units() -> None:
    program = (
        "import sys\n"
        "from runner.figures.units import convert, parse_quantity\n"
        "assert convert(5.0, 'kt', 'kt') == 5.0\n"
        "assert parse_quantity('74310 lb') == (74310.0, 'lb')\n"
        "assert 5.7 < convert(5.0, 'kt', 'mph') < 5.8\n"
        "assert 'pint' not in sys.modules\n"
    )
    subprocess.run([sys.executable, "-c", program], check=True, timeout=60)
