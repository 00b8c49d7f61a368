"""Response patterns: what they accept, list and feed a recogniser, and how they are refused."""

from __future__ import annotations

import pickle
import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from phrasing_values import Grammar
from runner.errors import RunnerError
from runner.phrasing.normal import normalise
from runner.phrasing.pattern import (
    DEEPEST,
    LONGEST_SOURCE,
    LONGEST_TEXT,
    Number,
    PatternError,
    parse,
    source_of,
    with_name,
    with_synonyms,
)
from runner.phrasing.style import VoiceStyle


@pytest.mark.parametrize(
    ("source", "texts"),
    [
        ("set", ("set",)),
        ("Set!", ("set",)),
        ("(is)? set", ("set", "is set")),
        (
            "off / (landing lights)? off / extinguished",
            ("off", "landing lights off", "extinguished"),
        ),
        ("gear (up / down)", ("gear up", "gear down")),
        ("up, lights out", ("up lights out",)),
        ("flaps 20", ("flaps twenty", "flaps two zero")),
        ("flaps two zero", ("flaps two zero", "flaps twenty")),
        ("(a)? (b)? c", ("c", "b c", "a c", "a b c")),
        ("V1", ("v one",)),
        ("No. 3 on", ("number three on",)),
        ("-5", ("minus five",)),
        ("0123", ("zero one two three", "oh one two three")),
        ("one and two on", ("one and two on",)),
        ("engine 3 20%", ("engine three twenty percent", "engine three two zero percent")),
        ("auto rich/auto lean", ("auto rich", "auto lean")),
        (
            "twenty three fifty",
            ("twenty three fifty", "two thousand three hundred fifty", "two three five zero"),
        ),
        ("1,200,000", ("one two zero zero zero zero zero",)),
    ],
)
def test_a_pattern_lists_its_texts_the_canonical_one_first(
    source: str, texts: tuple[str, ...]
) -> None:
    pattern = parse(source)
    assert pattern.texts() == texts
    assert pattern.canonical == texts[0]
    assert pattern.words == {word for text in texts for word in text.split()}


@pytest.mark.parametrize(
    ("source", "text", "accepted"),
    [
        ("off / extinguished", "OFF.", True),
        ("off / extinguished", "extinguished off", False),
        ("(landing lights)? off", "landing lights, off", True),
        ("(landing lights)? off", "lights off", False),
        ("off", "", False),
        ("off", "not off", False),
        ("off", "off off", False),
        ("low", "no", False),
        ("flaps 20", "flaps twenty", True),
        ("flaps 20", "flaps two zero", True),
        ("flaps 20", "Flaps 20", True),
        ("flaps 20", "flaps two", False),
        ("flaps 20", "flaps twenty five", False),
        ("flaps 20", "flaps twelve", False),
        ("flaps 20", "flaps minus twenty", False),
        ("flaps twenty", "flaps 20", True),
        ("flaps 2", "flaps two zero", False),
        ("44.5 inches", "forty four and a half inches", True),
        ("44.5 inches", "forty four point five inches", True),
        ("44.5 inches", "forty five inches", False),
        ("0123", "zero one two three", True),
        ("0123", "oh one two three", True),
        ("zero", "oh", False),
        ("0123", "one two three", False),
        ("0123", "one hundred twenty three", False),
        ("12:30", "twelve thirty", True),
        ("12:30", "one two three zero", True),
        ("engine 3 20 percent", "engine three twenty percent", True),
        ("that's set", "That’s set", True),
        ("take-off", "takeoff", True),
        ("standby", "stand by", True),
        ("gear down (and locked)?", "gear down locked", False),
    ],
)
def test_a_pattern_matches_whole_texts_and_numbers_however_said(
    source: str, text: str, accepted: bool
) -> None:
    assert parse(source).matches(text) is accepted


@pytest.mark.parametrize(
    ("source", "message", "offset"),
    [
        ("", "words are missing here", 0),
        ("  ", "words are missing here", 0),
        ("...", "words are missing here", 0),
        ("on /", "words are missing here", 4),
        ("on / / off", "words are missing here", 4),
        ("()", "words are missing here", 1),
        ("(on", "'(' opens a group that is not closed: add ')'", 0),
        ("a (b (c)", "'(' opens a group that is not closed: add ')'", 2),
        ("on)", "')' closes a group that was not opened", 2),
        (
            "set?",
            "'?' stands only behind a group: write (word)? for a word that may be left out",
            3,
        ),
        ("on | off", "write / between alternatives, not '|'", 3),
        ("[is] set", "write (words)? for words that may be left out, not '['", 0),
        ("<rotate_speed>", "a figure cannot stand here: only words and numbers", 0),
        ("(set)?", "this pattern accepts silence: give it a word that must be said", 0),
        ("set / (is)?", "this pattern accepts silence: give it a word that must be said", 0),
    ],
)
def test_a_pattern_that_cannot_be_read_says_what_and_where(
    source: str, message: str, offset: int
) -> None:
    with pytest.raises(PatternError) as refused:
        parse(source)
    assert (str(refused.value), refused.value.offset) == (message, offset)
    assert isinstance(refused.value, RunnerError)


