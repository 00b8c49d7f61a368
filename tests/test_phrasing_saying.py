"""How numbers are said, held to what the authorities publish."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.phrasing.numbers import LARGEST, say_digits, say_number, say_unit
from runner.phrasing.style import Form
from runner.phrasing.unit_words import kind_of_unit, known_units, units_heard

HEADING = Form("heading", 0, "deg")
ALTITUDE = Form("altitude", 0, "ft")
SPEED = Form("speed", 0, "kt")
INCHES = Form("pressure", 2, "inHg")

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


ICAO_SCANNED = [
    ("5.2.1.4.1.2 visibility 1000", 1000, Form("distance", 0, "m"), "one thousand"),
    ("5.2.1.4.1.2 visibility 700", 700, Form("distance", 0, "m"), "seven hundred"),
    ("5.2.1.4.1.2 RVR 600", 600, Form("distance", 0, "m"), "six hundred"),
    ("5.2.1.4.1.2 RVR 1700", 1700, Form("distance", 0, "m"), "one thousand seven hundred"),
    ("5.2.1.4.1.3 100.3", 100.3, Form("plain", 1), "one zero zero decimal three"),
    (
        "5.2.1.4.1.3 38143.9",
        38143.9,
        Form("plain", 1),
        "three eight one four three decimal niner",
    ),
]
"""The same Annex, 5.2.1.4.1.2 and .3, as scanned at aero.cn/2010/0720/10858_43.html (the
numerals of the first four as remembered: the scan has their words alone). The Annex writes
the words in plain letters ("three", "nine"); a nine is said by its table 5.2.1.4.3.1."""

ICAO_CHANNELS = [
    ("118.005", 118.005, "one one eight decimal zero zero five"),
    ("118.025", 118.025, "one one eight decimal zero two five"),
    ("118.100", 118.1, "one one eight decimal one"),
]
"""EUROCONTROL, "Changes to the indication of VHF channels in radiotelephony", November 2005:
Amendment 80 to Annex 10 Volume II (at skybrary.aero)."""

CAP_413_CHANNELS = [
    ("118.125", 118.125, "one one eight decimal one two five"),
    ("118.000", 118.0, "one one eight decimal zero"),
]
"""CAP 413, 2.15, table 6, as a public table of phraseology quotes it."""

CAP_413_NUMBERS = [
    ("150 degrees", 150, HEADING, "one five zero"),
    ("18 knots", 18, SPEED, "one eight"),
    ("122.1", 122.1, Form("frequency", 1), "one two two decimal one"),
    ("squawk 6500", 6500, Form("plain"), "six five zero zero"),
]
"""CAP 413 (31 March 2011), chapter 2, 1.4, table 3."""


@pytest.mark.outside
@pytest.mark.parametrize(
    ("value", "form", "words"),
    [
        *[pytest.param(*row[1:], id=f"ICAO Annex 10 Vol II {row[0]}") for row in ICAO_SCANNED],
        *[
            pytest.param(
                value,
                Form("frequency", 3),
                words,
                id=f"EUROCONTROL November 2005, ICAO Annex 10 Vol II Amendment 80: {shown}",
            )
            for shown, value, words in ICAO_CHANNELS
        ],
        *[
            pytest.param(
                value, Form("frequency", 3), words, id=f"CAP 413 2.15 table 6, quoted: {shown}"
            )
            for shown, value, words in CAP_413_CHANNELS
        ],
        *[
            pytest.param(*row[1:], id=f"CAP 413 (31 March 2011) ch 2, 1.4, table 3: {row[0]}")
            for row in CAP_413_NUMBERS
        ],
    ],
)
def test_icao_style_is_that_of_those_who_follow_the_annex(
    value: float, form: Form, words: str
) -> None:
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
    [pytest.param(*row[1:], id=f"FAA AIM (12 October 2017) {row[0]}") for row in FAA_NUMBERS],
)
def test_faa_style_is_that_of_the_information_manual(value: float, form: Form, words: str) -> None:
    assert say_number(value, form, "faa") == words


CONTROLLERS = [
    ("a serial number 11,495", 11495, Form("plain"), "one one four niner five"),
    ("a serial number 20,069", 20069, Form("plain"), "two zero zero six niner"),
    ("b altitude 10,000", 10000, ALTITUDE, "one zero thousand"),
    ("b altitude 11,000", 11000, ALTITUDE, "one one thousand"),
    ("b altitude 17,900", 17900, ALTITUDE, "one seven thousand niner hundred"),
    ("b MDA 1,320", 1320, ALTITUDE, "one three two zero"),
    ("b DH 486", 486, ALTITUDE, "four eight six"),
    ("altimeter 30.01, quoted", 30.01, INCHES, "three zero zero one"),
    ("heading 030, quoted", 30, HEADING, "zero three zero"),
    ("wind 25, quoted", 25, SPEED, "two five"),
    ("gusts 35, quoted", 35, SPEED, "three five"),
    ("250 knots, quoted", 250, SPEED, "two five zero"),
]
"""FAA Order JO 7110.65, 2-4-17, as published at pointsixtyfive.com/xenforo/wiki/02-04-17;
those that end in "quoted" as a public table of phraseology quotes the paragraph."""


@pytest.mark.outside
@pytest.mark.parametrize(
    ("value", "form", "words"),
    [pytest.param(*row[1:], id=f"FAA Order JO 7110.65 2-4-17 {row[0]}") for row in CONTROLLERS],
)
def test_faa_style_is_that_of_its_controllers(value: float, form: Form, words: str) -> None:
    assert say_number(value, form, "faa") == words


GROUP_FORM = [
    ("2-4-17 b 10,000", 10000, ALTITUDE, "ten thousand"),
    ("2-4-17 b 11,000", 11000, ALTITUDE, "eleven thousand"),
    ("2-4-17 b 17,900", 17900, ALTITUDE, "seventeen thousand nine hundred"),
    ("2-4-18 a 17,000", 17000, ALTITUDE, "seventeen thousand"),
    ("2-4-18 a altimeter 29.92", 29.92, INCHES, "twenty nine ninety two"),
]
"""The group form in which controllers may say a number again: 2-4-17 as above, 2-4-18 of
Order 7110.65P (19 February 2004), at yumpu.com. In the cockpit a nine is not "niner"."""


@pytest.mark.outside
@pytest.mark.parametrize(
    ("value", "form", "words"),
    [pytest.param(*row[1:], id=f"FAA Order JO 7110.65 {row[0]}") for row in GROUP_FORM],
)
def test_cockpit_style_is_the_group_form_of_controllers(
    value: float, form: Form, words: str
) -> None:
    assert say_number(value, form, "cockpit") == words


WEIGHT = Form("weight", 0, "lb")


def counted(value: float, to: str = "cardinal") -> str:
    """The words of the library num2words, without hyphens and commas."""
    from num2words import num2words

    return str(num2words(value, to=to)).replace("-", " ").replace(",", "")


def without_and(words: str) -> str:
    """American counting leaves out the "and" that British counting says."""
    return " ".join(word for word in words.split() if word != "and")


@pytest.mark.outside
@pytest.mark.parametrize(
    "value",
    [
        pytest.param(value, id=f"num2words >=0.5.14 en cardinal: {value}")
        for value in (0, 7, 13, 44, 90, 300, 815, 2001, 12500, 52000, 74005, 74300, 74310, 120000)
    ],
)
def test_a_weight_is_counted_in_the_cockpit(value: int) -> None:
    assert without_and(say_number(value, WEIGHT, "cockpit")) == without_and(counted(value))


@pytest.mark.outside
@pytest.mark.parametrize(
    "value",
    [
        pytest.param(value, id=f"num2words >=0.5.14 en year: {value}")
        for value in (1905, 1950, 2000, 2050, 2100, 2305, 2350, 2400, 2412, 2799)
    ],
)
def test_an_rpm_is_said_in_the_cockpit_as_a_year_is(value: int) -> None:
    assert say_number(value, Form("rpm", 0, "rpm"), "cockpit") == counted(value, "year")


@pytest.mark.outside
@pytest.mark.parametrize(
    "value",
    [
        pytest.param(value, id=f"num2words >=0.5.14 en decimal: {value}")
        for value in (0.5, 28.1, 30.7, 39.8, 44.2, 51.9)
    ],
)
def test_a_manifold_pressure_is_counted_with_a_point_in_the_cockpit(value: float) -> None:
    form = Form("manifold_pressure", 1, "inHg")
    assert say_number(value, form, "cockpit") == counted(value)


@given(st.integers(0, LARGEST))
def test_every_weight_is_counted_as_num2words_counts_in_the_cockpit(value: int) -> None:
    assert without_and(say_number(value, WEIGHT, "cockpit")) == without_and(counted(value))


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
    # Common practice in the United States, and FAA Order JO 7110.65, 2-4-18: the decimal
    # point is understood.
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
