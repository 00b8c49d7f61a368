"""How much a count can bear: intervals of shares, and what chance alone would do.

Sources: the interval is E. B. Wilson's (Journal of the American Statistical Association 22,
1927, pages 209 to 212); the tests are the sign test and Fisher's test by permutation.
"""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from statistics import fmean

LIKELY = 0.05
"""What chance alone does more often than this is not told as a change."""

SHUFFLES = 2000
NORMAL_95 = 1.959963984540054


def wilson(hits: int, of: int) -> tuple[float, float]:
    """The 95 % interval of a share, 0 to 1, given so many hits; all of it where ``of`` is 0."""
    if of == 0:
        return 0.0, 1.0
    z = NORMAL_95
    share = hits / of
    middle = (share + z * z / (2 * of)) / (1 + z * z / of)
    half = z / (1 + z * z / of) * math.sqrt(share * (1 - share) / of + z * z / (4 * of * of))
    return max(0.0, middle - half), min(1.0, middle + half)


def at_least(hits: int, of: int) -> float:
    """How likely a fair coin gives so many heads or more."""
    ways = sum(math.comb(of, count) for count in range(hits, of + 1))
    return float(ways / 2**of)


def sign_test(more: int, less: int) -> float:
    """How likely chance alone splits pairs as unevenly as this or more so (two-sided)."""
    of = more + less
    return min(1.0, 2 * at_least(max(more, less), of)) if of else 1.0


def permutation_test(before: Sequence[float], after: Sequence[float]) -> float:
    """How likely the means of two groups lie so far apart by chance alone (two-sided).

    By ``SHUFFLES`` shuffles from a fixed seed: the same values give the same answer.
    """
    if not before or not after:
        return 1.0
    everything = [*before, *after]
    wanted = abs(fmean(after) - fmean(before)) * (1 - 1e-12)
    rng = random.Random(1)
    hits = 0
    for _ in range(SHUFFLES):
        rng.shuffle(everything)
        first, second = everything[: len(before)], everything[len(before) :]
        hits += abs(fmean(second) - fmean(first)) >= wanted
    return (hits + 1) / (SHUFFLES + 1)
