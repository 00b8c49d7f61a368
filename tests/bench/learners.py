"""Pilots who forget in different ways, drilled for 30 days: does the spacing earn its keep?

    python tests/bench/learners.py [--seeds 10] [--plot learners.svg]

Three orders of the same number of questions a day: *spaced* (the drill's own queue and
FSRS), *random* (every card as likely as any other) and *fixed* (round and round in the
deck's order). What is measured is the learner's own probability of knowing a card, over
all cards of the deck, those never asked too: 24 hours after the last session, a week after
it, and in the mean at the start of each day. FSRS is never shown the learner's insides.

The learners, each card with a difficulty of its own:

- *half-life*: p = 2 ** (-days / h). A right answer multiplies h, more so the nearer the card
  was to being forgotten; a wrong one halves it; the answer told afterwards teaches.
- *power law*: ACT-R's declarative memory with decay that grows with activation (from
  memory: Pavlik and Anderson, Practice and forgetting effects on vocabulary memory,
  Cognitive Science 29, 2005; decay intercept 0.177, scale 0.217, threshold -0.704, noise
  0.255, time between sessions counted at 0.025).
- *hostile, near*: half-life, and half the cards stand in confused pairs: nothing is learned
  from a card when its twin was among the last five questions.
- *hostile, ever*: the same, but nothing is learned from a card when its twin was asked at any
  time since the card itself: only the same card twice running, its twin untouched, helps.

The pairs have the same challenge and different answers, as cowl flaps have in two lists.
Everything here is a model; no pilot was asked.
"""

from __future__ import annotations

import argparse
import math
import sys
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random
from statistics import mean, stdev

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from runner.practice.queue import Waiting, pick, tiers
from runner.practice.rating import rate
from runner.practice.spacing import Progress, reviewed

DAYS = 30
A_DAY = 40
SECONDS_A_QUESTION = 20
START = datetime(2030, 1, 1, 18, 0, tzinfo=UTC)
GUESS = 0.02
NEAR = 5
LIMIT_MS = 15_000
ORDERS = ("spaced", "random", "fixed")


def deck_of(size: int) -> list[Waiting]:
    """Cards of which neighbours by twos have the same challenge, and every tenth the same
    answer as the one before the last."""
    cards = []
    for number in range(size):
        answer = f"answer {number - 2 if number % 10 == 9 else number}"
        challenge = f"challenge {number // 2}"
        cards.append(Waiting(f"{number}", answer, challenge, challenge))
    return cards


@dataclass
class HalfLife:
    """Exponential forgetting; with ``confused`` the first half of the deck stands in pairs."""

    size: int
    random: Random
    confused: str = ""
    half_life: dict[int, float] = field(default_factory=dict)
    seen: dict[int, datetime] = field(default_factory=dict)
    history: list[int] = field(default_factory=list)
    hardness: list[float] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.hardness = [math.exp(self.random.gauss(0, 0.5)) for _ in range(self.size)]

    def known(self, card: int, now: datetime) -> float:
        if card not in self.half_life:
            return GUESS
        days = (now - self.seen[card]).total_seconds() / 86400
        return max(GUESS, float(2 ** (-days / self.half_life[card])))

    def ask(self, card: int, now: datetime) -> bool:
        known = self.known(card, now)
        right = self.random.random() < known
        if not self._confused(card):
            before = self.half_life.get(card)
            first = 0.7 / self.hardness[card]
            if before is None:
                self.half_life[card] = first
            elif right:
                self.half_life[card] = before * (1 + 3.0 * (1 - known) / self.hardness[card])
            else:
                self.half_life[card] = max(first, before / 2)
            self.seen[card] = now
        self.history.append(card)
        return right

    def _confused(self, card: int) -> bool:
        if not self.confused or card >= self.size // 2:
            return False
        twin = card ^ 1
        if self.confused == "near":
            return twin in self.history[-NEAR:]
        for earlier in reversed(self.history):
            if earlier in (card, twin):
                return earlier == twin
        return False


@dataclass
class PowerLaw:
    """ACT-R's memory: every presentation leaves a trace that decays by a power of its age."""

    size: int
    random: Random
    traces: dict[int, list[tuple[float, float]]] = field(default_factory=dict)
    offset: list[float] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.offset = [self.random.gauss(0, 0.3) for _ in range(self.size)]

    def _activation(self, card: int, now: datetime) -> float:
        at = self._clock(now)
        traces = self.traces.get(card, ())
        total = sum(max(1.0, at - then) ** -decay for then, decay in traces)
        return math.log(total) + self.offset[card] if total else -math.inf

    def _clock(self, now: datetime) -> float:
        since = now - START
        in_session = since.total_seconds() % 86400
        return since.days * 86400 * 0.025 + in_session * (1 if in_session < 3600 else 0.025)

    def known(self, card: int, now: datetime) -> float:
        activation = self._activation(card, now)
        if activation == -math.inf:
            return GUESS
        return max(GUESS, 1 / (1 + math.exp((-0.704 - activation) / 0.255)))

    def ask(self, card: int, now: datetime) -> bool:
        right = self.random.random() < self.known(card, now)
        activation = self._activation(card, now)
        decay = 0.177 + 0.217 * math.exp(activation)
        self.traces.setdefault(card, []).append((self._clock(now), decay))
        return right


LEARNERS: dict[str, Callable[[int, Random], HalfLife | PowerLaw]] = {
    "half-life": HalfLife,
    "power law": PowerLaw,
    "hostile, near": lambda size, random: HalfLife(size, random, "near"),
    "hostile, ever": lambda size, random: HalfLife(size, random, "ever"),
}


