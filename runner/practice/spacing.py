"""When a card comes back: what is known of one card, and its next review by FSRS.

The scheduling is FSRS-6 as the kept library ``fsrs`` has it, with its published parameters
and nine in ten as the retention aimed at. Its steps within a session are left out: with
them what is hard comes back minutes later again and again, and in ``tests/bench/learners.py``
that ate the questions by which the rest of the deck would have been learned. Left out is its
random spread of intervals too, so that the same answers always give the same days. It counts
whole days, and one is the least.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from functools import lru_cache
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from fsrs import Scheduler

RETENTION = 0.9
"""The share of cards that should still be known when they come back."""

TIMES_KEPT = 9
"""So many times of right answers are kept of a card, the newest."""

LEVELS = 4
"""Steps of difficulty, from 0."""

RIGHT_A_LEVEL = 2
"""So many right answers in a row, without a hint, make a card one level harder."""

_KEPT_BY_FSRS = ("state", "step", "stability", "difficulty")


@dataclass(frozen=True, slots=True)
class Progress:
    """What is known of one card. ``due`` and ``last`` are UTC; ``times`` are milliseconds.

    ``state`` to ``difficulty`` are FSRS's own: stability in days, difficulty from 1 to 10.
    ``streak`` counts right answers in a row without a hint.
    """

    due: datetime
    last: datetime
    state: int = 1
    step: int | None = 0
    stability: float | None = None
    difficulty: float | None = None
    asked: int = 0
    right: int = 0
    streak: int = 0
    times: tuple[int, ...] = ()

    @property
    def level(self) -> int:
        """How hard the card is asked now, 0 to ``LEVELS`` - 1."""
        return min(LEVELS - 1, self.streak // RIGHT_A_LEVEL)

    def to_json(self) -> str:
        """As it is stored: FSRS's own names, and ours beside them."""
        plain = {name: getattr(self, name) for name in (*_KEPT_BY_FSRS, "asked", "right", "streak")}
        plain |= {
            "due": self.due.isoformat(),
            "last_review": self.last.isoformat(),
            "times": list(self.times),
        }
        return json.dumps(plain, sort_keys=True)

    @classmethod
    def from_json(cls, text: str) -> Progress:
        """What ``to_json`` gave. Raises ValueError where it is none of ours."""
        try:
            plain: dict[str, Any] = json.loads(text)
            times = tuple(int(one) for one in plain["times"])
            whole = {name: int(plain[name]) for name in ("state", "asked", "right", "streak")}
            return cls(
                due=_utc(plain["due"]),
                last=_utc(plain["last_review"]),
                step=None if plain["step"] is None else int(plain["step"]),
                stability=None if plain["stability"] is None else float(plain["stability"]),
                difficulty=None if plain["difficulty"] is None else float(plain["difficulty"]),
                times=times,
                **whole,
            )
        except (KeyError, TypeError, AttributeError, ValueError) as error:
            raise ValueError(f"not the state of a card: {error}") from error


def _utc(text: str) -> datetime:
    return datetime.fromisoformat(text).astimezone(UTC)


@lru_cache(maxsize=8)
def scheduler(retention: float = RETENTION) -> Scheduler:
    """FSRS with its published parameters."""
    from fsrs import Scheduler

    return Scheduler(
        desired_retention=retention, learning_steps=(), relearning_steps=(), enable_fuzzing=False
    )


def reviewed(
    before: Progress | None,
    rating: int,
    at: datetime,
    *,
    right: bool,
    answer_ms: int,
    hinted: bool = False,
    retention: float = RETENTION,
) -> Progress:
    """A card after an answer at ``at`` (UTC) with a rating of 1 (again) to 4 (easy).

    ``before`` is None for a card that was never asked. Only right answers leave a time.
    """
    from fsrs import Card, Rating, State

    at = at.astimezone(UTC)
    if before is None:
        card = Card(card_id=1, due=at)
        before = Progress(at, at)
    else:
        card = Card(
            card_id=1,
            state=State(before.state),
            step=before.step,
            stability=before.stability,
            difficulty=before.difficulty,
            due=before.due,
            last_review=before.last,
        )
    card, _ = scheduler(retention).review_card(card, Rating(rating), at)
    counts = right and not hinted
    return replace(
        before,
        due=card.due,
        last=at,
        state=int(card.state),
        step=card.step,
        stability=card.stability,
        difficulty=card.difficulty,
        asked=before.asked + 1,
        right=before.right + right,
        streak=before.streak + 1 if counts else before.streak if right else 0,
        times=(*before.times, answer_ms)[-TIMES_KEPT:] if right else before.times,
    )


def retrievability(progress: Progress, now: datetime, retention: float = RETENTION) -> float:
    """How likely the card is known now, 0 to 1, as FSRS sees it (whole days)."""
    from fsrs import Card, State

    card = Card(
        card_id=1,
        state=State(progress.state),
        step=progress.step,
        stability=progress.stability,
        difficulty=progress.difficulty,
        due=progress.due,
        last_review=progress.last,
    )
    return float(scheduler(retention).get_card_retrievability(card, now.astimezone(UTC)))
