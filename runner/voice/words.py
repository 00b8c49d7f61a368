"""Short words that people say in many ways, each with a model of its own.

Synthetic voices say *on*, *off*, *up*, *no* too much alike one another to stand for all
speakers. For these few words ``tests/bench/fit_words.py`` fits a classifier on people's
recordings; everything else is one class, "other". It is a witness beside the comparison
with templates, never alone. In engine noise another classifier speaks, which was fitted on
the same recordings in engine noise (``tests/bench/fit_noise.py``).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Points = NDArray[np.float32]

FILE = Path(__file__).parent / "data" / "words.npz"
NOISE_FILE = Path(__file__).parent / "data" / "words_in_noise.npz"

OTHER = "other"
"""The class of everything that is none of the words."""

PLACES = 8
"""Points at even places of an utterance that stand for it."""

LENGTH_WEIGHT = 3.0
"""Weight of the logarithm of the seconds beside the points."""

LEAST = -12.0
"""Natural logarithm of a chance; less makes no difference."""


@dataclass(frozen=True, slots=True)
class WordModel:
    """Multinomial logistic regression: ``weights`` is (classes, features), ``bias`` (classes,)."""

    classes: tuple[str, ...]
    mean: Points
    spread: float
    weights: Points
    bias: Points

    def chances(self, embedded: Points, seconds: float) -> dict[str, float]:
        """Natural logarithm of the chance of each class, ``LEAST`` at least."""
        import numpy as np

        z = (features(embedded, seconds) - self.mean) / self.spread
        scores = self.weights @ z + self.bias
        scores = scores - scores.max()
        log = scores - np.log(np.exp(scores).sum())
        return {
            name: max(LEAST, float(value)) for name, value in zip(self.classes, log, strict=True)
        }


def features(embedded: Points, seconds: float) -> Any:
    """An utterance as one row: its points at even places, and its length."""
    import numpy as np

    places = np.linspace(0, len(embedded) - 1, PLACES)
    low = np.floor(places).astype(int)
    high = np.minimum(low + 1, len(embedded) - 1)
    share = (places - low)[:, None]
    points = (embedded[low] * (1 - share) + embedded[high] * share) / 10
    return np.append(points.ravel(), LENGTH_WEIGHT * math.log(max(seconds, 0.01)))


@lru_cache(maxsize=2)
def word_model(noisy: bool = False) -> WordModel:
    """The model as fitted and shipped: for quiet rooms, or for engine noise."""
    import numpy as np

    with np.load(NOISE_FILE if noisy else FILE) as stored:
        return WordModel(
            tuple(stored["classes"].tolist()),
            stored["mean"].astype(np.float32),
            float(stored["spread"]),
            stored["weights"].astype(np.float32),
            stored["bias"].astype(np.float32),
        )
