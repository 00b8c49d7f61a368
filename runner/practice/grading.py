"""An answer graded: its rating, and what is known of its card from then on."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from runner.practice.cards import Card
from runner.practice.exercise import Exercise
from runner.practice.rating import HARD, rate
from runner.practice.spacing import Progress, reviewed


@dataclass(frozen=True, slots=True)
class Answered:
    """What a question came to: ``hints`` given, and milliseconds from its end to the answer's."""

    right: bool
    answer_ms: int
    heard: str
    hints: int = 0


@dataclass(frozen=True, slots=True)
class Graded:
    """An answer, its rating, and what is known of its card now."""

    card: str
    kind: str
    rating: int
    right: bool
    answer_ms: int
    at: datetime
    heard: str
    progress: Progress


def grade(
    card: Card,
    exercise: Exercise,
    known: Progress | None,
    answered: Answered,
    patience: int,
    now: datetime,
) -> Graded:
    """Rate an answer. ``patience`` is how many times the usual time was given."""
    sequence = bool(exercise.verifies or exercise.allowed_ms)
    rating = rate(
        right=answered.right,
        hints=answered.hints,
        answer_ms=answered.answer_ms,
        past=() if known is None else known.times,
        # A sequence has no time for silence that it could be measured by.
        limit_ms=2 * answered.answer_ms + 1 if sequence else exercise.limit_ms * patience,
        streak=0 if known is None else known.streak,
    )
    if exercise.allowed_ms and answered.answer_ms > exercise.allowed_ms * patience:
        rating = min(rating, HARD)
    progress = reviewed(
        known,
        rating,
        now,
        right=answered.right,
        answer_ms=answered.answer_ms,
        hinted=answered.hints > 0,
    )
    return Graded(
        card.id,
        card.kind,
        rating,
        answered.right,
        answered.answer_ms,
        now,
        answered.heard,
        progress,
    )
