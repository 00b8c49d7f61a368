"""Fit what the matcher decides by in engine noise: ``words_in_noise.npz``, ``matcher.json``.

    RUNNER_SPEECH_DATA=FOLDER python tests/bench/fit_noise.py

The same recordings, windows and regressions as ``fit_matcher`` has, each recording in the
noise of four engines (``tests/engine_noise.py``) at a level of its own, with the moments
around it that a microphone gives. What was fitted for quiet rooms stays as it is. Phrases
are said by this machine's recorded voices as well, each left out of the templates in turn.
"""

from __future__ import annotations

import random
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np

# This folder must not be searched: a file in it has the name of a package.
HERE = Path(__file__).parent
sys.path[:1] = [str(HERE.parents[1]), str(HERE.parent)]
sys.path.append(str(HERE))

from fit_matcher import (  # noqa: E402
    FOLDS,
    People,
    Row,
    Said,
    Without,
    by_kind,
    fit,
    shipped_windows,
    working_point,
    write,
)
from fit_words import (  # noqa: E402
    JOINED,
    STATES,
    Sound,
    Spoken,
    joined,
    recordings,
    sound_of,
    store,
    train,
)

import speech_data  # noqa: E402
from engine_noise import PLANTS, RATE, at_snr, drone, wind  # noqa: E402
from runner.voice.acceptance import Kind, in_noise, stored  # noqa: E402
from runner.voice.comparison import Comparison, Entry, Utterance  # noqa: E402
from runner.voice.embedding import Embedder, to_samples  # noqa: E402
from runner.voice.matcher import MatcherRecogniser  # noqa: E402
from runner.voice.prototypes import Prototypes  # noqa: E402
from runner.voice.waves import read_wav  # noqa: E402
from runner.voice.words import NOISE_FILE, OTHER, WordModel, features  # noqa: E402
from sound import speak_to_file, voices  # noqa: E402

LEVELS = (4.0, 18.0)
"""dB from the engines to the loud part of speech: least and most."""

BEFORE, AFTER = 0.3, 0.25
"""Seconds of noise that the gate brings before and after."""

HEARINGS = 3
"""Noises in which the word model hears each recording."""

PHRASES = 700
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


def voice_rows(model: WordModel) -> Iterator[Row]:
    """The shipped windows with each recorded voice in turn as the pilot, in noise."""
    rng = random.Random(7)
    reduced, those = Without(), voices()
    matcher = MatcherRecogniser()
    matcher._prototypes, comparison = reduced, Comparison(reduced)
    windows, every = shipped_windows(), Prototypes().texts
    kept: dict[int, tuple[Entry, ...]] = {}
    with tempfile.TemporaryDirectory() as name:
        for number in range(PHRASES if those else 0):
            reduced.pilot = number % len(those)
            place = rng.randrange(len(windows))
            entries = matcher.entries(windows[place])
            kept[place] = entries
            wanted = [e for e in entries if e.role in ("answer", "competitor")]
            text = rng.choice(wanted if rng.random() < 0.8 else entries).text
            if rng.random() < 0.35:
                text = rng.choice(every)
            if text in STATES:
                continue
            sound = to_samples(
                read_wav(speak_to_file(those[reduced.pilot], text, Path(name)), RATE)
            )
            path = matcher._embedder.path(noisy(sound, rng))
            chances = model.chances(path.embedded, path.seconds)
            said = Utterance(matcher._transform(path.embedded), path.seconds, chances, True)
            allowed = {e.text: e for e in reversed(entries)}.get(text)
            for finding in comparison.find(said, entries):
                asked = finding.entry.role in ("answer", "competitor")
                here = allowed is not None and asked == (allowed.role in ("answer", "competitor"))
                right = here and allowed is not None
                right = right and allowed.candidate == finding.entry.candidate
                who = f"voice {reduced.pilot}"
                yield Row(finding.kind, finding.features, asked, here, right, who)


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


def folded_models(folder: Path) -> tuple[dict[str, WordModel], WordModel]:
    """For each speaker a word model that was fitted without them; and the one of all."""
    those = spoken(folder)
    speakers = sorted({one.speaker for one in those})
    random.Random(2).shuffle(speakers)
    models: dict[str, WordModel] = {}
    for fold in range(FOLDS):
        out = set(speakers[fold::FOLDS])
        model = train([one for one in those if one.speaker not in out])
        models |= dict.fromkeys(out, model)
    return models, train(those)


def main() -> None:
    """Fit everything for engine noise and write it."""
    folder = speech_data.home()
    if folder is None:
        sys.exit("RUNNER_SPEECH_DATA names no folder of recordings")
    models, model = folded_models(folder)
    store(model, NOISE_FILE)
    people = InNoise(folder, models)
    rows: list[Row] = []
    for part in (
        people.states(),
        people.other_words(),
        people.pairs(),
        people.own_words(),
        people.own_pairs(),
        voice_rows(model),
    ):
        rows += part
        counted = Counter((row.kind, row.inside) for row in rows)
        print(f"{part.__name__}: {dict(counted)}", file=sys.stderr)
    made = dict(stored())
    for kind, those in by_kind(rows).items():
        fitted = fit(kind, those, AIMS[kind], most_kept)
        made[in_noise(kind)] = {n: [float(f"{v:.6g}") for v in one] for n, one in fitted.items()}
    write(made)
    print("written", file=sys.stderr)


if __name__ == "__main__":
    main()
