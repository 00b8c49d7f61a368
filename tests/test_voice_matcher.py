"""The matcher: its templates, its acceptance, and where it stands aside."""

from __future__ import annotations

from pathlib import Path

import pytest

import speech_data
from matching import state_window
from runner.engine.effects import Candidate, Listen, NumberWanted
from runner.phrasing.style import Form
from runner.voice.acceptance import FEATURES, KINDS, OWN_FEATURES, terms, weights
from runner.voice.ears import Ears
from runner.voice.embedding import Embedder
from runner.voice.judge import judge
from runner.voice.made_templates import MadeTemplates
from runner.voice.matcher import MatcherRecogniser
from runner.voice.pocket import PocketRecogniser
from runner.voice.prototypes import Prototypes, transform
from runner.voice.utterance import Gate
from runner.voice.warping import Bank, unit
from runner.voice.waves import read_wav

NUMBER = Listen(1, (), NumberWanted(Form("speed", 0, "kt"), 60, 200))
BLOWERS = Listen(
    2,
    (
        Candidate("answer", "answer", "low blower"),
        Candidate("wrong:0", "competitor", "high blower"),
    ),
)


@pytest.fixture(scope="module")
def matcher() -> MatcherRecogniser:
    return MatcherRecogniser()


def test_phrases_of_the_shipped_lists_have_a_path_for_each_voice() -> None:
    prototypes = Prototypes()
    for text in ("low blower", "both low", "on", "say again"):
        paths = prototypes.paths(text)
        assert len(paths) == prototypes.voices
        assert all(path.shape[1] == transform().matrix.shape[1] for path in paths)


def test_a_phrase_is_put_together_from_shorter_ones_and_an_unknown_word_is_none() -> None:
    prototypes = Prototypes()
    assert "blower seven" not in prototypes
    (first, *_), (one, *_), (two, *_) = (
        prototypes.paths(text) for text in ("blower seven", "blower", "seven")
    )
    assert len(first) == len(one) + len(two)
    assert prototypes.paths("xylograph") == ()


def test_an_utterance_is_nearest_to_itself_whatever_stands_beside_it() -> None:
    prototypes = Prototypes()
    paths = [prototypes.paths(text)[0] for text in ("low blower", "high blower", "yes", "stop")]
    bank = Bank([unit(path) for path in paths], cosine=True)
    for number, path in enumerate(paths):
        distances = bank.distances(unit(path))
        assert distances.argmin() == number
        assert distances[number] == pytest.approx(0, abs=1e-5)


def test_the_shipped_weights_fit_the_features() -> None:
    for kind in KINDS:
        made = weights(kind)
        count = OWN_FEATURES if kind.startswith("own") else FEATURES
        assert len(made.mean) == len(made.spread) == count
        assert len(made.right) == count + 1
        assert len(made.known) == len(terms([0.0] * count)) + 1


def test_numbers_are_left_to_another_recogniser(matcher: MatcherRecogniser) -> None:
    assert not matcher.fits(NUMBER) and matcher.fits(BLOWERS)
    unknown = Listen(3, (Candidate("answer", "answer", "xylograph"),))
    assert not matcher.fits(unknown)


def test_words_that_nobody_has_said_are_said_by_this_machine_s_own_voices(tmp_path: Path) -> None:
    made = MadeTemplates(Embedder(), folder=tmp_path)
    matcher = MatcherRecogniser(made=made)
    unknown = Listen(4, (Candidate("answer", "answer", "zephyr locked"),))
    assert not matcher.fits(unknown)
    assert made.wait(60)
    again = Listen(5, unknown.candidates)
    assert matcher.fits(again)
    matcher.close()


def test_one_recogniser_hears_in_each_window(matcher: MatcherRecogniser) -> None:
    pocket = PocketRecogniser()
    ears = Ears([matcher, pocket], Gate())
    assert ears._crew(BLOWERS) == (matcher,)
    assert ears._crew(NUMBER) == (pocket,)


def test_too_little_sound_proposes_nothing(matcher: MatcherRecogniser) -> None:
    matcher.prepare(BLOWERS)
    matcher.begin()
    matcher.feed(bytes(1000))
    assert matcher.propose() == ()


def test_people_s_state_words_are_told_from_their_opposites(matcher: MatcherRecogniser) -> None:
    folder = speech_data.home()
    if folder is None:
        pytest.skip("RUNNER_SPEECH_DATA names no folder of recordings")
    right = opposite = said = 0
    for one in speech_data.states(Path(folder))[::9]:
        if not one.known or speech_data.for_fitting(one.speaker, folder):
            continue
        listen = state_window(one.word)
        matcher.prepare(listen)
        matcher.begin()
        matcher.feed(read_wav(one.file, 16_000))
        verdict = judge(matcher.propose(), listen)
        said += 1
        right += verdict.decision == "accept" and verdict.candidate == one.word
        opposite += verdict.decision == "accept" and verdict.candidate != one.word
    print(f"{said} words: {right} right, {opposite} taken for the opposite")
    # Measured by tests/bench/hearing.py on all of them; here only that it stays of use.
    assert right > 0.4 * said and opposite <= 0.05 * said
