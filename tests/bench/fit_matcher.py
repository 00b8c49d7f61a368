"""Fit the matcher's acceptance from data: writes ``runner/voice/data/matcher.json``.

    RUNNER_SPEECH_DATA=FOLDER python tests/bench/fit_matcher.py

People's single words (the fitting half of the speakers, ``tests/speech_data.py``) against
synthetic voices and against the speakers' own takes; and, so that phrases are known too, the
shipped procedures' own windows with each synthetic voice in turn as the pilot, compared with
the other voices. Two logistic regressions each: whether what was said is in the window at
all, and whether the nearest answer is the right one. First make the prototypes
(``tests/tools/prototypes.py``).
"""

from __future__ import annotations

import json
import random
import sys
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

# This folder must not be searched: a file in it has the name of a package.
sys.path[:1] = [str(Path(__file__).parents[2]), str(Path(__file__).parents[1])]

import speech_data  # noqa: E402
from matching import controls, own_entries, state_window  # noqa: E402
from runner.checklist.load import find_file, load_procedures, load_voice  # noqa: E402
from runner.engine.effects import Listen  # noqa: E402
from runner.engine.lines import values_of  # noqa: E402
from runner.engine.listening import window_for  # noqa: E402
from runner.engine.program import Program  # noqa: E402
from runner.figures.sheet import Sheet  # noqa: E402
from runner.voice.embedding import Embedder, to_samples  # noqa: E402
from runner.voice.matcher import FEATURES, WEIGHTS, Matcher, terms  # noqa: E402
from runner.voice.matcher import MatcherRecogniser as Recogniser  # noqa: E402
from runner.voice.prototypes import Prototypes, transform  # noqa: E402
from runner.voice.waves import read_wav  # noqa: E402

RATE = 16_000
Row = tuple[tuple[float, ...], bool, bool, bool]
"""Features; whether what was said is in the window; whether the nearest is it; whether the
nearest is of several words."""

SYNTHETIC = 2500
"""Rows of phrases by synthetic voices: about as many as of people."""


class People:
    """Recordings as paths, and the rows that they give."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.embedder = Embedder()
        self.transform = transform()
        self.matcher = Matcher(Prototypes())
        self.recogniser = Recogniser()
        self.controls = controls()

    def path(self, file: Path) -> Any:
        """A recording as points."""
        return self.transform(self.embedder.path(to_samples(read_wav(file, RATE))).embedded)

    def rows(self, recordings: list[speech_data.Recording]) -> Iterator[Row]:
        """Against synthetic voices, in each of the five windows."""
        windows = [state_window(a, self.controls) for a, _ in speech_data.PAIRS]
        entries = [self.recogniser._entries_of(w) for w in windows]
        for one in recordings:
            path = self.path(one.file)
            for pair, those in zip(speech_data.PAIRS, entries, strict=True):
                found = self.matcher.find(path, those)
                if found is not None:
                    inside = one.known and one.word in pair
                    right = found.entry.candidate == one.word
                    yield found.features, inside, right, " " in found.entry.text

    def own_rows(self, recordings: list[speech_data.Recording]) -> Iterator[Row]:
        """Against the speaker's own three takes of the pair's words and of others."""
        by: dict[str, dict[str, list[Any]]] = defaultdict(lambda: defaultdict(list))
        others = [one for one in recordings if not one.known]
        for one in recordings:
            if one.known:
                by[one.speaker][one.word].append(one.file)
        unknown = [self.path(one.file) for one in others]
        rng = random.Random(3)
        for words in by.values():
            takes = {w: [self.path(f) for f in files] for w, files in words.items()}
            enrolled = {w: paths[:3] for w, paths in takes.items() if len(paths) >= 3}
            for pair in speech_data.PAIRS:
                if not all(word in enrolled for word in pair):
                    continue
                entries = own_entries(pair, enrolled, self.recogniser, self.controls)
                said = [(w, p) for w, paths in takes.items() for p in paths[3:]]
                said += [("", p) for p in rng.sample(unknown, min(12, len(unknown)))]
                for word, path in said:
                    found = self.matcher.find(path, entries)
                    if found is not None:
                        right = found.entry.candidate == word
                        yield found.features, word in pair, right, " " in found.entry.text


class Without(Prototypes):
    """The prototypes but for one voice, which is the pilot's."""

    pilot = -1

    def paths(self, text: str) -> tuple[Any, ...]:
        return tuple(p for n, p in enumerate(super().paths(text)) if n != self.pilot)


def phrase_rows() -> Iterator[Row]:
    """The shipped windows with each synthetic voice in turn as the pilot."""
    rng = random.Random(5)
    style = load_voice(find_file("cockpit", ("voices",)))
    whole = Prototypes()
    reduced = Without()
    matcher, recogniser = Matcher(reduced), Recogniser()
    recogniser._prototypes = reduced
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
    for _ in range(SYNTHETIC):
        listen = rng.choice(windows)
        reduced.pilot = rng.randrange(whole.voices)
        entries = recogniser._entries_of(listen)
        mine = [e for e in entries if e.role in ("answer", "competitor")]
        if not mine:
            continue
        said = rng.choice(mine)
        inside = rng.random() < 0.5
        text = said.text if inside else rng.choice(whole.texts)
        allowed = {e.text: e.candidate for e in entries}
        path = whole.paths(text)[reduced.pilot]
        matcher._cohort_texts.cache_clear()
        result = matcher.find(path, entries)
        if result is not None:
            right = allowed.get(text) == result.entry.candidate
            yield result.features, text in allowed, right, " " in result.entry.text


def fit(rows: list[Row]) -> dict[str, list[float]]:
    """The weights of both regressions."""
    from sklearn.linear_model import LogisticRegression

    features = np.array([row[0] for row in rows])
    mean, spread = features.mean(axis=0), features.std(axis=0)
    z = (features - mean) / spread
    inside = np.array([row[1] for row in rows])
    right = np.array([row[2] for row in rows])
    known = LogisticRegression(max_iter=5000).fit(np.array([terms(list(v)) for v in z]), inside)
    best = LogisticRegression(max_iter=5000, C=0.3).fit(z[inside], right[inside])
    return {
        "mean": mean.tolist(),
        "spread": spread.tolist(),
        "known": [*known.intercept_.tolist(), *known.coef_[0].tolist()],
        "right": [*best.intercept_.tolist(), *best.coef_[0].tolist()],
    }


def main() -> None:
    """Fit both kinds of templates and write the weights."""
    folder = speech_data.home()
    if folder is None:
        sys.exit("RUNNER_SPEECH_DATA names no folder of recordings")
    people = People(folder)
    fitting = [
        one for one in speech_data.states(folder) if speech_data.for_fitting(one.speaker, folder)
    ]
    phrases = list(phrase_rows())
    print(f"{len(phrases)} rows of phrases", file=sys.stderr)
    voices = list(people.rows(fitting))
    own = list(people.own_rows(fitting))
    print(f"{len(voices)} rows against voices, {len(own)} against own takes", file=sys.stderr)
    assert all(len(row[0]) == FEATURES for row in voices)
    together = voices + phrases
    made = {
        "word": fit([row for row in voices if not row[3]]),
        "phrase": fit([row for row in together if row[3]]),
        "own": fit([row for row in own if not row[3]]),
    }
    rounded = {
        kind: {name: [float(f"{v:.6g}") for v in values] for name, values in each.items()}
        for kind, each in made.items()
    }
    WEIGHTS.write_text(json.dumps(rounded, indent=1) + "\n")
    print(f"written: {WEIGHTS}", file=sys.stderr)


if __name__ == "__main__":
    main()
