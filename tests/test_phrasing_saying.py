"""How numbers are said, held to what the authorities publish."""

from __future__ import annotations

import math

import pytest

from runner.phrasing.numbers import LARGEST, say_digits, say_number, say_unit
from runner.phrasing.style import Form
from runner.phrasing.unit_words import kind_of_unit, known_units, units_heard

HEADING = Form("heading", 0, "deg")
ALTITUDE = Form("altitude", 0, "ft")
SPEED = Form("speed", 0, "kt")

ICAO_NUMBERS = [
    ("5.2.1.4.1.1 heading 100", 100, HEADING, "one zero zero"),
    ("5.2.1.4.1.1 heading 080", 80, HEADING, "zero eight zero"),
    ("5.2.1.4.1.1 wind direction 200", 200, HEADING, "two zero zero"),
    ("5.2.1.4.1.1 wind speed 70", 70, SPEED, "seven zero"),
    ("5.2.1.4.1.1 wind speed 18", 18, SPEED, "one eight"),
    ("5.2.1.4.1.1 gusting 30", 30, SPEED, "three zero"),
    ("5.2.1.4.1.1 code 2400", 2400, Form("plain"), "two four zero zero"),
    ("5.2.1.4.1.1 code 4203", 4203, Form("plain"), "four two zero three"),
    ("5.2.1.4.1.1 runway 27", 27, Form("plain"), "two seven"),
    ("5.2.1.4.1.1 QNH 1010", 1010, Form("pressure", 0, "hPa"), "one zero one zero"),
    ("5.2.1.4.1.1 QNH 1000", 1000, Form("pressure", 0, "hPa"), "one zero zero zero"),
    ("5.2.1.4.1.2 altitude 800", 800, ALTITUDE, "eight hundred"),
    ("5.2.1.4.1.2 altitude 3400", 3400, ALTITUDE, "three thousand four hundred"),
    ("5.2.1.4.1.2 altitude 12000", 12000, ALTITUDE, "one two thousand"),
    ("5.2.1.4.1.2 cloud 2200", 2200, ALTITUDE, "two thousand two hundred"),
    ("5.2.1.4.1.2 cloud 4300", 4300, ALTITUDE, "four thousand three hundred"),
]
"""ICAO Annex 10 Volume II, 5.2.1.4.1: the examples in the notes to 5.2.1.4.1.1 and .2, as
quoted at flightcrewguide.com, "Transmission of numbers in radiotelephony"."""


@pytest.mark.outside
@pytest.mark.parametrize(
    ("value", "form", "words"),
    [pytest.param(*row[1:], id=f"ICAO Annex 10 Vol II {row[0]}") for row in ICAO_NUMBERS],
)
def test_icao_style_is_that_of_annex_10(value: float, form: Form, words: str) -> None:
    assert say_number(value, form, "icao") == words


ICAO_FROM_MEMORY = [
    ("5.2.1.4.1.2 visibility 1000", 1000, Form("distance", 0, "m"), "one thousand"),
    ("5.2.1.4.1.2 visibility 700", 700, Form("distance", 0, "m"), "seven hundred"),
    ("5.2.1.4.1.2 RVR 600", 600, Form("distance", 0, "m"), "six hundred"),
    ("5.2.1.4.1.2 RVR 1700", 1700, Form("distance", 0, "m"), "one thousand seven hundred"),
    ("5.2.1.4.1.5 100.3", 100.3, Form("plain", 1), "one zero zero decimal three"),
    ("5.2.1.7.3.4.3 118.000", 118.0, Form("frequency", 3), "one one eight decimal zero"),
    (
        "5.2.1.7.3.4.3 118.005",
        118.005,
        Form("frequency", 3),
        "one one eight decimal zero zero five",
    ),
    ("5.2.1.7.3.4.3 118.100", 118.1, Form("frequency", 3), "one one eight decimal one"),
]


@pytest.mark.memory
@pytest.mark.parametrize(
    ("value", "form", "words"),
    [
        pytest.param(*row[1:], id=f"ICAO Annex 10 Vol II {row[0]}, from memory")
        for row in ICAO_FROM_MEMORY
    ],
)
def test_icao_style_is_that_of_annex_10_as_remembered(value: float, form: Form, words: str) -> None:
    assert say_number(value, form, "icao") == words


FAA_NUMBERS = [
    ("4-2-8 a 500", 500, Form("plain"), "five hundred"),
    ("4-2-8 a 4500", 4500, Form("plain"), "four thousand five hundred"),
    ("4-2-8 b 10000", 10000, Form("plain"), "one zero thousand"),
    ("4-2-8 b 13500", 13500, Form("plain"), "one three thousand five hundred"),
    ("4-2-8 d 10", 10, Form("plain"), "one zero"),
    ("4-2-8 e 122.1", 122.1, Form("frequency", 1), "one two two point one"),
    ("4-2-9 a 12000", 12000, ALTITUDE, "one two thousand"),
    ("4-2-9 a 12500", 12500, ALTITUDE, "one two thousand five hundred"),
    ("4-2-10 005", 5, HEADING, "zero zero five"),
    ("4-2-10 050", 50, HEADING, "zero five zero"),
    ("4-2-10 360", 360, HEADING, "three six zero"),
    ("4-2-10 100", 100, HEADING, "one zero zero"),
    ("4-2-10 220", 220, HEADING, "two two zero"),
    ("4-2-11 250", 250, SPEED, "two five zero"),
    ("4-2-11 190", 190, SPEED, "one niner zero"),
]
"""FAA Aeronautical Information Manual (12 October 2017), 4-2-8 to 4-2-11, the examples."""


