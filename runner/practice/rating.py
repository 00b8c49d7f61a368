"""From an answer to FSRS's rating: right or wrong, hints, and the time against one's own past."""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median

AGAIN, HARD, GOOD, EASY = 1, 2, 3, 4
"""FSRS's ratings."""

SLOW = 1.5
FAST = 0.7
"""Of one's own median: beyond it an answer was slow, below it fast."""

PAST_NEEDED = 3
"""So many right answers a card needs before its past says what is slow and fast."""


def rate(
    *, right: bool, hints: int, answer_ms: int, past: Sequence[int], limit_ms: int, streak: int
) -> int:
    """The rating, 1 to 4.

    Wrong, or right only after more than the first word was given: again. After a hint of
    one word, or slowly: hard. Fast and right several times running: easy. What is slow is
    measured against the ``past`` times of right answers to the same card; before there are
    three, against the time allowed, of which two thirds are slow.
    """
    if not right or hints > 1:
        return AGAIN
    if hints:
        return HARD
    if len(past) < PAST_NEEDED:
        return HARD if answer_ms > limit_ms * 2 / 3 else GOOD
    usual = median(past)
    if answer_ms > SLOW * usual:
        return HARD
    return EASY if answer_ms < FAST * usual and streak >= PAST_NEEDED else GOOD
