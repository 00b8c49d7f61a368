"""Two runs side by side, and many in a row: what differs, and what chance alone would do."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from statistics import median

from runner.debrief.chances import LIKELY, permutation_test, sign_test
from runner.debrief.past import RunTold
from runner.debrief.record import ItemRecord, Record
from runner.debrief.told import clock, count, seconds

_Say = Callable[[float], str]
_Of = Callable[[Record], str]

ENOUGH_FLIGHTS = 8
"""So many flights before anything is said of a trend."""

ENOUGH_ITEMS = 6
"""So many items timed in both runs before anything is said of one being quicker."""

STEADY_MS = 100
"""Times closer than this are the same."""


@dataclass(frozen=True, slots=True)
class Pair:
    """An item in two runs, None where one has it not."""

    challenge: str
    first: ItemRecord | None
    second: ItemRecord | None

    @property
    def change_ms(self) -> int | None:
        """How much longer the second took."""
        if self.first is None or self.second is None:
            return None
        if self.first.answer_ms is None or self.second.answer_ms is None:
            return None
        return self.second.answer_ms - self.first.answer_ms


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two runs; ``counts`` are rows of a name with each run's number as text."""

    first: Record
    second: Record
    pairs: tuple[Pair, ...]
    counts: tuple[tuple[str, str, str], ...]
    verdict: str

    @property
    def changes(self) -> tuple[Pair, ...]:
        """The items whose time differs, the most first."""
        moved = [p for p in self.pairs if abs(p.change_ms or 0) >= STEADY_MS]
        return tuple(sorted(moved, key=lambda p: -abs(p.change_ms or 0)))


def compare(first: Record, second: Record) -> Comparison:
    """Two runs item by item; the first is the one compared with."""
    mine = {(item.list, item.item): item for item in second.items}
    others = {(item.list, item.item): item for item in first.items}
    pairs = tuple(
        Pair((mine.get(key) or others[key]).challenge, others.get(key), mine.get(key))
        for key in dict.fromkeys([*mine, *others])
    )
    return Comparison(first, second, pairs, _counts(first, second), _verdict(pairs))


def trend_words(runs: Sequence[RunTold]) -> str:
    """What the later half of a trend's flights says against the earlier half."""
    timed = [run for run in runs if run.answered is not None]
    if len(timed) < ENOUGH_FLIGHTS:
        return (
            f"{count(len(timed), 'flight')} with timed answers: too few to speak of a trend "
            f"(it takes {ENOUGH_FLIGHTS})."
        )
    half = len(timed) // 2
    early, late = timed[:half], timed[half:]
    return " ".join(
        (
            _moved(
                "The time to answer",
                [float(run.answered or 0) for run in early],
                [float(run.answered or 0) for run in late],
                seconds,
            ),
            _moved(
                "Answers not taken and silences",
                [float(run.failed) for run in early],
                [float(run.failed) for run in late],
                lambda value: f"{value:g} a flight",
            ),
        )
    )


def _moved(what: str, early: list[float], late: list[float], say: _Say) -> str:
    before, after = median(early), median(late)
    chance = permutation_test(early, late)
    text = (
        f"{what}: {say(before)} in the earlier {count(len(early), 'flight')}, {say(after)} in "
        f"the later {count(len(late), 'flight')} (medians)"
    )
    if chance > LIKELY:
        return f"{text}; chance alone would often do that."
    return f"{text}; chance alone would do that {_rarely(chance)}."


def _rarely(chance: float) -> str:
    return (
        f"in {max(1, round(100 * chance))} of 100 cases"
        if chance >= 0.01
        else ("in fewer than 1 of 100 cases")
    )


def _counts(first: Record, second: Record) -> tuple[tuple[str, str, str], ...]:
    def both(name: str, of: _Of) -> tuple[str, str, str]:
        return name, of(first), of(second)

    return (
        both("length", lambda r: clock(r.length)),
        both("items done", lambda r: f"{r.done} of {len(r.items)}"),
        both("left open", lambda r: str(len(r.left_open))),
        both("wrong", lambda r: str(r.failed("wrong", "contradicted", "disagreed"))),
        both("not understood", lambda r: str(r.failed("not clear"))),
        both("silences", lambda r: str(r.failed("silent"))),
        both("interruptions", lambda r: str(r.count("interruption"))),
        both("callouts", lambda r: str(r.count("callout"))),
        both("time to answer (median)", lambda r: seconds(r.median_ms)),
    )


def _verdict(pairs: Sequence[Pair]) -> str:
    changes = [p.change_ms for p in pairs if p.change_ms is not None]
    if len(changes) < ENOUGH_ITEMS:
        return (
            f"{count(len(changes), 'item')} timed in both: too few to call one run quicker "
            f"(it takes {ENOUGH_ITEMS})."
        )
    quicker = sum(change <= -STEADY_MS for change in changes)
    slower = sum(change >= STEADY_MS for change in changes)
    chance = sign_test(quicker, slower)
    text = (
        f"Of {len(changes)} items timed in both, {quicker} were answered quicker this time, "
        f"{slower} slower, {len(changes) - quicker - slower} alike; median change "
        f"{median(changes) / 1000:+.1f} s"
    )
    if chance > LIKELY:
        return f"{text}. Chance alone would often do that."
    return f"{text}. Chance alone would do that {_rarely(chance)}."
