"""How well the gate hears in noise: what begins, begins in time, ends rightly; false starts.

    RUNNER_SPEECH_DATA=FOLDER python tests/bench/hearing_noise.py [--check] [--fitting]

People's state words, and strings of three and four of their digits, stand in a stream of
room noise and of four engines (``tests/engine_noise.py``) and go frame by frame into the
gate as shipped. ``--fitting`` uses the half of the speakers that values were fitted on,
``--check`` exits 1 where a goal is missed.
"""

from __future__ import annotations

import random
import sys
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

# This folder must not be searched: a file in it has the name of a package.
sys.path[:1] = [str(Path(__file__).parents[2]), str(Path(__file__).parents[1])]

import speech_data  # noqa: E402
from engine_noise import PLANTS, RATE, Sound, active_level, at_snr, drone, keys, wind  # noqa: E402
from runner.voice.embedding import islands, to_samples  # noqa: E402
from runner.voice.endpoint import MORE_DIGITS  # noqa: E402
from runner.voice.utterance import FRAME_BYTES, FRAME_SECONDS, Gate  # noqa: E402
from runner.voice.voice_activity import voice_detector  # noqa: E402
from runner.voice.waves import read_wav  # noqa: E402

SPEECH = 2_000.0
"""Root mean square of the loud part of speech, of 32,767."""

BEFORE, AFTER = 2.5, 1.2
"""Seconds of noise before and after what is said."""

ROOM = 8.0
"""Root mean square of a quiet room's noise."""

LEVELS = (None, 20.0, 10.0, 5.0, 0.0)
"""dB from the engines to the loud part of speech; None is a quiet room."""

GOALS = {None: 0.99, 20.0: 0.99, 10.0: 0.97}
"""Least share of words that begin in time, at each level."""

LATE = 0.03
"""Seconds of a word's beginning that may be missing."""

TAIL = 0.30
"""Seconds after its end within which a word has to be known to be over."""


@dataclass(frozen=True, slots=True)
class Stream:
    """Something said in noise: the samples of the stream, and where in it speech stands."""

    sound: Sound
    first: float
    last: float


@dataclass(frozen=True, slots=True)
class Heard:
    """What the gate made of a stream."""

    began: bool
    in_time: bool
    ended: bool
    cut: bool


