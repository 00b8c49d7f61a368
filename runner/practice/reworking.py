"""What is known of a card worked out again from its answers alone."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from runner.practice.rating import GOOD
from runner.practice.spacing import Progress, reviewed


def rework(answers: Iterable[tuple[int, bool, int, str]]) -> str | None:
    """The state of a card after these answers (rating, right, milliseconds, ISO 8601 time),
    None after none.

    That there was a hint is not stored: a right answer that was rated less than good counts
    as one with a hint. That is so but for slow ones, whose card is asked a little more easily.
    """
    progress: Progress | None = None
    for rating, right, answer_ms, at in answers:
        progress = reviewed(
            progress,
            rating,
            datetime.fromisoformat(at),
            right=right,
            answer_ms=answer_ms,
            hinted=right and rating < GOOD,
        )
    return None if progress is None else progress.to_json()
