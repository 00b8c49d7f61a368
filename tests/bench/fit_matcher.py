"""Fit what the matcher decides by in quiet rooms: ``words.npz`` and ``matcher.json``.

    RUNNER_SPEECH_DATA=FOLDER python tests/bench/fit_matcher.py

First the word model (``fit_words``), then how much it weighs, then the acceptance
(``fit_acceptance``): people's words and pairs of words (``fit_people``), and the shipped
procedures' own windows with each synthetic voice in turn as the pilot (``fit_phrases``). What
was fitted in engine noise stays as it is (``fit_noise``); ``fit`` runs everything in order.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import numpy as np

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parents[1])]

from fit_acceptance import fitted, folded_models, gathered, working_point, write  # noqa: E402
from fit_people import People  # noqa: E402
from fit_phrases import phrase_rows  # noqa: E402
from fit_words import spoken, store  # noqa: E402

import speech_data  # noqa: E402
from matching import window  # noqa: E402
from runner.voice.acceptance import FILE, KINDS, Kind, in_noise, stored  # noqa: E402
from runner.voice.comparison import COHORT  # noqa: E402

AIMS: dict[Kind, tuple[float, float]] = {
    "short word": (0.003, 0.02),
    "word": (0.003, 0.02),
    "phrase": (0.001, 0.01),
    "own word": (0.002, 0.0045),
    "own phrase": (0.003, 0.008),
}
"""Shares at the working point, of wrong answers and of what is no answer."""


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


def main() -> None:
    """Fit everything for quiet rooms and write it."""
    folder = speech_data.home()
    if folder is None:
        sys.exit("RUNNER_SPEECH_DATA names no folder of recordings")
    noisy = {name: stored()[name] for name in map(in_noise, KINDS) if name in stored()}
    models, model = folded_models(spoken(folder))
    store(model)
    people = People(folder, models)
    words = {"gain": {"words": [float(f"{gain(people):.4g}")]}}
    print(f"gain {words['gain']['words'][0]}, cohort of {len(COHORT)}", file=sys.stderr)
    # The comparisons of the rows choose the nearest answer by it.
    write({**words, **noisy})
    rows = gathered((*people.everything(), phrase_rows(model)))
    write({**words, **fitted(rows, AIMS, in_turns), **noisy})
    print(f"written: {FILE}", file=sys.stderr)


if __name__ == "__main__":
    main()
