"""A number as it was spoken, word by word: its likeliest words, and what speaks for them.

Each group of islands is embedded on its own and gets the chance of every word; where the
pilot has recorded the words of numbers, their distance from those takes is weighed in. The
likeliest division into words that make a number of the form wanted is the finding. Its
features are those of its worst word: a number is as sure as the least sure of its words.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations
from typing import TYPE_CHECKING, Any

from runner.engine.effects import NumberWanted
from runner.phrasing.numbers import number_words
from runner.phrasing.numeral_words import DIGITS, HUNDRED, TEENS, TENS
from runner.voice.embedding import STEP_SECONDS, Utterance, clearness
from runner.voice.number_islands import groups
from runner.voice.number_model import NumberModel
from runner.voice.number_search import Segment, Way, ways
from runner.voice.prototypes import Prototypes
from runner.voice.text import number_in
from runner.voice.warping import Bank
from runner.voice.words import LEAST, OTHER

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Points = NDArray[np.float32]
    Sound = NDArray[np.float32]

FARTHEST = 1.0
"""Distance from takes beyond which more makes no difference."""

APART = 0.15
"""Usual distance of one speaker's takes of a word from one another."""

EVEN = 20.0
"""Natural units between two numbers beyond which more makes no difference."""

CLEAREST = 30.0
"""dB above what was around it; more makes no difference."""

BY_VOICES = 9
"""Features that are there without own takes; those of own takes follow."""

HALF = ("and", "a", "half")

COUNTED = (*TEENS, *TENS, HUNDRED, "thousand", "point", "decimal", " ".join(HALF))
"""Words of numbers that are no digits."""


@dataclass(frozen=True, slots=True)
class Piece:
    """One piece of sound: embedded, its points after the transform, and its distance from
    the words of the pilot's takes where there are some."""

    said: Utterance
    points: Any
    own: Mapping[str, float] | None


@dataclass(frozen=True, slots=True)
class Finding:
    """The likeliest number: its words, its value, and the features it is accepted by."""

    way: Way
    value: float
    features: tuple[float, ...]
    own: bool


class Templates:
    """The words of numbers as voices say them and as the pilot does, side by side."""

    def __init__(
        self, prototypes: Prototypes, own: Mapping[str, Sequence[Points]] | None = None
    ) -> None:
        self.digits = _Group({word: prototypes.paths(word) for word in DIGITS})
        self.counted = _Group({word: prototypes.paths(word) for word in COUNTED})
        self.own = _Group(own) if own else None
        self.seconds = self.digits.seconds() | self.counted.seconds()
        self.apart = {word: _apart(paths) for word, paths in (own or {}).items()}


