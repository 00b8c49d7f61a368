"""Strings of digits put together from one person's recordings, as a microphone gives them."""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from engine_noise import PLANTS, at_snr, drone
from runner.engine.effects import Candidate, Listen, NumberWanted
from runner.phrasing.style import Form
from runner.voice.embedding import to_samples
from runner.voice.number_model import NumberModel, number_model, read
from runner.voice.waves import read_wav

RATE = 16_000
PAD_SECONDS = 0.2
PAUSES = (0.08, 0.2)
"""Seconds between digits that are spoken one by one."""

HURRIED = (0.02, 0.06)

NOISE = 6.0
"""Level (of 32,767) of the room's noise."""

FORMS = {
    1: Form("count", 0, ""),
    2: Form("manifold_pressure", 0, "inHg"),
    3: Form("speed", 0, "kt"),
    4: Form("rpm", 0, "rpm"),
    5: Form("altitude", 0, "ft"),
}
"""A form in which numbers of so many digits are common."""

DRONES, DRONE_SECONDS = 24, 8.0
"""Different engines, each heard from anywhere within so many seconds."""

Sound = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Spoken:
    """A string of digits and the recordings that it is made of."""

    digits: str
    files: tuple[Path, ...]
    sound: bytes


def sound_of(file: Path) -> Sound:
    """A recording as samples."""
    return to_samples(read_wav(file, RATE))


def joined(parts: Sequence[Sound], pauses: tuple[float, float], rng: np.random.Generator) -> bytes:
    """Recordings one after another with pauses, and low noise before, under and after them."""
    pad = np.zeros(round(PAD_SECONDS * RATE), dtype=np.float32)
    pieces = [pad]
    for part in parts:
        pieces += [part, np.zeros(round(rng.uniform(*pauses) * RATE), dtype=np.float32)]
    pieces[-1] = pad
    whole = np.concatenate(pieces)
    whole = whole + rng.normal(0, NOISE, len(whole))
    return bytes(np.clip(whole, -32_767, 32_767).astype("<i2").tobytes())


def in_engines(samples: Sound, decibels: float, rng: np.random.Generator) -> Sound:
    """Something said with four engines so many dB below the voice."""
    engines = _engines(int(rng.integers(DRONES)))
    at = int(rng.integers(max(1, len(engines) - len(samples))))
    piece = np.resize(engines[at:], len(samples))
    return samples + at_snr(samples, piece, decibels)


@cache
def _engines(number: int) -> Sound:
    return drone(DRONE_SECONDS, 300 + number, PLANTS[number % len(PLANTS)])


def to_bytes(samples: Sound) -> bytes:
    """Samples of 16 bits."""
    return bytes(np.clip(np.round(samples), -32_768, 32_767).astype("<i2").tobytes())


def spoken(
    takes: dict[str, list[Path]],
    count: int,
    pauses: tuple[float, float],
    rng: np.random.Generator,
) -> Spoken:
    """``count`` digits at random by one speaker, the first of them not a nought."""
    first = str(rng.integers(1, 10))
    digits = first + "".join(str(rng.integers(0, 10)) for _ in range(count - 1))
    files = tuple(takes[digit][rng.integers(len(takes[digit]))] for digit in digits)
    return Spoken(digits, files, joined([sound_of(file) for file in files], pauses, rng))


def number_window(count: int, commands: Sequence[Candidate] = ()) -> Listen:
    """A window in which a number of so many digits is wanted."""
    low = 0 if count == 1 else 10 ** (count - 1)
    return Listen(1, tuple(commands), NumberWanted(FORMS[count], low, 10**count - 1))


FOLDS = Path(__file__).parent / "data" / "numbers"
"""What was fitted without one of the speakers that the shipped values were fitted on."""


def fold_file(speaker: str) -> Path:
    """The file of what was fitted without a speaker, named by a checksum and not by them."""
    return FOLDS / f"without-{zlib.crc32(speaker.encode()):08x}.npz"


def model_for(speaker: str) -> NumberModel:
    """What a speaker may be heard with: fitted without them, or what is shipped."""
    words = fold_file(speaker)
    return read(words, words.with_suffix(".json")) if words.exists() else number_model()
