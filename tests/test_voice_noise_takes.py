"""The pilot's own takes in the noise of the moment: made of it alone, as loud as it is, and only
where there is some."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

import speech_data
from engine_noise import CLIMB, CRUISE, RATE, active_level, at_snr, drone
from matching import state_window
from runner.voice.embedding import loudest, to_samples
from runner.voice.matcher import MatcherRecogniser
from runner.voice.noisy_takes import AROUND_SECONDS, LEAST_SECONDS, NoisyTakes
from runner.voice.waves import read_wav

Sound = np.ndarray


def to_bytes(samples: Sound) -> bytes:
    return bytes(np.clip(np.round(samples), -32_768, 32_767).astype("<i2").tobytes())


def buzz(loudness: float = 3_000.0, seconds: float = 0.6) -> Sound:
    """A vowel-like sound that swells and fades."""
    time = np.arange(round(seconds * RATE)) / RATE
    made = sum(np.sin(2 * np.pi * 140 * k * time) / k for k in range(1, 15))
    return loudness * made * np.hanning(len(time))


class Takes:
    """Takes of two phrases; keeps what it was asked to embed."""

    def __init__(self) -> None:
        self.embedded: list[Sound] = []
        self.sounds = {
            "low": (to_bytes(buzz()), to_bytes(buzz(2_000.0)), to_bytes(buzz(4_000.0))),
            "high": (to_bytes(buzz(3_000.0, 0.4)),),
            "silent": (bytes(RATE),),
        }

    def of(self, text: str) -> Sequence[bytes]:
        return self.sounds.get(text, ())

    def embed(self, sound: Sound) -> Sound:
        self.embedded.append(sound)
        return np.array([[float(np.sum(sound))]], dtype=np.float32)


def engines(seconds: float = 2.0, loudness: float = 300.0, seed: int = 3) -> bytes:
    return to_bytes(drone(seconds, seed, CRUISE) * loudness)


def in_noise(noise: bytes, said: Sound, texts: Sequence[str] = ("low",), most: int = 24) -> Takes:
    """Takes that were made in a noise after something was said in it."""
    takes = Takes()
    noisy = NoisyTakes(takes.of, takes.embed)
    noisy.surroundings(noise)
    noisy.said(said)
    noisy.make(texts, most)
    return takes


def answer(noise: bytes, loudness: float = 2_000.0) -> Sound:
    """An answer in a noise."""
    around = to_samples(noise)[: round(0.6 * RATE)]
    return buzz(loudness)[: len(around)] + around


def test_the_same_takes_in_the_same_noise_are_the_same_bit_for_bit() -> None:
    noise = engines()
    one, other = (in_noise(noise, answer(noise)).embedded for _ in range(2))
    assert len(one) == 3
    assert all(np.array_equal(a, b) for a, b in zip(one, other, strict=True))


@pytest.mark.parametrize("loudness", [60.0, 200.0, 600.0])
def test_the_noise_lies_as_far_below_a_take_as_below_the_answer(loudness: float) -> None:
    noise = engines(loudness=loudness)
    said = answer(noise)
    level = float(np.sqrt(np.mean(to_samples(noise) ** 2)))
    clear = 20 * np.log10(np.sqrt(loudest(said) ** 2 - level**2) / level)
    edge = round(AROUND_SECONDS * RATE)
    for sound, mixed in zip(Takes().sounds["low"], in_noise(noise, said).embedded, strict=True):
        take = to_samples(sound)
        alone = np.concatenate([mixed[:edge], mixed[-edge:]])
        beneath = mixed[edge : edge + len(take)] - take
        for part in (alone, beneath):
            found = 20 * np.log10(loudest(take) / np.sqrt(np.mean(part**2)))
            assert found == pytest.approx(clear, abs=1.5)


def test_the_noise_goes_on_before_and_after_a_take() -> None:
    noise = engines()
    (mixed, *_) = in_noise(noise, answer(noise)).embedded
    edge = round(AROUND_SECONDS * RATE)
    assert len(mixed) == len(buzz()) + 2 * edge
    assert min(np.abs(mixed[:edge]).mean(), np.abs(mixed[-edge:]).mean()) > 0


def test_where_nothing_or_too_little_was_heard_no_take_is_made() -> None:
    for noise in (b"", engines(LEAST_SECONDS * 0.9)):
        takes = Takes()
        noisy = NoisyTakes(takes.of, takes.embed)
        noisy.surroundings(noise)
        noisy.said(buzz())
        noisy.make(("low",), 24)
        assert (takes.embedded, noisy.paths("low")) == ([], ())


def test_digital_silence_around_an_answer_leaves_the_takes_nearly_as_they_are() -> None:
    takes = in_noise(bytes(2 * RATE * 2), buzz())
    edge = round(AROUND_SECONDS * RATE)
    for sound, mixed in zip(takes.sounds["low"], takes.embedded, strict=True):
        take = to_samples(sound)
        assert np.isfinite(mixed).all()
        assert np.abs(mixed[edge : edge + len(take)] - take).max() <= 0.01 * np.abs(take).max()


def test_a_silent_take_and_a_silent_answer_give_finite_sound() -> None:
    noise = engines()
    for takes in (in_noise(noise, answer(noise), ("silent",)), in_noise(noise, np.zeros(RATE))):
        assert takes.embedded
        assert all(np.isfinite(mixed).all() for mixed in takes.embedded)


def test_takes_are_made_once_in_one_noise_and_again_in_another() -> None:
    takes = Takes()
    noisy = NoisyTakes(takes.of, takes.embed)
    first, louder = engines(), engines(loudness=1_500.0, seed=4)
    for noise, made in ((first, 3), (first, 3), (engines(seed=5), 3), (louder, 6), (louder, 6)):
        noisy.surroundings(noise)
        noisy.said(answer(noise))
        noisy.make(("low",), 24)
        assert len(takes.embedded) == made
        assert len(noisy.paths("low")) == 3


def test_no_more_takes_are_made_than_there_is_time_for_and_the_rest_later() -> None:
    noise, takes = engines(), Takes()
    noisy = NoisyTakes(takes.of, takes.embed)
    noisy.surroundings(noise)
    noisy.said(answer(noise))
    noisy.make(("low", "high"), 2)
    assert noisy.paths("low") and not noisy.paths("high")
    noisy.make(("low", "high"), 2)
    assert noisy.paths("high") and len(takes.embedded) == 4


class Enrolled:
    """A person's recordings as takes."""

    def __init__(self, sounds: dict[str, tuple[bytes, ...]]) -> None:
        self.sounds = sounds

    def phrases(self) -> tuple[str, ...]:
        return tuple(self.sounds)

    def takes(self, phrase: str) -> tuple[bytes, ...]:
        return self.sounds.get(phrase, ())


