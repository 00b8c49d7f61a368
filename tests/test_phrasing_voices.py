"""The voices that ship: their control phrases, synonyms and pronunciations."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path

import pytest
import yaml

from runner.phrasing.hearing import hear_number
from runner.phrasing.pattern import Pattern, parse, with_synonyms
from runner.phrasing.similar import ALIKE, sounds_alike
from runner.phrasing.speech import CONTROLS, PHRASES, phrase_places, speak_text
from runner.phrasing.style import Form, VoiceStyle

VOICES = ("cockpit", "faa", "icao")
FOLDER = Path(__file__).parent.parent / "voices"

ORDINARY_ANSWERS = [
    "on",
    "off",
    "set",
    "up",
    "down",
    "open",
    "closed",
    "low",
    "high",
    "checked",
    "auto",
    "normal",
    "both",
    "left",
    "right",
    "rich",
    "lean",
    "full",
    "idle",
    "in",
    "out",
    "armed",
    "released",
    "removed",
    "secured",
    "locked",
    "three",
    "green",
    "fastened",
    "complete",
    "received",
    "both",
    "on",
    "extinguished",
    "extended",
    "retracted",
    "neutral",
    "cold",
    "hot",
    "wet",
    "dry",
    "standby",
    "ready",
    "free",
    "obtained",
    "aboard",
]
"""Answers of ordinary lists (common practice)."""

NEVER_TOGETHER = {frozenset({"flow_complete", "briefing_complete"})}
"""A list is a flow or a briefing, never both."""


def read(name: str) -> VoiceStyle:
    """A voice with every scalar taken as text, as it stands."""
    with (FOLDER / f"{name}.yaml").open(encoding="utf-8") as file:
        raw = yaml.load(file, yaml.BaseLoader)
    return VoiceStyle(
        raw["voice"],
        numbers=raw["numbers"],
        long_form=raw["long form"],
        control=raw["control"],
        phrases=raw.get("phrases", {}),
        synonyms={word: (ways,) for word, ways in raw["synonyms"].items()},
        pronunciations=raw["pronunciations"],
    )


@pytest.fixture(params=VOICES)
def style(request: pytest.FixtureRequest) -> VoiceStyle:
    return read(request.param)


@pytest.fixture
def controls(style: VoiceStyle) -> dict[str, Pattern]:
    return {name: parse(source) for name, source in style.control.items()}


def test_these_are_the_voices_that_ship() -> None:
    assert sorted(path.stem for path in FOLDER.glob("*.yaml")) == sorted(VOICES)
    assert {name: read(name).numbers for name in VOICES} == {name: name for name in VOICES}


def test_no_line_of_a_voice_needs_quotes(style: VoiceStyle) -> None:
    text = (FOLDER / f"{style.name}.yaml").read_text(encoding="utf-8")
    for line in text.splitlines():
        _, _, value = line.partition(": ")
        assert not value.startswith(("'", '"', "|", ">"))


def test_every_control_phrase_has_words(controls: dict[str, Pattern]) -> None:
    assert set(controls) == set(CONTROLS)
    for pattern in controls.values():
        assert len(pattern.texts(100)) <= 20


@pytest.mark.parametrize(
    ("said", "control"),
    [
        ("say again", "say_again"),
        ("stand by", "stand_by"),
        ("standby", "stand_by"),
        ("continue", "resume"),
        ("go back", "go_back"),
        ("later", "later"),
        ("I disagree", "disagree"),
        ("disregard", "disregard"),
        ("reject", "reject"),
        ("mute", "mute"),
        ("affirm", "affirm"),
        ("negative", "negative"),
        ("done", "done"),
        ("flow complete", "flow_complete"),
        ("briefing complete", "briefing_complete"),
        ("why", "why"),
    ],
)
def test_the_words_of_the_trade_are_understood_in_every_voice(
    controls: dict[str, Pattern], said: str, control: str
) -> None:
    assert [name for name, pattern in controls.items() if pattern.matches(said)] == [control]


ICAO_WORDS = "ICAO Doc 9432, 2.6 (at planeenglish.com.br)"
FAA_WORDS = "FAA Safety Briefing, (Don't) Drop the Mic!, scenario 2"


@pytest.mark.outside
@pytest.mark.parametrize(
    ("name", "said", "control"),
    [
        pytest.param("icao", "affirm", "affirm", id=f"{ICAO_WORDS}: Affirm, yes"),
        pytest.param("icao", "negative", "negative", id=f"{ICAO_WORDS}: Negative, no"),
        pytest.param("icao", "disregard", "disregard", id=f"{ICAO_WORDS}: Disregard"),
        pytest.param("faa", "affirmative", "affirm", id=f"{FAA_WORDS}: Affirmative, yes"),
        pytest.param("faa", "negative", "negative", id=f"{FAA_WORDS}: Negative, no"),
    ],
)
def test_yes_and_no_are_the_words_of_each_authority(name: str, said: str, control: str) -> None:
    assert parse(read(name).control[control]).canonical == said


def test_no_two_control_phrases_accept_the_same_text(controls: dict[str, Pattern]) -> None:
    for pattern in controls.values():
        for text in pattern.texts(100):
            assert sum(other.matches(text) for other in controls.values()) == 1, text


def test_no_two_control_phrases_sound_alike(controls: dict[str, Pattern]) -> None:
    for (one, first), (two, second) in combinations(controls.items(), 2):
        if {one, two} == {"you_have_control", "i_have_control"}:
            # Only one of them makes sense from whoever says it: the roles tell them apart.
            continue
        if frozenset({one, two}) in NEVER_TOGETHER:
            continue
        for a in first.texts(100):
            for b in second.texts(100):
                assert sounds_alike(a, b) < ALIKE, (a, b)


def test_no_control_phrase_is_an_ordinary_answer_or_a_number(
    controls: dict[str, Pattern],
) -> None:
    for name, pattern in controls.items():
        for answer in ORDINARY_ANSWERS:
            assert not pattern.matches(answer) or (name, answer) == ("stand_by", "standby")
        for text in pattern.texts(100):
            assert hear_number(text, Form("plain", 2)) is None


def test_single_words_that_control_are_the_trades_own(controls: dict[str, Pattern]) -> None:
    single = {
        text for pattern in controls.values() for text in pattern.texts(100) if " " not in text
    }
    assert single <= {
        "continue",
        "later",
        "disregard",
        "reject",
        "abort",
        "stopping",
        "mute",
        "affirm",
        "affirmative",
        "yes",
        "negative",
        "no",
        "done",
        "why",
    }


def test_phrases_have_no_places_but_their_own(style: VoiceStyle) -> None:
    for name, template in style.phrases.items():
        assert phrase_places(template) <= phrase_places(PHRASES[name])


def test_synonyms_are_patterns_that_say_neither_no_nor_the_opposite(style: VoiceStyle) -> None:
    opposites = [("open", "closed"), ("extended", "retracted"), ("set", "open"), ("on", "off")]
    for one, other in opposites:
        first, second = (with_synonyms(parse(word), style) for word in (one, other))
        assert not any(second.matches(text) for text in first.texts())
        assert not any(first.matches(text) for text in second.texts())
    for word in style.synonyms:
        widened = with_synonyms(parse(word), style)
        assert len(widened.texts()) > 1
        assert not {"not", "no", "un"} & widened.words


def test_a_line_once_made_ready_stays_as_it_is(style: VoiceStyle) -> None:
    for written in style.pronunciations:
        said = speak_text(f"Set {written} 3 now", style)
        assert speak_text(said, style) == said


@pytest.mark.parametrize("written", ["METO", "BMEP", "V1", "RPM", "inHg", "QNH", "OAT", "CHT"])
def test_abbreviations_of_the_trade_are_pronounced(style: VoiceStyle, written: str) -> None:
    assert written not in speak_text(written, style).split()


@pytest.mark.outside
@pytest.mark.parametrize(
    ("figure", "pronounced"),
    [
        pytest.param("3", "tree", id="CAP 413 (31 March 2011) ch 2, 1.4, table 2: 3 TREE"),
        pytest.param("4", "fower", id="CAP 413 (31 March 2011) ch 2, 1.4, table 2: 4 FOWER"),
        pytest.param("5", "fife", id="CAP 413 (31 March 2011) ch 2, 1.4, table 2: 5 FIFE"),
        pytest.param("9", "niner", id="CAP 413 (31 March 2011) ch 2, 1.4, table 2: 9 NINER"),
        pytest.param(
            "12,000 ft",
            "one two tousand feet",
            id="CAP 413 (31 March 2011) ch 2, 1.4, table 2: thousand TOUSAND",
        ),
        pytest.param(
            "122.1",
            "one two two day-see-mal one",
            id="CAP 413 (31 March 2011) ch 2, 1.4, table 3: 122.1",
        ),
    ],
)
def test_icao_figures_are_pronounced_as_on_the_radio(figure: str, pronounced: str) -> None:
    assert speak_text(figure, read("icao")) == pronounced
