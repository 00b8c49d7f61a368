"""What practice needs of whoever keeps it, and a keeper in memory for where there is none."""

from __future__ import annotations

from concurrent.futures import Future
from datetime import datetime
from typing import Protocol

from runner.practice.spacing import Progress


class Store(Protocol):
    """The keeper of drills and cards (``runner.logbook``)."""

    def drill_begin(self, kind: str, length: str, at: datetime) -> int:
        """A session has begun; its number."""

    def drill_answer(
        self,
        drill: int,
        card: str,
        kind: str,
        rating: int,
        right: bool,
        answer_ms: int,
        at: datetime,
        heard: str,
    ) -> Future[None]:
        """An answer was given; done when it is durable."""

    def drill_end(self, drill: int) -> object:
        """The session has ended."""

    def cards(self, kind: str | None = None) -> dict[str, str]:
        """The state of every card, as ``Progress.to_json`` gave it."""

    def card_put(self, card: str, kind: str, state_json: str) -> object:
        """A card's new state."""


class MemoryStore:
    """Keeps drills as long as the program runs."""

    def __init__(self) -> None:
        self._cards: dict[str, tuple[str, str]] = {}
        self._drills = 0

    def drill_begin(self, kind: str, length: str, at: datetime) -> int:  # noqa: ARG002
        self._drills += 1
        return self._drills

    def drill_answer(
        self,
        drill: int,  # noqa: ARG002
        card: str,  # noqa: ARG002
        kind: str,  # noqa: ARG002
        rating: int,  # noqa: ARG002
        right: bool,  # noqa: ARG002
        answer_ms: int,  # noqa: ARG002
        at: datetime,  # noqa: ARG002
        heard: str,  # noqa: ARG002
    ) -> Future[None]:
        done: Future[None] = Future()
        done.set_result(None)
        return done

    def drill_end(self, drill: int) -> None:
        pass

    def cards(self, kind: str | None = None) -> dict[str, str]:
        return {card: text for card, (of, text) in self._cards.items() if kind in (None, of)}

    def card_put(self, card: str, kind: str, state_json: str) -> None:
        self._cards[card] = (kind, state_json)


def progress_of(store: Store) -> tuple[dict[str, Progress], int]:
    """What is known of every card, and how many were stored in a way that cannot be read:
    those begin anew."""
    known: dict[str, Progress] = {}
    unread = 0
    for card, text in store.cards(None).items():
        try:
            known[card] = Progress.from_json(text)
        except ValueError:
            unread += 1
    return known, unread
