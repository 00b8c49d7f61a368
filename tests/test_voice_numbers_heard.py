"""Numbers heard by their words: cut at pauses, searched, weighed, and rather refused than wrong."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import speech_data
import spoken_numbers
from runner.engine.effects import Candidate, Listen, NumberWanted
from runner.engine.events import Proposal
from runner.phrasing.style import Form
from runner.voice.ears import Ears
from runner.voice.judge import judge
from runner.voice.number_hearing import Finding
from runner.voice.number_islands import MOST_TOGETHER, groups
from runner.voice.number_recogniser import NumberRecogniser, goes_on, paused, unsure
from runner.voice.number_search import Segment, Way, ways
from runner.voice.pocket import PocketRecogniser
from runner.voice.utterance import Gate

SPEED = NumberWanted(Form("speed", 0, "kt"), 60, 200)
LISTEN = Listen(1, (Candidate("control:say_again", "control", "say again"),), SPEED)
WORDS = Listen(2, (Candidate("answer", "answer", "low blower"),))


def bursts(*pauses: float) -> np.ndarray:
    """Bursts of noise of 0.3 s with pauses between them, in a quiet room."""
    rng = np.random.default_rng(3)
    pieces = [rng.normal(0, 4, 4800)]
    for pause in (*pauses, 0.3):
        pieces += [rng.normal(0, 3000, 4800), rng.normal(0, 4, round(pause * 16_000))]
    return np.concatenate(pieces).astype(np.float32)


def test_pauses_of_eighty_milliseconds_cut_a_number_and_shorter_ones_inside_a_word_do_not() -> None:
    assert groups(bursts(0.1, 0.12))[0] == 3
    assert groups(bursts(0.1, 0.02))[0] == 2
    assert groups(np.zeros(100, dtype=np.float32)) == (0, ())


def test_neighbouring_islands_are_looked_at_together_too_but_not_as_long_as_no_word_is() -> None:
    count, found = groups(bursts(0.1, 0.1, 0.1, 0.1))
    spans = {(group.first, group.last) for group in found}
    assert {(n, n + 1) for n in range(count)} <= spans
    assert (0, 2) in spans
    assert all(last - first <= MOST_TOGETHER for first, last in spans)
    assert all(group.end - group.start <= 1.1 * 16_000 for group in found)


def test_what_has_more_islands_than_any_number_is_not_searched() -> None:
    count, found = groups(bursts(*[0.1] * 20))
    assert count > 16 and found == ()


def segment(first: int, last: int, **chances: float) -> Segment:
    """A segment with these chances."""
    return Segment(first, last, 0.3, chances, chances)


chances = st.fixed_dictionaries({word: st.floats(-12, 0) for word in ("one", "two", "five")})


@given(st.integers(1, 5), st.data())
def test_the_likeliest_way_is_that_of_trying_them_all(count: int, data: st.DataObject) -> None:
    segments = [
        Segment(first, last, 0.3, made, made)
        for first in range(count)
        for last in range(first + 1, min(first + 3, count) + 1)
        for made in [data.draw(chances)]
    ]

    def best(at: int) -> float:
        if at == count:
            return 0.0
        return max(max(s.weighed.values()) + best(s.last) for s in segments if s.first == at)

    found = ways(count, segments)
    assert found[0].score == pytest.approx(best(0))
    assert [way.score for way in found] == sorted((way.score for way in found), reverse=True)
    assert len({way.words for way in found}) == len(found)


def test_every_island_belongs_to_a_word() -> None:
    assert ways(2, [segment(0, 1, one=-0.1)]) == ()
    (only,) = ways(2, [segment(0, 2, one=-0.1)])
    assert only.words == ("one",)


def finding(words: str, value: float) -> Finding:
    """A number heard as these words."""
    said = tuple(words.split())
    return Finding(Way(said, (), 0.0), value, (0.0,), False)


def heard(candidate: str | None, text: str, value: float | None = None, margin: float = 0.9):
    """What PocketSphinx proposes."""
    return (Proposal("pocketsphinx", candidate, text, 0.8, margin, value),)


def test_a_number_is_not_decided_against_one_that_differs_by_an_ending() -> None:
    one = finding("one one eight", 118.0)
    against = paused(one, heard("number", "one one eighteen", 1118.0), SPEED, own=False)
    assert against is not None
    near = paused(finding("eight", 8.0), heard("number", "eighty", 80.0), SPEED, own=False)
    assert near is not None and not near.allowed
    far = paused(one, heard("number", "two two five", 225.0), SPEED, own=False)
    assert far is not None and far.allowed


def test_words_that_were_run_together_are_not_taken_for_fewer() -> None:
    for words, value, all_of_it in (
        ("one five", 15.0, "one oh five"),
        ("two two", 22.0, "two zero two"),
        ("one one", 11.0, "one one nine"),
    ):
        fewer = paused(finding(words, value), heard("number", all_of_it, 0.0), SPEED, own=False)
        assert fewer is not None
        assert not fewer.allowed
    # Where no number was heard, words that sound like those of one count as them.
    for text, allowed in (("to zero to you", False), ("to zero you", True)):
        fewer = paused(finding("zero two", 2.0), heard(None, text), SPEED, own=False)
        assert fewer is not None
        assert fewer.allowed is allowed
    same = paused(finding("one nine", 19.0), heard("number", "one niner", 19.0), SPEED, own=False)
    assert same is not None
    assert same.allowed


def test_a_word_alone_is_believed_only_where_pocketsphinx_hears_it_too() -> None:
    long = finding("three", 3.0)
    for said, allowed in ((heard("number", "three", 3.0), True), (heard(None, "tree"), False)):
        alone = paused(long, said, SPEED, own=False)
        assert alone is not None
        assert alone.allowed is allowed


def test_what_is_plain_and_below_the_range_is_the_beginning_of_a_number() -> None:
    def begun(value: float, chance: float) -> bool:
        return goes_on(Finding(Way(("one",), (), 0.0), value, (chance,), False), SPEED)

    assert begun(1.0, -0.1)
    assert not begun(1.0, -3.0)
    assert not begun(118.0, -0.1)
    assert not begun(1118.0, -0.1)


def test_pocketsphinx_alone_is_not_believed_in_a_number_and_is_in_a_control_phrase() -> None:
    number = unsure(None, "", 0.0, heard("number", "one one eight", 118.0))
    assert judge(number, LISTEN).decision != "accept"
    number = unsure(
        finding("one one nine", 119.0), "", 0.4, heard("number", "one one eight", 118.0)
    )
    assert judge(number, LISTEN).decision == "unclear"
    control = unsure(None, "", 0.0, heard("control:say_again", "say again"))
    assert judge(control, LISTEN).candidate == "control:say_again"


@pytest.fixture(scope="module")
def pocket() -> PocketRecogniser:
    return PocketRecogniser()


def test_numbers_have_a_recogniser_of_their_own(pocket: PocketRecogniser) -> None:
    numbers = NumberRecogniser(None, pocket)
    ears = Ears([numbers, pocket], Gate())
    assert ears._crew(LISTEN) == (numbers,)
    assert ears._crew(WORDS) == (pocket,)


def test_too_little_sound_and_silence_are_no_number(pocket: PocketRecogniser) -> None:
    numbers = NumberRecogniser(None, pocket)
    numbers.prepare(LISTEN)
    numbers.begin()
    assert numbers.propose() == ()
    hiss = np.random.default_rng(1).normal(0, 6, 16_000).astype("<i2").tobytes()
    numbers.feed(hiss)
    assert judge(numbers.propose(), LISTEN).decision != "accept"
    numbers.begin()
    numbers.feed(bytes(32_000))
    assert judge(numbers.propose(), LISTEN).decision != "accept"


@pytest.fixture(scope="module")
def people() -> dict[str, dict[str, list[Path]]]:
    folder = speech_data.home()
    if folder is None or not (folder / "digits").is_dir():
        pytest.skip("RUNNER_SPEECH_DATA names no folder of recordings with digits")
    return speech_data.digits(folder)


def test_people_are_heard_right_or_asked_again(
    people: dict[str, dict[str, list[Path]]], pocket: PocketRecogniser
) -> None:
    right = wrong = 0
    for speaker, takes in people.items():
        rng = np.random.default_rng(31)
        numbers = NumberRecogniser(None, pocket, spoken_numbers.model_for(speaker))
        for _ in range(8):
            listen = spoken_numbers.number_window(3)
            said = spoken_numbers.spoken(takes, 3, spoken_numbers.PAUSES, rng)
            verdict = hear(numbers, listen, said.sound)
            right += verdict == float(said.digits)
            wrong += verdict is not None and verdict != float(said.digits)
    assert wrong == 0 and right >= 0.6 * 8 * len(people)


def test_digits_that_changed_places_are_never_the_number_that_was_wanted(
    people: dict[str, dict[str, list[Path]]], pocket: PocketRecogniser
) -> None:
    listen = spoken_numbers.number_window(3)
    for speaker, takes in people.items():
        rng = np.random.default_rng(37)
        numbers = NumberRecogniser(None, pocket, spoken_numbers.model_for(speaker))
        for said, wanted in (("180", 108.0), ("108", 180.0), ("119", 118.0), ("190", 109.0)):
            files = [takes[digit][rng.integers(len(takes[digit]))] for digit in said]
            parts = [spoken_numbers.sound_of(file) for file in files]
            sound = spoken_numbers.joined(parts, spoken_numbers.PAUSES, rng)
            assert hear(numbers, listen, sound) != wanted, f"{speaker}: {said}"


def hear(numbers: NumberRecogniser, listen: Listen, sound: bytes) -> float | None:
    """The number that is accepted."""
    numbers.prepare(listen)
    numbers.begin()
    numbers.feed(sound)
    return judge(numbers.propose(), listen).value
