"""The words of numbers as one pilot says them: the model of words, moved towards own takes.

Many people's digits tell words apart better than three takes of one person do; that person's
takes say how this voice differs from the many. So the model is fitted again on the takes, and
on pieces of them and several run together, which are no word; and held to what it was, the
farther from it the stronger. As three takes do not say how one speaks tomorrow, they are heard
faster and slower, brighter and duller and in a little noise, too.
"""

from __future__ import annotations

import hashlib
import io
import zipfile
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from runner.voice.embedding import Utterance, to_samples, trimmed
from runner.voice.recogniser import RATE
from runner.voice.words import OTHER, WordModel, features

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Sound = NDArray[np.float32]

VERSION = 1
"""Of how rows are made; others are not kept on."""

HELD = 0.03
"""Half of this times the squared change of the weights counts against it."""

STEPS = 200
"""Steps of the descent; more change nothing that could be heard."""

SPEEDS = (0.9, 1.1, 0.95, 1.06)
"""How fast the variations of a take are, one each."""

TOGETHER = 60
PIECES = 60
"""Takes run together, and pieces of takes, that are no words."""

PAD = RATE // 5


@dataclass(frozen=True, slots=True)
class Rows:
    """What a model is moved towards: ``points`` is (rows, features); a label each."""

    points: Any
    labels: tuple[str, ...]


def kept_rows(
    takes: Any, sounds: Mapping[str, Sequence[bytes]], embed: Callable[[Sound], Utterance]
) -> Rows:
    """The rows of a pilot's takes, kept beside them (``Takes.derived``) while they are the same."""
    import numpy as np

    digest = hashlib.sha256(f"{VERSION}".encode())
    for word, those in sorted(sounds.items()):
        digest.update(word.encode())
        for sound in those:
            digest.update(hashlib.sha256(sound).digest())
    key = digest.hexdigest()
    try:
        with np.load(io.BytesIO(takes.derived())) as kept:
            if str(kept["key"]) == key:
                points = kept["points"].astype(np.float32)
                return Rows(points, tuple(str(label) for label in kept["labels"]))
    except (ValueError, KeyError, OSError, EOFError, zipfile.BadZipFile):
        pass  # Nothing is kept, or what is kept is damaged: it is worked out again.
    made = rows({word: [to_samples(one) for one in those] for word, those in sounds.items()}, embed)
    content = io.BytesIO()
    labels, points = np.array(made.labels), made.points.astype(np.float16)
    np.savez_compressed(content, key=np.array(key), labels=labels, points=points)
    takes.keep_derived(content.getvalue())
    return Rows(points.astype(np.float32), made.labels)


def rows(takes: Mapping[str, Sequence[Sound]], embed: Callable[[Sound], Utterance]) -> Rows:
    """A pilot's takes of the words of numbers, varied, and what is no word.

    The same takes give the same rows.
    """
    import numpy as np

    rng = np.random.default_rng(2)
    points, labels = [], []

    def add(word: str, sound: Sound) -> None:
        padded = np.pad(sound, (PAD, PAD)) + rng.normal(0, 4, len(sound) + 2 * PAD)
        said = embed(padded.astype(np.float32))
        points.append(features(said.embedded, said.seconds))
        labels.append(word)

    sounds = [(word, trimmed(sound)) for word, those in takes.items() for sound in those]
    for word, sound in sounds:
        add(word, sound)
        for speed in SPEEDS:
            add(word, varied(sound, speed, rng))
    for _ in range(TOGETHER):
        parts = [sounds[int(rng.integers(len(sounds)))][1] for _ in range(2)]
        gap = np.zeros(round(rng.uniform(0.0, 0.15) * RATE), np.float32)
        add(OTHER, np.concatenate([parts[0], gap, parts[1]]))
    for _ in range(PIECES):
        sound = sounds[int(rng.integers(len(sounds)))][1]
        # What is left of a word that has lost less may well be heard as that word.
        cut = max(RATE // 16, round(len(sound) * rng.uniform(0.2, 0.4)))
        add(OTHER, sound[:cut] if rng.random() < 0.3 else sound[-cut:])
    return Rows(np.array(points, dtype=np.float32), tuple(labels))


def varied(sound: Sound, speed: float, rng: np.random.Generator) -> Sound:
    """A take at another speed, brighter or duller, in a little noise."""
    import numpy as np

    places = np.arange(0, len(sound) - 1, speed)
    out = np.interp(places, np.arange(len(sound)), sound)
    out = np.convolve(out, (1.0, rng.uniform(-0.5, 0.5)))[: len(out)]
    level = np.percentile(np.abs(out), 99) / 2 * 10 ** (-rng.uniform(15, 35) / 20)
    return (out + rng.normal(0, max(1.0, float(level)), len(out))).astype(np.float32)


def adapted(words: WordModel, towards: Rows) -> WordModel:
    """The model of words moved towards these rows, by accelerated gradient descent.

    Y. Nesterov's method (1983) with the constant step of the curvature's bound; labels that
    the model does not know are left out.
    """
    import numpy as np

    known = [number for number, label in enumerate(towards.labels) if label in words.classes]
    if not known:
        return words
    points = ((towards.points[known] - words.mean) / words.spread).astype(np.float64)
    points = np.hstack([points, np.ones((len(points), 1))])
    truth = np.array([words.classes.index(towards.labels[number]) for number in known])
    wanted = np.eye(len(words.classes))[truth]
    start = np.hstack([words.weights, words.bias[:, None]]).astype(np.float64)
    before = points @ start.T
    # The change of the weights is a sum of the rows, so it is found by their products alone.
    products = points @ points.T
    count = len(points)
    step = 1 / (0.5 * float(np.linalg.norm(products, 2)) / count + HELD)
    change = np.zeros_like(wanted)
    ahead, momentum = change, 1.0
    for _ in range(STEPS):
        scores = before + products @ ahead
        scores -= scores.max(axis=1, keepdims=True)
        chances = np.exp(scores)
        chances /= chances.sum(axis=1, keepdims=True)
        after = ahead - step * ((chances - wanted) / count + HELD * ahead)
        following = (1 + (1 + 4 * momentum**2) ** 0.5) / 2
        ahead = after + (momentum - 1) / following * (after - change)
        change, momentum = after, following
    found = start + change.T @ points
    return replace(
        words, weights=found[:, :-1].astype(np.float32), bias=found[:, -1].astype(np.float32)
    )
