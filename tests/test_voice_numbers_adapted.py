"""The model of words moved towards a pilot's own takes of digits."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import speech_data
from runner.phrasing.numeral_words import DIGIT_WORDS
from runner.voice.embedding import Embedder, Utterance
from runner.voice.number_adaptation import Rows, adapted, kept_rows, rows
from runner.voice.number_model import number_model
from runner.voice.takes import DERIVED, Takes
from runner.voice.words import OTHER, WordModel, features
from spoken_numbers import model_for, sound_of

RATE = 16_000
TAKES, TRIED = 3, 4


class Counting:
    """An embedder that is made once and counts what it embeds."""

    def __init__(self) -> None:
        self.count = 0
        self._embedder = Embedder()

    def __call__(self, sound: np.ndarray) -> Utterance:
        self.count += 1
        return self._embedder.path(sound)


def tone(pitch: float) -> bytes:
    """A sound that is as good as any to be kept."""
    time = np.arange(RATE // 2) / RATE
    shaped = np.sin(2 * np.pi * pitch * time) * np.hanning(len(time))
    return bytes((8_000 * shaped).astype("<i2").tobytes())


def told_apart(words: WordModel, those: dict[str, list[Utterance]]) -> tuple[float, float]:
    """The share of utterances whose likeliest word is theirs, and their mean chance in logs."""
    found, chances = [], []
    for word, utterances in those.items():
        for said in utterances:
            chance = words.chances(said.embedded, said.seconds)
            found.append(max(chance, key=lambda name: chance[name]) == word)
            chances.append(chance[word])
    return float(np.mean(found)), float(np.mean(chances))


def test_a_persons_digits_are_told_apart_better_after_three_takes_of_each() -> None:
    home = speech_data.home()
    if home is None:
        pytest.skip("RUNNER_SPEECH_DATA names no folder of recordings")
    embedder = Embedder()
    before, after = [], []
    for speaker, takes in speech_data.digits(home).items():
        words = model_for(speaker).words
        own = {DIGIT_WORDS[int(d)]: [sound_of(f) for f in fs[:TAKES]] for d, fs in takes.items()}
        tried = {
            DIGIT_WORDS[int(d)]: [embedder.path(sound_of(f)) for f in fs[TAKES : TAKES + TRIED]]
            for d, fs in takes.items()
        }
        before.append(told_apart(words, tried))
        after.append(told_apart(adapted(words, rows(own, embedder.path)), tried))
    if not before:
        pytest.skip("RUNNER_SPEECH_DATA holds no digits")
    share, chance = np.mean(after, axis=0)
    assert chance > np.mean(before, axis=0)[1] / 2
    assert share >= np.mean(before, axis=0)[0]


def test_the_same_takes_give_the_same_rows_and_nothing_gives_no_change() -> None:
    sounds = {"one": [np.frombuffer(tone(300), "<i2").astype(np.float32)]}
    embedder = Embedder()
    one, other = rows(sounds, embedder.path), rows(sounds, embedder.path)
    assert np.array_equal(one.points, other.points)
    assert one.labels == other.labels
    assert {"one", OTHER} == set(one.labels)
    words = number_model().words
    assert adapted(words, Rows(np.zeros((0, 1)), ())) is words


def test_what_the_takes_say_is_likelier_and_what_they_leave_out_stays() -> None:
    words = number_model().words
    embedder = Embedder()
    heard = embedder.path(np.frombuffer(tone(300), "<i2").astype(np.float32))
    row = features(heard.embedded, heard.seconds).astype(np.float32)
    moved = adapted(words, Rows(np.array([row] * 4), ("seven",) * 4))
    before = words.chances(heard.embedded, heard.seconds)
    after = moved.chances(heard.embedded, heard.seconds)
    assert after["seven"] > max(before["seven"], -0.2)
    silent = words.mean
    scores = [m.weights @ ((silent - m.mean) / m.spread) + m.bias for m in (words, moved)]
    assert np.abs(scores[1] - scores[0]).max() < np.abs(after["seven"] - before["seven"])


def test_what_was_worked_out_is_kept_until_the_takes_change_and_goes_with_them(
    tmp_path: Path,
) -> None:
    takes = Takes(tmp_path / "anna")
    for pitch in (300.0, 320.0):
        takes.add("one", tone(pitch))
    embed = Counting()

    def again() -> Rows:
        return kept_rows(takes, {"one": takes.takes("one")}, embed)

    first = again()
    assert embed.count > 0
    file = takes.folder / DERIVED
    assert file.stat().st_mode & 0o077 == 0
    embed.count = 0
    kept = again()
    assert embed.count == 0
    assert kept.labels == first.labels
    assert np.array_equal(kept.points, first.points)
    file.write_bytes(b"PK\x03\x04 damaged")
    assert again().labels == first.labels
    assert embed.count > 0
    takes.add("one", tone(340.0))
    embed.count = 0
    assert len(again().labels) > len(first.labels)
    assert embed.count > 0
    takes.clear()
    assert not takes.folder.exists()