class _Group:
    """Templates by word, measured all at once."""

    def __init__(self, paths: Mapping[str, Sequence[Points]]) -> None:
        self.words = tuple(word for word, those in paths.items() if those)
        self._counts = [len(paths[word]) for word in self.words]
        every = [path for word in self.words for path in paths[word]]
        self._lengths = [len(path) for path in every]
        self._bank = Bank(every, cosine=True)

    def seconds(self) -> dict[str, float]:
        """How long each word is on the mean."""
        found, at = {}, 0
        for word, count in zip(self.words, self._counts, strict=True):
            found[word] = STEP_SECONDS * sum(self._lengths[at : at + count]) / count
            at += count
        return found

    def distances(self, points: Points) -> dict[str, float]:
        """The mean distance to each word's nearer half, or to all of three and fewer."""
        import numpy as np

        raw, at, found = self._bank.distances(points), 0, {}
        for word, count in zip(self.words, self._counts, strict=True):
            those = np.sort(raw[at : at + count])
            found[word] = float(those[: count if count <= 6 else count // 2].mean())
            at += count
        return found


def _apart(takes: Sequence[Points]) -> float:
    """The mean distance of a word's takes from one another."""
    apart = [
        float(Bank([one], cosine=True).distances(other)[0]) for one, other in combinations(takes, 2)
    ]
    return sum(apart) / len(apart) if apart else APART


class NumberHearing:
    """Finds the number in a whole utterance; knows no window but the number that is wanted."""

    def __init__(
        self,
        model: NumberModel,
        templates: Templates,
        embed: Callable[[Sound], tuple[Utterance, Any]],
    ) -> None:
        self.model = model
        self._templates = templates
        self._embed = embed
        self._words = frozenset(model.words.classes) - {OTHER}
        self._pieces: dict[tuple[int, int], Piece] = {}
        self._from_voices: dict[tuple[int, bool], Mapping[str, float]] = {}
        self.islands = 0
        """Islands of sound in what was searched last."""

    def begin(self) -> None:
        """Another utterance: forget what was measured of the last one."""
        self._pieces.clear()
        self._from_voices.clear()

    def find(self, samples: Sound, wanted: NumberWanted) -> tuple[Finding | None, str]:
        """The likeliest number, and the likeliest words whether they are a number or not.

        What was measured of a piece is kept until ``begin``: an utterance only grows.
        """
        count, places = groups(samples)
        self.islands = count
        allowed = words_allowed(wanted)
        segments, pieces = [], {}
        for group in places:
            piece = self._piece(samples, group.start, group.end)
            segments.append(self._segment(group.first, group.last, piece, allowed))
            pieces[group.first, group.last] = piece
        found = ways(count, segments)
        valued = [
            (way, value)
            for way in found
            if all(word in DIGITS for word in way.words)
            and (value := value_of(way, wanted)) is not None
        ]
        if not valued:
            return None, found[0].text if found else ""
        way, value = valued[0]
        # Counted words are PocketSphinx's to propose, but where they are likelier they speak
        # against the digits.
        numbers = {one.words: number for one, number in valued}
        others = (one.score for one in found if numbers.get(one.words) != value)
        second = max(others, default=way.score - EVEN)
        used = [pieces[segment.first, segment.last] for segment in way.segments]
        features = self._features(way, used, way.score - second, samples)
        return Finding(way, value, features, self._templates.own is not None), found[0].text

    def at(
        self,
        samples: Sound,
        places: Sequence[tuple[str, int, int]],
        value: float,
        wanted: NumberWanted,
    ) -> Finding | None:
        """A number of which the words and their places are given: what speaks for it.

        Words that are no part of a number are passed over. None where nothing is left.
        """
        allowed = words_allowed(wanted)
        known = [place for place in halves_whole(places) if place[0] in allowed & self._words]
        if not known:
            return None
        pieces = [self._piece(samples, start, end) for _, start, end in known]
        segments = tuple(
            self._segment(number, number + 1, piece, allowed) for number, piece in enumerate(pieces)
        )
        words = tuple(word for word, _, _ in known)
        score = sum(s.weighed[w] for w, s in zip(words, segments, strict=True))
        way = Way(words, segments, score)
        features = self._features(way, pieces, EVEN, samples)
        return Finding(way, value, features, self._templates.own is not None)

    def _piece(self, samples: Sound, start: int, end: int) -> Piece:
        key = (start, end)
        if key not in self._pieces:
            said, points = self._embed(samples[start:end])
            own = self._templates.own
            self._pieces[key] = Piece(
                said, points, own.distances(points) if own is not None else None
            )
        return self._pieces[key]

    def _voices(self, piece: Piece, word: str) -> Mapping[str, float]:
        """Distances of a piece from what voices say: a digit is compared with digits alone,
        because counted words count against the whole number."""
        found = dict(self._from_group(piece, False))
        if word not in DIGITS:
            found |= self._from_group(piece, True)
        return found

    def _from_group(self, piece: Piece, counted: bool) -> Mapping[str, float]:
        key = (id(piece), counted)
        if key not in self._from_voices:
            group = self._templates.counted if counted else self._templates.digits
            self._from_voices[key] = group.distances(piece.points)
        return self._from_voices[key]

    def _segment(self, first: int, last: int, piece: Piece, allowed: frozenset[str]) -> Segment:
        said = piece.said
        chances = self.model.words.chances(said.embedded, said.seconds)
        weighed = self._weighed(piece, chances, allowed)
        return Segment(first, last, said.seconds, chances, weighed)

    def _weighed(
        self, piece: Piece, chances: Mapping[str, float], allowed: frozenset[str]
    ) -> dict[str, float]:
        """The chance of each allowed word, with the distance from own takes weighed in."""
        found = {word: chances[word] for word in chances if word in allowed}
        if piece.own is None:
            return found
        farthest = max(piece.own.values())
        for word, chance in found.items():
            # A word without takes is held to be as far as the farthest of those that have some.
            beyond = piece.own.get(word, farthest) - self._templates.apart.get(word, APART)
            far = min(FARTHEST, max(0.0, beyond))
            found[word] = self.model.chance_weight * chance - self.model.distance_weight * far
        return found

    def _features(
        self,
        way: Way,
        pieces: Sequence[Piece],
        gap: float,
        samples: Sound,
    ) -> tuple[float, ...]:
        """Of the number's words, the worst of each measure.

        In this order: chance; lead over the next word; chance of being no word of a number;
        lead of the number over the next one; mean chance; the distance from voices as a share
        of that of the nearest other word; how clear all of it stands above what was around it;
        how long the longest word is against what it usually takes, and against the others: two
        words said in one breath and taken for one are long.
        With own takes: the lead in the weighed chances, the distance beyond how far the takes
        are apart, and its share of that of the nearest other word.
        """
        chances, leads, weighed_leads, shares = [], [], [], []
        own_near, own_shares = [], []
        usual = self._templates.seconds
        long = [
            math.log(max(segment.seconds, STEP_SECONDS) / usual.get(word, segment.seconds))
            for word, segment in zip(way.words, way.segments, strict=True)
        ]
        for word, segment, piece in zip(way.words, way.segments, pieces, strict=True):
            chances.append(segment.chances[word])
            leads.append(_lead(segment.chances, word))
            weighed_leads.append(_lead(segment.weighed, word))
            shares.append(_nearness(self._voices(piece, word), word)[1])
            if piece.own is not None:
                distance, share = _nearness(piece.own, word)
                own_near.append(distance / self._templates.apart.get(word, APART))
                own_shares.append(share)
        found = (
            min(chances),
            min(leads),
            max(segment.chances[OTHER] for segment in way.segments),
            max(-EVEN, min(EVEN, gap)),
            sum(chances) / len(chances),
            max(shares),
            min(CLEAREST, clearness(samples)),
            max(long),
            max(long) - sum(long) / len(long),
        )
        if self._templates.own is None:
            return found
        return (*found, min(weighed_leads), max(own_near), max(own_shares))


def halves_whole(
    places: Sequence[tuple[str, int, int]],
) -> list[tuple[str, int, int]]:
    """The places of words, "and a half" as the one word that the model has for it."""
    found: list[tuple[str, int, int]] = []
    for place in places:
        found.append(place)
        if tuple(word for word, _, _ in found[-3:]) == HALF:
            start, end = found[-3][1], found[-1][2]
            found[-3:] = [(" ".join(HALF), start, end)]
    return found


def same(one: str, other: str) -> bool:
    """Whether two words of numbers mean the same."""
    return one == other or (one in DIGITS and DIGITS.get(other) == DIGITS[one])


def _lead(chances: Mapping[str, float], word: str) -> float:
    """How much likelier a word is than the likeliest of another meaning; a digit is compared
    with digits, because counted words count against the whole number."""
    rivals = DIGITS if word in DIGITS else chances
    others = (
        chance
        for other, chance in chances.items()
        if other in rivals and other != OTHER and not same(other, word)
    )
    return chances[word] - max(others, default=LEAST)


def _nearness(distances: Mapping[str, float], word: str) -> tuple[float, float]:
    """The distance to a word, and its share of that to the nearest other one."""
    here = distances.get(word, max(distances.values()))
    others = min((d for other, d in distances.items() if not same(other, word)), default=here)
    return here, here / max(others, 1e-6)


def value_of(way: Way, wanted: NumberWanted) -> float | None:
    """The number that the words are, in the form that is wanted."""
    return number_in(way.text, wanted)


@lru_cache(maxsize=64)
def words_allowed(wanted: NumberWanted) -> frozenset[str]:
    """Words of the model that can be part of a number of this form."""
    words = set(number_words(wanted.form))
    if wanted.form.decimals and set(HALF) <= words:
        words.add(" ".join(HALF))
    return frozenset(words)
