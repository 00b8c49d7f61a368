"""Fit everything that the matcher decides by: ``words.npz`` and ``matcher.json``.

    RUNNER_SPEECH_DATA=FOLDER python tests/bench/fit_matcher.py

First the word model (``fit_words``), then the acceptance: people's words and pairs of words
(the fitting half of the speakers, ``tests/speech_data.py``) against synthetic voices and
against the speakers' own takes; and the shipped procedures' own windows with each synthetic
voice in turn as the pilot. Two logistic regressions a kind: whether what was said is in the
window at all, and whether the nearest answer is the right one. No speaker's row is measured
with a word model that was fitted on that speaker, and the working points are chosen on
predictions for speakers who were left out. Make the prototypes first
(``tests/tools/prototypes.py``).
"""

from __future__ import annotations

import json
import math
import random
import sys
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path
from typing import Any

import numpy as np

# This folder must not be searched: a file in it has the name of a package.
HERE = Path(__file__).parent
sys.path[:1] = [str(HERE.parents[1]), str(HERE.parent)]
sys.path.append(str(HERE))

from fit_words import STATES, joined, recordings, sound_of, spoken, store, train  # noqa: E402

import speech_data  # noqa: E402
from matching import controls, own_entries, window  # noqa: E402
from runner.checklist.load import find_file, load_procedures, load_voice  # noqa: E402
from runner.engine.effects import Listen  # noqa: E402
from runner.engine.lines import values_of  # noqa: E402
from runner.engine.listening import window_for  # noqa: E402
from runner.engine.program import Program  # noqa: E402
from runner.figures.sheet import Sheet  # noqa: E402
from runner.voice import acceptance  # noqa: E402
from runner.voice.acceptance import (  # noqa: E402
    FILE,
    KINDS,
    KNOWN_FROM,
    RIGHT_FROM,
    Kind,
    standardised,
    terms,
)
from runner.voice.comparison import COHORT, Comparison, Entry, Utterance  # noqa: E402
from runner.voice.matcher import MatcherRecogniser  # noqa: E402
from runner.voice.prototypes import Prototypes  # noqa: E402
from runner.voice.words import LEAST, OTHER, WordModel  # noqa: E402

FOLDS = 5
SYNTHETIC = 1500
"""Utterances of phrases by synthetic voices."""

PAIRED = 1500
"""Utterances of two words run together by people."""

WORDY = 1200
"""Utterances in windows of words that the word model does not know."""

UNKNOWN = 12
"""Words of other people in each turn of a pair."""

TURNS = 3
"""Times that other takes of a speaker are the enrolled ones."""

RIDGE = {"voices": (0.3, 1.0), "own": (0.03, 0.1)}
"""Inverse strengths of the ridge, for what is known and what is right: stronger for own takes,
whose rows are a few recordings in several turns."""

BESIDE = 0.002
"""Share at the working point of what is taken for a control, a list's name or a moment."""

AIMS: dict[Kind, tuple[float, float]] = {
    "short word": (0.003, 0.02),
    "word": (0.003, 0.02),
    "phrase": (0.001, 0.01),
    "own word": (0.002, 0.0045),
    "own phrase": (0.003, 0.008),
}
"""Shares at the working point, of wrong answers and of what is no answer."""


@dataclass(frozen=True, slots=True)
class Row:
    """One comparison, and what was true of it."""

    kind: Kind
    features: tuple[float, ...]
    wanted: bool
    inside: bool
    right: bool
    speaker: str


@dataclass(frozen=True, slots=True)
class Said:
    """A recording ready to be compared, by a word model that never heard its speaker."""

    speaker: str
    word: str
    state: bool
    sound: Any
    utterance: Utterance


