"""Whether what was said is accepted: two logistic regressions, fitted from data.

``known`` tells what the window allows from what it does not, ``right`` the nearest answer
from its rivals. Their intercepts are moved, when they are fitted, so that the working point
that was chosen lies at ``KNOWN_FROM`` and ``RIGHT_FROM`` for every kind of template. What was
said in engine noise is judged by regressions that were fitted in engine noise.
"""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Literal

FILE = Path(__file__).parent / "data" / "matcher.json"

Kind = Literal["short word", "word", "phrase", "own word", "own phrase"]
KINDS: tuple[Kind, ...] = ("short word", "word", "phrase", "own word", "own phrase")
"""By the templates of the nearest answer: synthetic voices' or the pilot's own, one word or
several; a short word is one that the word model knows."""

FEATURES = 14
OWN_FEATURES = 12
"""Features of a comparison with synthetic voices, and with own takes."""

STRETCH = 7
OWN_STRETCH = 2
"""Which of them is how much longer than its templates it was, as a logarithm."""

KNOWN_FROM = 0.5
RIGHT_FROM = 0.9


@dataclass(frozen=True, slots=True)
class Weights:
    """Both regressions of one kind, on standardised features."""

    mean: tuple[float, ...]
    spread: tuple[float, ...]
    known: tuple[float, ...]
    right: tuple[float, ...]
    beside: float = KNOWN_FROM
    """What ``known`` has to reach for what is no answer of the item: a control, a list's name."""
    stretch: tuple[float, float] = (-math.inf, math.inf)
    """How much shorter and longer than its templates an answer may be, as logarithms: what is
    told apart by length need not be told apart by regressions, which know only lengths that they
    were fitted on."""

    def judge(self, features: Sequence[float]) -> tuple[float, float]:
        """The two probabilities: that it is in the window at all, and that it is this one."""
        z = standardised(features, self.mean, self.spread)
        own = len(features) == OWN_FEATURES
        shorter, longer = self.stretch
        if not shorter <= features[OWN_STRETCH if own else STRETCH] <= longer:
            return 0.0, _chance(self.right, z)
        return _chance(self.known, terms(z)), _chance(self.right, z)


def standardised(
    features: Sequence[float], mean: Sequence[float], spread: Sequence[float]
) -> list[float]:
    """Features about their mean, within four spreads: beyond, nothing was fitted."""
    return [
        max(-4.0, min(4.0, (f - m) / s)) for f, m, s in zip(features, mean, spread, strict=True)
    ]


def terms(z: Sequence[float]) -> list[float]:
    """Features, their squares and all their products."""
    return [*z, *(a * b for n, a in enumerate(z) for b in z[n:])]


def _chance(weights: Sequence[float], values: Sequence[float]) -> float:
    total = weights[0] + sum(w * v for w, v in zip(weights[1:], values, strict=True))
    return 1 / (1 + math.exp(-max(-60.0, min(60.0, total))))


def stretch_of(kind: Kind) -> int:
    """The place among a kind's features of how much longer than its templates it was."""
    return OWN_STRETCH if kind.startswith("own") else STRETCH


@lru_cache(maxsize=1)
def stored() -> dict[str, dict[str, list[float]]]:
    """Everything fitted, by kind and name."""
    read: dict[str, dict[str, list[float]]] = json.loads(FILE.read_text())
    return read


def in_noise(kind: Kind) -> str:
    """The name of a kind's weights for engine noise."""
    return f"{kind} in noise"


@lru_cache(maxsize=10)
def weights(kind: Kind, noisy: bool = False) -> Weights:
    """The weights of one kind as fitted and shipped."""
    fitted = stored()[in_noise(kind) if noisy else kind]
    shorter, longer = fitted.get("stretch", (-math.inf, math.inf))
    return Weights(
        tuple(fitted["mean"]),
        tuple(fitted["spread"]),
        tuple(fitted["known"]),
        tuple(fitted["right"]),
        fitted.get("beside", [KNOWN_FROM])[0],
        (shorter, longer),
    )


@lru_cache(maxsize=1)
def word_gain() -> float:
    """How much a chance of the word model weighs against distances, as fitted and shipped."""
    return stored()["gain"]["words"][0]
