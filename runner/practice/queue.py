"""Which card is asked next: due ones first, then new ones, then what is known least surely.

Two cards with the same answer are never given one after the other where that can be
avoided: the second would be answered by echo. A card is passed over only where it has the
answer just given, or where the rest could not be kept apart any more without it. Cards that
merely speak of the same thing are kept apart where that costs nothing.

Two cards that are taken for each other (the same challenge, answered differently in two
lists) are not begun together: the second waits behind all other new ones until the first is
sure. ``tests/bench/learners.py`` shows what that is worth.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass
from datetime import datetime

from runner.practice.spacing import Progress, retrievability

SURE = 7.0
"""Days of stability from which on a card is sure enough for its twin to be begun."""


@dataclass(frozen=True, slots=True)
class Waiting:
    """A card that waits: its ``answer`` and what its question speaks of, each as one key.

    Cards with the same ``twin`` are taken for each other; '' is that of none.
    """

    card: str
    answer: str
    subject: str = ""
    twin: str = ""


def tiers(
    deck: Sequence[Waiting],
    progress: Mapping[str, Progress],
    now: datetime,
    asked: Set[str] = frozenset(),
) -> tuple[list[Waiting], list[Waiting], list[Waiting]]:
    """The cards due (least surely known first), new ones (in the deck's order, second twins
    last), and those not due yet (least surely known first) without those ``asked`` already."""
    due: list[tuple[float, datetime, Waiting]] = []
    early: list[tuple[float, datetime, Waiting]] = []
    new: list[Waiting] = []
    held: list[Waiting] = []
    begun = {
        waiting.twin
        for waiting in deck
        if (known := progress.get(waiting.card)) is not None and (known.stability or 0.0) < SURE
    }
    for waiting in deck:
        known = progress.get(waiting.card)
        if known is None:
            (held if waiting.twin and waiting.twin in begun else new).append(waiting)
            begun.add(waiting.twin)
        elif known.due <= now:
            due.append((retrievability(known, now), known.due, waiting))
        elif waiting.card not in asked:
            early.append((retrievability(known, now), known.due, waiting))
    for found in (due, early):
        found.sort(key=lambda entry: entry[:2])
    return [entry[2] for entry in due], new + held, [entry[2] for entry in early]


def pick(waiting: Sequence[Sequence[Waiting]], last: Waiting | None) -> Waiting | None:
    """The next card: of the first tier that has one, so that the fewest equal answers stand
    side by side in all that waits; None where nothing waits."""
    groups = [tier for tier in waiting if tier]
    if not groups:
        return None
    end = ""
    for later in reversed(groups[1:]):
        end = _must_begin(Counter(one.answer for one in later), end)
    counts = Counter(one.answer for one in groups[0])
    previous = "" if last is None else last.answer
    best: tuple[int, bool] | None = None
    chosen: Waiting | None = None
    costs: dict[str, int] = {}
    for one in groups[0]:
        if one.answer not in costs:
            counts[one.answer] -= 1
            clash = one.answer == previous and last is not None
            costs[one.answer] = clash + _clashes(counts, one.answer, end)
            counts[one.answer] += 1
        cost = (costs[one.answer], last is not None and _touch(one, last))
        if best is None or cost < best:
            best, chosen = cost, one
            if cost == (0, False):
                break
    return chosen


def arrange(waiting: Sequence[Sequence[Waiting]], last: Waiting | None = None) -> list[Waiting]:
    """All that waits in the order in which ``pick`` takes it."""
    left = [list(tier) for tier in waiting]
    ordered: list[Waiting] = []
    while (one := pick(left, last)) is not None:
        ordered.append(one)
        next(tier for tier in left if tier).remove(one)
        last = one
    return ordered


def _touch(one: Waiting, other: Waiting) -> bool:
    return not {one.answer, one.subject}.isdisjoint({other.answer, other.subject} - {""})


def _clashes(counts: Mapping[str, int], previous: str, end: str) -> int:
    """The fewest equal neighbours in any order of these answers after ``previous``, with
    ``end`` as the answer that comes after them ('' for none): an answer that makes up more
    than its share cannot be kept apart."""
    total = sum(counts.values())
    most = 0
    for answer in {*counts, *({previous, end} - {""})}:
        own = counts.get(answer, 0)
        beside = (answer == previous) + (answer == end)
        if own or beside == 2:
            most = max(most, own - (total - own) - 1 + beside)
    return most


def _must_begin(counts: Mapping[str, int], end: str) -> str:
    """The answer that has to come first of these if they are to be kept apart ('' for none)."""
    free = _clashes(counts, "", end)
    for answer in counts:
        if _clashes(counts, answer, end) > free:
            return answer
    return ""
