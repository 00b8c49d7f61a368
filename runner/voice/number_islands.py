"""A spoken number cut at its pauses: islands of sound, and the groups that may be one word.

Between words spoken one at a time there is a pause; inside a word there may be one too, where
the lips or the tongue close ("eight", "six"). So up to four neighbouring islands are looked at
as one word as well, each group embedded on its own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from runner.voice.embedding import islands
from runner.voice.recogniser import RATE

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Sound = NDArray[np.float32]

GAP_SECONDS = 0.04
"""A shorter pause is none."""

MOST_TOGETHER = 4
"""Islands that are looked at as one word."""

LONGEST_WORD = 1.1
"""Seconds; no single word of a number takes longer."""

MOST_ISLANDS = 16
"""A number has fewer; whatever has more is talk or noise and is not searched."""


@dataclass(frozen=True, slots=True)
class Group:
    """Islands ``first`` to ``last`` (exclusive), and where their sound is, in samples."""

    first: int
    last: int
    start: int
    end: int


def groups(samples: Sound) -> tuple[int, tuple[Group, ...]]:
    """The number of islands, and every group of neighbours that may be one word.

    No group where there is no island, or more of them than a number has.
    """
    places = islands(samples, GAP_SECONDS)
    if len(places) > MOST_ISLANDS:
        return len(places), ()
    return len(places), tuple(_grouped(places))


def _grouped(places: Sequence[tuple[int, int]]) -> list[Group]:
    found = []
    for first in range(len(places)):
        for last in range(first + 1, min(first + MOST_TOGETHER, len(places)) + 1):
            start, end = places[first][0], places[last - 1][1]
            if last > first + 1 and end - start > LONGEST_WORD * RATE:
                break
            found.append(Group(first, last, start, end))
    return found
