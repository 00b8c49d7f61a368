"""How well numbers are heard: right at the first try, wrong ones taken, and anything else taken.

    RUNNER_SPEECH_DATA=FOLDER python tests/bench/hearing_numbers.py [--goals] [--fitting]
        [--noise DECIBELS] [--check]

Strings are put together from one speaker's digits (``tests/spoken_numbers.py``) and judged by
the judge with the values as shipped. The speakers that the shipped values were fitted on are
heard with values that were fitted on the others alone (``tests/data/numbers``): each of them
is left out in turn. Anybody else is heard with what is shipped. ``--goals`` hears only what
there are goals for; ``--fitting`` only the half of the speakers that choices are made on;
``--noise`` puts four engines so many dB below the voice (``tests/engine_noise.py``);
``--check`` exits 1 where a goal is missed.
"""

from __future__ import annotations

import argparse
import statistics
import sys
import time
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parents[1])]

from shares import Share  # noqa: E402

import speech_data  # noqa: E402
import spoken_numbers  # noqa: E402
from matching import controls  # noqa: E402
from runner.engine.effects import Listen  # noqa: E402
from runner.phrasing.numeral_words import DIGIT_WORDS  # noqa: E402
from runner.voice.embedding import to_samples  # noqa: E402
from runner.voice.judge import judge  # noqa: E402
from runner.voice.number_recogniser import NumberRecogniser  # noqa: E402
from runner.voice.pocket import PocketRecogniser  # noqa: E402
from runner.voice.waves import read_wav  # noqa: E402
from spoken_numbers import (  # noqa: E402
    HURRIED,
    PAUSES,
    in_engines,
    joined,
    model_for,
    sound_of,
    to_bytes,
)

RATE = 16_000
STRINGS = 30
"""Strings of each length and speaker; of three and four digits twice as many."""
TURNS = 3
"""Times that other takes are the enrolled ones."""
OWN = 3
WORDS = 80
"""Other words, alone and in twos, in each kind of window."""


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

    def derived(self) -> bytes:
        """Nothing is kept of them."""
        return b""

    def keep_derived(self, content: bytes) -> None:
        """Nothing is kept of them."""


@dataclass
class Heard:
    """What was counted: by way, what was said and what became of it."""

    counts: Counter[tuple[str, str, str]] = field(default_factory=Counter)
    times: list[float] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)

    def add(self, way: str, what: str, kind: str, taken: bool) -> None:
        """One utterance: whether it was taken as ``kind``."""
        self.counts[way, what, kind] += taken
        self.counts[way, what, f"{kind} of"] += 1

    def join(self, other: Heard) -> None:
        """What was counted elsewhere, too."""
        for key, count in other.counts.items():
            self.counts[key] += count
        self.times += other.times
        self.wrong += other.wrong