@pytest.mark.outside
@pytest.mark.parametrize(
    ("value", "form", "words"),
    [pytest.param(*row[1:], id=f"FAA AIM {row[0]}") for row in FAA_NUMBERS],
)
def test_faa_style_is_that_of_the_information_manual(value: float, form: Form, words: str) -> None:
    assert say_number(value, form, "faa") == words


@pytest.mark.outside
@pytest.mark.parametrize(
    ("value", "form", "words"),
    [
        pytest.param(
            17900,
            ALTITUDE,
            "one seven thousand niner hundred",
            id="FAA Order 7110.65 2-4-17 b 17900",
        ),
        pytest.param(
            1320, ALTITUDE, "one three two zero", id="FAA Order 7110.65 2-4-17 b MDA 1320"
        ),
        pytest.param(486, ALTITUDE, "four eight six", id="FAA Order 7110.65 2-4-17 b DH 486"),
        pytest.param(11495, Form("plain"), "one one four niner five", id="7110.65 2-4-17 a 11495"),
        pytest.param(20069, Form("plain"), "two zero zero six niner", id="7110.65 2-4-17 a 20069"),
    ],
)
def test_faa_style_is_that_of_its_controllers(value: float, form: Form, words: str) -> None:
    assert say_number(value, form, "faa") == words


COCKPIT = [
    (44.2, Form("manifold_pressure", 1, "inHg"), "forty four point two"),
    (44.0, Form("manifold_pressure", 1, "inHg"), "forty four point zero"),
    (2350, Form("rpm", 0, "rpm"), "twenty three fifty"),
    (2300, Form("rpm", 0, "rpm"), "twenty three hundred"),
    (2305, Form("rpm", 0, "rpm"), "twenty three oh five"),
    (2000, Form("rpm", 0, "rpm"), "two thousand"),
    (905, Form("rpm", 0, "rpm"), "nine oh five"),
    (12500, Form("rpm", 0, "rpm"), "twelve thousand five hundred"),
    (88, SPEED, "eighty eight"),
    (100, SPEED, "one hundred"),
    (104, SPEED, "one oh four"),
    (115, SPEED, "one one five"),
    (150, SPEED, "one five zero"),
    (74300, Form("weight", 0, "lb"), "seventy four thousand three hundred"),
    (74310, Form("weight", 0, "lb"), "seventy four thousand three hundred ten"),
    (74005, Form("weight", 0, "lb"), "seventy four thousand and five"),
    (120000, Form("weight", 0, "lb"), "one hundred twenty thousand"),
    (12500, ALTITUDE, "twelve thousand five hundred"),
    (800, ALTITUDE, "eight hundred"),
    (80, HEADING, "zero eight zero"),
    (1013, Form("pressure", 0, "hPa"), "one zero one three"),
    (145, Form("pressure", 0, "psi"), "one four five"),
    (75, Form("pressure", 0, "psi"), "seventy five"),
    (29.92, Form("pressure", 2, "inHg"), "twenty nine ninety two"),
    (30.02, Form("pressure", 2, "inHg"), "thirty oh two"),
    (30.0, Form("pressure", 2, "inHg"), "three zero zero zero"),
    (-15, Form("temperature", 0, "degC"), "minus fifteen"),
    (118.1, Form("frequency", 2, "MHz"), "one one eight point one"),
    (3, Form("engine"), "three"),
    (0, Form("plain"), "zero"),
]


@pytest.mark.parametrize(("value", "form", "words"), COCKPIT)
def test_cockpit_style_is_as_crews_talk(value: float, form: Form, words: str) -> None:
    # Common practice.
    assert say_number(value, form, "cockpit") == words


def test_an_altimeter_setting_in_inches_is_four_figures_in_faa_style() -> None:
    # Common practice in the United States: the decimal point is understood.
    form = Form("pressure", 2, "inHg")
    assert say_number(29.92, form, "faa") == "two niner niner two"
    assert say_number(29.92, form, "icao") == "two niner decimal niner two"


def test_a_number_is_rounded_to_its_decimals_half_away_from_zero() -> None:
    assert say_number(44.25, Form("plain", 1), "cockpit") == "forty four point three"
    assert say_number(-0.5, Form("temperature"), "cockpit") == "minus one"
    assert say_number(-0.04, Form("temperature", 1), "cockpit") == "zero point zero"


@pytest.mark.parametrize("value", [math.nan, math.inf, LARGEST + 1, -LARGEST - 1])
def test_what_is_no_number_of_a_flight_is_not_said(value: float) -> None:
    with pytest.raises(ValueError, match="is not a number that can be said"):
        say_number(value, Form("plain"), "cockpit")


def test_digits_of_a_code_take_niner_on_the_radio_alone() -> None:
    assert say_digits("0190", "cockpit") == "zero one nine zero"
    assert say_digits("0190", "icao") == "zero one niner zero"


def test_units_are_said_in_words() -> None:
    assert say_unit("kt") == "knots"
    assert say_unit("inHg") == "inches"
    assert say_unit("lb/min") == "pounds per minutes"
    assert say_unit("furlong") == "furlong"
    assert say_unit("") == ""


def test_each_unit_is_heard_as_it_is_said() -> None:
    for unit in known_units():
        assert tuple(say_unit(unit).split()) in units_heard(unit)
    assert units_heard("furlong") == ()
    assert kind_of_unit("kt") == "speed"
    assert kind_of_unit("furlong") == "plain"
