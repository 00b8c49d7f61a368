"""How well each recogniser hears alone, and the judge with all of them, without enrolment.

    RUNNER_SPEECH_DATA=FOLDER python tests/bench/hearing_each.py [--limit N] [--only WAY]

State words in the window of their pair, the same and other words in windows of other pairs,
rooms without speech, and strings of three and four digits, each with the control phrases open
beside. Everything goes the way of an utterance in flight: who hears it, who is a witness, and
the judge's rules for noise. Only speakers count on whom nothing was fitted; numbers of the
others are heard with what was fitted without them (``tests/spoken_numbers.py``). ``--limit N``
takes at most N of a kind; Whisper, which is slow, is given at most ``WHISPER`` of a kind.
"""

from __future__ import annotations

import argparse
import random
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

import numpy as np

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parents[1])]

from shares import Share  # noqa: E402

import speech_data  # noqa: E402
import spoken_numbers  # noqa: E402
from matching import controls, state_window  # noqa: E402
from runner.engine.effects import Listen  # noqa: E402
from runner.engine.events import Verdict  # noqa: E402
from runner.voice.ears import Ears  # noqa: E402
from runner.voice.matcher import MatcherRecogniser  # noqa: E402
from runner.voice.number_recogniser import NumberRecogniser  # noqa: E402
from runner.voice.pocket import PocketRecogniser  # noqa: E402
from runner.voice.recogniser import choose  # noqa: E402
from runner.voice.utterance import FRAME_BYTES, Gate  # noqa: E402
from runner.voice.voice_activity import voice_detector  # noqa: E402
from runner.voice.vosk_model import VoskRecogniser, model_folder  # noqa: E402
from runner.voice.waves import read_wav  # noqa: E402
from runner.voice.whisper import WhisperRecogniser  # noqa: E402
from spoken_numbers import PAUSES, joined, model_for, sound_of  # noqa: E402

RATE = 16_000
STRINGS = 30
"""Strings of each length and speaker."""

WHISPER = 150

GOALS = {"right": 0.85, "opposite": 0.005, "other": 0.04, "noise": 0.005}
NUMBER_GOALS = {"right": 0.80, "wrong": 0.01}

Item = TypeVar("Item")


@dataclass(frozen=True, slots=True)
class Way:
    """One way of hearing: who hears, given who speaks; ``why_not`` where nobody can."""

    name: str
    crew: Callable[[str], Sequence[Any]]
    why_not: str = ""
    numbers: bool = True
    limit: int = 0
    goals: bool = False


class Hearer:
    """Some recognisers and the judge, as an utterance finds them in flight."""

    def __init__(self, crew: Sequence[Any]) -> None:
        self.ears = Ears(crew, Gate())
        self.times: list[float] = []

    def hear(self, listen: Listen, sound: bytes) -> Verdict:
        """The verdict on an utterance in a window."""
        ears = self.ears
        ears.forget()
        ears._last, ears._looked, ears._verdict = None, False, Verdict("reject")
        ears._said_in, ears._recognisers, ears.hearing = listen, ears._crew(listen), True
        ears._sound[:] = sound
        for one in ears._recognisers:
            one.prepare(listen)
            one.begin()
            one.feed(sound)
        before = time.perf_counter()
        outcome = ears.finish()
        self.times.append(time.perf_counter() - before)
        return Verdict("reject") if outcome is None else outcome.verdict

    def taken(self, listen: Listen, sound: bytes) -> str:
        """The candidate that is accepted, or nothing."""
        verdict = self.hear(listen, sound)
        return (verdict.candidate or "") if verdict.decision == "accept" else ""


def some(items: Sequence[Item], limit: int) -> list[Item]:
    """At most ``limit`` of them, the same ones each time; all with 0."""
    return random.Random(1).sample(list(items), min(limit, len(items))) if limit else list(items)


