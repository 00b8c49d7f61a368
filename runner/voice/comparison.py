"""What was said against how each possible answer sounds.

Everything that the window allows is compared, and so is a cohort of phrases that it does
not allow: whether an answer is accepted depends on how much nearer it is than they.
Distances to synthetic voices, to the pilot's own takes where there are some, and the word
model are put side by side; ``acceptance`` weighs them.
"""

from __future__ import annotations

import math
from collections.abc import Container, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations
from typing import TYPE_CHECKING, Any

from runner.voice.acceptance import Kind, word_gain
from runner.voice.prototypes import Prototypes
from runner.voice.warping import Bank
from runner.voice.words import LEAST, OTHER

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Points = NDArray[np.float32]

_DIGITS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
_THINGS = ("bed", "bird", "cat", "dog", "happy", "house", "tree", "wow")
_STATES = ("on", "off", "up", "down", "yes", "no", "stop", "go", "left", "right")
COHORT = (*_DIGITS, *_THINGS, *_STATES)
"""Short words that short utterances are compared with, but for those that the window allows."""

SHORT = 11
"""Points, 80 ms apart; a longer utterance is compared with phrases of about its length."""

COHORT_SIZE = 24

NEAREST = 14
"""Phrases beside the item's own answers that are compared in full."""

NEAREST_OWN = 10
"""Other phrases of the pilot's own takes that are compared."""

ROLES = ("answer", "competitor")


@dataclass(frozen=True, slots=True)
class Utterance:
    """What was said: points after the transform, seconds, the word model's chances, and whether
    there was noise about it."""

    path: Points
    seconds: float
    chances: dict[str, float]
    noisy: bool = False


@dataclass(frozen=True, slots=True)
class Entry:
    """One way of saying one candidate: synthetic voices' paths, and the pilot's own takes."""

    candidate: str
    role: str
    text: str
    paths: tuple[Points, ...]
    own: tuple[Points, ...] = ()

    def kind(self, known: Container[str]) -> Kind:
        """Which acceptance is for it; ``known`` are the words with a model of their own."""
        if self.own:
            return "own phrase" if " " in self.text else "own word"
        if " " in self.text:
            return "phrase"
        return "short word" if self.text in known else "word"


@dataclass(frozen=True, slots=True)
class Finding:
    """The nearest entry and what its acceptance is judged by."""

    entry: Entry
    kind: Kind
    features: tuple[float, ...]
    noisy: bool = False


@dataclass(frozen=True, slots=True)
class _Measured:
    """Distances of one comparison, in the order of the entries; nan where there is none."""

    voices: Any
    own: Any
    outside: Any
    others: Any
    said: Utterance

    @property
    def nearest(self) -> Any:
        """To own takes where there are some, else to synthetic voices."""
        import numpy as np

        return np.where(np.isnan(self.own), self.voices, self.own)


