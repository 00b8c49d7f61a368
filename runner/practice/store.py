"""What practice needs of whoever keeps it, and a keeper in memory for where there is none."""

from __future__ import annotations

from collections.abc import Iterable
from concurrent.futures import Future
from datetime import datetime
from typing import Protocol

from runner.practice.spacing import Progress


class Store(Protocol):
    """The keeper of drills and cards (``runner.logbook``)."""

    def drill_begin(self, kind: str, length: int, at: datetime) -> int:
        """A session of at most ``length`` questions (0: by time) has begun; its number."""

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
        state_json: str | None = None,
    ) -> Future[None]:
        """An answer was given, and this became of its card; done when it is durable."""

    def drill_end(self, drill: int) -> object:
        """The session has ended."""

    def cards(self, kind: str | None = None) -> dict[str, str]:
        """The state of every card, as ``Progress.to_json`` gave it."""


class MemoryStore:
    """Keeps drills as long as the program runs."""

    def __init__(self) -> None:
        self._cards: dict[str, tuple[str, str]] = {}
        self._drills = 0

    def drill_begin(self, kind: str, length: int, at: datetime) -> int:  # noqa: ARG002
        self._drills += 1
        return self._drills

    def drill_answer(
        self,
        drill: int,  # noqa: ARG002
        card: str,
        kind: str,
        rating: int,  # noqa: ARG002
        right: bool,  # noqa: ARG002
        answer_ms: int,  # noqa: ARG002
        at: datetime,  # noqa: ARG002
        heard: str,  # noqa: ARG002
        state_json: str | None = None,
    ) -> Future[None]:
        if state_json is not None:
            self._cards[card] = (kind, state_json)
        done: Future[None] = Future()
        done.set_result(None)
        return done

    def drill_end(self, drill: int) -> None:
        pass

    def cards(self, kind: str | None = None) -> dict[str, str]:
        return {card: text for card, (of, text) in self._cards.items() if kind in (None, of)}


def progress_of(store: Store, deck: Iterable[str]) -> tuple[dict[str, Progress], int]:
    """What is known of the cards of a deck, and how many of them were stored in a way that
    cannot be read: those begin anew."""
    stored = store.cards(None)
    known: dict[str, Progress] = {}
    unread = 0
    for card in deck:
        if card not in stored:
            continue
        try:
            known[card] = Progress.from_json(stored[card])
        except ValueError:
            unread += 1
    return known, unread