def words(
    way: str, hearer: Hearer, folder: Path, limit: int, goals: bool, fitting: bool = False
) -> Iterator[Share]:
    """State words against their opposites, other words, rooms."""
    commands = controls()
    windows = {pair: state_window(pair[0], commands) for pair in speech_data.PAIRS}
    pairs = list(windows)
    recordings = [
        one
        for one in speech_data.states(folder)
        if speech_data.for_fitting(one.speaker, folder) is fitting
    ]
    rng = np.random.default_rng(3)
    goal = GOALS if goals else {}
    right = opposite = control = 0
    known = some([one for one in recordings if one.known], limit)
    for one in known:
        (pair,) = (pair for pair in pairs if one.word in pair)
        taken = hearer.taken(windows[pair], padded(one.file, rng))
        right += taken == one.word
        opposite += taken == speech_data.OPPOSITE[one.word]
        control += taken.startswith("control:")
    of = len(known)
    yield Share(way, "state word accepted", right, of, goal.get("right"), True)
    yield Share(way, "opposite state accepted", opposite, of, goal.get("opposite"))
    yield Share(way, "control phrase accepted for a state word", control, of)
    others = [one for one in recordings if not one.known] * len(pairs)
    turns = [(one, pairs[number % len(pairs)]) for number, one in enumerate(others)]
    turns += [
        (one, next(p for p in pairs[number % len(pairs) :] + pairs if one.word not in p))
        for number, one in enumerate(recordings)
        if one.known
    ]
    turns = some(turns, limit)
    other = sum(bool(hearer.taken(windows[pair], padded(o.file, rng))) for o, pair in turns)
    yield Share(way, "other word accepted", other, len(turns), goal.get("other"))
    silences = some(speech_data.silences(folder), limit)
    detector, noise = voice_detector(), 0
    for number, file in enumerate(silences):
        sound = read_wav(file, RATE)
        if gated(sound, Gate(detector)):
            noise += bool(hearer.taken(windows[pairs[number % len(pairs)]], sound))
    yield Share(way, "room accepted, after the gate", noise, len(silences), goal.get("noise"))


def gated(sound: bytes, gate: Gate) -> bool:
    """Whether the gate hears an utterance at all."""
    places = range(0, len(sound) - FRAME_BYTES, FRAME_BYTES)
    return any(gate.take(sound[at : at + FRAME_BYTES]).change == "began" for at in places)


def padded(file: Path, rng: np.random.Generator) -> bytes:
    """A recording with moments of low noise around it."""
    return joined([sound_of(file)], PAUSES, rng)


def numbers(
    way: str,
    hearer: Callable[[str], Hearer],
    folder: Path,
    limit: int,
    goals: bool,
    pauses: tuple[float, float] = PAUSES,
    fitting: bool | None = None,
) -> Iterator[Share]:
    """Strings of three and four digits; ``fitting`` leaves out one half of the speakers."""
    commands = controls()
    rng = np.random.default_rng(101)
    right = wrong = of = 0
    for name, takes in speech_data.digits(folder).items():
        if fitting is not None and speech_data.for_fitting(name, folder) is not fitting:
            continue
        ears = hearer(name)
        for count in (3, 4):
            listen = spoken_numbers.number_window(count, commands)
            for _ in range(min(limit, STRINGS) if limit else STRINGS):
                one = spoken_numbers.spoken(takes, count, pauses, rng)
                verdict = ears.hear(listen, one.sound)
                taken = verdict.decision == "accept"
                right += taken and verdict.value == float(one.digits)
                wrong += taken and verdict.value != float(one.digits)
                of += 1
    gaps = "{:.0f} to {:.0f} ms".format(*(1000 * pause for pause in pauses))
    goal = NUMBER_GOALS if goals else {}
    what = f"3 and 4 digits, {gaps} gaps"
    yield Share(way, f"{what}: right", right, of, goal.get("right"), True)
    yield Share(way, f"{what}: wrong", wrong, of, goal.get("wrong"))