class Comparison:
    """Compares utterances with entries; knows no window, no device and no judge."""

    def __init__(self, prototypes: Prototypes) -> None:
        self.prototypes = prototypes
        self._entries: Sequence[Entry] | None = None
        self._rest: list[Entry] = []
        self._rest_glances = _Glances.of(())
        self._others: Sequence[tuple[Points, ...]] = ()
        self._other_glances = _Glances.of(())

    def find(
        self,
        said: Utterance,
        entries: Sequence[Entry],
        others: Sequence[tuple[Points, ...]] = (),
    ) -> tuple[Finding, ...]:
        """The nearest of the item's own answers, and the nearest of all else that may be said.

        ``others`` are the pilot's own takes of phrases that the window does not allow.
        """
        import numpy as np

        near = self._near(said.path, entries)
        if not near:
            return ()
        texts = frozenset(entry.text for entry in entries)
        measured = self._measure(said, near, texts, self._near_others(said.path, others))
        spread = max(1e-6, float(measured.outside.std()))
        chances = np.array([_chance(said, entry.text) for entry in near])
        middle = float(measured.outside.mean())
        scores = (measured.nearest - middle) / spread - word_gain() * chances
        wanted = [n for n, entry in enumerate(near) if entry.role in ROLES]
        rest = [n for n, entry in enumerate(near) if entry.role not in ROLES]
        found = []
        for group, rivals, beside in ((wanted, wanted, rest), (rest, [*wanted, *rest], wanted)):
            if group:
                best = min(group, key=lambda n: float(scores[n]))
                against = [n for n in rivals if near[n].candidate != near[best].candidate]
                second = min(against, key=lambda n: float(scores[n]), default=None)
                features = _features(near, measured, best, second, beside, wanted)
                kind = near[best].kind(said.chances)
                found.append(Finding(near[best], kind, features, said.noisy))
        return tuple(found)

    def _near(self, path: Points, entries: Sequence[Entry]) -> list[Entry]:
        """The item's own answers, and of the rest those that are nearest at a glance."""
        if entries is not self._entries:
            self._entries = entries
            self._rest = [entry for entry in entries if entry.role not in ROLES]
            self._rest_glances = _Glances.of([entry.own or entry.paths for entry in self._rest])
        wanted = [entry for entry in entries if entry.role in ROLES]
        return wanted + [self._rest[n] for n in self._rest_glances.nearest(path, NEAREST)]

    def _near_others(
        self, path: Points, others: Sequence[tuple[Points, ...]]
    ) -> list[tuple[Points, ...]]:
        if others is not self._others:
            self._others, self._other_glances = others, _Glances.of(others)
        return [others[n] for n in self._other_glances.nearest(path, NEAREST_OWN)]

    def _measure(
        self,
        said: Utterance,
        near: Sequence[Entry],
        texts: frozenset[str],
        others: Sequence[tuple[Points, ...]],
    ) -> _Measured:
        import numpy as np

        cohort = [self.prototypes.paths(text) for text in self._cohort(len(said.path), texts)]
        groups = [e.paths for e in near] + [e.own for e in near] + cohort + list(others)
        paths = [path for group in groups for path in group]
        raw = Bank(paths, cosine=True).distances(said.path)
        count, at, means = len(near), 0, []
        for number, group in enumerate(groups):
            own = count <= number < 2 * count or number >= 2 * count + len(cohort)
            means.append(_typical(raw[at : at + len(group)], own) if group else math.nan)
            at += len(group)
        each = np.array(means)
        return _Measured(
            each[:count],
            each[count : 2 * count],
            each[2 * count : 2 * count + len(cohort)],
            each[2 * count + len(cohort) :],
            said,
        )

    @lru_cache(maxsize=512)  # noqa: B019
    def _cohort(self, steps: int, allowed: frozenset[str]) -> tuple[str, ...]:
        """Short words that the window does not allow, or phrases of about so many steps without
        a word that it does."""
        import numpy as np

        if steps <= SHORT:
            return tuple(word for word in COHORT if word not in allowed)
        banned = {word for text in allowed for word in text.split()}
        order = np.argsort(np.abs(np.log(self.prototypes.steps / steps)), kind="stable")
        found: list[str] = []
        for number in order:
            text = self.prototypes.texts[int(number)]
            if banned.isdisjoint(text.split()):
                found.append(text)
                if len(found) == COHORT_SIZE:
                    break
        return tuple(found)


def _chance(said: Utterance, text: str) -> float:
    return said.chances.get(text, said.chances[OTHER])


