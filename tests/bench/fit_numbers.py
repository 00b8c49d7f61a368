"""Fit everything that numbers are heard by: ``numbers.npz`` and ``numbers.json``.

    RUNNER_SPEECH_DATA=FOLDER python tests/bench/fit_numbers.py

First the model of words: digits by people, with variations; the other words of numbers by this
machine's synthetic voices; other words, pieces of words and words run together as the class
"other"; some of them in engine noise. Then the weights of own takes, and the acceptance:
strings of digits, in engine noise too, words that are no number, and numbers run together,
each heard with a model of words that never heard their speaker. With four speakers of strings,
one is left out in turn: what is reported of each (``hearing_numbers.py``) is heard with words
and an acceptance that were fitted on the others alone, written beside this file's tests
(``tests/data/numbers``). Two things are shared: the two weights of own takes, and the models of
words by which the others' strings were scored, each of which left out its own speaker alone.
"""

from __future__ import annotations

import json
import math
import sys
from collections.abc import Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

sys.path[:0] = [
    str(Path(__file__).parents[2]),
    str(Path(__file__).parents[1]),
    str(Path(__file__).parents[1] / "tools"),
]

from fit_phrases import Without  # noqa: E402
from number_examples import (  # noqa: E402
    HALVES,
    Example,
    examples,
    half_of,
    half_of_voice,
    set_apart,
)
from number_words import Words, train  # noqa: E402

import speech_data  # noqa: E402
from runner.phrasing.numeral_words import DIGIT_WORDS  # noqa: E402
from runner.voice import number_adaptation  # noqa: E402
from runner.voice.embedding import Embedder, Utterance, to_samples  # noqa: E402
from runner.voice.number_adaptation import Rows  # noqa: E402
from runner.voice.number_alignment import Aligner  # noqa: E402
from runner.voice.number_hearing import NumberHearing, Templates  # noqa: E402
from runner.voice.number_model import (  # noqa: E402
    BOUND,
    WORDS_FILE,
    Acceptance,
    NumberModel,
)
from runner.voice.number_recogniser import paused, run_together  # noqa: E402
from runner.voice.pocket import PocketRecogniser  # noqa: E402
from runner.voice.prototypes import Prototypes, transform  # noqa: E402
from runner.voice.words import WordModel  # noqa: E402
from spoken_numbers import fold_file, sound_of  # noqa: E402

Sound = NDArray[np.float32]

LEAST_NEEDED = {
    "voices": 0.86,
    "own": 0.87,
    "proposed": 0.82,
    "own, proposed": 0.93,
    "run together": 0.75,
}
"""Nothing less likely is accepted, however few were wrong among those that it was fitted on: one
speaker in four was wrong far more often than the others, and nobody knows what the next is like.
Chosen on speakers for fitting, each heard with what was fitted on others."""

MOST_NEEDED = 0.9999

OWN_TRIED = 20
"""Recordings of each digit that the weights of own takes are fitted on."""

WANTED_WRONG = {
    "voices": 0.008,
    "own": 0.009,
    "proposed": 0.006,
    "own, proposed": 0.003,
    "run together": 0.003,
}
"""Shares of all examples that may be accepted wrongly at the working point, by way. Where one
way is right the other may be wrong, so all together stay below what is allowed."""


@dataclass(frozen=True, slots=True)
class Measured:
    """One way in which a number was found in one example, and whether it is the right one."""

    example: int
    kind: str
    features: tuple[float, ...]
    right: bool
    usable: bool


class Memory(Aligner):
    """An aligner that is asked the same many times."""

    def __init__(self) -> None:
        super().__init__()
        self.known: dict[str, tuple[tuple[str, int, int], ...]] = {}

    def places(self, sound: bytes, words: str) -> tuple[tuple[str, int, int], ...]:
        """See ``Aligner``; forget what is ``known`` before another sound."""
        if words not in self.known:
            self.known[words] = super().places(sound, words)
        return self.known[words]


