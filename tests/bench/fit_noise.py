"""Fit what the matcher decides by in engine noise: ``words_in_noise.npz``, ``matcher.json``.

    RUNNER_SPEECH_DATA=FOLDER python tests/bench/fit_noise.py

The same recordings, windows and regressions as for quiet rooms (``fit_matcher``), each in the
noise of four engines (``tests/engine_noise.py``) at a level of its own, with the moments
around it that a microphone gives. What was fitted for quiet rooms stays as it is. Phrases
are said by this machine's recorded voices as well, each left out of the templates in turn.
"""

from __future__ import annotations

import random
import sys
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parents[1])]

from fit_acceptance import fitted, folded_models, gathered, working_point, write  # noqa: E402
from fit_people import People, Said  # noqa: E402
from fit_phrases import phrase_rows  # noqa: E402
from fit_words import (  # noqa: E402
    JOINED,
    STATES,
    Sound,
    Spoken,
    joined,
    recordings,
    sound_of,
    store,
)

import speech_data  # noqa: E402
from engine_noise import PLANTS, RATE, at_snr, drone, wind  # noqa: E402
from runner.voice.acceptance import Kind, in_noise, stored  # noqa: E402
from runner.voice.comparison import Utterance  # noqa: E402
from runner.voice.embedding import Embedder  # noqa: E402
from runner.voice.words import NOISE_FILE, OTHER, features  # noqa: E402

LEVELS = (4.0, 18.0)
"""dB from the engines to the loud part of speech: least and most."""

BEFORE, AFTER = 0.3, 0.25
"""Seconds of noise that the gate brings before and after."""

HEARINGS = 3
"""Noises in which the word model hears each recording."""

PHRASES = 1400
"""Utterances of phrases by this machine's recorded voices."""

AIMS: dict[Kind, tuple[float, float]] = {
    "short word": (0.003, 0.02),
    "word": (0.002, 0.006),
    "phrase": (0.0024, 0.006),
    "own word": (0.002, 0.0045),
    "own phrase": (0.003, 0.008),
}
"""Shares at the working point, of wrong answers and of what is no answer."""

LEAST_KNOWN, LEAST_RIGHT = 0.4, 0.88
"""No working point lies lower, whatever the few rows of a kind would allow."""

SEEDS = range(1_000, 1_008)
"""Of the noises fitted in; reports use others."""


@lru_cache(maxsize=1)
def noises() -> list[Sound]:
    """Half a minute of each of several engines, and of wind."""
    engines = [drone(30.0, seed, PLANTS[seed % len(PLANTS)]) for seed in SEEDS]
    return [*engines, wind(30.0, SEEDS.start, gusts=3.0)]


def noisy(samples: Sound, rng: random.Random, where: str = "") -> Sound:
    """A recording in engine noise, with the moments around it; ``where`` names a cockpit, in
    which noise and level are about the same each time."""
    cockpit = random.Random(where) if where else rng
    noise, level = cockpit.choice(noises()), cockpit.uniform(*LEVELS)
    quiet = [np.zeros(round(seconds * RATE)) for seconds in (BEFORE, AFTER)]
    sound = np.concatenate([quiet[0], samples, quiet[1]]).astype(np.float32)
    at = rng.randrange(len(noise) - len(sound))
    around = at_snr(samples, noise[at : at + len(sound)], level + rng.uniform(-1, 1))
    return np.asarray(np.clip(sound + around, -32_767, 32_767), dtype=np.float32)


def spoken(folder: Path) -> list[Spoken]:
    """Everything that may be fitted on, in noise."""
    embedder, rng = Embedder(), random.Random(5)

    def rows(samples: Sound, count: int) -> tuple[Any, ...]:
        paths = [embedder.path(noisy(samples, rng)) for _ in range(count)]
        return tuple(features(path.embedded, path.seconds) for path in paths)

    found: list[Spoken] = []
    by: dict[str, list[Sound]] = {}
    for speaker, word, file in recordings(folder):
        sound = sound_of(file)
        by.setdefault(speaker, []).append(sound)
        found.append(Spoken(speaker, word if word in STATES else OTHER, rows(sound, HEARINGS)))
    several = [speaker for speaker, sounds in by.items() if len(sounds) > 1]
    for _ in range(JOINED):
        speaker = rng.choice(several)
        first, second = rng.sample(by[speaker], 2)
        both = joined(first, second, rng.uniform(0.0, 0.1))
        found.append(Spoken(speaker, OTHER, rows(both, 1)))
    return found


class InNoise(People):
    """People who speak in engine noise, each in a cockpit of their own: their takes are in the
    noise that they are compared in."""

    rng = random.Random(23)

    def utterance(self, sound: Any, speaker: str, where: str = "") -> Utterance:
        """A recording in noise as the matcher sees it."""
        path = self.matcher._embedder.path(noisy(sound, self.rng, where or speaker))
        chances = self.models[speaker].chances(path.embedded, path.seconds)
        return Utterance(self.matcher._transform(path.embedded), path.seconds, chances, True)

    def beside(self, one: Said, speaker: str) -> Said:
        """Somebody else's recording in the cockpit of ``speaker``."""
        return replace(one, utterance=self.utterance(one.sound, one.speaker, speaker))


def most_kept(
    known: Any, sure: Any, right: Any, wrong: Any, other: Any, allowed: tuple[float, float]
) -> tuple[float, float]:
    """Of the working points that take no more than is allowed, that which keeps the most."""
    found = []
    for from_right in np.arange(LEAST_RIGHT, 0.995, 0.005):
        enough = sure >= from_right
        from_known = max(
            working_point(known[wrong & enough], allowed[0], LEAST_KNOWN),
            working_point(known[other & enough], allowed[1], LEAST_KNOWN),
        )
        kept = int((right & enough & (known >= from_known)).sum())
        found.append((kept, from_known, float(from_right)))
    _, from_known, from_right = max(found)
    return from_known, from_right


def main() -> None:
    """Fit everything for engine noise and write it."""
    folder = speech_data.home()
    if folder is None:
        sys.exit("RUNNER_SPEECH_DATA names no folder of recordings")
    models, model = folded_models(spoken(folder))
    store(model, NOISE_FILE)
    people = InNoise(folder, models)
    rows = gathered((*people.everything(), phrase_rows(model, PHRASES, noisy)))
    found = fitted(rows, AIMS, most_kept)
    write({**stored(), **{in_noise(kind): weights for kind, weights in found.items()}})
    print("written", file=sys.stderr)


if __name__ == "__main__":
    main()
