"""The word model: its shape, and whether it tells people's words from their opposites."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import speech_data
from runner.voice.embedding import Embedder, to_samples
from runner.voice.waves import read_wav
from runner.voice.words import LEAST, OTHER, PLACES, features, word_model


def test_it_knows_every_state_word_and_everything_else_as_one_class() -> None:
    model = word_model()
    wanted = {word for pair in speech_data.PAIRS for word in pair} | {OTHER}
    assert set(model.classes) == wanted
    assert model.weights.shape == (len(wanted), PLACES * 96 + 1)


def test_the_chances_of_an_utterance_add_up_to_one() -> None:
    rng = np.random.default_rng(3)
    embedded = rng.normal(0, 10, (7, 96)).astype(np.float32)
    chances = word_model().chances(embedded, 0.6)
    assert all(LEAST <= value <= 0 for value in chances.values())
    # Chances below exp(LEAST) are lifted to it, eleven of them at most.
    assert np.exp(list(chances.values())).sum() == pytest.approx(1, abs=11 * np.exp(LEAST))


def test_an_utterance_of_one_point_has_features() -> None:
    assert features(np.ones((1, 96), dtype=np.float32), 0.0).shape == (PLACES * 96 + 1,)


def test_people_who_were_not_fitted_on_are_heard() -> None:
    folder = speech_data.home()
    if folder is None:
        pytest.skip("RUNNER_SPEECH_DATA names no folder of recordings")
    model, embedder = word_model(), Embedder()
    said = right = 0
    for one in speech_data.states(Path(folder))[::5]:
        if one.known and not speech_data.for_fitting(one.speaker, folder):
            path = embedder.path(to_samples(read_wav(one.file, 16_000)))
            chances = model.chances(path.embedded, path.seconds)
            said += 1
            right += chances[one.word] > chances[speech_data.OPPOSITE[one.word]]
    print(f"{right} of {said} words nearer to themselves than to their opposites")
    # tests/bench/hearing.py measures all of them; synthetic templates alone give 97.7 %.
    assert said > 50 and right >= 0.95 * said