class Bench:
    """Examples, embedded and heard by PocketSphinx once for all models of words."""

    def __init__(self, those: Sequence[Example]) -> None:
        self.embedder = Embedder()
        self.transform = transform()
        self.prototypes = Prototypes()
        self.pocket, self.aligner = PocketRecogniser(), Memory()
        self.takes: dict[Path, tuple[Utterance, Any]] = {}
        self.examples = those
        self._templates: dict[int | None, Templates] = {}
        self._rows: dict[tuple[Path, ...], Rows] = {}
        self._moved: dict[tuple[int, tuple[Path, ...]], WordModel] = {}

    def embedded(self, sound: Sound) -> tuple[Utterance, Any]:
        """One piece of sound."""
        said = self.embedder.path(sound)
        return said, self.transform(said.embedded)

    def take(self, file: Path) -> tuple[Utterance, Any]:
        """One recording, embedded once."""
        if file not in self.takes:
            self.takes[file] = self.embedded(sound_of(file))
        return self.takes[file]

    def templates(self, voice: int | None, takes: dict[str, list[Any]] | None) -> Templates:
        """The templates without a voice, which would match itself."""
        if takes is not None:
            return Templates(self.prototypes, takes)
        if voice not in self._templates:
            prototypes = Without()
            prototypes.pilot = -1 if voice is None else voice
            self._templates[voice] = Templates(prototypes)
        return self._templates[voice]

    def moved(self, model: NumberModel, own: Mapping[str, Sequence[Path]]) -> NumberModel:
        """A model with its words moved towards takes."""
        key = tuple(file for files in own.values() for file in files)
        if key not in self._rows:
            takes = {DIGIT_WORDS[int(d)]: [sound_of(f) for f in fs] for d, fs in own.items()}
            self._rows[key] = number_adaptation.rows(takes, self.embedder.path)
        if (id(model), key) not in self._moved:
            self._moved[id(model), key] = number_adaptation.adapted(model.words, self._rows[key])
        return replace(model, words=self._moved[id(model), key])

    def own(self, example: Example) -> dict[str, list[Any]] | None:
        """The points of the takes that stand apart."""
        if example.own is None:
            return None
        found = {}
        for digit, files in example.own.items():
            found[DIGIT_WORDS[int(digit)]] = [self.take(file)[1] for file in files]
        return found

    def measure(self, number: int, model: NumberModel) -> list[Measured]:
        """One example heard with voices' templates and, where it has them, with own takes."""
        example = self.examples[number]
        wanted = example.listen.number
        assert wanted is not None
        self.pocket.prepare(example.listen)
        self.pocket.begin()
        self.pocket.feed(example.sound)
        heard = self.pocket.propose()
        own = self.own(example)
        self.aligner.known.clear()
        # The same pieces are heard with voices' templates and with own takes.
        memory: dict[bytes, tuple[Utterance, Any]] = {}

        def embed(sound: Sound) -> tuple[Utterance, Any]:
            key = sound.tobytes()
            if key not in memory:
                memory[key] = self.embedded(sound)
            return memory[key]

        found: list[Measured] = []
        for takes in (None, own) if own else (None,):
            mine = takes is not None
            hearing = NumberHearing(
                self.moved(model, example.own) if mine and example.own else model,
                self.templates(example.voice, takes),
                embed,
            )
            finding, _ = hearing.find(to_samples(example.sound), wanted)
            for one in (
                paused(finding, heard, wanted, mine),
                run_together(hearing, self.aligner, example.sound, wanted, heard, finding, mine),
            ):
                if one is not None:
                    value = one.finding.value
                    usable = one.allowed and wanted.low <= value <= wanted.high
                    right = example.value is not None and abs(value - example.value) < 1e-6
                    found.append(Measured(number, one.kind, one.features, right, usable))
        return found


