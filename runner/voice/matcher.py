"""The matcher: what was said against how each possible answer sounds.

Templates are the pilot's own takes where there are some, and synthetic voices' where there
are not. Everything that the window allows competes, and so does a cohort of phrases that it
does not allow: whether an answer is accepted depends on how much nearer it is than they.
"""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from runner.engine.effects import Listen
from runner.engine.events import Proposal
from runner.voice.embedding import Embedder, to_samples
from runner.voice.prototypes import Prototypes, transform
from runner.voice.recogniser import RATE, Capabilities
from runner.voice.text import pattern_of
from runner.voice.warping import Bank

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Points = NDArray[np.float32]

TEXTS = {"answer": 8, "competitor": 8, "control": 3, "call": 2, "moment": 3}
"""Ways of saying one candidate that are compared, by its role."""

COHORT = 24
"""Phrases that the window does not allow, of about the length of what was said."""

NEAREST = 14
"""Phrases beside the item's own answers that are compared in full."""

SHORTEST = 0.12
"""Seconds; less sound than this is no word."""

WEIGHTS = Path(__file__).parent / "data" / "matcher.json"

FEATURES = 9

KNOWN = {"word": 0.55, "phrase": 0.55, "own": 0.9}
"""The probability below which what was said is none of the window's phrases."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One way of saying one candidate, with its templates; ``own`` where the pilot said them."""

    candidate: str
    role: str
    text: str
    paths: tuple[Points, ...]
    own: bool = False


@dataclass(frozen=True, slots=True)
class Finding:
    """The nearest entry and what the acceptance is judged by."""

    entry: Entry
    features: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Weights:
    """The fitted acceptance: two logistic regressions on standardised features.

    ``known`` tells what the window allows from what it does not, ``right`` the nearest
    answer from its rivals.
    """

    mean: tuple[float, ...]
    spread: tuple[float, ...]
    known: tuple[float, ...]
    right: tuple[float, ...]

    def judge(self, features: Sequence[float]) -> tuple[float, float]:
        """The two probabilities: that it is in the window at all, and that it is this one."""
        z = [(f - m) / s for f, m, s in zip(features, self.mean, self.spread, strict=True)]
        return _chance(self.known, terms(z)), _chance(self.right, z)


def terms(z: Sequence[float]) -> list[float]:
    """Features with their squares and the products of the first two with the others."""
    return [*z, *(f * f for f in z), *(z[0] * f for f in z[1:]), *(z[1] * f for f in z[2:])]


def _chance(weights: Sequence[float], values: Sequence[float]) -> float:
    total = weights[0] + sum(w * v for w, v in zip(weights[1:], values, strict=True))
    return 1 / (1 + math.exp(-max(-60.0, min(60.0, total))))


@lru_cache(maxsize=3)
def weights(kind: str) -> Weights:
    """The weights as fitted and shipped: for ``own`` takes, and against synthetic voices for a
    single ``word`` and for a ``phrase``."""
    stored = json.loads(WEIGHTS.read_text())[kind]
    return Weights(*(tuple(stored[name]) for name in ("mean", "spread", "known", "right")))


class Matcher:
    """Compares paths with entries; knows no window, no device and no judge."""

    def __init__(self, prototypes: Prototypes) -> None:
        self.prototypes = prototypes

    def find(self, path: Points, entries: Sequence[Entry]) -> Finding | None:
        """The entry that is nearest, and its features. None where there is none to compare."""
        import numpy as np

        near = _nearest(path, entries)
        if not near:
            return None
        banned = {word for entry in entries for word in entry.text.split()}
        cohort = self._cohort(len(path), frozenset(banned))
        paths = [p for entry in near for p in entry.paths] + [p for ps in cohort for p in ps]
        owner = [n for n, entry in enumerate(near) for _ in entry.paths]
        owner += [len(near) + n for n, ps in enumerate(cohort) for _ in ps]
        raw = Bank(paths, cosine=True).distances(path)
        owners = np.array(owner)
        each = np.array(
            [
                _typical(raw[owners == n], n < len(near) and near[n].own)
                for n in range(len(near) + len(cohort))
            ]
        )
        inside, outside = each[: len(near)], each[len(near) :]
        best = int(np.argmin(inside))
        rivals = [
            float(d)
            for d, entry in zip(inside, near, strict=True)
            if entry.candidate != near[best].candidate
        ]
        first = float(inside[best])
        spread = max(1e-6, float(outside.std()))
        second = min(rivals) if rivals else float(outside.min())
        steps = float(np.mean([len(p) for p in near[best].paths]))
        stretch = math.log(max(len(path), 1) / max(steps, 1.0))
        features = (
            first,
            first / max(second, 1e-6),
            first / max(float(outside.min()), 1e-6),
            first / max(float(np.sort(outside)[:5].mean()), 1e-6),
            (first - float(outside.mean())) / spread,
            (second - first) / spread,
            stretch,
            abs(stretch),
            float((outside < first).mean()),
        )
        return Finding(near[best], features)

    def _cohort(self, steps: int, banned: frozenset[str]) -> list[tuple[Points, ...]]:
        return [self.prototypes.paths(text) for text in self._cohort_texts(steps, banned)]

    @lru_cache(maxsize=512)  # noqa: B019
    def _cohort_texts(self, steps: int, banned: frozenset[str]) -> tuple[str, ...]:
        """Phrases without a word of the window, of about so many steps."""
        import numpy as np

        order = np.argsort(np.abs(np.log(self.prototypes.steps / max(steps, 1))), kind="stable")
        found: list[str] = []
        for number in order:
            text = self.prototypes.texts[int(number)]
            if banned.isdisjoint(text.split()):
                found.append(text)
                if len(found) == COHORT:
                    break
        return tuple(found)


