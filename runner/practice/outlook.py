"""What waits: how many cards of each kind are due or new, and when the next one comes back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime

from runner.practice.cards import Card
from runner.practice.kinds import KINDS
from runner.practice.queue import tiers
from runner.practice.spacing import Progress


def due_and_new(
    cards: Sequence[Card], progress: Mapping[str, Progress], now: datetime
) -> dict[str, tuple[int, int]]:
    """How many cards are due now, and how many new, of each kind that there are any of."""
    counted: dict[str, tuple[int, int]] = {}
    for kind in KINDS:
        of = [card.waiting for card in cards if card.kind == kind]
        if of:
            due, new, _ = tiers(of, progress, now)
            counted[kind] = len(due), len(new)
    return counted


def next_due(
    cards: Sequence[Card], progress: Mapping[str, Progress], now: datetime
) -> datetime | None:
    """When the next card that is not due yet comes back (UTC); None where none does."""
    known = (progress[card.id].due for card in cards if card.id in progress)
    return min((due for due in known if due > now), default=None)
