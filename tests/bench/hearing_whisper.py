"""How well Whisper hears people it knows nothing of, judged with the values as shipped.

    RUNNER_SPEECH_DATA=FOLDER RUNNER_WHISPER_MODEL=FOLDER python tests/bench/hearing_whisper.py

State words against their opposites, other words, silence, and strings of digits, each with
the control phrases open beside. Only speakers count on whom nothing was chosen; ``--fitting``
reports on the others, which is what the values in ``runner/voice/whisper.py`` were chosen on.
``--limit N`` takes every so many-th recording, N of a kind.
"""

from __future__ import annotations

import argparse
import math
import random
import statistics
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import TypeVar

import numpy as np

# This folder must not be searched: a file in it has the name of a package.
sys.path[:1] = [str(Path(__file__).parents[2]), str(Path(__file__).parents[1])]

import speech_data  # noqa: E402
import spoken_numbers  # noqa: E402
from matching import controls  # noqa: E402
from runner.engine.effects import Candidate, Listen  # noqa: E402
from runner.voice.judge import judge  # noqa: E402
from runner.voice.waves import read_wav  # noqa: E402
from runner.voice.whisper import WhisperRecogniser, model_folder  # noqa: E402
from spoken_numbers import HURRIED, PAUSES, joined, sound_of  # noqa: E402

RATE = 16_000
STRINGS = 60
"""Strings of each length and speaker."""

Item = TypeVar("Item")


class Ears:
    """Whisper and the judge; counts what is accepted."""

    def __init__(self, folder: Path) -> None:
        self._whisper = WhisperRecogniser(folder)
        self.times: list[float] = []

    def hear(self, listen: Listen, sound: bytes) -> tuple[str, float | None]:
        """The candidate that is accepted, or nothing, and the number's value."""
        self._whisper.prepare(listen)
        self._whisper.begin()
        self._whisper.feed(sound)
        before = time.perf_counter()
        verdict = judge(self._whisper.propose(), listen)
        self.times.append(time.perf_counter() - before)
        if verdict.decision != "accept":
            return "", None
        return verdict.candidate or "", verdict.value


def bounds(count: int, of: int) -> tuple[float, float]:
    """Wilson's 95 % bounds of a share (E. B. Wilson, 1927)."""
    if not of:
        return 0.0, 1.0
    z, share = 1.96, count / of
    middle = (share + z * z / (2 * of)) / (1 + z * z / of)
    reach = z * math.sqrt(share * (1 - share) / of + z * z / (4 * of * of)) / (1 + z * z / of)
    return max(0.0, middle - reach), min(1.0, middle + reach)


def show(what: str, count: int, of: int) -> None:
    """Print a row: a count, its share and Wilson's bounds."""
    low, high = bounds(count, of)
    share = f"{count / of:7.2%}" if of else "      -"
    print(f"{what:46} {count:5} of {of:5} {share}  ({low:.2%} to {high:.2%})", flush=True)


def some(items: Sequence[Item], limit: int) -> list[Item]:
    """At most ``limit`` of them, the same ones each time; all with 0."""
    return random.Random(1).sample(list(items), min(limit, len(items))) if limit else list(items)


def words(ears: Ears, folder: Path, fitting: bool, limit: int) -> None:
    """State words against their opposites, other words, silence."""
    commands = controls()
    windows = {
        pair: Listen(
            number,
            (
                Candidate("answer", "answer", pair[0]),
                Candidate("wrong:0", "competitor", pair[1]),
                *commands,
            ),
        )
        for number, pair in enumerate(speech_data.PAIRS, 1)
    }
    rng = np.random.default_rng(3)
    recordings = [
        one
        for one in speech_data.states(folder)
        if speech_data.for_fitting(one.speaker, folder) is fitting
    ]
    right = opposite = control = 0
    missed: dict[str, int] = {}
    known = some([one for one in recordings if one.known], limit)
    for one in known:
        (pair,) = (pair for pair in speech_data.PAIRS if one.word in pair)
        taken, _ = ears.hear(windows[pair], padded(one.file, rng))
        said = "answer" if one.word == pair[0] else "wrong:0"
        right += taken == said
        opposite += taken in ("answer", "wrong:0") and taken != said
        control += taken.startswith("control:")
        if taken != said:
            missed[one.word] = missed.get(one.word, 0) + 1
    show("state word accepted, against its opposite", right, len(known))
    show("opposite state accepted", opposite, len(known))
    show("control phrase accepted for a state word", control, len(known))
    print("    not accepted: " + ", ".join(f"{word} {n}" for word, n in sorted(missed.items())))
    others = some([one for one in recordings if not one.known], limit)
    pairs = list(windows)
    taken_words = [
        one.word
        for number, one in enumerate(others)
        if ears.hear(windows[pairs[number % len(pairs)]], padded(one.file, rng))[0]
    ]
    show("other word accepted", len(taken_words), len(others))
    if taken_words:
        print("    " + ", ".join(taken_words))
    silences = some(speech_data.silences(folder), limit)
    heard = [
        ears.hear(windows[pairs[number % len(pairs)]], read_wav(file, RATE))[0]
        for number, file in enumerate(silences)
    ]
    show("noise and silence accepted, without the gate", sum(map(bool, heard)), len(silences))


def padded(file: Path, rng: np.random.Generator) -> bytes:
    """A recording with moments of low noise around it."""
    return joined([sound_of(file)], PAUSES, rng)


def numbers(ears: Ears, folder: Path, fitting: bool, limit: int) -> None:
    """Strings of digits, digit by digit with pauses and hurried."""
    commands = controls()
    rng = np.random.default_rng(101)
    speakers = {
        name: takes
        for name, takes in speech_data.digits(folder).items()
        if speech_data.for_fitting(name, folder) is fitting
    }
    for what, counts, pauses in (
        ("3- and 4-digit strings, 80 to 200 ms gaps", (3, 4), PAUSES),
        ("3- and 4-digit strings, 20 to 60 ms gaps", (3, 4), HURRIED),
    ):
        right = wrong = of = 0
        for takes in speakers.values():
            for count in counts:
                listen = spoken_numbers.number_window(count, commands)
                for _ in range(min(limit, STRINGS) if limit else STRINGS):
                    one = spoken_numbers.spoken(takes, count, pauses, rng)
                    taken, value = ears.hear(listen, one.sound)
                    right += value == float(one.digits)
                    wrong += bool(taken) and value != float(one.digits)
                    of += 1
        show(what, right, of)
        show("    a wrong number accepted", wrong, of)


def main() -> int:
    """Print the table; 2 where the recordings or the model are not there."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--fitting", action="store_true")
    parser.add_argument("--limit", type=int, default=0)
    arguments = parser.parse_args()
    folder, model = speech_data.home(), model_folder()
    if folder is None or model is None:
        missing = "RUNNER_SPEECH_DATA" if folder is None else "RUNNER_WHISPER_MODEL"
        print(f"{missing} names no folder: nothing is measured")
        return 2
    ears = Ears(model)
    half = "the speakers chosen on" if arguments.fitting else "speakers that nothing was chosen on"
    print(f"Whisper, model {model.name}; {half}")
    words(ears, folder, arguments.fitting, arguments.limit)
    numbers(ears, folder, arguments.fitting, arguments.limit)
    ordered = sorted(ears.times)
    print(
        f"time a clip: median {statistics.median(ordered):.2f} s, "
        f"99th percentile {ordered[int(len(ordered) * 0.99)]:.2f} s, {len(ordered)} clips"
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