def _typical(distances: NDArray[np.float64], own: bool) -> float:
    """The mean over own takes, over the nearer half of voices where they are synthetic."""
    import numpy as np

    if own:
        return float(distances.mean())
    ordered = np.sort(distances)
    return float(ordered[: max(1, len(ordered) // 2)].mean())


def _nearest(path: Points, entries: Sequence[Entry]) -> list[Entry]:
    """The item's own answers, and of the rest those that are nearest at a glance."""
    wanted = [entry for entry in entries if entry.role in ("answer", "competitor")]
    others = [entry for entry in entries if entry.role not in ("answer", "competitor")]
    if len(others) <= NEAREST:
        return wanted + others
    glance = _shape(path)
    ranked = sorted(others, key=lambda entry: min(_apart(glance, _shape(p)) for p in entry.paths))
    return wanted + ranked[:NEAREST]


def _shape(path: Points) -> Any:
    """A path as six points at even places and its length: enough to tell what is far."""
    import numpy as np

    places = np.linspace(0, len(path) - 1, 6).round().astype(int)
    return path[places], len(path)


def _apart(one: Any, other: Any) -> float:
    import numpy as np

    length = abs(math.log(one[1] / other[1]))
    return float(1 - np.mean(np.sum(one[0] * other[0], axis=1))) + 0.5 * length


class MatcherRecogniser:
    """The matcher behind the recognisers' interface; it hears words, and leaves numbers."""

    def __init__(self, takes: Any = None) -> None:
        self._embedder = Embedder()
        self._prototypes = Prototypes()
        self._matcher = Matcher(self._prototypes)
        self._takes = takes
        self._own: dict[str, tuple[Points, ...]] = {}
        self._transform = transform()
        self._listen: Listen | None = None
        self._entries: tuple[Entry, ...] = ()
        self._missing: set[str] = set()
        self._samples = bytearray()

    @property
    def capabilities(self) -> Capabilities:
        """Closed to the window's candidates; numbers are left to another recogniser."""
        limits = []
        if self._missing:
            words = ", ".join(sorted(self._missing)[:8])
            limits.append(f"matcher: no template for: {words}")
        model = "own takes and synthetic voices" if self._takes else "synthetic voices"
        return Capabilities("matcher", model, True, False, tuple(limits))

    def fits(self, listen: Listen) -> bool:
        """Whether this window is one for the matcher: words, each with a template."""
        if listen.number is not None:
            return False
        self.prepare(listen)
        answers = {c.id for c in listen.candidates if c.role in ("answer", "competitor")}
        return answers <= {entry.candidate for entry in self._entries}

    def prepare(self, listen: Listen) -> None:
        """See ``Recogniser``."""
        if listen is not self._listen:
            self._listen, self._entries = listen, self._entries_of(listen)

    def begin(self) -> None:
        """See ``Recogniser``."""
        self._samples.clear()

    def feed(self, samples: bytes) -> None:
        """See ``Recogniser``."""
        self._samples += samples

    def propose(self, final: bool = True) -> tuple[Proposal, ...]:  # noqa: ARG002
        """See ``Recogniser``."""
        if self._listen is None or len(self._samples) < SHORTEST * 2 * RATE:
            return ()
        said = self._embedder.path(to_samples(bytes(self._samples)))
        found = self._matcher.find(self._transform(said.embedded), self._entries)
        if found is None:
            return ()
        entry = found.entry
        kind = "own" if entry.own else "phrase" if " " in entry.text else "word"
        known, right = weights(kind).judge(found.features)
        if known < KNOWN[kind]:
            return (Proposal("matcher", None, entry.text, known, 0.0),)
        return (Proposal("matcher", entry.candidate, entry.text, known, right),)

    def close(self) -> None:
        """See ``Recogniser``."""
        self._entries = ()

    def _entries_of(self, listen: Listen) -> tuple[Entry, ...]:
        found: list[Entry] = []
        for candidate in listen.candidates:
            for text in pattern_of(candidate.pattern).texts(60)[: TEXTS[candidate.role]]:
                own = self._own_paths(text)
                paths = own or self._prototypes.paths(text)
                if paths:
                    found.append(Entry(candidate.id, candidate.role, text, paths, bool(own)))
                else:
                    self._missing |= {w for w in text.split() if w not in self._prototypes}
        return tuple(found)

    def _own_paths(self, text: str) -> tuple[Points, ...]:
        if self._takes is None:
            return ()
        if text not in self._own:
            self._own[text] = tuple(
                self._transform(self._embedder.path(to_samples(sound)).embedded)
                for sound in self._takes.takes(text)
            )
        return self._own[text]