@dataclass(frozen=True)
class Result:
    """Shares of the deck known: a day and a week after the end, and at each day's start."""

    day_after: float
    week_after: float
    course: tuple[float, ...]
    asked: float
    right: float
    twins: float


def drilled(learner: str, order: str, size: int, seed: int) -> Result:
    """One pilot, one order, 30 days."""
    pilot = LEARNERS[learner](size, Random(f"pilot {seed}"))
    random = Random(f"order {seed}")
    deck = deck_of(size)
    progress: dict[str, Progress] = {}
    last: Waiting | None = None
    course = []
    number = right_answers = 0
    for day in range(DAYS):
        begin = START + timedelta(days=day)
        course.append(mean(pilot.known(card, begin) for card in range(size)))
        asked: set[str] = set()
        for question in range(A_DAY):
            now = begin + timedelta(seconds=SECONDS_A_QUESTION * question)
            if order == "spaced":
                chosen = pick(tiers(deck, progress, now, asked), last)
                if chosen is None:
                    # Every card was asked today: practised again in the deck's order.
                    asked.clear()
                    chosen = pick(tiers(deck, progress, now, asked), last)
                assert chosen is not None
            elif order == "random":
                chosen = random.choice(deck)
            else:
                chosen = deck[number % size]
            number += 1
            card = int(chosen.card)
            known = pilot.known(card, now)
            right = pilot.ask(card, now)
            right_answers += right
            asked.add(chosen.card)
            last = chosen
            before = progress.get(chosen.card)
            slow = 2000 + 8000 * (1 - known) * random.random()
            rating = rate(
                right=right,
                hints=0,
                answer_ms=int(slow),
                past=before.times if before else (),
                limit_ms=LIMIT_MS,
                streak=before.streak if before else 0,
            )
            progress[chosen.card] = reviewed(before, rating, now, right=right, answer_ms=int(slow))
    end = START + timedelta(days=DAYS)
    week = end + timedelta(days=6)
    return Result(
        mean(pilot.known(card, end) for card in range(size)),
        mean(pilot.known(card, week) for card in range(size)),
        tuple(course),
        len(progress) / size,
        right_answers / number,
        mean(pilot.known(card, end) for card in range(size // 2)),
    )


def spread(values: list[float]) -> str:
    """Mean and standard deviation over seeds, per cent."""
    return f"{100 * mean(values):5.1f} ±{100 * stdev(values):4.1f}"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", type=int, default=10)
    parser.add_argument("--sizes", type=int, nargs="+", default=[60, 120, 240])
    parser.add_argument("--plot", default="")
    arguments = parser.parse_args()
    print(f"{DAYS} days, {A_DAY} questions a day, {arguments.seeds} seeds; per cent of the deck")
    print(
        f"{'cards':>5}  {'learner':14} {'order':7} {'a day after':>11} {'a week after':>12} "
        f"{'mean of days':>12} {'ever asked':>11} {'right':>11} {'first half':>11}"
    )
    courses: dict[tuple[int, str, str], tuple[float, ...]] = {}
    for size in arguments.sizes:
        for learner in LEARNERS:
            for order in ORDERS:
                found = [drilled(learner, order, size, s) for s in range(arguments.seeds)]
                courses[size, learner, order] = tuple(
                    mean(day) for day in zip(*(one.course for one in found), strict=True)
                )
                columns = (
                    [one.day_after for one in found],
                    [one.week_after for one in found],
                    [mean(one.course) for one in found],
                    [one.asked for one in found],
                    [one.right for one in found],
                    [one.twins for one in found],
                )
                row = "  ".join(spread(values) for values in columns)
                print(f"{size:5}  {learner:14} {order:7} {row}", flush=True)
    if arguments.plot:
        plot(arguments.plot, arguments.sizes, courses)


def plot(
    file: str, sizes: list[int], courses: dict[tuple[int, str, str], tuple[float, ...]]
) -> None:
    """The share known at each day's start: a row a deck's size, a column a learner."""
    import matplotlib

    matplotlib.use("svg")
    matplotlib.rcParams |= {"svg.fonttype": "none", "svg.hashsalt": "learners", "font.size": 8}
    from matplotlib import pyplot

    figure, grid = pyplot.subplots(
        len(sizes), len(LEARNERS), figsize=(10, 2.2 * len(sizes)), sharex=True, sharey=True
    )
    lines = {"spaced": ("-", "black"), "random": ("--", "dimgray"), "fixed": (":", "gray")}
    for row, size in enumerate(sizes):
        for column, learner in enumerate(LEARNERS):
            axes = grid[row][column] if len(sizes) > 1 else grid[column]
            for order in ORDERS:
                style, ink = lines[order]
                course = [100 * share for share in courses[size, learner, order]]
                axes.plot(range(1, DAYS + 1), course, style, color=ink, label=order)
            axes.set_title(f"{learner}, {size} cards")
            axes.set_ylim(0, 100)
            if column == 0:
                axes.set_ylabel("known, %")
            if row == len(sizes) - 1:
                axes.set_xlabel("day")
    handles, labels = axes.get_legend_handles_labels()
    figure.legend(handles, labels, loc="upper center", ncols=3, frameon=False)
    figure.tight_layout(rect=(0, 0, 1, 0.96))
    figure.savefig(file, metadata={"Date": None})


if __name__ == "__main__":
    main()
