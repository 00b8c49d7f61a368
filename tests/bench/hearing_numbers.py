"""How well numbers are heard: right at the first try, wrong ones taken, and anything else taken.

    RUNNER_SPEECH_DATA=FOLDER python tests/bench/hearing_numbers.py

Strings are put together from one speaker's digits (``tests/spoken_numbers.py``) and judged by
the judge with the values as shipped. The speakers that the shipped values were fitted on are
heard with values that were fitted on the others alone (``tests/data/numbers``): each of them
is left out in turn. Anybody else is heard with what is shipped.
"""

from __future__ import annotations

import math
import statistics
import sys
import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

# This folder must not be searched: a file in it has the name of a package.
sys.path[:1] = [str(Path(__file__).parents[2]), str(Path(__file__).parents[1])]

import speech_data  # noqa: E402
import spoken_numbers  # noqa: E402
from matching import controls  # noqa: E402
from runner.engine.effects import Listen  # noqa: E402
from runner.phrasing.numeral_words import DIGIT_WORDS  # noqa: E402
from runner.voice.judge import judge  # noqa: E402
from runner.voice.number_recogniser import NumberRecogniser  # noqa: E402
from runner.voice.waves import read_wav  # noqa: E402
from spoken_numbers import HURRIED, PAUSES, fold_file, joined, model_for, sound_of  # noqa: E402

RATE = 16_000
STRINGS = 30
"""Strings of each length and speaker; of three and four digits twice as many."""
TURNS = 3
"""Times that other takes are the enrolled ones."""
OWN = 3
WORDS = 80
"""Other words, alone and in twos, in each kind of window."""


@dataclass(frozen=True, slots=True)
class Row:
    """A count, and the share that is wanted of it where one is (at least, or at most)."""

    way: str
    what: str
    count: int
    of: int
    goal: float | None = None
    at_least: bool = False

    @property
    def missed(self) -> bool:
        """Whether there is a goal and it is not reached."""
        if self.goal is None or not self.of:
            return False
        share = self.count / self.of
        return share < self.goal if self.at_least else share > self.goal

    def __str__(self) -> str:
        low, high = bounds(self.count, self.of)
        share = self.count / self.of if self.of else math.nan
        goal = ""
        if self.goal is not None:
            goal = f", goal {self.goal:.1%}{', missed' if self.missed else ''}"
        return (
            f"{self.way:14} {self.what:44} {self.count:5} of {self.of:5}  {share:7.2%}  "
            f"({low:.2%} to {high:.2%}){goal}"
        )


def bounds(count: int, of: int) -> tuple[float, float]:
    """Wilson's 95 % bounds of a share (E. B. Wilson, 1927)."""
    if not of:
        return 0.0, 1.0
    z, share = 1.96, count / of
    middle = (share + z * z / (2 * of)) / (1 + z * z / of)
    reach = z * math.sqrt(share * (1 - share) / of + z * z / (4 * of * of)) / (1 + z * z / of)
    return max(0.0, middle - reach), min(1.0, middle + reach)


class OwnTakes:
    """Three takes of each digit, as ``runner.voice.takes.Takes`` gives them."""

    def __init__(self, files: dict[str, list[Path]]) -> None:
        self._sounds = {
            DIGIT_WORDS[int(digit)]: tuple(read_wav(file, RATE) for file in those)
            for digit, those in files.items()
        }

    def takes(self, phrase: str) -> tuple[bytes, ...]:
        """The sounds of one digit."""
        return self._sounds.get(phrase, ())


