"""Synthetic pilots for runs by voice: changed voices, what strangers say, numbers nearly right."""

from __future__ import annotations

import random
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

import engine_noise
from runner.voice.prototypes import Prototypes
from runner.voice.template_voices import Crew, Speaker
from runner.voice.waves import read_wav
from sound import changed, same_speaker, speak_to_file

RATE = 16_000
SPEECH = 2_000.0
"""Root mean square of speech, of 32,767."""

ACCENTS = ("espeak:gmw/en-US-nyc", "espeak:gmw/en-GB-x-gbclan")
CHATTER = (
    "I will call you back after lunch about the weekend",
    "the weather looks better in the north this morning",
    "could somebody close the door behind me please",
    "traffic on final is a heavy behind a light",
    "where did you put the coffee",
    "did you see the game last night",
    "good morning tower we are number two at the holding point",
    "wind two four zero at eleven knots cleared to land",
    "that was quite a bumpy ride",
    "hold on a second my phone is ringing",
    "what time is dinner",
    "nice view from up here",
    "contact ground on one two one decimal nine",
    "I think it is going to rain",
    "oh well never mind",
    "hello",
    "thank you",
    "who is that over there",
    "dad can I have the tablet",
    "the cat wants to go out",
)


class Pilot:
    """A synthetic voice, at a pitch of its own; every utterance at a tempo of its own."""

    def __init__(self, voice: str, rng: random.Random, folder: Path) -> None:
        self.voice = voice
        self.pitch = rng.choice((-250, -150, -60, 60, 150, 250))
        self._rng = rng
        self._folder = folder
        self._crew: Crew | None = None

    def say(self, text: str) -> tuple[NDArray[np.float32], float]:
        """The samples of a text, at the usual level, and their tempo."""
        tempo = self._rng.choice((0.85, 0.93, 1.0, 1.08, 1.18))
        file = changed(self._base(text), self._folder, self.pitch, tempo)
        return samples(file), tempo

    def _base(self, text: str) -> Path:
        program, _, voice = self.voice.partition(":")
        if program != "espeak":
            return speak_to_file(self.voice, text, self._folder)
        file = self._folder / f"{voice} {text}.wav".replace("/", "-").replace(" ", "-")
        if not file.exists():
            self._crew = self._crew or Crew([Speaker("pyttsx3", voice, 160)])
            (sound,) = self._crew.say(text, self._folder)
            raw = ["sox", "-t", "raw", "-r", str(RATE), "-e", "signed", "-b", "16", "-c", "1", "-"]
            subprocess.run([*raw, str(file)], input=sound, check=True)
        return file

    def close(self) -> None:
        """End the synthesiser."""
        if self._crew is not None:
            self._crew.close()


def samples(file: Path) -> NDArray[np.float32]:
    """A recording at the usual level."""
    sound = np.frombuffer(read_wav(file, RATE), dtype="<i2").astype(np.float32)
    return sound * (SPEECH / strength(sound))


def strength(sound: NDArray[np.float32]) -> float:
    """Root mean square of the loud part of a sound."""
    frames = sound[: len(sound) // 320 * 320].reshape(-1, 320)
    power = (frames**2).mean(axis=1)
    return float(np.sqrt(power[power > power.max() / 300].mean()))


_PATHS = Prototypes.paths


def leave_out(voice: str) -> None:
    """From now on the prototypes are without a voice, and without others of the same speaker."""
    out = same_speaker(voice)

    def paths(self: Prototypes, text: str) -> tuple[Any, ...]:
        return tuple(path for n, path in enumerate(_PATHS(self, text)) if n not in out)

    Prototypes.paths = paths  # type: ignore[method-assign]


def near(value: float) -> Iterator[float]:
    """Numbers that are easily mistaken for one: a digit off, two digits changed over."""
    digits = f"{value:g}"
    for place, digit in enumerate(digits):
        if digit.isdecimal():
            for other in (int(digit) + 1, int(digit) - 1, {5: 9, 9: 5}.get(int(digit), -1)):
                if 0 <= other <= 9 and not (place == 0 and other == 0):
                    yield float(f"{digits[:place]}{other}{digits[place + 1 :]}")
    for place in range(len(digits) - 1):
        pair = digits[place : place + 2]
        if pair.isdecimal() and pair[0] != pair[1] and not (place == 0 and pair[1] == "0"):
            yield float(digits[:place] + pair[::-1] + digits[place + 2 :])


def drone(seconds: float, rng: random.Random) -> NDArray[np.float32]:
    """Four engines and the air, at the power of a part of the flight: root mean square 1."""
    return engine_noise.drone(seconds, rng.randrange(1 << 30), rng.choice(engine_noise.PLANTS))
