"""Hearing as it is lived: how soon an answer is judged, and what an open microphone costs.

    python tests/bench/hearing_live.py [--recogniser matcher] [--flights 2] [--check]

The real program, real PulseAudio, a virtual microphone and loudspeaker. A listener at the
microphone and another at the loudspeaker note when the pilot's speech ended and when the next
challenge's first sample came; both read in pieces of 10 ms, as Runner does. The judgement is
the moment at which the verdict reaches the program. The pilots are flite's and festival's
voices; they are among the matcher's templates, which makes no difference to time.
"""

from __future__ import annotations

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from array import array
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parents[1])]

from voice_run import _is_runner, family, marks, processor  # noqa: E402

from flying import ANSWERS, CHALLENGES, WEIGHT  # noqa: E402
from sound import SoundSystem, voices, why_not  # noqa: E402
from voice_crew import VoiceFlight  # noqa: E402

RATE = 16_000
PIECE = 160
AUDIBLE = 200
SOUND = 2
"""Of 32,767: what counts as speech at the microphone, and as a first sample at the loudspeaker,
whose monitor gives nothing but zeros while nothing is played."""

WAITING = 10.0
SPEAKING = 20.0
TRIES = 6

JUDGED = (200.0, 500.0)
SPOKEN = (250.0, 600.0)
"""Goals in milliseconds, median and 99th percentile."""

SHARES = {"nobody speaking": 0.03, "speaking": 0.15}


class Listener:
    """Reads a source and notes when there was sound: the monotonic seconds of each piece of it."""

    def __init__(self, sound: SoundSystem, source: str, above: int) -> None:
        self._above = above
        self._process = subprocess.Popen(
            [
                *("parec", f"--device={source}", "--raw", "--format=s16le", "--channels=1"),
                *(f"--rate={RATE}", "--latency-msec=10", "--process-time-msec=5"),
            ],
            env={**os.environ, **sound.environment},
            stdout=subprocess.PIPE,
        )
        self.sounds: list[tuple[float, float]] = []
        self._thread = threading.Thread(target=self._read, daemon=True)
        self._thread.start()

    def _read(self) -> None:
        assert self._process.stdout is not None
        while data := self._process.stdout.read(PIECE * 2):
            samples = array("h", data[: len(data) // 2 * 2])
            now = time.monotonic()
            places = [n for n, value in enumerate(samples) if abs(value) > self._above]
            if places:
                first, last = (now - (len(samples) - n) / RATE for n in (places[0], places[-1]))
                self.sounds.append((first, last))

    def last(self, since: float) -> float | None:
        """When the last sound since then was."""
        return self.sounds[-1][1] if self.sounds and self.sounds[-1][1] > since else None

    def first(self, since: float) -> float | None:
        """When the first sound after that moment was."""
        return next((first for first, _ in list(self.sounds) if first > since), None)

    def close(self) -> None:
        """Stop reading."""
        self._process.terminate()
        self._process.wait()


@dataclass
class Times:
    """Milliseconds from the end of speech, by what they were to."""

    judged: dict[str, list[float]] = field(default_factory=dict)
    spoken: list[float] = field(default_factory=list)


def percentile(values: Sequence[float], share: float) -> float:
    """The least value that so many reach."""
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(share * len(ordered)))]


def answering(sound: SoundSystem, folder: Path, recogniser: str, times: Times) -> None:
    """Answer the before-take-off list rightly, and note every judgement."""
    folder.mkdir()
    flight = VoiceFlight(
        sound, folder, "--phase", "before-takeoff", "--set", WEIGHT, "--recogniser", recogniser
    )
    microphone, loudspeaker = (
        Listener(sound, "mic", AUDIBLE),
        Listener(sound, "ears.monitor", SOUND),
    )
    crew = voices()
    try:
        flight.wait_for("Runner: Before take-off checklist")
        flight.wait_until_heard(30)
        for place, challenge in enumerate(CHALLENGES):
            for attempt in range(TRIES):
                quiet(loudspeaker, 0.6)
                before, seen = time.monotonic(), len(marks(flight.trace))
                sound.answer(crew[(place + attempt) % len(crew)], ANSWERS[place])
                time.sleep(1.3)
                ended = microphone.last(before)
                heard = [m for m in marks(flight.trace)[seen:] if m["what"] == "heard"]
                if ended is None or not heard:
                    continue
                judged = float(str(heard[-1]["monotonic"]))
                done = [line for line in flight.lines if line.startswith(f"{challenge}: ")]
                taken = any("heard" not in d and "not app" not in d for d in done)
                kind = "not accepted"
                if taken:
                    kind = "a number" if place >= len(CHALLENGES) - 6 else "words"
                times.judged.setdefault(kind, []).append(1000 * (judged - ended))
                if taken:
                    first = loudspeaker.first(judged)
                    if first is not None and place < len(CHALLENGES) - 1:
                        times.spoken.append(1000 * (first - ended))
                    break
    finally:
        microphone.close()
        loudspeaker.close()
        flight.stop()