class People:
    """The fitting half of the speakers, and the rows that they give."""

    def __init__(self, folder: Path, models: dict[str, WordModel]) -> None:
        self.matcher = MatcherRecogniser()
        self.comparison = self.matcher._comparison
        self.commands = controls()
        self.models = models
        self.known: dict[Listen, tuple[Entry, ...]] = {}
        self.said = [
            Said(speaker, word, word in STATES, sound, self.utterance(sound, speaker))
            for speaker, word, file in recordings(folder)
            for sound in [sound_of(file)]
        ]
        self.by: dict[str, dict[str, list[Said]]] = defaultdict(lambda: defaultdict(list))
        for one in self.said:
            self.by[one.speaker][one.word].append(one)

    def utterance(self, sound: Any, speaker: str) -> Utterance:
        """A recording as the matcher sees it."""
        self.matcher._words = self.models[speaker]
        return self.matcher.utterance(self.matcher._embedder.path(sound))

    def states(self) -> Iterator[Row]:
        """State words in the five windows."""
        windows = [(pair, window(*pair, self.commands)) for pair in speech_data.PAIRS]
        for one in self.said:
            for pair, listen in windows:
                truth = one.word if one.word in pair else None
                yield from self.compare(one.utterance, self.entries(listen), truth, one.speaker)

    def other_words(self) -> Iterator[Row]:
        """Windows of two words that the word model does not know."""
        rng = random.Random(11)
        plain = [one for one in self.said if not one.state]
        words = sorted({one.word for one in plain if one.word in self.matcher._prototypes})
        for _ in range(WORDY):
            pair = rng.sample(words, 2)
            wanted = rng.random() < 0.5
            truth = rng.choice(pair)
            spoke = [one for one in plain if one.word == truth] if wanted else self.said
            one = rng.choice(spoke)
            known = one.word if one.word in pair else None
            listen = window(pair[0], pair[1], self.commands)
            yield from self.compare(one.utterance, self.entries(listen), known, one.speaker)

    def pairs(self) -> Iterator[Row]:
        """Two words run together: the right ones, with another second word, with another first."""
        rng = random.Random(13)
        speakers = [s for s, words in self.by.items() if len(words) >= 3]
        for _ in range(PAIRED):
            speaker = rng.choice(speakers)
            words = self.by[speaker]
            second, first = rng.sample(sorted(words), 2)
            if second not in STATES or any(w not in self.matcher._prototypes for w in words):
                continue
            opposite = speech_data.OPPOSITE[second]
            listen = window(f"{first} {second}", f"{first} {opposite}", self.commands)
            said_first, said_second = first, second
            if rng.random() < 0.5:
                said_first = rng.choice(sorted(words))
                said_second = rng.choice(sorted(words))
            sound = joined(
                rng.choice(words[said_first]).sound,
                rng.choice(words[said_second]).sound,
                rng.uniform(0.0, 0.1),
            )
            text = f"{said_first} {said_second}"
            truth = text if text in {c.id for c in listen.candidates} else None
            utterance = self.utterance(sound, speaker)
            yield from self.compare(utterance, self.entries(listen), truth, speaker)

    def own_words(self) -> Iterator[Row]:
        """Pairs of words that were enrolled with three takes: opposites, and any others.

        Words of other people are said in the windows of one fold of the speakers alone, so that
        none of them is both fitted on and left out.
        """
        rng = random.Random(3)
        plain = [one for one in self.said if not one.state]
        number = 0
        for speaker, words in sorted(self.by.items()):
            ready = sorted(word for word, takes in words.items() if len(takes) >= 3)
            pairs = [pair for pair in speech_data.PAIRS if set(pair) <= set(ready)]
            if not pairs:
                continue
            fold, number = number % FOLDS, number + 1
            unknown = plain[fold::FOLDS]
            any_two = [pair for pair in combinations(ready, 2) if pair not in pairs]
            pairs += rng.sample(any_two, min(len(pairs), len(any_two)))
            for pair in pairs:
                listen = window(*pair, self.commands)
                for _ in range(TURNS):
                    rest = [self.beside(one, speaker) for one in rng.sample(unknown, UNKNOWN)]
                    enrolled = {}
                    for word, takes in words.items():
                        mixed = rng.sample(takes, len(takes))
                        if len(takes) >= 3:
                            enrolled[word] = [one.utterance.path for one in mixed[:3]]
                            mixed = mixed[3:]
                        rest += mixed
                    entries, others = own_entries(self.entries(listen), enrolled)
                    for one in rest:
                        truth = one.word if one.word in pair else None
                        yield from self.compare(
                            one.utterance, entries, truth, f"fold {fold}", others
                        )

    def beside(self, one: Said, speaker: str) -> Said:  # noqa: ARG002
        """Somebody else's recording where ``speaker`` is."""
        return one

    def own_pairs(self) -> Iterator[Row]:
        """The same with two words run together."""
        rng = random.Random(17)
        for speaker, words in self.by.items():
            ready = [w for w, takes in words.items() if len(takes) >= 4]
            for pair in speech_data.PAIRS:
                firsts = [w for w in ready if w not in pair]
                if not all(word in ready for word in pair) or not firsts:
                    continue
                first = rng.choice(firsts)
                texts = [f"{first} {word}" for word in pair]
                listen = window(texts[0], texts[1], self.commands)
                for _ in range(TURNS):
                    mixed = {w: rng.sample(words[w], len(words[w])) for w in ready}
                    enrolled = {
                        f"{first} {w}": [
                            self.run(mixed[first][n], mixed[w][n], rng, speaker).path
                            for n in range(3)
                        ]
                        for w in ready
                        if w != first
                    }
                    entries, others = own_entries(self.entries(listen), enrolled)
                    for one, two in ((first, w) for w in [*pair, *pair, *rng.sample(ready, 2)]):
                        said = self.run(
                            rng.choice(mixed[one][3:]), rng.choice(mixed[two][3:]), rng, speaker
                        )
                        text = f"{one} {two}"
                        truth = text if text in texts else None
                        yield from self.compare(said, entries, truth, speaker, others)
                    for one, two in (rng.sample(ready, 2) for _ in range(4)):
                        if one == first:
                            continue
                        said = self.run(mixed[one][3], mixed[two][3], rng, speaker)
                        yield from self.compare(said, entries, None, speaker, others)

    def run(self, first: Said, second: Said, rng: random.Random, speaker: str) -> Utterance:
        """Two recordings run together."""
        return self.utterance(joined(first.sound, second.sound, rng.uniform(0.0, 0.1)), speaker)

    def entries(self, listen: Listen) -> tuple[Entry, ...]:
        """A window's entries, the same ones each time."""
        if listen not in self.known:
            self.known[listen] = self.matcher.entries(listen)
        return self.known[listen]

    def compare(
        self,
        said: Utterance,
        entries: Sequence[Entry],
        truth: str | None,
        speaker: str,
        others: Sequence[tuple[Any, ...]] = (),
    ) -> Iterator[Row]:
        """The rows of one comparison: of the item's answers, and of all else."""
        for finding in self.comparison.find(said, entries, others):
            wanted = finding.entry.role in ("answer", "competitor")
            inside = wanted and truth is not None
            right = finding.entry.candidate == truth
            yield Row(finding.kind, finding.features, wanted, inside, right, speaker)