def every_way(model: Path | None) -> list[Way]:
    """The recognisers of this machine alone, and the judge with all that ``auto`` chooses;
    ``model`` is Whisper's folder."""
    matcher, pocket = MatcherRecogniser(), PocketRecogniser()
    vosk, whisper = vosk_here(), None if model is None else WhisperRecogniser(model)

    def numbers_of(speaker: str) -> NumberRecogniser:
        return NumberRecogniser(None, pocket, model_for(speaker))

    def everybody(speaker: str) -> list[Any]:
        """As ``choose`` has them, each made once, and numbers heard fairly."""
        made = {"matcher": matcher, "pocketsphinx": pocket, "vosk": vosk, "whisper": whisper}
        named = [one.capabilities.name for one in choose("auto", model_folder(), ())]
        found = [numbers_of(speaker) if name == "numbers" else made[name] for name in named]
        return [one for one in found if one is not None and one is not whisper]

    def with_whisper(speaker: str) -> list[Any]:
        """PocketSphinx is left out where another one understands free speech."""
        return [one for one in everybody(speaker) if one is not pocket] + [whisper]

    none = "no model: RUNNER_WHISPER_MODEL names none, and no package here carries one"
    vosk_none = "no English model here: RUNNER_VOSK_MODEL names none, no package carries one"
    return [
        Way("matcher alone", lambda _: [matcher], numbers=False),
        Way("PocketSphinx alone", lambda _: [pocket]),
        Way("numbers alone", lambda name: [numbers_of(name)]),
        Way("Vosk alone", lambda _: [vosk], "" if vosk else vosk_none),
        Way("Whisper alone", lambda _: [whisper], "" if model else none, limit=WHISPER),
        Way("judge, auto", everybody, goals=True),
        Way("judge, with Whisper", with_whisper, "" if model else none, limit=WHISPER, goals=True),
    ]


def vosk_here() -> VoskRecogniser | None:
    """The user's Vosk model, taken for an English one."""
    folder = model_folder()
    return None if folder is None else VoskRecogniser(folder)


def rows(way: Way, folder: Path, limit: int = 0) -> Iterator[Share]:
    """Everything that is measured of one way of hearing; prints how long it took."""
    limit = min(filter(None, (limit, way.limit)), default=0)
    times: list[float] = []
    if way.name != "numbers alone":
        hearer = Hearer(way.crew(""))
        yield from words(way.name, hearer, folder, limit, way.goals)
        times += hearer.times
    if way.numbers:
        made: list[Hearer] = []

        def of(name: str) -> Hearer:
            made.append(Hearer(way.crew(name)))
            return made[-1]

        yield from numbers(way.name, of, folder, limit, way.goals)
        times += [seconds for one in made for seconds in one.times]
    print(times_line(way.name, times), flush=True)


def times_line(name: str, times: Sequence[float]) -> str:
    """How long the judgements took."""
    ordered = sorted(times)
    most = ordered[len(ordered) * 99 // 100]
    return (
        f"{name:20} one judgement: median {statistics.median(ordered) * 1000:.0f} ms, "
        f"99th percentile {most * 1000:.0f} ms of {len(ordered)}"
    )


def whisper_folder(folder: Path) -> Path | None:
    """The Whisper model that the tests use, put together in a folder where it comes in parts."""
    import pytest

    from whisper_model import real_whisper

    try:
        return real_whisper(folder)
    except pytest.skip.Exception:
        return None


def table(folder: Path, limit: int = 0, only: str = "") -> Iterator[Share]:
    """All ways in turn; says of one that there is none of it."""
    with tempfile.TemporaryDirectory() as name:
        for way in every_way(whisper_folder(Path(name))):
            if only and only not in way.name:
                continue
            if way.why_not:
                print(f"{way.name:20} {way.why_not}", flush=True)
                continue
            yield from rows(way, folder, limit)


def main() -> int:
    """Print the table."""
    asked = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    asked.add_argument("--limit", type=int, default=0)
    asked.add_argument("--only", default="", metavar="WAY")
    asked.add_argument("--check", action="store_true")
    options = asked.parse_args()
    folder = speech_data.home()
    if folder is None:
        print("RUNNER_SPEECH_DATA names no folder of recordings", file=sys.stderr)
        return 2
    missed = False
    for row in table(folder, options.limit, options.only):
        print(row, flush=True)
        missed = missed or row.missed
    return int(options.check and missed)


if __name__ == "__main__":
    sys.exit(main())