def quiet(loudspeaker: Listener, seconds: float) -> None:
    """Wait until Runner has said nothing for so long."""
    end = time.monotonic() + 15
    while time.monotonic() < end:
        time.sleep(0.05)
        now = time.monotonic()
        if loudspeaker.last(now - seconds) is None:
            return


def shares(sound: SoundSystem, folder: Path, recogniser: str) -> dict[str, float]:
    """Share of one core that all of Runner's processes take, nobody speaking and speaking."""
    folder.mkdir()
    flight = VoiceFlight(
        sound, folder, "--phase", "before-takeoff", "--set", WEIGHT, "--recogniser", recogniser
    )
    loudspeaker = Listener(sound, "ears.monitor", SOUND)
    microphone = Listener(sound, "mic", AUDIBLE)
    crew = voices()
    found: dict[str, float] = {}
    try:
        flight.wait_for("Runner: Before take-off checklist")
        flight.wait_until_heard(30)
        quiet(loudspeaker, 1.5)
        for kind, seconds in (("nobody speaking", WAITING), ("speaking", SPEAKING)):
            pids = [pid for pid in family(flight.process.pid) if _is_runner(pid)]
            before, began = processor(pids), time.monotonic()
            turn = 0
            while time.monotonic() < began + seconds:
                if kind == "speaking":
                    sound.answer(crew[turn % len(crew)], "we are number four for the runway")
                    turn += 1
                    time.sleep(0.3)
                else:
                    time.sleep(0.1)
            found[kind] = (processor(pids) - before) / (time.monotonic() - began)
    finally:
        microphone.close()
        loudspeaker.close()
        flight.stop()
    return found


def told(name: str, values: Sequence[float], goals: tuple[float, float] | None) -> list[str]:
    """Print median and 99th percentile; gives the goals that were missed."""
    if not values:
        print(f"{name}: nothing was measured")
        return [f"{name} was not measured"] if goals else []
    middle, late = statistics.median(values), percentile(values, 0.99)
    wanted = f" (goals {goals[0]:.0f} and {goals[1]:.0f} ms)" if goals else ""
    print(f"{name}: median {middle:.0f}, 99th percentile {late:.0f} ms of {len(values)}{wanted}")
    if goals and (middle > goals[0] or late > goals[1]):
        return [f"{name} {middle:.0f} and {late:.0f} ms"]
    return []


def measure(recogniser: str, flights: int) -> list[str]:
    """Print everything of one recogniser; gives the goals that were missed."""
    times, missed = Times(), []
    print(f"{recogniser}, load average {os.getloadavg()[0]:.1f} at the start")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        os.environ["XDG_DATA_HOME"] = str(folder / "data")
        sound = SoundSystem(folder / "sound")
        try:
            for voice in voices():
                for answer in (*ANSWERS, "we are number four for the runway"):
                    sound.recording(voice, answer)
            for kind, share in shares(sound, folder / "shares", recogniser).items():
                goal = SHARES[kind]
                print(f"share of one core, {kind}: {share:.1%} (goal {goal:.0%})")
                if share > goal:
                    missed.append(f"{recogniser}: {kind} {share:.1%}")
            for number in range(flights):
                answering(sound, folder / f"flight{number}", recogniser, times)
        finally:
            sound.stop()
    accepted = times.judged.get("words", []) + times.judged.get("a number", [])
    missed += told("end of speech to judgement, accepted", accepted, JUDGED)
    for kind, values in times.judged.items():
        told(f"  {kind}", values, None)
    missed += told("end of speech to the next challenge's first sample", times.spoken, SPOKEN)
    return missed


def main() -> int:
    """Measure the recognisers asked for."""
    parser = argparse.ArgumentParser(description="Times and costs of hearing, live.")
    parser.add_argument("--recogniser", action="append")
    parser.add_argument("--flights", type=int, default=2)
    parser.add_argument("--check", action="store_true")
    options = parser.parse_args()
    if reason := why_not():
        print(f"no sound to measure with: {reason}", file=sys.stderr)
        return 2
    missed: list[str] = []
    for recogniser in options.recogniser or ["matcher", "pocketsphinx"]:
        missed += measure(recogniser, options.flights)
    if options.check and missed:
        print("missed: " + "; ".join(missed))
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