class Without(Prototypes):
    """The prototypes but for one voice, which is the pilot's."""

    pilot = -1

    def paths(self, text: str) -> tuple[Any, ...]:
        return tuple(p for n, p in enumerate(super().paths(text)) if n != self.pilot)


def phrase_rows(model: WordModel) -> Iterator[Row]:
    """The shipped windows with each synthetic voice in turn as the pilot."""
    rng = random.Random(5)
    whole, reduced = Prototypes(), Without()
    matcher = MatcherRecogniser()
    matcher._prototypes, comparison = reduced, Comparison(reduced)
    windows = shipped_windows()
    # A stored path has no chances of the word model; a phrase is none of its words.
    chances = dict.fromkeys(model.classes, LEAST / 2) | {OTHER: -0.02}
    for _ in range(SYNTHETIC):
        listen = rng.choice(windows)
        reduced.pilot = rng.randrange(whole.voices)
        entries = matcher.entries(listen)
        inside = rng.random() < 0.6
        text = rng.choice(entries).text if inside else rng.choice(whole.texts)
        if text in STATES:
            continue
        allowed = {e.text: e for e in reversed(entries)}
        path = whole.paths(text)[reduced.pilot]
        for finding in comparison.find(Utterance(path, len(path) * 0.08, chances), entries):
            said = allowed.get(text)
            asked = finding.entry.role in ("answer", "competitor")
            here = said is not None and (said.role in ("answer", "competitor")) == asked
            right = said is not None and said.candidate == finding.entry.candidate
            voice = f"voice {reduced.pilot}"
            yield Row(finding.kind, finding.features, asked, here, here and right, voice)


