"""The likeliest words of a number, over every way to divide its islands among words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

MOST_KEPT = 40
"""Ways kept at each place: enough that the second value is among them."""

WORDS_EACH = 6
"""The likeliest words of a group that are followed."""


@dataclass(frozen=True, slots=True)
class Segment:
    """Islands ``first`` to ``last`` (exclusive) taken as one word.

    ``chances`` are natural logarithms of the chance of each word of the model, ``weighed`` those
    of the words that are searched, with whatever else speaks for them.
    """

    first: int
    last: int
    seconds: float
    chances: Mapping[str, float]
    weighed: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Way:
    """Words with the segments that they are said in; ``score`` is the sum of their chances."""

    words: tuple[str, ...]
    segments: tuple[Segment, ...]
    score: float

    @property
    def text(self) -> str:
        """The words as one text."""
        return " ".join(self.words)


def ways(count: int, segments: Sequence[Segment]) -> tuple[Way, ...]:
    """The likeliest ways to hear ``count`` islands as words, the likeliest first.

    Every island belongs to a word. Of several ways to hear the same words the likeliest is
    given. Empty where the islands cannot be covered.
    """
    by_end: dict[int, list[Segment]] = {}
    for segment in segments:
        by_end.setdefault(segment.last, []).append(segment)
    kept: dict[int, list[Way]] = {0: [Way((), (), 0.0)]}
    for end in range(1, count + 1):
        best: dict[tuple[str, ...], Way] = {}
        for segment in by_end.get(end, ()):
            likeliest = sorted(segment.weighed.items(), key=lambda each: -each[1])[:WORDS_EACH]
            for before in kept.get(segment.first, ()):
                for word, chance in likeliest:
                    way = Way(
                        (*before.words, word),
                        (*before.segments, segment),
                        before.score + chance,
                    )
                    there = best.get(way.words)
                    if there is None or way.score > there.score:
                        best[way.words] = way
        kept[end] = sorted(best.values(), key=lambda way: -way.score)[:MOST_KEPT]
    return tuple(kept.get(count, ())) if count else ()
