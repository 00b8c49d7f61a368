"""Grammars for PocketSphinx: what they accept, how small they are, what no candidate is."""

from __future__ import annotations

import math
from array import array

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.engine.effects import Candidate, Listen, NumberWanted
from runner.phrasing.numbers import say_number
from runner.phrasing.pattern import parse
from runner.phrasing.style import Form
from runner.voice.automaton import automaton
from runner.voice.conditioning import is_narrow, made_ready
from runner.voice.grammar import DECOYS, candidate_rules, rivals_grammar, window_grammars
from runner.voice.pocket import margin_of, rivals
from runner.voice.recogniser import RATE

PATTERNS = (
    "off / (landing lights)? off / extinguished",
    "(blowers)? (low blower / four in low / all in low)",
    "(flaps)? (flaps 20 / twenty degrees)",
    "engine fire (checklist / list)? (number / engine / engine number)? three",
    "(checklist)? (say again (please)? / repeat (the)? (last)? item)",
)

words = st.lists(st.sampled_from(("low", "high", "blower", "all", "in", "off", "four")), max_size=4)


@pytest.mark.parametrize("source", PATTERNS)
def test_every_text_of_a_pattern_is_in_its_automaton(source: str) -> None:
    pattern = parse(source)
    net = automaton((pattern.jsgf(),))
    assert all(net.accepts(text) for text in pattern.texts())
    assert net.words == pattern.words


@given(words)
def test_an_automaton_accepts_what_its_pattern_matches_and_nothing_else(said: list[str]) -> None:
    pattern = parse(PATTERNS[1])
    text = " ".join(said)
    assert automaton((pattern.jsgf(),)).accepts(text) == (text != "" and pattern.matches(text))


def test_phrases_that_begin_and_end_alike_share_their_arcs() -> None:
    engines = tuple(f"engine fire [ list ] [ number ] {n}" for n in ("one", "two", "three", "four"))
    together = automaton(engines)
    assert len(together.arcs) == len(automaton(engines[:1]).arcs) + 3 * 3
    assert all(together.accepts(f"engine fire list {n}") for n in ("one", "four"))
    assert not together.accepts("engine fire one two")


@pytest.mark.parametrize("body", ["( low", "low )", "[ low )", "( [ low ) ]"])
def test_a_bracket_without_its_partner_is_refused(body: str) -> None:
    with pytest.raises(ValueError, match="clos"):
        automaton((body,))


def test_an_optional_body_never_accepts_silence() -> None:
    assert not automaton(("[ low ]",)).accepts("")
    assert automaton(("[ low ]",)).accepts("low")


def window(number: NumberWanted | None = None) -> Listen:
    candidates = (
        Candidate("answer", "answer", "low blower"),
        Candidate("wrong:0", "competitor", "high blower"),
    )
    return Listen(1, candidates, number)


@given(st.integers(0, 20_000).map(lambda value: value / 1))
def test_a_number_can_be_said_in_a_window_that_wants_one(value: float) -> None:
    form = Form("altitude", 0, "ft")
    net = automaton(tuple(candidate_rules(window(NumberWanted(form, 0, 20_000, "elevation")))))
    said = say_number(value, form, "cockpit")
    assert net.accepts(said)
    assert net.accepts(f"elevation {said}")


def test_the_decoys_hold_the_words_of_the_candidates_too() -> None:
    candidates, decoys, own = window_grammars(candidate_rules(window()))
    assert own == {"low", "high", "blower"}
    loop = {entry[3] for entry in decoys.transitions if len(entry) == 4}
    assert own < loop
    assert own | set(DECOYS[0]) <= candidates.words


def test_the_two_sets_of_decoys_share_no_word() -> None:
    assert not set(DECOYS[0]) & set(DECOYS[1])


def test_a_rival_is_given_the_advantage() -> None:
    grammar = rivals_grammar("fifty two", ("fifteen two", "five two"), 0.01)
    first = {
        entry[3]: entry[2] for entry in grammar.transitions if entry[0] == 0 and len(entry) == 4
    }
    assert first == {"fifty": 0.01, "fifteen": 1.0, "five": 1.0}


def test_an_answer_has_to_win_against_its_opposite_and_a_list_against_other_engines() -> None:
    assert rivals("low blower", "answer", window()) == ("high blower",)
    assert rivals("high blower", "wrong:0", window()) == ("low blower",)
    engines = rivals("engine fire number three", "call:engine-fire:3", window())
    assert "engine fire number two" in engines
    assert "engine fire number three" not in engines
    assert rivals("say again", "control:say_again", window()) == ()


def test_only_another_number_is_a_numbers_rival() -> None:
    manifold = window(NumberWanted(Form("manifold_pressure", 0, "inHg"), 0, 99))
    assert set(rivals("fifty", "number", manifold)) == {"fifteen", "five"}
    assert "five one" not in rivals("fifty one", "number", manifold)  # the same number
    assert "fifty" in rivals("fifty one", "number", manifold)
    assert "fifteen one" not in rivals("fifty one", "number", manifold)  # none at all


def test_the_margin_grows_with_likelihood_and_stays_within_nought_and_one() -> None:
    assert margin_of(-math.inf) == 0.0
    assert margin_of(math.inf) == 1.0
    assert 0.0 < margin_of(-5.0) < margin_of(20.0) < 1.0


def tones(*pitches: float) -> array[int]:
    """A second with 200 ms of silence before sines that swell and fade."""
    count = RATE * 4 // 5
    swell = [math.sin(math.pi * at / count) ** 2 for at in range(count)]
    sines = [
        round(swell[at] * sum(3000 * math.sin(2 * math.pi * p * at / RATE) for p in pitches))
        for at in range(count)
    ]
    return array("h", [0] * (RATE // 5) + sines)


def test_a_voice_without_anything_above_four_kilohertz_is_narrow() -> None:
    # Telephone speech ends at 3,400 Hz (ITU-T G.712, transmission characteristics).
    assert is_narrow(tones(300.0, 1000.0, 3400.0))
    assert not is_narrow(tones(300.0, 1000.0, 6000.0))
    assert not is_narrow(array("h", bytes(2 * RATE)))


def test_what_is_made_ready_keeps_its_length_and_its_range() -> None:
    loud = array("h", [32_767, -32_768] * RATE)
    ready = array("h", made_ready(loud.tobytes()))
    assert len(ready) == len(loud)
    assert any(array("h", made_ready(bytes(2 * RATE))))