def shipped_windows() -> list[Listen]:
    """The windows of the shipped procedures' items of words that have a competitor."""
    style = load_voice(find_file("cockpit", ("voices",)))
    windows: list[Listen] = []
    for name in ("whimbrel-four", "sanderling"):
        procedures = load_procedures(find_file(name, ("checklists",)))
        program = Program(procedures, style, ("", "", ""))
        figures = Sheet(procedures.aircraft).work_out({}).figures
        for item in program.items:
            values = values_of(program, figures, item)
            found, number = window_for(program, "item", item, 1, values, (), 0)
            if number is None and any(c.role == "competitor" for c in found):
                windows.append(Listen(1, found))
    return windows


def gain(people: People) -> float:
    """How much a chance of the word model weighs against spreads of distance."""
    from sklearn.linear_model import LogisticRegression

    matcher = people.matcher
    differences, truth = [], []
    for one in people.said:
        if not one.state:
            continue
        other = speech_data.OPPOSITE[one.word]
        entries = matcher.entries(window(one.word, other))
        measured = people.comparison._measure(
            one.utterance, entries, frozenset((one.word, other)), ()
        )
        apart = float(measured.voices[1] - measured.voices[0]) / float(measured.outside.std())
        chances = one.utterance.chances
        row = (apart, chances[one.word] - chances[other])
        sign = 1 if len(truth) % 2 else -1
        differences.append((row[0] * sign, row[1] * sign))
        truth.append(sign > 0)
    fitted = LogisticRegression(fit_intercept=False).fit(np.array(differences), truth)
    return float(fitted.coef_[0][1] / fitted.coef_[0][0])


def fit(
    kind: Kind,
    rows: list[Row],
    aims: tuple[float, float],
    points: Callable[..., tuple[float, float]],
) -> dict[str, list[float]]:
    """The weights of both regressions, moved to the working points that ``points`` chooses."""
    from sklearn.linear_model import LogisticRegression
    from sklearn.model_selection import GroupKFold, cross_val_predict

    features = np.array([row.features for row in rows])
    mean, spread = features.mean(axis=0), np.maximum(features.std(axis=0), 1e-6)
    z = [standardised(row.features, mean, spread) for row in rows]
    linear, square = np.array(z), np.array([terms(v) for v in z])
    inside = np.array([row.inside for row in rows])
    right = np.array([row.right for row in rows])
    speakers = np.array([row.speaker for row in rows])
    ridge = RIDGE["own" if kind.startswith("own") else "voices"]
    known_model = LogisticRegression(max_iter=3000, C=ridge[0])
    right_model = LogisticRegression(max_iter=3000, C=ridge[1])
    folds = GroupKFold(FOLDS)

    def left_out(model: Any, x: Any, y: Any, groups: Any) -> Any:
        return cross_val_predict(model, x, y, groups=groups, cv=folds, method="predict_proba")[:, 1]

    known = left_out(known_model, square, inside, speakers)
    sure = np.zeros(len(rows))
    sure[inside] = left_out(right_model, linear[inside], right[inside], speakers[inside])
    fitted_right = right_model.fit(linear[inside], right[inside])
    outside = ~inside
    sure[outside] = fitted_right.predict_proba(linear[outside])[:, 1]
    wrong = inside & ~right
    wanted = np.array([row.wanted for row in rows])
    allowed = (aims[0] * inside.sum(), aims[1] * (outside & wanted).sum())
    from_known, from_right = points(known, sure, inside & right, wrong, outside & wanted, allowed)
    group = outside & ~wanted
    from_beside = max(
        from_known, working_point(known[group & (sure >= from_right)], BESIDE * group.sum(), 0.1)
    )
    kept = inside & right & (known >= from_known) & (sure >= from_right)
    print(
        f"{kind}: {inside.sum()} inside, {outside.sum()} outside; known from {from_known:.3f}, "
        f"right from {from_right:.3f}: kept {kept.sum() / inside.sum():.3f}, wrong "
        f"{(wrong & (known >= from_known) & (sure >= from_right)).sum()}, other "
        f"{(outside & (known >= from_known) & (sure >= from_right)).sum() / outside.sum():.4f}",
        file=sys.stderr,
    )
    fitted_known = known_model.fit(square, inside)
    return {
        "mean": mean.tolist(),
        "spread": spread.tolist(),
        "known": moved(fitted_known, from_known, KNOWN_FROM),
        "right": moved(fitted_right, from_right, RIGHT_FROM),
        "beside": [shifted(from_beside, from_known, KNOWN_FROM)],
    }


