"""Which of two histories goes on when members meet again.

Both hold the events that were ordered before their lines of epochs part; ``fork`` is how
many these are. What a side holds beyond the fork *weighs* where it may have been spoken to
somebody. On a line of its own that is all it holds. Where its line simply ends, it is what
counts there: a voter of that epoch who went on without the rest held everything that
counted. (Who went on and was no voter may have missed some: then, too, all weighs.)

    mine weighs   theirs weighs   what becomes of it
    -----------   -------------   ---------------------------------------------------------
    yes           yes             two runs from there; never merged
    yes           no              theirs gives way
    no            yes             mine gives way
    no            no              the line with more epochs stands; where both have more, the
                                  one with the greater id there

So a side gives way only where it loses nothing that anybody heard, whatever the other says.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from runner.crew.core.messages import Epoch

Outcome = Literal["same", "adopt", "keep", "two runs"]


@dataclass(frozen=True, slots=True)
class Standing:
    """A side: its epochs, the events it holds, those of them that count."""

    epochs: tuple[Epoch, ...]
    length: int
    settled: int


@dataclass(frozen=True, slots=True)
class Meeting:
    """What is to be done: ``adopt`` theirs from event ``fork`` on, ``keep`` mine, or neither."""

    outcome: Outcome
    fork: int
    weighs: bool = False
    """Whether what theirs holds beyond the fork decided it."""


def meet(mine: Standing, theirs: Standing) -> Meeting:
    """What becomes of two sides that meet, as seen from mine."""
    common = 0
    shorter = min(len(mine.epochs), len(theirs.epochs))
    while common < shorter and mine.epochs[common] == theirs.epochs[common]:
        common += 1
    last = mine.epochs[common - 1] if common else None
    my_rest, their_rest = mine.epochs[common:], theirs.epochs[common:]
    if not my_rest and not their_rest:
        return Meeting("same", mine.settled)
    if last is None and my_rest and their_rest:
        return Meeting("two runs", 0)
    fork = min(rest[0].start for rest in (my_rest, their_rest) if rest)
    mine_weighs = _weight(mine, my_rest, their_rest, last) > fork
    theirs_weighs = _weight(theirs, their_rest, my_rest, last) > fork
    if mine_weighs and theirs_weighs:
        return Meeting("two runs", fork)
    if mine_weighs or theirs_weighs:
        return Meeting("adopt" if theirs_weighs else "keep", fork, theirs_weighs)
    if not my_rest or not their_rest:
        return Meeting("adopt" if their_rest else "keep", fork)
    return Meeting("adopt" if their_rest[0].id > my_rest[0].id else "keep", fork)


def _weight(
    side: Standing, rest: tuple[Epoch, ...], other: tuple[Epoch, ...], last: Epoch | None
) -> int:
    if rest or (last is not None and other[0].alone and other[0].orderer not in last.voters):
        return side.length
    return side.settled