def _features(
    near: Sequence[Entry],
    measured: _Measured,
    best: int,
    second: int | None,
    beside: Sequence[int],
    wanted: Sequence[int],
) -> tuple[float, ...]:
    """What ``acceptance`` judges by; ``beside`` are entries of the other group."""
    import numpy as np

    entry, outside, said = near[best], measured.outside, measured.said
    least, middle = float(outside.min()), float(outside.mean())
    spread = max(1e-6, float(outside.std()))
    voices = measured.voices
    both = second is not None and not math.isnan(voices[best]) and not math.isnan(voices[second])
    column = voices if both or not math.isnan(voices[best]) else measured.nearest
    first = float(column[best])
    rival = least if second is None else float(column[second])
    if math.isnan(rival):
        rival = float(measured.nearest[second])
    ways = entry.own or entry.paths
    stretch = math.log(max(len(said.path), 1) / max(float(np.mean([len(p) for p in ways])), 1.0))
    chance = _chance(said, entry.text)
    against = said.chances[OTHER] if second is None else _chance(said, near[second].text)
    allowed = {near[n].text for n in wanted} | {entry.text}
    if entry.text not in said.chances:
        allowed.add(OTHER)
    elsewhere = max((v for word, v in said.chances.items() if word not in allowed), default=LEAST)
    side = [float(column[n]) for n in beside if not math.isnan(column[n])]
    found = (
        first,
        first / max(rival, 1e-6),
        first / max(least, 1e-6),
        first / max(float(np.sort(outside)[:5].mean()), 1e-6),
        (first - middle) / spread,
        (rival - first) / spread,
        float((outside < first).mean()),
        stretch,
        abs(stretch),
        chance,
        max(LEAST, min(-LEAST, chance - against)),
        max(LEAST, min(-LEAST, chance - elsewhere)),
        said.chances[OTHER],
        first / max(min(side, default=least), 1e-6),
    )
    if not entry.own:
        return found
    own = float(measured.own[best])
    own_rival = math.nan if second is None else float(measured.own[second])
    others = measured.others
    return (
        first / max(least, 1e-6),
        (rival - first) / spread,
        stretch,
        abs(stretch),
        max(LEAST, min(-LEAST, chance - against)),
        max(LEAST, min(-LEAST, chance - elsewhere)),
        said.chances[OTHER],
        own,
        own / max(own_rival, 1e-6) if not math.isnan(own_rival) else first / max(rival, 1e-6),
        own / max(_apart_in(entry.own), 1e-6),
        own / max(float(others.min()) if len(others) else 1.5 * own, 1e-6),
        (own - middle) / spread,
    )


def _apart_in(takes: tuple[Points, ...]) -> float:
    """The mean distance of a phrase's own takes from one another."""
    apart = [
        float(Bank([one], cosine=True).distances(other)[0]) for one, other in combinations(takes, 2)
    ]
    return sum(apart) / len(apart) if apart else 0.1


def _typical(distances: NDArray[np.float64], own: bool) -> float:
    """The mean over own takes, over the nearer half of voices where they are synthetic."""
    import numpy as np

    if own:
        return float(distances.mean())
    ordered = np.sort(distances)
    return float(ordered[: max(1, len(ordered) // 2)].mean())


@dataclass(frozen=True, slots=True)
class _Glances:
    """Paths of several phrases as six points at even places: enough to tell what is far."""

    owner: Any
    points: Any
    lengths: Any

    @classmethod
    def of(cls, ways: Sequence[tuple[Points, ...]]) -> _Glances:
        """The glances of all paths, and the number of the phrase that each is of."""
        import numpy as np

        paths = [path for each in ways for path in each]
        owner = np.array([n for n, each in enumerate(ways) for _ in each], dtype=int)
        points = np.array([_glance(path) for path in paths])
        return cls(owner, points, np.array([len(path) for path in paths]))

    def nearest(self, path: Points, count: int) -> list[int]:
        """The numbers of the nearest phrases, at most ``count``, the nearest first."""
        import numpy as np

        if not len(self.owner):
            return []
        alike = np.einsum("npd,pd->n", self.points, _glance(path)) / len(self.points[0])
        apart = 1 - alike + 0.5 * np.abs(np.log(len(path) / self.lengths))
        best = np.full(int(self.owner.max()) + 1, np.inf)
        np.minimum.at(best, self.owner, apart)
        order = np.argsort(best, kind="stable")[:count]
        return [int(n) for n in order if np.isfinite(best[n])]


def _glance(path: Points) -> Any:
    import numpy as np

    return path[np.linspace(0, len(path) - 1, 6).round().astype(int)]