def in_turns(
    known: Any, sure: Any, _right: Any, wrong: Any, other: Any, allowed: tuple[float, float]
) -> tuple[float, float]:
    """The least of what is known and of what is right, each for the other in turn."""
    from_known, from_right = 0.1, 0.8
    for _ in range(3):
        # What is not known is not accepted, whatever it is mistaken for.
        from_right = working_point(sure[wrong & (known >= from_known)], allowed[0], 0.8)
        from_known = working_point(known[other & (sure >= from_right)], allowed[1], 0.1)
    return from_known, from_right


def working_point(scores: Any, allowed: float, least: float) -> float:
    """The least score, from ``least`` on, that no more than ``allowed`` of these reach."""
    ordered = np.sort(scores)[::-1]
    place = math.floor(allowed)
    return min(0.995, max(least, float(ordered[place]) + 1e-4 if place < len(ordered) else least))


def shifted(value: float, working: float, to: float) -> float:
    """A probability on the scale on which ``working`` has become ``to``."""
    logit = math.log(value / (1 - value)) - math.log(working / (1 - working))
    return 1 / (1 + math.exp(-logit - math.log(to / (1 - to))))


def moved(model: Any, working: float, to: float) -> list[float]:
    """The weights, with the intercept moved so that ``working`` becomes ``to``."""
    shift = math.log(to / (1 - to)) - math.log(working / (1 - working))
    return [float(model.intercept_[0]) + shift, *model.coef_[0].tolist()]


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


def by_kind(rows: Iterable[Row]) -> dict[Kind, list[Row]]:
    """Rows of each kind."""
    found: dict[Kind, list[Row]] = {kind: [] for kind in KINDS}
    for row in rows:
        found[row.kind].append(row)
    return found


def main() -> None:
    """Fit everything and write it."""
    folder = speech_data.home()
    if folder is None:
        sys.exit("RUNNER_SPEECH_DATA names no folder of recordings")
    models, model = folded_models(folder)
    store(model)
    people = People(folder, models)
    made = {"gain": {"words": [float(f"{gain(people):.4g}")]}}
    print(f"gain {made['gain']['words'][0]}, cohort of {len(COHORT)}", file=sys.stderr)
    # The comparisons of the rows choose the nearest answer by it.
    write(made)
    parts = (
        people.states(),
        people.other_words(),
        people.pairs(),
        people.own_words(),
        people.own_pairs(),
        phrase_rows(model),
    )
    rows: list[Row] = []
    for part in parts:
        rows += part
        counted = Counter((row.kind, row.inside) for row in rows)
        print(f"{part.__name__}: {dict(counted)}", file=sys.stderr)
    for kind, those in by_kind(rows).items():
        fitted = fit(kind, those, AIMS[kind], in_turns)
        made[kind] = {n: [float(f"{v:.6g}") for v in values] for n, values in fitted.items()}
    write(made)
    print(f"written: {FILE}", file=sys.stderr)


def write(made: dict[str, dict[str, list[float]]]) -> None:
    """Write what was fitted, and forget what was read before."""
    FILE.write_text(json.dumps(made, indent=1) + "\n")
    acceptance.stored.cache_clear()
    acceptance.word_gain.cache_clear()


if __name__ == "__main__":
    main()
