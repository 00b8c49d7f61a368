"""Typed answers: whole texts only, numbers in every style, and the answer before a control."""

from __future__ import annotations

import pytest

from runner.engine.effects import Candidate, Listen, NumberWanted
from runner.phrasing.style import Form, VoiceStyle
from runner.voice.judge import judge
from runner.voice.text import propose_text

STYLE = VoiceStyle("cockpit")
BLOWERS = Listen(
    1,
    (
        Candidate("answer", "answer", "low / both low"),
        Candidate("wrong:0", "competitor", "high / both high"),
        Candidate("control:say_again", "control", "say again"),
    ),
)
ROTATE = Listen(
    2,
    (Candidate("control:stand_by", "control", "stand by"),),
    NumberWanted(Form("speed", 0, "kt"), 60, 200, "rotate (speed)?"),
)
RADAR = Listen(
    3,
    (
        Candidate("control:stand_by", "control", "stand by / checklist stand by"),
        Candidate("answer", "answer", "stand by"),
    ),
)


def best(text: str, listen: Listen) -> str | None:
    """The candidate that a text is."""
    return propose_text(text, listen, STYLE)[0].candidate


def test_case_punctuation_and_hesitation_do_not_matter() -> None:
    assert best("Both LOW.", BLOWERS) == "answer"
    assert best("um, both high", BLOWERS) == "wrong:0"
    assert best("say again?", BLOWERS) == "control:say_again"


def test_part_of_a_text_is_not_an_answer() -> None:
    for text in ("not low", "low and high", "the blowers are low", "lo"):
        assert best(text, BLOWERS) is None


def test_a_near_miss_tells_how_near_it_was() -> None:
    near, far = (propose_text(t, BLOWERS, STYLE)[0] for t in ("both lows", "coffee please"))
    assert near.candidate is None and near.confidence > far.confidence


def test_an_empty_text_proposes_nothing() -> None:
    assert propose_text("  ", BLOWERS, STYLE) == ()
    assert propose_text("um", BLOWERS, STYLE) == ()


def test_a_number_is_heard_in_digits_and_words_with_and_without_its_name() -> None:
    for text in ("118", "one one eight", "a hundred and eighteen", "rotate 118",
                 "rotate speed one one eight"):  # fmt: skip
        proposal = propose_text(text, ROTATE, STYLE)[0]
        assert (proposal.candidate, proposal.value) == ("number", 118.0), text


@pytest.mark.parametrize("text", ["1/18", "1 + 18", "11:8", "11-8", "1,18", "rotate 1/18"])
def test_signs_between_figures_are_not_left_out(text: str) -> None:
    assert best(text, ROTATE) is None


def test_a_number_with_something_else_is_no_number() -> None:
    assert best("rotate 118 please", ROTATE) is None


def test_the_answer_wins_over_the_control_phrase_of_the_same_words() -> None:
    assert best("stand by", RADAR) == "answer"
    assert best("checklist, stand by", RADAR) == "control:stand_by"


def test_a_text_that_answers_in_two_ways_is_not_accepted() -> None:
    listen = Listen(
        4, (Candidate("answer", "answer", "set"), Candidate("wrong:0", "competitor", "set"))
    )
    assert judge(propose_text("set", listen, STYLE), listen).decision == "unclear"