def test_a_pattern_is_bounded_in_length_and_depth() -> None:
    with pytest.raises(PatternError, match="at most 10000 characters"):
        parse("a " * LONGEST_SOURCE)
    with pytest.raises(PatternError, match=f"at most {DEEPEST} deep"):
        parse("(" * (DEEPEST + 1) + "on" + ")" * (DEEPEST + 1))
    assert parse("(" * DEEPEST + "on" + ")" * DEEPEST).matches("on")


def test_a_pattern_of_a_million_million_texts_is_quick() -> None:
    pattern = parse("set " + "(a / b / c / 20)? " * 120)
    begin = time.perf_counter()
    assert pattern.matches("set a c twenty b a")
    assert not pattern.matches("set a c twenty b d")
    assert len(pattern.texts(200)) == 200
    assert pattern.canonical == "set"
    assert not pattern.matches("set " + "two " * LONGEST_TEXT)
    assert not pattern.matches("set " + "two zero " * 90 + "d")
    # Seconds, where a list of readings would take longer than the age of the world.
    assert time.perf_counter() - begin < 5


WORDS = st.sampled_from(
    ["on", "off", "gear", "lights", "20", "three", "44.5", "v", "one", "that's", "point", "and"]
)


def _grow(inner: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
    rows = st.lists(inner, min_size=1, max_size=3).map(" ".join)
    return (
        st.lists(rows, min_size=2, max_size=3).map(lambda ways: f"({' / '.join(ways)})")
        | rows.map(lambda row: f"({row})? on")
        | rows
    )


SOURCES = st.recursive(WORDS, _grow, max_leaves=12)


@given(SOURCES)
@settings(deadline=None)
def test_a_pattern_accepts_every_text_that_it_lists(source: str) -> None:
    pattern = parse(source)
    for text in pattern.texts(60):
        assert text == normalise(text)
        assert pattern.matches(text)
        assert set(text.split()) <= pattern.words


@given(SOURCES)
@settings(max_examples=60, deadline=None)
def test_the_grammar_of_a_pattern_accepts_every_text_that_it_lists(source: str) -> None:
    pattern = parse(source)
    grammar = Grammar(pattern.jsgf())
    for text in pattern.texts(60):
        assert grammar.accepts(text)


@given(SOURCES)
@settings(deadline=None)
def test_a_pattern_written_out_again_is_the_same_pattern(source: str) -> None:
    pattern = parse(source)
    assert parse(source_of(pattern.root)).root == pattern.root


@given(SOURCES, st.lists(WORDS, max_size=5).map(" ".join))
@settings(deadline=None)
def test_what_a_pattern_matches_without_numbers_is_in_its_list(source: str, text: str) -> None:
    pattern = parse(source)
    if pattern.matches(text) and len(pattern.texts(5000)) < 5000:
        heard = normalise(text)
        if not any(word in heard for word in ("twenty", "three", "forty", "one")):
            assert heard in pattern.texts(5000)


@given(st.text(alphabet="ab()/?| 0129.:-<", max_size=30))
@settings(deadline=None)
def test_any_line_is_a_pattern_or_is_refused_at_a_place_in_it(line: str) -> None:
    try:
        pattern = parse(line)
    except PatternError as refused:
        assert 0 <= refused.offset <= len(line)
        assert "\n" not in str(refused)
    else:
        assert not pattern.matches("")
        assert pattern.matches(pattern.canonical)


STYLE = VoiceStyle(
    "test",
    synonyms={
        "set": ("is set", "checked"),
        "three green": ("down and locked",),
        "gear": ("wheels",),
        "": ("nothing",),
        "20": ("full",),
    },
)


@pytest.mark.parametrize(
    ("source", "text", "accepted"),
    [
        ("set", "is set", True),
        ("set", "checked", True),
        ("set", "set", True),
        ("three green", "down and locked", True),
        ("gear down, three green", "wheels down, down and locked", True),
        ("(gear)? set", "wheels checked", True),
        ("flaps 20", "flaps full", True),
        ("flaps (up / 20)", "flaps full", True),
        ("three", "down and locked", False),
        ("checked", "set", False),
        ("set", "is checked", False),
    ],
)
def test_synonyms_widen_a_pattern_once_and_one_way(source: str, text: str, accepted: bool) -> None:
    widened = with_synonyms(parse(source), STYLE)
    assert widened.matches(text) is accepted
    assert widened.canonical == parse(source).canonical


def test_a_style_without_synonyms_leaves_a_pattern_as_it_is() -> None:
    pattern = parse("set")
    assert with_synonyms(pattern, VoiceStyle("test")) is pattern


def test_a_synonym_that_is_no_pattern_is_refused() -> None:
    with pytest.raises(PatternError):
        with_synonyms(parse("set"), VoiceStyle("test", synonyms={"set": ("is (set",)}))


def test_the_name_of_an_item_may_stand_before_its_answer() -> None:
    pattern = with_name(parse("up / retracted"), "Flaps (both), No. 2/3")
    assert pattern.matches("up")
    assert pattern.matches("flaps both number two three, retracted")
    assert not pattern.matches("flaps both number two three")
    assert not pattern.matches("flaps up")
    assert with_name(pattern, "...") is pattern


def test_a_pattern_survives_pickling() -> None:
    pattern = parse("flaps 20 / (is)? set")
    assert pickle.loads(pickle.dumps(pattern)) == pattern


def test_a_number_in_a_pattern_keeps_its_value() -> None:
    assert parse("44.5").root == Number(44.5, ("forty four point five", "four four point five"))