def said(speech: Sound, snr: float | None, rng: random.Random) -> Stream:
    """A recording, brought to the usual level, in a longer stream of noise.

    Before and after, the room goes on as it is in the recording's quietest tenth.
    """
    noise = np.random.default_rng(rng.randrange(1 << 30))
    loud = speech * (SPEECH / active_level(speech))
    frames = loud[: len(loud) // 320 * 320].reshape(-1, 320)
    own = float(np.sqrt(np.percentile((frames**2).mean(axis=1), 10)))
    before, after = round(BEFORE * RATE), round(AFTER * RATE)
    around = min(max(own, 1.0), 60.0)
    sound = np.concatenate(
        [noise.normal(0, around, before), loud, noise.normal(0, around, after)]
    ) + noise.normal(0, ROOM, before + len(loud) + after)
    if snr is not None:
        sound += at_snr(loud, piece(len(sound), rng), snr)
    found = islands(loud) or [(0, len(loud))]
    return Stream(
        sound.astype(np.float32),
        BEFORE + found[0][0] / RATE + 0.03,
        BEFORE + found[-1][1] / RATE - 0.05,
    )


_ENGINES: list[Sound] = []


def piece(length: int, rng: random.Random) -> Sound:
    """A piece of one of a dozen drones, each made once."""
    if not _ENGINES:
        _ENGINES.extend(drone(15.0, seed, PLANTS[seed % len(PLANTS)]) for seed in range(50, 62))
    engines = rng.choice(_ENGINES)
    at = rng.randrange(len(engines) - length)
    return engines[at : at + length]


def to_bytes(samples: Sound) -> bytes:
    """Samples of 16 bits."""
    return bytes(np.clip(np.round(samples), -32_768, 32_767).astype("<i2").tobytes())


def frames_of(sound: bytes) -> Iterator[bytes]:
    """Frames as a microphone gives them."""
    for at in range(0, len(sound) - FRAME_BYTES + 1, FRAME_BYTES):
        yield sound[at : at + FRAME_BYTES]


def heard(stream: Stream, gate: Gate) -> Heard:
    """What the gate makes of a stream."""
    start = ended = None
    cut, longest = False, 0.0
    for number, frame in enumerate(frames_of(to_bytes(stream.sound))):
        at = (number + 1) * FRAME_SECONDS
        beat = gate.take(frame)
        if beat.change == "began":
            start = at - len(beat.samples) / FRAME_BYTES * FRAME_SECONDS
        if start is None:
            continue
        if at - beat.silence < stream.first - 0.1 and beat.silence > 0.6:
            # It was no speech: as the ears do, forget it.
            gate.reset()
            start = None
            continue
        if at < stream.last:
            longest = max(longest, beat.silence)
        ended = at - beat.silence
    cut = longest >= MORE_DIGITS
    if start is None or ended is None:
        return Heard(False, False, False, cut)
    return Heard(
        True,
        start <= stream.first + LATE,
        stream.last - 0.15 <= ended <= stream.last + TAIL,
        cut,
    )


def words(folder: Path, fitting: bool) -> list[Sound]:
    """People's state words."""
    return [
        to_samples(read_wav(one.file, RATE))
        for one in speech_data.states(folder)
        if one.known and speech_data.for_fitting(one.speaker, folder) == fitting
    ]


def strings(folder: Path, fitting: bool, count: int, rng: random.Random) -> list[Sound]:
    """Strings of one speaker's three or four digits, with gaps of 80 to 200 ms."""
    noise = np.random.default_rng(3)
    people = speech_data.digits(folder)
    those = [s for s in sorted(people) if speech_data.for_fitting(s, folder) == fitting]
    found = []
    for _ in range(count):
        by = people[rng.choice(those or sorted(people))]
        parts: list[Sound] = []
        for digit in rng.choices(sorted(by), k=rng.choice((3, 4))):
            spoken = to_samples(read_wav(rng.choice(by[digit]), RATE))
            gap = noise.normal(0, 2, round(rng.uniform(0.08, 0.2) * RATE)).astype(np.float32)
            parts += [spoken * (SPEECH / active_level(spoken)), gap]
        found.append(np.concatenate(parts[:-1]))
    return found


def false_starts(sound: Sound, gate: Gate) -> int:
    """How often noise alone begins an utterance; each ends after two thirds of a second."""
    starts = 0
    for frame in frames_of(to_bytes(sound)):
        beat = gate.take(frame)
        starts += beat.change == "began"
        if beat.change == "too long" or beat.silence > 0.65:
            gate.reset()
    return starts


def noises() -> Iterator[tuple[str, Sound]]:
    """Name and two minutes of each noise without speech; six of the engines."""
    room = np.random.default_rng(1).normal(0, ROOM, 120 * RATE)
    engines = np.concatenate([drone(120.0, seed, plant) for seed, plant in enumerate(PLANTS)])
    for snr in (10.0, 0.0):
        yield f"drone at {snr:g} dB", engines * SPEECH * 10 ** (-snr / 20)
    yield "wind in gusts", wind(120.0, 7, gusts=6.0) * SPEECH / 6
    struck = keys(120.0, 8) * SPEECH * 2
    yield "keys", (struck + room).astype(np.float32)
    yield "keys in drone", struck + engines[: len(struck)] * SPEECH / 3


def core_share(minutes: float = 1.0) -> float:
    """Share of a core that the gate takes in a quiet room."""
    room = np.random.default_rng(2).normal(0, ROOM, round(minutes * 60 * RATE))
    frames = list(frames_of(to_bytes(room.astype(np.float32))))
    gate = Gate(voice_detector())
    before = time.process_time()
    for frame in frames:
        gate.take(frame)
    return (time.process_time() - before) / (len(frames) * FRAME_SECONDS)


def main() -> int:
    """Print the rows."""
    folder = speech_data.home()
    if folder is None:
        print("RUNNER_SPEECH_DATA names no folder of recordings", file=sys.stderr)
        return 2
    fitting = "--fitting" in sys.argv
    every = next((int(a[8:]) for a in sys.argv if a.startswith("--every=")), 1)
    detector = voice_detector()
    missed = []
    rng = random.Random(4)
    for name, those in (
        ("words", words(folder, fitting)[::every]),
        ("digit strings", strings(folder, fitting, 240 // every, rng)),
    ):
        for snr in LEVELS:
            made = [heard(said(speech, snr, rng), Gate(detector)) for speech in those]
            of = len(made)
            share = {
                "begin": sum(one.began for one in made) / of,
                "in time": sum(one.in_time for one in made) / of,
                "end rightly": sum(one.ended for one in made) / of,
                "cut in two": sum(one.cut for one in made) / of,
            }
            level = "quiet" if snr is None else f"{snr:g} dB"
            text = ", ".join(f"{key} {value:.1%}" for key, value in share.items())
            print(f"{name:13} {level:6} {of:4}: {text}", flush=True)
            goal = GOALS.get(snr)
            if goal is not None and share["in time"] < goal:
                missed.append(f"{name} at {level}: in time {share['in time']:.1%}, goal {goal:.0%}")
    for name, sound in noises():
        starts = false_starts(sound, Gate(detector))
        minutes = len(sound) / RATE / 60
        print(f"false starts in {minutes:g} minutes of {name}: {starts}", flush=True)
        if "drone" in name and starts:
            missed.append(f"{name}: {starts} false starts")
    rooms = Counter(
        false_starts(to_samples(read_wav(file, RATE)), Gate(detector)) > 0
        for file in speech_data.silences(folder)
    )
    print(f"silence files that begin something: {rooms[True]} of {rooms.total()}")
    share_of_core = core_share()
    print(f"share of a core in a quiet room: {share_of_core:.1%}")
    if share_of_core > 0.03:
        missed.append(f"share of a core {share_of_core:.1%}, goal 3 %")
    if "--check" in sys.argv and missed:
        print("missed: " + "; ".join(missed))
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