def fit_acceptance(rows: Sequence[Measured], speakers: Sequence[str], budget: float) -> Acceptance:
    """The acceptance fitted on these; the working point is chosen on speakers left out in turn.

    ``speakers`` names each row's speaker; ``budget`` is the number of wrong ones that may be
    accepted.
    """
    points = np.array([row.features for row in rows])
    truth = np.array([row.right for row in rows])
    who = np.array(speakers)
    scores = np.zeros(len(rows))
    for name in dict.fromkeys(speakers):
        out = who == name
        if len(set(truth[~out])) == 2:
            made = regression(points[~out], truth[~out])
            scores[out] = [made.chance(row) for row in points[out]]
    usable = np.array([row.usable for row in rows])
    wrong = np.sort(scores[usable & ~truth])[::-1]
    place = math.floor(budget)
    needed = float(wrong[place]) + 1e-4 if place < len(wrong) else 0.5
    kind = rows[0].kind
    needed = max(LEAST_NEEDED[kind], min(MOST_NEEDED, needed))
    return replace(regression(points, truth), needed=needed)


def regression(points: NDArray[np.float64], truth: NDArray[np.bool_]) -> Acceptance:
    """Logistic regression on standardised features, within ``BOUND`` spreads."""
    from sklearn.linear_model import LogisticRegression

    mean, spread = points.mean(axis=0), np.maximum(points.std(axis=0), 1e-6)
    z = np.clip((points - mean) / spread, -BOUND, BOUND)
    fitted = LogisticRegression(C=0.1, max_iter=1000).fit(z, truth)
    weights = (float(fitted.intercept_[0]), *fitted.coef_[0].tolist())
    return Acceptance(tuple(mean.tolist()), tuple(spread.tolist()), weights, 0.5)


def own_weights(
    bench: Bench, models: Mapping[str, NumberModel], folder: Path
) -> tuple[float, float]:
    """How a word's chance and its distance from own takes weigh, where the right one should win.

    ``models`` has a model that never heard them for each speaker that it is fitted on.
    """
    from scipy.optimize import minimize

    rng = np.random.default_rng(3)
    parts = []
    for speaker, takes in speech_data.digits(folder).items():
        if speaker not in models:
            continue
        own, rest = set_apart(takes, rng)
        points = {
            DIGIT_WORDS[int(d)]: [bench.take(f)[1] for f in files] for d, files in own.items()
        }
        templates = Templates(bench.prototypes, points)
        assert templates.own is not None
        words = bench.moved(models[speaker], own).words
        chances, beyond, truth = [], [], []
        for digit, files in rest.items():
            for file in files[:OWN_TRIED]:
                said, path = bench.take(file)
                chance = words.chances(said.embedded, said.seconds)
                far = templates.own.distances(path)
                chances.append([chance[word] for word in DIGIT_WORDS])
                beyond.append([max(0.0, far[w] - templates.apart[w]) for w in DIGIT_WORDS])
                truth.append(int(digit))
        parts.append((np.array(chances), np.array(beyond), np.array(truth)))

    def cost(logs: NDArray[np.float64]) -> float:
        total = 0.0
        for chance, far, truth in parts:
            score = np.exp(logs[0]) * chance - np.exp(logs[1]) * far
            score -= score.max(axis=1, keepdims=True)
            right = score[np.arange(len(truth)), truth]
            total -= float((right - np.log(np.exp(score).sum(axis=1))).mean())
        return total

    found = minimize(cost, np.array([-0.5, 2.7]), method="Nelder-Mead").x
    return float(np.exp(found[0])), float(np.exp(found[1]))


def side_of(speaker: str, people: Sequence[str], voices: Sequence[str]) -> str:
    """The half of a synthetic voice, or of somebody of whom there are single words alone."""
    if speaker in people:
        return speaker
    return half_of_voice(speaker) if speaker in voices else half_of(speaker)


