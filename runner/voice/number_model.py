"""What hearing numbers is fitted to: a model of the words of numbers, and their acceptance.

Both are made by ``tests/bench/fit_numbers.py``. The model of words (``numbers.npz``) is a
``WordModel``: digits as people say them, the other words of numbers as synthetic voices do,
and everything else as one class. The acceptance (``numbers.json``) is logistic regression,
one for numbers heard with synthetic templates and one for those heard with the pilot's own.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from runner.voice.words import WordModel

WORDS_FILE = Path(__file__).parent / "data" / "numbers.npz"
ACCEPTANCE_FILE = Path(__file__).parent / "data" / "numbers.json"

BOUND = 4.0
"""Features are taken within so many spreads of their mean: beyond, nothing was fitted."""


@dataclass(frozen=True, slots=True)
class Acceptance:
    """Logistic regression on standardised features; a number is accepted from ``needed`` on."""

    mean: tuple[float, ...]
    spread: tuple[float, ...]
    weights: tuple[float, ...]
    needed: float

    def chance(self, features: Sequence[float]) -> float:
        """The probability that the number is the one that was said."""
        total = self.weights[0]
        for value, mean, spread, weight in zip(
            features, self.mean, self.spread, self.weights[1:], strict=True
        ):
            total += weight * max(-BOUND, min(BOUND, (value - mean) / spread))
        return 1 / (1 + math.exp(-max(-60.0, min(60.0, total))))


@dataclass(frozen=True, slots=True)
class NumberModel:
    """Everything fitted: words, weights of own takes, acceptances."""

    words: WordModel
    chance_weight: float
    distance_weight: float
    """With own takes: the weight of a word's chance, and of its distance from the takes."""
    acceptances: Mapping[str, Acceptance]
    """By how a number was found: ``runner.voice.number_recogniser.Weighed``."""


def read(words_file: Path, acceptance_file: Path) -> NumberModel:
    """A fitted model from its two files."""
    import numpy as np

    with np.load(words_file) as stored:
        classes = tuple(str(name) for name in stored["classes"])
        words = WordModel(
            classes,
            stored["mean"].astype(np.float32),
            float(stored["spread"]),
            stored["weights"].astype(np.float32),
            stored["bias"].astype(np.float32),
        )
    fitted = json.loads(acceptance_file.read_text())
    return NumberModel(
        words,
        fitted["own weights"]["chance"],
        fitted["own weights"]["distance"],
        {
            name: Acceptance(
                tuple(those["mean"]),
                tuple(those["spread"]),
                tuple(those["weights"]),
                those["needed"],
            )
            for name, those in fitted["acceptance"].items()
        },
    )


@lru_cache(maxsize=1)
def number_model() -> NumberModel:
    """The model as fitted and shipped."""
    return read(WORDS_FILE, ACCEPTANCE_FILE)