def test_a_take_in_the_noise_of_the_moment_is_nearer_to_what_is_said_in_it() -> None:
    home = speech_data.home()
    if home is None:
        pytest.skip("RUNNER_SPEECH_DATA names no folder of recordings")
    by: dict[str, dict[str, list[bytes]]] = {}
    for one in speech_data.states(home):
        if one.known and one.word in ("left", "right"):
            words = by.setdefault(one.speaker, {"left": [], "right": []})
            words[one.word].append(read_wav(one.file, RATE))
    ready = [words for words in by.values() if min(map(len, words.values())) >= 4][:6]
    assert ready
    nearer = of = 0
    for seed, words in enumerate(ready):
        takes = Enrolled({word: tuple(sounds[:3]) for word, sounds in words.items()})
        matcher = MatcherRecogniser(takes)
        matcher.prepare(state_window("left"))
        noisy = matcher._in_noise
        assert noisy is not None
        for word, sounds in words.items():
            speech = to_samples(sounds[3])
            noise = drone(4.0, seed, CLIMB)
            loud = at_snr(speech, noise[: len(speech) + RATE], 8.0)
            edge = np.zeros(RATE // 2)
            said = np.concatenate([edge, speech, edge])[: len(loud)] + loud
            noisy.surroundings(to_bytes(noise[-2 * RATE :] * active_level(speech) / 10 ** (8 / 20)))
            noisy.said(said)
            noisy.make((word,), 24)
            path = matcher._points(said.astype(np.float32))
            clean = matcher._own_paths(word)
            nearer += distance(path, noisy.paths(word)) < distance(path, clean)
            of += 1
    assert nearer >= 0.8 * of


def distance(path: Sound, others: Sequence[Sound]) -> float:
    from runner.voice.warping import Bank

    return float(Bank(list(others), cosine=True).distances(path).mean())
