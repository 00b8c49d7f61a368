"""Fit the matcher's acceptance: from rows of comparisons to the weights in ``matcher.json``.

Two logistic regressions a kind of answer: whether what was said is in the window at all, and
whether the nearest answer is the right one. The working points are chosen on predictions for
speakers who were left out.
"""

from __future__ import annotations

import json
import math
import random
import sys
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from fit_words import Spoken, train

from runner.voice import acceptance
from runner.voice.acceptance import (
    FILE,
    KINDS,
    KNOWN_FROM,
    RIGHT_FROM,
    Kind,
    standardised,
    stretch_of,
    terms,
)
from runner.voice.words import WordModel

FOLDS = 5

RIDGE = {"voices": (0.3, 1.0), "own": (0.03, 0.1)}
"""Inverse strengths of the ridge, for what is known and what is right: stronger for own takes,
whose rows are a few recordings in several turns."""

BESIDE = 0.002
"""Share at the working point of what is taken for a control, a list's name or a moment."""

CHATTER = 0.003
"""Share at the working point of what is taken of several words run together, which no window
allows: for any answer, and for anything else, each."""

BEYOND = 0.1
"""How much beyond all but one right answer in a hundred, in the logarithm of its length, an answer
may be: people differ more than those that are fitted on."""

Points = Callable[..., tuple[float, float]]
"""Chooses the two working points: from the two probabilities of every row, from whether it was
rightly found, found wrongly, or no answer, and from how many of the last two are allowed."""


@dataclass(frozen=True, slots=True)
class Row:
    """One comparison, and what was true of it."""

    kind: Kind
    features: tuple[float, ...]
    wanted: bool
    inside: bool
    right: bool
    speaker: str
    chatter: bool = False


def fit(
    kind: Kind,
    rows: list[Row],
    aims: tuple[float, float],
    points: Points,
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
    chatter = np.array([row.chatter for row in rows])
    other = outside & wanted & ~chatter
    allowed = (aims[0] * inside.sum(), aims[1] * other.sum())
    from_known, from_right = points(known, sure, inside & right, wrong, other, allowed)

    def at_least(group: Any, share: float, least: float) -> float:
        """What ``known`` has to be so that no more than a share of these are accepted."""
        taken = known[group & (sure >= from_right)]
        return max(least, working_point(taken, share * group.sum(), least))

    from_known = at_least(chatter & wanted, CHATTER, from_known)
    from_beside = at_least(outside & ~wanted & ~chatter, BESIDE, from_known)
    from_beside = at_least(chatter & ~wanted, CHATTER, from_beside)
    taken = (known >= from_known) & (sure >= from_right)
    kept = inside & right & taken
    print(
        f"{kind}: {inside.sum()} inside, {outside.sum()} outside; known from {from_known:.3f}, "
        f"right from {from_right:.3f}: kept {kept.sum() / inside.sum():.3f}, wrong "
        f"{(wrong & taken).sum()}, other {(other & taken).sum() / max(1, other.sum()):.4f}, "
        f"chatter {(chatter & wanted & taken).sum()} of {(chatter & wanted).sum()}",
        file=sys.stderr,
    )
    fitted_known = known_model.fit(square, inside)
    return {
        "mean": mean.tolist(),
        "spread": spread.tolist(),
        "known": moved(fitted_known, from_known, KNOWN_FROM),
        "right": moved(fitted_right, from_right, RIGHT_FROM),
        "beside": [shifted(from_beside, from_known, KNOWN_FROM)],
        "stretch": lengths(features[inside & right & wanted], kind),
    }


def lengths(features: Any, kind: Kind) -> list[float]:
    """The logarithms of how much shorter and longer right answers are than their templates."""
    place = stretch_of(kind)
    least, greatest = np.percentile(features[:, place], (1, 99))
    return [float(least) - BEYOND, float(greatest) + BEYOND]


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


def folded_models(those: Sequence[Spoken]) -> tuple[dict[str, WordModel], WordModel]:
    """For each speaker a word model that was fitted without them; and the one of all."""
    speakers = sorted({one.speaker for one in those})
    random.Random(2).shuffle(speakers)
    models: dict[str, WordModel] = {}
    for fold in range(FOLDS):
        out = set(speakers[fold::FOLDS])
        model = train([one for one in those if one.speaker not in out])
        models |= dict.fromkeys(out, model)
    return models, train(those)


def gathered(parts: Iterable[Iterable[Row]]) -> dict[Kind, list[Row]]:
    """The rows of all parts by kind; tells how many there are after each."""
    rows: list[Row] = []
    for part in parts:
        rows += part
        counted = Counter((row.kind, row.inside) for row in rows)
        print(f"{getattr(part, '__name__', 'rows')}: {dict(counted)}", file=sys.stderr)
    return {kind: [row for row in rows if row.kind == kind] for kind in KINDS}


def fitted(
    rows: Mapping[Kind, list[Row]], aims: Mapping[Kind, tuple[float, float]], points: Points
) -> dict[Kind, dict[str, list[float]]]:
    """The weights of every kind, as they are stored."""
    return {
        kind: {
            name: [float(f"{v:.6g}") for v in values]
            for name, values in fit(kind, those, aims[kind], points).items()
        }
        for kind, those in rows.items()
    }


def write(made: dict[str, dict[str, list[float]]]) -> None:
    """Write what was fitted, and forget what was read before."""
    FILE.write_text(json.dumps(made, indent=1) + "\n")
    acceptance.stored.cache_clear()
    acceptance.word_gain.cache_clear()
