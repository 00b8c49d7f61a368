"""The judge: deaf rather than wrong, and never a favourite."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.engine.effects import Candidate, Listen, NumberWanted
from runner.engine.events import Proposal
from runner.phrasing.style import Form
from runner.voice.judge import WITNESS, Around, judge

LISTEN = Listen(
    7,
    (
        Candidate("answer", "answer", "both low"),
        Candidate("wrong:0", "competitor", "both high"),
        Candidate("control:reject", "control", "reject"),
        Candidate("call:landing", "call", "landing list"),
    ),
    NumberWanted(Form("speed", 0, "kt"), 60, 200),
)


def vote(candidate: str | None, text: str, **more: object) -> Proposal:
    """What a sure recogniser proposes."""
    return replace(Proposal("pocketsphinx", candidate, text, 0.9, 1.0), **more)  # type: ignore[arg-type]


def test_a_sure_proposal_is_accepted_with_its_text() -> None:
    verdict = judge([vote("answer", "both low")], LISTEN)
    assert (verdict.decision, verdict.candidate, verdict.text) == ("accept", "answer", "both low")


def test_nothing_proposed_is_rejected() -> None:
    assert judge([], LISTEN).decision == "reject"


def test_what_is_none_of_the_answers_is_rejected_and_unclear_when_it_was_near() -> None:
    far = vote(None, "window kitchen", confidence=0.1)
    near = vote(None, "both lows", confidence=0.9)
    assert judge([far], LISTEN).decision == "reject"
    assert judge([near], LISTEN).decision == "unclear"


def test_a_typed_line_was_meant_for_runner_whatever_it_says() -> None:
    typed = vote(None, "banana", recogniser="text", confidence=0.0)
    assert judge([typed], LISTEN).decision == "unclear"


def test_recognisers_that_disagree_accept_nothing() -> None:
    votes = [vote("answer", "both low"), vote("wrong:0", "both high", recogniser="vosk")]
    assert judge(votes, LISTEN).decision == "unclear"
    votes = [vote("answer", "both low"), vote(None, "window", recogniser="vosk")]
    assert judge(votes, LISTEN).decision == "unclear"


def test_two_recognisers_that_heard_different_numbers_accept_neither() -> None:
    votes = [
        vote("number", "one one eight", value=118.0),
        vote("number", "one one nine", value=119.0, recogniser="vosk"),
    ]
    assert judge(votes, LISTEN).decision == "unclear"


def test_the_best_proposal_of_each_recogniser_is_its_vote() -> None:
    votes = [vote("answer", "both low"), vote("wrong:0", "both high", margin=0.0)]
    assert judge(votes, LISTEN).candidate == "answer"


def test_a_single_word_needs_a_wider_margin_than_a_phrase() -> None:
    assert judge([vote("answer", "both low", margin=0.5)], LISTEN).decision == "accept"
    assert judge([vote("answer", "low", margin=0.5)], LISTEN).decision == "unclear"


@pytest.mark.parametrize("candidate", ["control:reject", "call:landing"])
def test_what_ends_or_opens_a_list_needs_more_than_an_answer(candidate: str) -> None:
    assert judge([vote(candidate, "two words", margin=0.5)], LISTEN).decision == "unclear"
    assert judge([vote(candidate, "two words", margin=0.9)], LISTEN).decision == "accept"


def test_a_spoken_number_that_makes_no_sense_is_not_accepted_and_a_typed_one_is() -> None:
    far = vote("number", "nine nine nine", value=999.0)
    assert judge([far], LISTEN).decision == "unclear"
    assert judge([replace(far, recogniser="text")], LISTEN).value == 999.0


def test_a_candidate_of_another_window_counts_for_nothing() -> None:
    assert judge([vote("option:wet", "wet", confidence=0.2)], LISTEN).decision == "reject"


def test_no_number_is_accepted_where_none_is_wanted() -> None:
    listen = replace(LISTEN, number=None)
    heard = vote("number", "one one eight", value=118.0, confidence=0.2)
    assert judge([heard], listen).decision == "reject"


proposals = st.builds(
    Proposal,
    st.sampled_from(["pocketsphinx", "vosk", "text"]),
    st.sampled_from(["answer", "wrong:0", "control:reject", "number", "gone", None]),
    st.sampled_from(["both low", "low", ""]),
    st.floats(0, 1),
    st.floats(0, 1),
    st.sampled_from([None, 118.0, 999.0]),
)


def test_what_was_written_down_nearly_like_the_answer_is_no_witness_against_it() -> None:
    sure = vote("answer", "both low")
    for text, decision in (
        ("both lo", "accept"),
        ("", "accept"),
        ("window", "unclear"),
        ("both highs", "unclear"),
    ):
        written = vote(None, text, recogniser="whisper", confidence=0.9, margin=0.0)
        assert judge([sure, written], LISTEN).decision == decision, text


def test_what_is_nearly_a_number_stays_a_witness_against_it() -> None:
    sure = vote("number", "one one eight", value=118.0)
    written = vote(None, "one one ate", recogniser="whisper", margin=0.0)
    assert judge([sure, written], LISTEN).decision == "unclear"


def test_a_number_in_noise_is_taken_when_it_was_heard_twice_running() -> None:
    heard = vote("number", "one one eight", recogniser="numbers", value=118.0, confidence=0.8)
    other = replace(heard, text="one one nine", value=119.0)
    assert judge([heard], LISTEN).decision == "accept"
    assert judge([heard], LISTEN, Around(noisy=True)).decision == "unclear"
    assert judge([heard], LISTEN, Around(True, (other,))).decision == "unclear"
    assert judge([heard], LISTEN, Around(True, (heard,))).value == 118.0
    answer = vote("answer", "both low")
    assert judge([answer], LISTEN, Around(noisy=True)).decision == "accept"


def test_a_number_in_noise_is_taken_at_once_when_it_is_heard_by_two() -> None:
    heard = vote("number", "one one eight", recogniser="numbers", value=118.0)
    both = [heard, replace(heard, recogniser="vosk")]
    assert judge(both, LISTEN, Around(noisy=True)).decision == "accept"


def test_the_matcher_has_to_be_surer_of_a_phrase_than_of_a_word() -> None:
    for text, margin, decision in (
        ("low", 0.95, "accept"),
        ("both low", 0.95, "unclear"),
        ("both low", 0.99, "accept"),
    ):
        heard = vote("answer", text, recogniser="matcher", margin=margin)
        for around in (Around(), Around(noisy=True)):
            assert judge([heard], LISTEN, around).decision == decision, (text, margin)


@pytest.mark.parametrize(("text", "value"), [("five", 5.0), ("zero five", 5.0), ("ninety", 90.0)])
def test_what_may_be_left_of_a_longer_number_is_not_taken_in_noise(text: str, value: float) -> None:
    wide = replace(LISTEN, number=NumberWanted(Form("speed", 0, "kt"), 0, 999))
    heard = vote("number", text, recogniser="numbers", value=value)
    assert judge([heard], wide).decision == "accept"
    assert judge([heard], wide, Around(True, (heard,))).decision == "unclear"


def test_a_two_that_may_have_been_a_ty_is_not_taken_in_noise_where_both_make_sense() -> None:
    wide = replace(LISTEN, number=NumberWanted(Form("bmep", 0, "psi"), 0, 999))
    longer = vote("number", "nine two six", recogniser="numbers", value=926.0)
    shorter = vote("number", "ninety six", recogniser="numbers", value=96.0)
    for heard in (longer, shorter):
        assert judge([heard], wide).decision == "accept"
        assert judge([heard], wide, Around(True, (heard,))).decision == "unclear"
    # No aeroplane of the propeller age reads back 926 knots: there the shorter one was said.
    speed = replace(LISTEN, number=NumberWanted(Form("speed", 0, "kt"), 0, 999))
    assert judge([longer], speed, Around(True, (longer,))).decision == "unclear"
    assert judge([shorter], speed, Around(True, (shorter,))).value == 96.0


def test_pocketsphinx_alone_decides_on_no_number_in_noise() -> None:
    heard = vote("number", "one one eight", value=118.0)
    assert judge([heard], LISTEN, Around(True, (heard,))).decision == "unclear"


def test_another_answer_that_is_as_near_in_noise_holds_the_answer_up_and_nothing_else() -> None:
    heard = vote("answer", "both low", recogniser="matcher")
    for named, decision in (("answer", "accept"), ("wrong:0", "unclear")):
        witness = vote(named, "both high", recogniser=WITNESS, margin=0.0)
        assert judge([heard, witness], LISTEN, Around(True)).decision == decision
        assert judge([witness], LISTEN, Around(True)).decision == "reject"


@given(st.lists(proposals, max_size=4))
def test_swapping_right_and_wrong_swaps_the_verdict_and_nothing_else(votes: list[Proposal]) -> None:
    swap = {"answer": "wrong:0", "wrong:0": "answer"}
    swapped = [replace(v, candidate=swap.get(v.candidate or "", v.candidate)) for v in votes]
    one, other = judge(votes, LISTEN), judge(swapped, LISTEN)
    assert one.decision == other.decision
    assert swap.get(one.candidate or "", one.candidate) == other.candidate


@given(st.lists(proposals, max_size=4))
def test_only_what_a_recogniser_proposed_is_accepted(votes: list[Proposal]) -> None:
    verdict = judge(votes, LISTEN)
    if verdict.decision == "accept":
        assert (verdict.candidate, verdict.value) in {(v.candidate, v.value) for v in votes}
