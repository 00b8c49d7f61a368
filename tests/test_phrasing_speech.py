"""What Runner says, and shown lines made ready for a synthesiser."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runner.phrasing.speech import CONTROLS, PHRASES, phrase, phrase_places, speak_text
from runner.phrasing.style import NumberStyle, VoiceStyle

COCKPIT = VoiceStyle(
    "test",
    pronunciations={"METO": "meeto", "V1": "vee one", "pitot": "pee-toh", "N/A": "not applicable"},
)
ICAO = VoiceStyle("test", numbers="icao", pronunciations={"three": "tree", "nine": "nine"})
FAA = VoiceStyle("test", numbers="faa")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("METO power", "meeto power"),
        ("meto", "meto"),
        ("METOX", "METOX"),
        ("Pitot heat", "pee-toh heat"),
        ("V1", "vee one"),
        ("V2, N1", "V two, N one"),
        ("44.2 inHg at 2350 rpm", "forty four point two inches at twenty three fifty r p m"),
        ("104 kt", "one oh four knots"),
        ("104kt.", "one oh four knots."),
        ("74,300 lb", "seventy four thousand three hundred pounds"),
        ("29.92 inHg", "twenty nine ninety two inches"),
        ("-5 °C", "minus five degrees"),
        ("+5", "plus five"),
        ("0.5", "zero point five"),
        ("20 in the climb", "twenty in the climb"),
        ("QNH 1013, runway 09", "QNH one zero one three, runway zero nine"),
        ("heading 255.5", "heading two five five point five"),
        ("0123", "zero one two three"),
        ("1234567", "one two three four five six seven"),
        ("12:30", "twelve thirty"),
        ("No. 3", "number three"),
        ("No, 3", "No, three"),
        ("on / off", "on, off"),
        ("both (all)", "both, all"),
        ("50% & rising", "fifty percent and rising"),
        ("left open: gear, flaps", "left open, gear, flaps"),
        ("N/A", "not applicable"),
        ("Flaps?", "Flaps?"),
        ("-", "-"),
        ("20-30", "twenty-thirty"),
        ("<list>", "list"),
        ("", ""),
    ],
)
def test_a_shown_line_is_spoken_in_words(text: str, said: str) -> None:
    assert speak_text(text, COCKPIT) == said


@pytest.mark.parametrize(
    ("style", "text", "said"),
    [
        (ICAO, "12:39", "one two tree niner"),
        (ICAO, "0.99 at 0123.5", "zero decimal niner niner at zero one two tree decimal five"),
        (ICAO, "12500 ft", "one two thousand five hundred feet"),
        (ICAO, "104.3 kt", "one zero four decimal tree knots"),
        (FAA, "09:30", "zero niner three zero"),
        (FAA, "squawk 1290", "squawk one two niner zero"),
        (FAA, "4500", "four thousand five hundred"),
    ],
)
def test_numbers_in_a_line_take_the_style_of_the_voice(
    style: VoiceStyle, text: str, said: str
) -> None:
    assert speak_text(text, style) == said


@pytest.mark.parametrize("numbers", ["cockpit", "icao", "faa"])
@given(text=st.text(alphabet=" ,.:-/()%°CNoV0123456789ktlbinHgsetd", max_size=30))
@settings(deadline=None)
def test_nothing_of_a_spoken_line_is_a_digit(numbers: NumberStyle, text: str) -> None:
    said = speak_text(text, VoiceStyle("test", numbers=numbers))
    assert said == said.strip()
    assert "  " not in said


def test_a_phrase_of_runners_has_its_places_filled_in() -> None:
    style = VoiceStyle("test", phrases={"list_complete": "<list>, all done", "muted": ""})
    assert phrase(style, "list_begins", list="Before start") == "Before start checklist"
    assert phrase(style, "list_complete", list="Before start") == "Before start, all done"
    assert phrase(style, "muted") == ""
    assert phrase(style, "out_of_range", name="weight", low="1", high="2") == "weight from 1 to 2"
    with pytest.raises(KeyError):
        phrase(style, "no_such_phrase")
    with pytest.raises(KeyError):
        phrase(style, "list_begins")


def test_places_are_found_by_name() -> None:
    assert phrase_places(PHRASES["expected"]) == {"expected", "heard"}
    assert phrase_places(PHRASES["muted"]) == frozenset()
    assert len(set(CONTROLS)) == len(CONTROLS)
