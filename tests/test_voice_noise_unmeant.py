"""A radio's chatter and a keyboard are no answers, however like one a part of them sounds."""

from __future__ import annotations

import random
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

import speech_data
from engine_noise import RATE, active_level, keys, over_the_radio
from matching import controls, state_window
from runner.engine.effects import Listen
from runner.voice.acceptance import KINDS, KNOWN_FROM, Kind, stretch_of, weights
from runner.voice.ears import Ears
from runner.voice.embedding import to_samples, trimmed
from runner.voice.matcher import MatcherRecogniser
from runner.voice.utterance import FRAME_BYTES, FRAME_SECONDS, Gate
from runner.voice.voice_activity import voice_detector
from runner.voice.waves import read_wav

SPEECH = 2_000.0


@pytest.fixture(scope="module")
def ears() -> Ears:
    return Ears([MatcherRecogniser()], Gate(voice_detector()))


def accepted(ears: Ears, sound: np.ndarray, listen: Listen, seed: int) -> str:
    """What is accepted of a sound in a room, or nothing."""
    around = np.zeros(2 * RATE)
    whole = np.concatenate([around, sound, around])
    whole = whole + np.random.default_rng(seed).normal(0, 8, len(whole))
    data = np.clip(np.round(whole), -32_768, 32_767).astype("<i2").tobytes()
    ears.forget()
    ears.open(listen)
    for number in range(len(data) // FRAME_BYTES):
        frame = data[number * FRAME_BYTES : (number + 1) * FRAME_BYTES]
        outcome = ears.take(frame, number * FRAME_SECONDS)
        if outcome is not None and outcome.verdict.decision == "accept":
            return outcome.verdict.candidate or ""
    return ""


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("noisy", [False, True])
def test_what_is_far_longer_or_shorter_than_an_answer_is_none_whatever_it_sounds_like(
    kind: Kind, noisy: bool
) -> None:
    fitted, place = weights(kind, noisy), stretch_of(kind)
    shorter, longer = fitted.stretch
    assert shorter < 0 < longer
    for length, allowed in ((longer + 0.01, False), (shorter - 0.01, False), (0.0, True)):
        features = list(fitted.mean)
        features[place] = length
        known, _ = fitted.judge(features)
        assert (known > 0.0) is allowed
        assert allowed or known < KNOWN_FROM


def transmissions(folder: Path) -> Iterator[tuple[np.ndarray, tuple[str, str]]]:
    """Three to six words over a radio, by people of the reporting half; none is of the pair."""
    rng = random.Random(6)
    every = speech_data.states(folder)
    those = [o for o in every if not speech_data.for_fitting(o.speaker, folder)]
    for number in range(25):
        pair = speech_data.PAIRS[number % len(speech_data.PAIRS)]
        parts = []
        for one in rng.sample([o for o in those if o.word not in pair], rng.randint(3, 6)):
            speech = trimmed(to_samples(read_wav(one.file, RATE)))
            parts += [speech * (SPEECH / active_level(speech)), np.zeros(rng.randrange(RATE // 20))]
        yield over_the_radio(np.concatenate(parts)), pair


def test_most_of_a_radios_chatter_is_no_answer(ears: Ears) -> None:
    home = speech_data.home()
    if home is None:
        pytest.skip("RUNNER_SPEECH_DATA names no folder of recordings")
    commands = controls()
    taken = [
        accepted(ears, sound, state_window(pair[0], commands), seed)
        for seed, (sound, pair) in enumerate(transmissions(home))
    ]
    # Where somebody pauses within, a word may be taken: tests/bench/hearing_unmeant.py measures it.
    assert sum(map(bool, taken)) <= 0.16 * len(taken), taken


def test_a_keyboard_is_no_answer(ears: Ears) -> None:
    commands = controls()
    for number, pair in enumerate(speech_data.PAIRS):
        struck = keys(5.0, 70 + number) * 3 * SPEECH
        assert accepted(ears, struck, state_window(pair[0], commands), number) == ""
