"""How numbers are heard: generously, but never as a number that was not said."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from phrasing_values import KINDS, STYLES, forms, values
from runner.phrasing.hearing import UNSIGNED, hear_number, implied_point, number_words
from runner.phrasing.normal import normalise
from runner.phrasing.numbers import say_number
from runner.phrasing.numeral_words import COUNTING_WORDS, DIGITS, MINUSES, POINTS
from runner.phrasing.style import Form, NumberStyle
from runner.phrasing.unit_words import say_unit

PLAIN = Form("plain", 2)
SPEED = Form("speed", 0, "kt")
INCHES = Form("pressure", 2, "inHg")

HEARD = [
    ("one zero eight", 108),
    ("one oh eight", 108),
    ("one hundred and eight", 108),
    ("one hundred eight", 108),
    ("a hundred eight", 108),
    ("a hundred and eight", 108),
    ("One-Zero-Eight.", 108),
    ("1 0 8", 108),
    ("1-0-8", 108),
    ("108", 108),
    ("one eight zero", 180),
    ("one eighty", 180),
    ("one eighteen", 118),
    ("forty four point two", 44.2),
    ("forty-four point two", 44.2),
    ("forty four and a half", 44.5),
    ("forty four and a quarter", 44.25),
    ("forty four and three quarters", 44.75),
    ("44½", 44.5),
    ("four four decimal five", 44.5),
    ("forty four dot five", 44.5),
    ("forty four point oh five", 44.05),
    ("forty four point fifty", 44.5),
    ("forty four point twenty five", 44.25),
    ("44.5", 44.5),
    ("44 point 5", 44.5),
    ("point six four", 0.64),
    (".64", 0.64),
    ("minus five", -5),
    ("negative five", -5),
    ("plus five", 5),
    ("-5", -5),
    ("+5", 5),
    ("minus zero", 0),
    ("tree fower fife niner", 3459),
    ("twenty three fifty", 2350),
    ("twenty three hundred", 2300),
    ("twenty three hundred and fifty", 2350),
    ("twenty three oh five", 2305),
    ("two thousand three hundred fifty", 2350),
    ("2,350", 2350),
    ("2 350", 2350),
    ("23 50", 2350),
    ("nine fifty", 950),
    ("ten thirteen", 1013),
    ("one two thousand", 12000),
    ("twelve thousand five hundred", 12500),
    ("one two thousand five hundred", 12500),
    ("one three tousand", 13000),
    ("seventy four thousand three hundred", 74300),
    ("seventy four thousand three hundred and ten", 74310),
    ("seventy four thousand three ten", 74310),
    ("seventy four thousand three one zero", 74310),
    ("seventy four thousand and five", 74005),
    ("seventy four thousand fifty", 74050),
    ("seven four three zero zero", 74300),
    ("74 thousand 300", 74300),
    ("a thousand", 1000),
    ("one hundred twenty thousand", 120000),
    ("one twenty thousand", 120000),
    ("zero zero five", 5),
    ("two, niner, niner, two", 2992),
]


@pytest.mark.parametrize(("text", "value"), HEARD)
def test_a_number_is_heard_in_every_way_that_crews_say_it(text: str, value: float) -> None:
    assert hear_number(text, PLAIN) == value


ON_THE_RADIO = [
    ("ICAO Annex 10 Vol II 5.2.1.4.3.1: TREE", "tree", 3),
    ("ICAO Annex 10 Vol II 5.2.1.4.3.1: FOW-er", "fower", 4),
    ("ICAO Annex 10 Vol II 5.2.1.4.3.1: FIFE", "fife", 5),
    ("ICAO Annex 10 Vol II 5.2.1.4.3.1: AIT", "ait", 8),
    ("ICAO Annex 10 Vol II 5.2.1.4.3.1: NIN-er", "niner", 9),
    ("ICAO Annex 10 Vol II 5.2.1.4.3.1: TOU-SAND", "one two tousand", 12000),
    ("ICAO Annex 10 Vol II 5.2.1.4.1.3: 100.3", "one zero zero decimal three", 100.3),
    ("FAA Order 7110.65P 2-4-18 a: 17,000", "seventeen thousand", 17000),
    ("FAA Order 7110.65P 2-4-18 a: 126.55", "one two six point five five", 126.55),
    ("FAA Order 7110.65P 2-4-18 a: 126.55, grouped", "one twenty six point fifty five", 126.55),
    ("FAA AIP 4.5.5.2: Mach 0.64", "point six four", 0.64),
    ("FAA AIP 4.5.5.2: Mach 0.7", "point seven", 0.7),
    ("FAA AIP 4.5.5.2: Mach 1.5", "one point five", 1.5),
]
"""The Annex as scanned at aero.cn/2010/0720/10858_43.html; the Order (19 February 2004) at
yumpu.com; the AIP, whose words are those of the Manual's 4-2-11, as scanned at
aero.cn/2011/0418/23207_121.html."""


@pytest.mark.outside
@pytest.mark.parametrize(
    ("text", "value"), [pytest.param(*row[1:], id=row[0]) for row in ON_THE_RADIO]
)
def test_a_number_is_heard_as_the_authorities_have_it_said(text: str, value: float) -> None:
    assert hear_number(text, PLAIN) == value


@given(st.integers(0, 999_999))
@settings(deadline=None)
def test_whatever_num2words_counts_is_heard(value: int) -> None:
    from num2words import num2words

    assert hear_number(num2words(value), PLAIN) == value


@given(st.decimals(0, 1000, places=2))
@settings(deadline=None)
def test_whatever_num2words_counts_with_a_point_is_heard(value: Decimal) -> None:
    from num2words import num2words

    assert hear_number(num2words(float(value)), PLAIN) == float(value)


AMBIGUOUS = [
    "seventy four three",
    "seventy four thousand five",
    "twelve five",
    "twenty three five zero",
    "two nine ninety two",
    "seventy four three hundred",
    "a thousand and a half",
    "one hundred and a half",
    "74 3",
    "100 8",
    "1,5",
    "one two five zero thousand",
    "zero five thousand",
    "twenty thousand twenty five hundred",
    "seventy four thousand thirty ten",
]


@pytest.mark.parametrize("text", AMBIGUOUS)
def test_what_could_be_two_numbers_is_none(text: str) -> None:
    assert hear_number(text, PLAIN) is None


NO_NUMBERS = [
    "",
    "   ",
    ".",
    "checked",
    "one oh eight checked",
    "set one oh eight",
    "hundred",
    "hundred eight",
    "thousand",
    "a",
    "and",
    "oh",
    "point",
    "minus",
    "plus minus five",
    "five minus",
    "one hundred and",
    "one hundred hundred",
    "two thousand three thousand",
    "one thousand and",
    "and five",
    "forty four point",
    "forty four point two point three",
    "checked point five",
    "fifty point hundred",
    "one point two three four five six",
    "and a half",
    "checked and a half",
    "twenty zero",
    "zero hundred",
    "one two three four five six seven eight nine zero",
    "ten oh",
    "10²",
    "10/2",
    "12:30",
    "1.2.3",
    "44-2",
    "2 + 3",
    "$5",
    "v1",
    "flaps 20",
    "low",
    "1٫5",
]


@pytest.mark.parametrize("text", NO_NUMBERS)
def test_what_is_not_wholly_a_number_is_none(text: str) -> None:
    assert hear_number(text, PLAIN) is None


def test_arabic_indic_and_full_width_digits_are_digits() -> None:
    assert hear_number("１٠8", PLAIN) == 108


@pytest.mark.parametrize(
    ("text", "form", "value"),
    [
        ("one oh four knots", SPEED, 104),
        ("104 kt", SPEED, 104),
        ("104kt.", SPEED, 104),
        ("104 KT", SPEED, 104),
        ("104 knots", SPEED, 104),
        ("one oh four pounds", SPEED, None),
        ("knots", SPEED, None),
        ("forty four point two inches", Form("manifold_pressure", 1, "inHg"), 44.2),
        ("thirty inches of mercury", Form("manifold_pressure", 1, "inHg"), 30),
        ("minus five degrees", Form("temperature", 0, "degC"), -5),
        ("five below zero", Form("temperature", 0, "degC"), -5),
        ("minus five below zero", Form("temperature", 0, "degC"), None),
        ("-5 °C", Form("temperature", 0, "degC"), -5),
        ("five below zero", PLAIN, None),
        ("75%", Form("percent", 0, "%"), 75),
        ("75 %", Form("percent", 0, "percent"), 75),
        ("2800 in^3", Form("plain", 0, "in^3"), 2800),
        ("heading zero eight zero", Form("heading", 0, "deg"), 80),
        ("heading three sixty degrees", Form("heading", 0, "deg"), 360),
        ("number three", Form("engine"), 3),
        ("engine number three", Form("engine"), 3),
        ("engine three", Form("engine"), 3),
        ("engine", Form("engine"), None),
        ("heading", Form("heading"), None),
        ("number three", Form("count"), None),
        ("three point five", Form("engine"), None),
        ("two and a half", Form("count"), None),
        ("minus three", Form("engine"), None),
        ("minus ninety", Form("heading"), None),
        ("minus ten", Form("altitude", 0, "ft"), -10),
        ("flight level one eight zero", Form("altitude", 0, "ft"), 18000),
        ("flight level niner zero", Form("altitude", 0, "ft"), 9000),
        ("flight level", Form("altitude", 0, "ft"), None),
        ("flight level eighty five", Form("altitude", 0, "ft"), None),
        ("flight level one eight zero zero", Form("altitude", 0, "ft"), None),
        ("flight level one eight zero", Form("altitude", 0, "m"), None),
        ("one oh four point five", SPEED, 104.5),
    ],
)
def test_the_form_says_what_may_stand_beside_a_number(
    text: str, form: Form, value: float | None
) -> None:
    assert hear_number(text, form) == value


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("two nine nine two", 29.92),
        ("two niner niner two", 29.92),
        ("twenty nine ninety two", 29.92),
        ("thirty oh two", 30.02),
        ("2992", 29.92),
        ("29.92", 29.92),
        ("two niner decimal niner two", 29.92),
        ("thirty", 30.0),
        ("three thousand", 3000.0),
        ("nine ninety two", None),
        ("two nine nine two three", None),
    ],
)
def test_four_figures_of_an_altimeter_setting_in_inches_need_no_point(
    text: str, value: float | None
) -> None:
    assert hear_number(text, INCHES) == value


@pytest.mark.parametrize("style", STYLES)
@given(data=st.data())
@settings(max_examples=400, deadline=None)
def test_every_number_that_is_said_is_heard_as_itself(
    style: NumberStyle, data: st.DataObject
) -> None:
    form = data.draw(forms())
    value = data.draw(values(form))
    words = say_number(value, form, style)
    assert hear_number(words, form) == value
    assert hear_number(f"{words} {say_unit(form.unit)}", form) == value
    assert hear_number(normalise(words), form) == value


@given(data=st.data())
@settings(deadline=None)
def test_every_number_that_is_shown_is_heard_as_itself(data: st.DataObject) -> None:
    form = data.draw(forms())
    value = data.draw(values(form))
    shown = f"{value:.{form.decimals}f}"
    for text in (shown, f"{shown} {form.unit}", f"{shown}{form.unit}", normalise(shown)):
        assert hear_number(text, form) == value
    assert hear_number(f"{value:,.{form.decimals}f}", form) == value


_SAME = {"oh": "zero", "o": "zero", "nought": "zero", "naught": "zero", "tree": "three"}
_SAME |= {"fower": "four", "fife": "five", "ait": "eight", "niner": "nine", "a": "one"}
_SAME |= {"tousand": "thousand", "decimal": "point", "dot": "point", "negative": "minus"}
# "Eight one" and "eighty one" are one number, and so are "point ten" and "point one", and
# "nine oh one" and "nine hundred one".
_SAME["hundred"] = "zero"
_SAME |= {"twenty": "two", "thirty": "three", "forty": "four", "fifty": "five"}
_SAME |= {"sixty": "six", "seventy": "seven", "eighty": "eight", "ninety": "nine", "ten": "one"}
_WORDS = sorted(COUNTING_WORDS | POINTS | MINUSES | {"and", "a", "half"})


@pytest.mark.parametrize("style", STYLES)
@given(data=st.data())
@settings(max_examples=400, deadline=None)
def test_one_word_changed_is_never_the_same_number(style: NumberStyle, data: st.DataObject) -> None:
    form = data.draw(forms())
    value = data.draw(values(form))
    assume(value)
    words = say_number(value, form, style).split()
    at = data.draw(st.integers(0, len(words) - 1))
    other = data.draw(st.sampled_from(_WORDS))
    assume(_SAME.get(other, other) != _SAME.get(words[at], words[at]))
    assert hear_number(" ".join([*words[:at], other, *words[at + 1 :]]), form) != value


@pytest.mark.parametrize("style", STYLES)
@given(data=st.data())
@settings(max_examples=400, deadline=None)
def test_two_words_that_change_places_are_never_the_same_number(
    style: NumberStyle, data: st.DataObject
) -> None:
    form = data.draw(forms())
    value = data.draw(values(form))
    words = say_number(value, form, style).split()
    assume(len(words) > 1 and value)
    at = data.draw(st.integers(0, len(words) - 2))
    assume(_SAME.get(words[at], words[at]) != _SAME.get(words[at + 1], words[at + 1]))
    words[at], words[at + 1] = words[at + 1], words[at]
    assert hear_number(" ".join(words), form) != value


@pytest.mark.parametrize("style", STYLES)
@given(data=st.data())
@settings(max_examples=300, deadline=None)
def test_a_number_cut_short_is_never_the_same_number(
    style: NumberStyle, data: st.DataObject
) -> None:
    form = data.draw(forms())
    value = data.draw(values(form))
    words = say_number(value, form, style).split()
    assume(value)
    cut = data.draw(st.integers(0, len(words) - 1))
    heard = hear_number(" ".join(words[:cut]), form)
    # Only the last noughts behind a point may go without a change.
    noughts_lost = all(word in ("zero", "oh") for word in words[cut:])
    pointed = bool(set(words[:cut]) & POINTS) or words[cut] in POINTS
    trailing = words[cut] in POINTS and all(word == "zero" for word in words[cut + 1 :])
    assert heard != value or (pointed and (noughts_lost or trailing))


@given(st.text(max_size=40))
@settings(deadline=None)
def test_any_text_gives_a_number_or_none(text: str) -> None:
    for kind in KINDS:
        heard = hear_number(text, Form(kind, 1))
        assert heard is None or isinstance(heard, float)


@given(
    st.lists(st.sampled_from([*_WORDS, "knots", "checked", "quarters", "three"]), max_size=9),
    st.sampled_from(KINDS),
)
@settings(deadline=None)
def test_any_row_of_number_words_is_in_the_vocabulary_if_it_is_a_number(
    words: list[str], kind: str
) -> None:
    form = Form(kind, 1, "kt")  # type: ignore[arg-type]
    if hear_number(" ".join(words), form) is not None:
        assert set(words) <= set(number_words(form))


@pytest.mark.parametrize("kind", KINDS)
def test_the_vocabulary_holds_every_word_that_is_said(kind: str) -> None:
    form = Form(kind, 0, "ft")  # type: ignore[arg-type]
    vocabulary = number_words(form)
    assert list(vocabulary) == sorted(set(vocabulary))
    for style in STYLES:
        for value in (0, 5, 13, 44, 360) if kind in UNSIGNED else (0, 5, 13, 44, 360, -7, 12500):
            assert set(say_number(value, form, style).split()) <= set(vocabulary)
    assert {"feet", "foot"} <= set(vocabulary)


def test_only_altimeter_settings_in_inches_leave_the_point_out() -> None:
    assert implied_point(INCHES)
    assert not implied_point(Form("pressure", 2, "psi"))
    assert not implied_point(Form("manifold_pressure", 2, "inHg"))
    assert set(DIGITS.values()) == set(range(10))