class Numbers:
    """The recogniser of numbers and the judge on recordings, in engine noise or without."""

    def __init__(self, folder: Path, noise: float | None = None) -> None:
        self.folder = folder
        self.noise = noise
        self.heard = Heard()
        self.commands = controls()
        self.pocket = PocketRecogniser()

    def hear(
        self, ears: NumberRecogniser, listen: Listen, sound: bytes
    ) -> tuple[str, float | None]:
        """The candidate that is accepted, or nothing, and the number's value."""
        ears.prepare(listen)
        ears.begin()
        ears.feed(sound)
        before = time.process_time()
        verdict = judge(ears.propose(), listen)
        self.heard.times.append(time.process_time() - before)
        if verdict.decision != "accept":
            return "", None
        return verdict.candidate or "", verdict.value

    def strings(
        self,
        way: str,
        ears: NumberRecogniser,
        takes: dict[str, list[Path]],
        kind: Kind,
        turns: int,
        rng: np.random.Generator,
    ) -> None:
        """Strings of digits by one speaker."""
        for count in kind.lengths:
            listen = spoken_numbers.number_window(count, self.commands)
            for _ in range(max(1, kind.strings // turns)):
                one = spoken_numbers.spoken(takes, count, kind.pauses, rng)
                sound = in_noise(one.sound, self.noise, rng)
                taken, value = self.hear(ears, listen, sound)
                self.heard.add(way, kind.name, "right", value == float(one.digits))
                wrong = bool(taken) and value != float(one.digits)
                self.heard.add(way, kind.name, "wrong", wrong)
                if wrong:
                    said = " ".join(file.stem for file in one.files)
                    self.heard.wrong.append(f"{way}, {kind.name}: {said} taken for {taken} {value}")

    def exchanged(
        self,
        way: str,
        ears: NumberRecogniser,
        takes: dict[str, list[Path]],
        many: int,
        rng: np.random.Generator,
    ) -> None:
        """Numbers like the one that is wanted: two digits changed places, or one is another."""
        listen = spoken_numbers.number_window(3, self.commands)
        for number in range(many):
            said, wanted = NEAR_MISSES[number % len(NEAR_MISSES)]
            parts = [sound_of(takes[d][rng.integers(len(takes[d]))]) for d in said]
            sound = in_noise(joined(parts, PAUSES, rng), self.noise, rng)
            _, value = self.hear(ears, listen, sound)
            self.heard.add(way, "near misses", "taken for the other", value == float(wanted))

    def speaker(self, name: str, takes: dict[str, list[Path]], goals_alone: bool) -> None:
        """Everything that is measured of one speaker."""
        rng = np.random.default_rng(101)
        model = model_for(name)
        kinds = KINDS[:1] if goals_alone else KINDS
        ears = NumberRecogniser(None, self.pocket, model)
        for kind in kinds:
            self.strings("no enrolment", ears, takes, kind, 1, rng)
        if not goals_alone:
            self.exchanged("no enrolment", ears, takes, STRINGS, rng)
        for _ in range(TURNS):
            mixed = {
                d: [files[n] for n in rng.permutation(len(files))] for d, files in takes.items()
            }
            own = {digit: files[:OWN] for digit, files in mixed.items()}
            rest = {digit: files[OWN:] for digit, files in mixed.items()}
            if not all(rest.values()):
                return
            ears = NumberRecogniser(OwnTakes(own), self.pocket, model)
            for kind in kinds:
                self.strings("own voice", ears, rest, kind, TURNS, rng)
            if not goals_alone:
                self.exchanged("own voice", ears, rest, STRINGS // TURNS, rng)

    def other_words(self) -> None:
        """Words that are no number, alone and in twos, by speakers that nothing was fitted on."""
        rng = np.random.default_rng(7)
        ears = NumberRecogniser(None, self.pocket)
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
                taken, _ = self.hear(ears, listen, in_noise(sound, self.noise, rng))
                self.heard.add("no enrolment", "other words", "number", taken == "number")
                self.heard.add(
                    "no enrolment", "other words", "control phrase", taken not in ("", "number")
                )
            for file in speech_data.silences(self.folder):
                taken, _ = self.hear(ears, listen, read_wav(file, RATE))
                self.heard.add("no enrolment", "noise, no gate", "anything", bool(taken))


def in_noise(sound: bytes, noise: float | None, rng: np.random.Generator) -> bytes:
    """Something said with four engines so many dB below the voice; None is none."""
    return sound if noise is None else to_bytes(in_engines(to_samples(sound), noise, rng))


@dataclass(frozen=True, slots=True)
class Kind:
    """Strings of some lengths with pauses between these, so many of each length and speaker."""

    name: str
    lengths: tuple[int, ...]
    pauses: tuple[float, float]
    strings: int


KINDS = (
    Kind("3 and 4 digits, 80 to 200 ms pauses", (3, 4), PAUSES, 2 * STRINGS),
    Kind("2 digits, 80 to 200 ms pauses", (2,), PAUSES, STRINGS),
    Kind("5 digits, 80 to 200 ms pauses", (5,), PAUSES, STRINGS),
    Kind("3 and 4 digits, 20 to 60 ms pauses", (3, 4), HURRIED, STRINGS // 2),
    Kind("3 digits run together", (3,), (0.0, 0.02), STRINGS // 2),
)
GOALS = {"no enrolment": (0.80, 0.01), "own voice": (0.95, 0.005)}

NEAR_MISSES = (
    ("180", "108"),
    ("108", "180"),
    ("119", "118"),
    ("118", "119"),
    ("190", "109"),
    ("159", "155"),
    ("155", "159"),
    ("115", "119"),
    ("121", "112"),
    ("140", "104"),
)
"""What is said, and the number that it must not be taken for."""


def _one(
    folder: Path, noise: float | None, name: str, takes: dict[str, list[Path]], goals_alone: bool
) -> Heard:
    numbers = Numbers(folder, noise)
    if name:
        numbers.speaker(name, takes, goals_alone)
    else:
        numbers.other_words()
    return numbers.heard


def hear_all(
    folder: Path,
    noise: float | None = None,
    goals_alone: bool = False,
    fitting: bool = False,
    processes: int | None = None,
) -> Heard:
    """Hear everybody, a process for each; ``fitting`` leaves out who choices are not made on."""
    spoke = {
        name: {digit: list(files) for digit, files in takes.items()}
        for name, takes in speech_data.digits(folder).items()
        if not fitting or speech_data.for_fitting(name, folder)
    }
    if not goals_alone and not fitting:
        spoke[""] = {}
    heard = Heard()
    with ProcessPoolExecutor(processes) as crew:
        jobs = [
            crew.submit(_one, folder, noise, name, takes, goals_alone)
            for name, takes in spoke.items()
        ]
        for job in jobs:
            heard.join(job.result())
    return heard


def rows_of(heard: Heard) -> list[Share]:
    """What was counted as rows; those with goals first, right before wrong."""
    found = []
    for way, what, kind in heard.counts:
        if kind.endswith(" of"):
            continue
        goal, at_least = None, kind == "right"
        if what == KINDS[0].name:
            goal = GOALS[way][0 if at_least else 1]
        count, of = heard.counts[way, what, kind], heard.counts[way, what, f"{kind} of"]
        found.append(Share(way, f"{what}: {kind}", count, of, goal, at_least))
    return sorted(found, key=lambda row: row.goal is None)


def rows(folder: Path, noise: float | None = None) -> list[Share]:
    """The rows that have goals: strings right and wrong, without enrolment and with own voice."""
    return rows_of(hear_all(folder, noise, goals_alone=True))


def main() -> int:
    """Print the table."""
    asked = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    asked.add_argument("--goals", action="store_true")
    asked.add_argument("--fitting", action="store_true")
    asked.add_argument("--noise", type=float, metavar="DECIBELS")
    asked.add_argument("--check", action="store_true")
    options = asked.parse_args()
    folder = speech_data.home()
    if folder is None:
        print("RUNNER_SPEECH_DATA names no folder of recordings", file=sys.stderr)
        return 2
    heard = hear_all(folder, options.noise, options.goals, options.fitting)
    found = rows_of(heard)
    for line in (*found, *(f"    {line}" for line in heard.wrong)):
        print(line)
    times = sorted(heard.times)
    if times:
        print(
            "seconds of the processor for one judgement of a number: median "
            f"{statistics.median(times):.3f}, 99th percentile "
            f"{times[len(times) * 99 // 100]:.3f} of {len(times)}"
        )
    missed = [row for row in found if row.missed]
    return 1 if options.check and missed else 0


if __name__ == "__main__":
    sys.exit(main())