class Fit:
    """Words, examples, and the models that never heard one of the speakers."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.people = tuple(speech_data.digits(folder))
        words = Words(folder)
        voices = tuple(words.voices)
        self.rows = [
            replace(row, speaker=side_of(row.speaker, self.people, voices)) for row in words.rows
        ]
        self.examples = list(examples(folder))
        self._models: dict[frozenset[str], NumberModel] = {}

    def words_without(self, *speakers: str) -> NumberModel:
        """A model of words that was fitted without these; nothing else is in it yet."""
        key = frozenset(speakers)
        if key not in self._models:
            rows = [row for row in self.rows if row.speaker not in key]
            self._models[key] = NumberModel(train(rows), 0.0, 0.0, {})
            print(f"words without {', '.join(sorted(key)) or 'nobody'}", file=sys.stderr)
        return self._models[key]

    def models(self) -> dict[str, NumberModel]:
        """For each speaker and each half the model that never heard them, with the weights of
        own takes."""
        each = {name: self.words_without(name) for name in (*self.people, *HALVES)}
        choosing = {n: each[n] for n in self.people if speech_data.for_fitting(n, self.folder)}
        chance, distance = own_weights(Bench(()), choosing or each, self.folder)
        weighed = {"chance_weight": chance, "distance_weight": distance}
        return {name: replace(model, **weighed) for name, model in each.items()}


_FIT: list[tuple[Bench, Mapping[str, NumberModel]]] = []


def _start(those: Sequence[Example], models: Mapping[str, NumberModel]) -> None:
    _FIT.append((Bench(those), models))


def _measure(number: int) -> list[Measured]:
    bench, models = _FIT[0]
    return bench.measure(number, models[bench.examples[number].speaker])


def measured(those: Sequence[Example], models: Mapping[str, NumberModel]) -> list[Measured]:
    """All examples, by as many processes as there are processors."""
    found: list[Measured] = []
    with ProcessPoolExecutor(initializer=_start, initargs=(those, models)) as crew:
        for number, rows in enumerate(crew.map(_measure, range(len(those)), chunksize=16)):
            found += rows
            if number % 400 == 0:
                print(f"measured {number} of {len(those)}", file=sys.stderr)
    return found


def accepted(rows: Sequence[Measured], those: Sequence[Example]) -> dict[str, Acceptance]:
    """The acceptance of each kind of finding."""
    made = {}
    for kind, share in WANTED_WRONG.items():
        mine = [row for row in rows if row.kind == kind]
        there = {those[row.example].speaker for row in rows}
        heard = [
            one
            for one in those
            if one.speaker in there and (one.own is not None or not kind.startswith("own"))
        ]
        made[kind] = fit_acceptance(
            mine, [those[row.example].speaker for row in mine], share * len(heard)
        )
        print(f"  {kind}: {len(mine)} rows, needs {made[kind].needed:.4f}", file=sys.stderr)
    return made


def store(model: NumberModel, words_file: Path) -> None:
    """Write the two files of a model; half precision is enough for words."""
    words = model.words
    words_file.parent.mkdir(parents=True, exist_ok=True)
    np.savez_compressed(
        words_file,
        classes=np.array(words.classes),
        mean=words.mean.astype(np.float16),
        spread=np.float32(words.spread),
        weights=words.weights.astype(np.float16),
        bias=words.bias,
    )
    made = {
        "own weights": {"chance": model.chance_weight, "distance": model.distance_weight},
        "acceptance": {
            kind: {
                "mean": [float(f"{v:.6g}") for v in one.mean],
                "spread": [float(f"{v:.6g}") for v in one.spread],
                "weights": [float(f"{v:.6g}") for v in one.weights],
                "needed": one.needed,
            }
            for kind, one in model.acceptances.items()
        },
    }
    words_file.with_suffix(".json").write_text(json.dumps(made, indent=1) + "\n")
    print(f"written: {words_file}", file=sys.stderr)


def main() -> None:
    """Fit everything and write it: what ships, and what each speaker is reported with."""
    folder = speech_data.home()
    if folder is None:
        sys.exit("RUNNER_SPEECH_DATA names no folder of recordings")
    fit = Fit(folder)
    models = fit.models()
    every = next(iter(models.values()))
    rows = measured(fit.examples, models)
    for name in ("", *fit.people):
        print(f"without {name or 'nobody'}", file=sys.stderr)
        others = [row for row in rows if fit.examples[row.example].speaker != name]
        words = models[name] if name else replace(every, words=fit.words_without().words)
        whole = replace(words, acceptances=accepted(others, fit.examples))
        store(whole, fold_file(name) if name else WORDS_FILE)


if __name__ == "__main__":
    main()
