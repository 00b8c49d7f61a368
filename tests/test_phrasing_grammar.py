"""A recogniser's grammar for numbers: what it covers, and that a recogniser takes it."""

from __future__ import annotations

import random
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from phrasing_values import KINDS, STYLES, UNITS, Grammar, forms, values
from runner.phrasing.hearing import WHOLE, hear_number
from runner.phrasing.number_grammar import NOT_IN_DICTIONARY, number_jsgf
from runner.phrasing.numbers import say_number
from runner.phrasing.pattern import parse
from runner.phrasing.style import Form, NumberStyle

EVERY_FORM = [
    Form(kind, decimals, unit)
    for kind in KINDS
    for decimals in ((0,) if kind in WHOLE else (0, 1, 2))
    for unit in ("", *UNITS.get(kind, ()))
]

USUAL = {
    "speed": (0, 699),
    "heading": (0, 360),
    "altitude": (0, 60_000),
    "pressure": (0, 3000),
    "manifold_pressure": (0, 99),
    "rpm": (0, 9_999),
    "weight": (0, 900_000),
    "temperature": (-99, 999),
    "frequency": (100, 1_800),
    "distance": (0, 9_999),
    "percent": (-100, 110),
    "angle": (-90, 360),
    "duration": (0, 999),
    "count": (0, 99),
    "engine": (1, 8),
    "plain": (-99_999, 99_999),
    "words": (0, 99),
}
"""What is said of each kind on a flight deck, wide (common practice)."""


@pytest.mark.parametrize("style", STYLES)
@given(data=st.data())
@settings(max_examples=300, deadline=None)
def test_every_usual_number_is_in_its_grammar_as_it_is_said(
    style: NumberStyle, data: st.DataObject
) -> None:
    form = data.draw(forms())
    low, high = USUAL[form.kind]
    whole = data.draw(st.integers(low, high))
    part = data.draw(st.integers(0, 10**form.decimals - 1))
    value = float(f"{whole}.{part:0{form.decimals}d}" if form.decimals else whole)
    grammar = Grammar(number_jsgf(form))
    assert grammar.accepts(say_number(value, form, style))


@pytest.mark.parametrize("form", EVERY_FORM, ids=str)
def test_every_sentence_of_a_grammar_is_heard_as_a_number(form: Form) -> None:
    grammar = Grammar(number_jsgf(form))
    chance = random.Random(str(form))
    for _ in range(150):
        sentence = grammar.sentence(chance)
        assert hear_number(sentence, form) is not None, sentence


@pytest.fixture(scope="module")
def decoder() -> Any:
    pocketsphinx = pytest.importorskip("pocketsphinx")
    return pocketsphinx.Decoder(lm=None, loglevel="FATAL")


def test_pocketsphinx_takes_every_grammar_and_knows_every_word(decoder: Any) -> None:
    for form in EVERY_FORM:
        body = number_jsgf(form)
        grammar = Grammar(body)
        assert grammar.accepts(say_number(5, form, "icao"))
        for token in set(grammar.tokens) - set("()[]|"):
            assert decoder.lookup_word(token) is not None, token
        decoder.add_jsgf_string(
            "number", f"#JSGF V1.0;\ngrammar number;\npublic <number> = {body};\n"
        )
        decoder.activate_search("number")


def test_the_words_that_are_left_out_are_not_in_the_dictionary(decoder: Any) -> None:
    for word in NOT_IN_DICTIONARY:
        assert decoder.lookup_word(word) is None


def test_pocketsphinx_takes_the_grammar_of_a_pattern(decoder: Any) -> None:
    for source in (
        "off / (landing lights)? off / extinguished",
        "flaps 20 / that's (all)? set",
        "(gear / wheels) (is / are)? down (and locked)?",
    ):
        decoder.add_jsgf_string(
            "answer", f"#JSGF V1.0;\ngrammar answer;\npublic <answer> = {parse(source).jsgf()};\n"
        )
        decoder.activate_search("answer")


@pytest.mark.parametrize(
    ("form", "said"),
    [
        (Form("altitude", 0, "ft"), "a thousand two hundred"),
        (Form("altitude", 0, "ft"), "a hundred"),
        (Form("weight", 0, "lb"), "five six six zero zero oh"),
        (Form("temperature", 0, "degC"), "a hundred"),
    ],
)
def test_what_a_recogniser_takes_for_another_number_is_in_no_grammar(form: Form, said: str) -> None:
    # Measured with PocketSphinx: "eight thousand" was heard as "a thousand", and a row of
    # noughts with one "oh" too many.
    assert hear_number(said, form) is not None
    assert not Grammar(number_jsgf(form)).accepts(said)


@given(data=st.data())
@settings(deadline=None)
def test_a_grammar_never_takes_a_minus_where_a_number_has_none(data: st.DataObject) -> None:
    form = data.draw(forms())
    value = abs(data.draw(values(form)))
    grammar = Grammar(number_jsgf(form))
    said = f"minus {say_number(value, form, 'cockpit')}"
    if grammar.accepts(said):
        assert hear_number(said, form) == -value
