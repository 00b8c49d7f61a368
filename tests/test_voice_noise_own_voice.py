"""Runner's own voice in the microphone is no answer; somebody else's meanwhile is one."""

from __future__ import annotations

import random
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from engine_noise import at_snr, drone
from runner.engine.events import Verdict
from runner.voice.echo import at_hearing_rate, likeness
from runner.voice.mouth import ECHO_FROM, Mouth
from runner.voice.settings import VoiceSettings
from runner.voice.waves import RATE as PLAYED
from runner.voice.waves import read_wav
from sound import speak_to_file, voices

RATE = 16_000
TEXT = "expected cowl flaps open, heard cowl flaps closed. Cowl flaps"
HIGH = Verdict("accept", "wrong:0", None, "both high", "margin 0.99")
"""Heard in Runner's words, but none of them."""


@pytest.fixture(scope="module")
def said(tmp_path_factory: pytest.TempPathFactory) -> Iterator[bytes]:
    """Runner's words at 48 kHz, as they are played."""
    if not voices():
        pytest.skip("neither flite nor festival has a voice here")
    yield read_wav(speak_to_file(voices()[0], TEXT, tmp_path_factory.mktemp("said")), PLAYED)


def samples(sound: bytes) -> np.ndarray:
    return np.frombuffer(sound, dtype="<i2").astype(np.float32)


def to_bytes(sound: np.ndarray) -> bytes:
    return bytes(np.clip(np.round(sound), -32_768, 32_767).astype("<i2").tobytes())


def mouth(sound: bytes, began: float) -> Mouth:
    """Somebody who has said it, through the same calls as a player's."""
    made = Mouth(VoiceSettings(speak="none"), lambda _: None, lambda _: None)
    made._texts[1], made._sounds[1] = TEXT, at_hearing_rate(sound)
    made.take("begun", (1, began))
    made.take("ended", (1, True, began + len(sound) / 2 / PLAYED))
    return made


def heard(sound: bytes, decibels: float, late: float, noise: np.ndarray) -> bytes:
    """What a microphone hears of it: softer, later, in noise."""
    played = samples(at_hearing_rate(sound)) * 10 ** (decibels / 20)
    whole = np.concatenate([np.zeros(round(late * RATE), dtype=np.float32), played])
    return to_bytes(whole + noise[: len(whole)])


def room() -> np.ndarray:
    return np.random.default_rng(3).normal(0, 8, 10 * RATE)


@pytest.mark.parametrize("decibels", [-20.0, -10.0, 0.0])
@pytest.mark.parametrize("late", [0.0, 0.15, 0.35])
def test_what_runner_plays_is_known_again_however_softly_and_late(
    said: bytes, decibels: float, late: float
) -> None:
    speaker = mouth(said, 100.0)
    sound = heard(said, decibels, late, room())
    for place in (0.0, 0.8, 1.6):
        piece = sound[round((late + place) * RATE) * 2 :]
        found = speaker.disown(HIGH, 100.0 + late + place + 0.24, piece)
        assert (found.decision, found.reason) == ("reject", "Runner's own voice")


def test_it_is_known_again_above_engines(said: bytes) -> None:
    played = samples(at_hearing_rate(said))
    noise = at_snr(played, np.resize(drone(6.0, 4), len(played)), 10.0)
    assert likeness(to_bytes(played + noise), at_hearing_rate(said), 0.0) >= ECHO_FROM


def test_an_answer_given_meanwhile_is_taken(said: bytes, tmp_path: Path) -> None:
    speaker = mouth(said, 100.0)
    rng = random.Random(2)
    taken = []
    for voice in voices()[1:]:
        for text in ("four in low", "set and locked", "armed"):
            sound = samples(read_wav(speak_to_file(voice, text, tmp_path), RATE))
            at = rng.uniform(0.2, 1.5)
            piece = to_bytes(sound + room()[: len(sound)])
            taken.append(speaker.disown(HIGH, 100.0 + at + 0.24, piece).decision == "accept")
    assert sum(taken) >= 0.9 * len(taken)


def test_what_is_heard_long_before_or_after_is_not_compared(said: bytes) -> None:
    speaker = mouth(said, 100.0)
    sound = heard(said, 0.0, 0.0, room())
    assert speaker.disown(HIGH, 98.0, sound).decision == "accept"
    assert speaker.disown(HIGH, 110.0, sound).decision == "accept"


def test_its_own_unclear_words_are_not_asked_for_again(said: bytes) -> None:
    speaker = mouth(said, 100.0)
    unclear = Verdict("unclear", text="both high")
    sound = heard(said, -10.0, 0.1, room())
    assert speaker.disown(unclear, 100.34, sound).decision == "reject"


def test_silence_and_nothing_are_like_nothing(said: bytes) -> None:
    played = at_hearing_rate(said)
    for sound in (b"", bytes(200), bytes(RATE)):
        assert likeness(sound, played, 0.2) < ECHO_FROM
    assert likeness(played, b"", 0.0) == -1.0
