"""The plain form of a text, in which what is written and what is heard are compared."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runner.phrasing.normal import clock_words, normalise


@pytest.mark.parametrize(
    ("text", "plain"),
    [
        ("", ""),
        ("...", ""),
        ("  On. ", "on"),
        ("Flaps, UP!", "flaps up"),
        ("take-off", "take off"),
        ("Takeoff", "take off"),
        ("standby", "stand by"),
        ("check list", "checklist"),
        ("check lists list", "checklists list"),
        ("OK", "okay"),
        ("vee one", "v one"),
        ("V1", "v one"),
        ("carburettor", "carburetor"),
        ("that's", "that's"),
        ("That’s", "that's"),
        ("'quoted'", "quoted"),
        ("captain's", "captain's"),
        ("r.p.m. set", "rpm set"),
        ("20", "twenty"),
        ("0", "zero"),
        ("44.5", "forty four point five"),
        (".5", "point five"),
        ("29.92", "twenty nine point nine two"),
        ("74,300", "seventy four thousand three hundred"),
        ("1,5", "one comma five"),
        ("0123", "zero one two three"),
        ("1234567", "one two three four five six seven"),
        ("12:30", "twelve thirty"),
        ("08:05", "zero eight oh five"),
        ("9:00", "nine zero zero"),
        ("-5", "minus five"),
        ("set -5 or +5", "set minus five or plus five"),
        ("−5", "minus five"),
        ("20-30", "twenty thirty"),
        ("No. 3", "number three"),
        ("no. 3", "number three"),
        ("No.", "no"),
        ("no, 3", "no three"),
        ("#2", "number two"),
        ("75%", "seventy five percent"),
        ("15 °C", "fifteen degrees celsius"),
        ("60°F", "sixty degrees fahrenheit"),
        ("30° left", "thirty degrees left"),
        ("10²", "ten squared"),
        ("44½", "forty four and a half"),
        ("pitot & static", "pitot and static"),
        ("on/off", "on off"),
        ("1.2.3", "one point two point three"),
        ("20kt", "twenty kt"),
        ("１2", "twelve"),
    ],
)
def test_text_is_brought_to_plain_words(text: str, plain: str) -> None:
    assert normalise(text) == plain


@given(st.text(max_size=60))
@settings(deadline=None)
def test_the_plain_form_of_a_plain_form_is_itself(text: str) -> None:
    plain = normalise(text)
    assert normalise(plain) == plain
    assert plain == " ".join(plain.split())
    assert not any(character.isdecimal() for character in plain)


def test_a_time_of_day_is_said_in_two_groups() -> None:
    assert clock_words("12:30") == "twelve thirty"
    assert clock_words("0:05") == "zero oh five"