class Numbers:
    """The recogniser of numbers and the judge on one speaker's recordings."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.counts: Counter[tuple[str, str, str]] = Counter()
        self.times: list[float] = []
        self.commands = controls()
        self.wrong: list[str] = []

    def hear(
        self, ears: NumberRecogniser, listen: Listen, sound: bytes
    ) -> tuple[str, float | None]:
        """The candidate that is accepted, or nothing, and the number's value."""
        ears.prepare(listen)
        ears.begin()
        ears.feed(sound)
        before = time.perf_counter()
        verdict = judge(ears.propose(), listen)
        self.times.append(time.perf_counter() - before)
        if verdict.decision != "accept":
            return "", None
        return verdict.candidate or "", verdict.value

    def add(self, way: str, what: str, kind: str, taken: bool) -> None:
        """One utterance: whether it was taken as ``kind``."""
        self.counts[way, what, kind] += taken
        self.counts[way, what, f"{kind} of"] += 1

    def strings(
        self,
        way: str,
        what: str,
        ears: NumberRecogniser,
        takes: dict[str, list[Path]],
        counts: Sequence[int],
        pauses: tuple[float, float],
        many: int,
        rng: np.random.Generator,
    ) -> None:
        """Strings of digits by one speaker."""
        for count in counts:
            listen = spoken_numbers.number_window(count, self.commands)
            for _ in range(many):
                one = spoken_numbers.spoken(takes, count, pauses, rng)
                taken, value = self.hear(ears, listen, one.sound)
                self.add(way, what, "right", value == float(one.digits))
                wrong = bool(taken) and value != float(one.digits)
                self.add(way, what, "wrong", wrong)
                if wrong:
                    said = " ".join(file.stem for file in one.files)
                    self.wrong.append(f"{way}, {what}: {said} taken for {taken} {value}")

    def speaker(self, name: str, takes: dict[str, list[Path]]) -> None:
        """Everything that is measured of one speaker."""
        rng = np.random.default_rng(101)
        model = model_for(name)
        ears = NumberRecogniser(None, None, model)
        for what, counts, pauses, many in KINDS:
            self.strings("no enrolment", what, ears, takes, counts, pauses, many, rng)
        for _ in range(TURNS):
            mixed = {
                d: [files[n] for n in rng.permutation(len(files))] for d, files in takes.items()
            }
            own = {digit: files[:OWN] for digit, files in mixed.items()}
            rest = {digit: files[OWN:] for digit, files in mixed.items()}
            if not all(rest.values()):
                return
            ears = NumberRecogniser(OwnTakes(own), None, model)
            for what, counts, pauses, many in KINDS:
                self.strings(
                    "own voice", what, ears, rest, counts, pauses, max(1, many // TURNS), rng
                )

    def other_words(self) -> None:
        """Words that are no number, alone and in twos, by speakers that nothing was fitted on."""
        rng = np.random.default_rng(7)
        ears = NumberRecogniser()
        others = [
            one.file
            for one in speech_data.states(self.folder)
            if not speech_data.for_fitting(one.speaker, self.folder)
            and one.word not in (*DIGIT_WORDS, "tree")
        ]
        for count in (2, 3, 4):
            listen = spoken_numbers.number_window(count, self.commands)
            for number in range(WORDS if others else 0):
                files = rng.choice(len(others), 1 + number % 2)
                sound = joined([sound_of(others[n]) for n in files], PAUSES, rng)
                taken, _ = self.hear(ears, listen, sound)
                self.add("no enrolment", "other words", "number", taken == "number")
                self.add(
                    "no enrolment", "other words", "control phrase", taken not in ("", "number")
                )
            for file in speech_data.silences(self.folder):
                taken, _ = self.hear(ears, listen, read_wav(file, RATE))
                self.add("no enrolment", "noise and silence, no gate", "anything", bool(taken))


KINDS = (
    ("3 and 4 digits, 80 to 200 ms pauses", (3, 4), PAUSES, 2 * STRINGS),
    ("2 digits, 80 to 200 ms pauses", (2,), PAUSES, STRINGS),
    ("5 digits, 80 to 200 ms pauses", (5,), PAUSES, STRINGS),
    ("3 and 4 digits, 20 to 60 ms pauses", (3, 4), HURRIED, STRINGS // 2),
    ("3 digits run together", (3,), (0.0, 0.02), STRINGS // 2),
)
GOALS = {"no enrolment": (0.80, 0.01), "own voice": (0.95, 0.005)}


def rows(folder: Path) -> list[Row]:
    """Measure, print and give the rows; the first two of each way have goals."""
    numbers = Numbers(folder)
    spoke = speech_data.digits(folder)
    left_out = [name for name in spoke if fold_file(name).exists()]
    for name, takes in spoke.items():
        numbers.speaker(name, takes)
    numbers.other_words()
    found = []
    kinds = dict.fromkeys(
        (way, what, kind) for way, what, kind in numbers.counts if " of" not in kind
    )
    for way, what, kind in kinds:
        goal, at_least = None, kind == "right"
        if what == KINDS[0][0]:
            goal = GOALS[way][0 if at_least else 1]
        count, of = numbers.counts[way, what, kind], numbers.counts[way, what, f"{kind} of"]
        found.append(Row(way, f"{what}: {kind}", count, of, goal, at_least))
    print(
        f"numbers by {len(spoke)} speakers; heard with values fitted on the other speakers: "
        f"{', '.join(left_out) or 'none'}"
    )
    for row in found:
        print(row)
    for line in numbers.wrong:
        print(f"    {line}")
    times = sorted(numbers.times)
    if times:
        print(
            f"one judgement of a number: median {statistics.median(times) * 1000:.0f} ms, 99th "
            f"percentile {times[len(times) * 99 // 100] * 1000:.0f} ms of {len(times)}"
        )
    return found


if __name__ == "__main__":
    home = speech_data.home()
    if home is None:
        sys.exit("RUNNER_SPEECH_DATA names no folder of recordings")
    rows(home)
