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

    def judge(self, features: Sequence[float]) -> tuple[float, float]:
        """The two probabilities: that it is in the window at all, and that it is this one."""
        z = standardised(features, self.mean, self.spread)
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
    return Weights(
        tuple(fitted["mean"]),
        tuple(fitted["spread"]),
        tuple(fitted["known"]),
        tuple(fitted["right"]),
        fitted.get("beside", [KNOWN_FROM])[0],
    )


@lru_cache(maxsize=1)
def word_gain() -> float:
    """How much a chance of the word model weighs against distances, as fitted and shipped."""
    return stored()["gain"]["words"][0]
