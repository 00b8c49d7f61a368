"""Fit the word model from people's recordings: writes ``runner/voice/data/words.npz``.

    RUNNER_SPEECH_DATA=FOLDER python tests/bench/fit_words.py

State words by the fitting half of the speakers (``tests/speech_data.py``), each as recorded
and in several variations: faster and slower, brighter and duller, in white and in falling
noise. Whatever else they say, and two words run together, is the class "other".
"""

from __future__ import annotations

import random
import sys
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parents[1])]

import speech_data  # noqa: E402
from runner.voice.embedding import Embedder, to_samples, trimmed  # noqa: E402
from runner.voice.waves import read_wav  # noqa: E402
from runner.voice.words import FILE, OTHER, WordModel, features  # noqa: E402

RATE = 16_000
STATES = frozenset(word for pair in speech_data.PAIRS for word in pair)
VARIATIONS = 6
JOINED = 500
"""Pairs of words run together, by one speaker each."""

STRENGTH = 0.03
"""Inverse strength of the ridge on standardised features."""

Sound = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Spoken:
    """One recording and all its variations as rows of features."""

    speaker: str
    label: str
    rows: tuple[NDArray[np.float64], ...]


def sound_of(file: Path) -> Sound:
    """A recording as samples."""
    return to_samples(read_wav(file, RATE))


def varied(samples: Sound, rng: np.random.Generator) -> Sound:
    """The same words as somebody else, another microphone and another room might give them."""
    from scipy.signal import lfilter, resample_poly

    out: Any = samples
    if rng.random() < 0.8:
        out = resample_poly(out, 100, int(rng.choice([85, 90, 95, 105, 110, 118])))
    out = lfilter([1, rng.uniform(-0.5, 0.5)], [1], out)
    if rng.random() < 0.6:
        noise: Any = rng.normal(size=len(out))
        if rng.random() < 0.5:
            noise = lfilter([1], [1, -0.95], noise)
        level = np.percentile(np.abs(out), 99) / 2 * 10 ** (-rng.uniform(8, 30) / 20)
        out = out + noise / noise.std() * level
    return np.asarray(out, dtype=np.float32)


def joined(first: Sound, second: Sound, gap: float) -> Sound:
    """Two recordings run together with ``gap`` seconds of very low noise between them."""
    quiet = np.random.default_rng(9).normal(0, 8, round(gap * RATE))
    return np.concatenate([trimmed(first), quiet, trimmed(second)]).astype(np.float32)


def recordings(folder: Path) -> Iterator[tuple[str, str, Path]]:
    """Speaker, word and file of everything that may be fitted on."""
    for one in speech_data.states(folder):
        if speech_data.for_fitting(one.speaker, folder):
            yield one.speaker, one.word, one.file
    for file in sorted((folder / "words").glob("*/*.wav")):
        yield file.name.split("_")[0], file.parent.name, file


def spoken(folder: Path) -> list[Spoken]:
    """Everything that may be fitted on, with its variations."""
    embedder, rng, choose = Embedder(), np.random.default_rng(5), random.Random(5)

    def rows(samples: Sound) -> tuple[NDArray[np.float64], ...]:
        sounds = [samples, *(varied(samples, rng) for _ in range(VARIATIONS))]
        paths = [embedder.path(sound) for sound in sounds]
        return tuple(features(path.embedded, path.seconds) for path in paths)

    found, by = [], defaultdict(list)
    for speaker, word, file in recordings(folder):
        sound = sound_of(file)
        by[speaker].append(sound)
        found.append(Spoken(speaker, word if word in STATES else OTHER, rows(sound)))
    several = [speaker for speaker, sounds in by.items() if len(sounds) > 1]
    for _ in range(JOINED):
        speaker = choose.choice(several)
        first, second = choose.sample(by[speaker], 2)
        both = joined(first, second, choose.uniform(0.0, 0.1))
        found.append(Spoken(speaker, OTHER, rows(both)[:2]))
    return found


def train(those: Sequence[Spoken]) -> WordModel:
    """The model fitted on these."""
    from sklearn.linear_model import LogisticRegression

    rows = np.array([row for one in those for row in one.rows])
    labels = np.array([one.label for one in those for _ in one.rows])
    plain = np.array([one.rows[0] for one in those])
    mean, spread = plain.mean(axis=0), float(plain.std(axis=0).mean())
    fitted = LogisticRegression(C=STRENGTH, max_iter=150).fit((rows - mean) / spread, labels)
    return WordModel(
        tuple(str(name) for name in fitted.classes_),
        mean.astype(np.float32),
        spread,
        fitted.coef_.astype(np.float32),
        fitted.intercept_.astype(np.float32),
    )


def store(model: WordModel, file: Path = FILE) -> None:
    """Write the model; half precision is enough."""
    np.savez_compressed(
        file,
        classes=np.array(model.classes),
        mean=model.mean.astype(np.float16),
        spread=np.float32(model.spread),
        weights=model.weights.astype(np.float16),
        bias=model.bias,
    )
    print(f"written: {file}", file=sys.stderr)


def main() -> None:
    """Fit and write."""
    folder = speech_data.home()
    if folder is None:
        sys.exit("RUNNER_SPEECH_DATA names no folder of recordings")
    store(train(spoken(folder)))


if __name__ == "__main__":
    main()
