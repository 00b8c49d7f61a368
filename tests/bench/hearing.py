"""How well the matcher hears people: kept, opposites and other words taken, with 95 % bounds.

    RUNNER_SPEECH_DATA=FOLDER python tests/bench/hearing.py [--check] [--pocketsphinx]

Judged by the judge, with the values as shipped, on the half of the speakers that nothing was
fitted on (``tests/speech_data.py``). A window holds one state word, its opposite and the
cockpit style's control phrases. ``--check`` exits 1
where a goal is missed, naming it; ``--pocketsphinx`` has PocketSphinx hear the same first;
``--words`` leaves out numbers and engine noise, which take several minutes.
"""

from __future__ import annotations

import math
import statistics
import sys
import time
from collections import Counter, defaultdict
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

# This folder must not be searched: a file in it has the name of a package.
sys.path[:1] = [str(Path(__file__).parents[2]), str(Path(__file__).parents[1])]

import speech_data  # noqa: E402
from matching import controls, own_entries, state_window  # noqa: E402
from runner.engine.effects import Listen  # noqa: E402
from runner.voice.embedding import to_samples  # noqa: E402
from runner.voice.judge import judge  # noqa: E402
from runner.voice.matcher import MatcherRecogniser  # noqa: E402
from runner.voice.session import voice_detector  # noqa: E402
from runner.voice.utterance import FRAME_BYTES, Gate  # noqa: E402
from runner.voice.waves import read_wav  # noqa: E402

RATE = 16_000
UNKNOWN_A_SPEAKER = 12
GOALS = {
    "no enrolment": {"right": 0.85, "opposite": 0.005, "other": 0.04, "noise": 0.005},
    "own voice": {"right": 0.97, "opposite": 0.002, "other": 0.01},
}


def bounds(count: int, of: int) -> tuple[float, float]:
    """Wilson's 95 % bounds of a share (E. B. Wilson, 1927)."""
    if not of:
        return 0.0, 1.0
    z, share = 1.96, count / of
    middle = (share + z * z / (2 * of)) / (1 + z * z / of)
    reach = z * math.sqrt(share * (1 - share) / of + z * z / (4 * of * of)) / (1 + z * z / of)
    return max(0.0, middle - reach), min(1.0, middle + reach)


@dataclass
class Table:
    """Counts of one way of hearing."""

    name: str
    counts: Counter[str] = field(default_factory=Counter)

    def add(self, kind: str, accepted: bool) -> None:
        """One utterance of a kind, and whether it was accepted as what would be counted."""
        self.counts[kind, "of"] += 1  # type: ignore[index]
        self.counts[kind, "yes"] += accepted  # type: ignore[index]

    def missed(self) -> list[str]:
        """Print the rows; gives the goals that were missed."""
        found = []
        for kind, goal in GOALS.get(self.name, GOALS["no enrolment"]).items():
            yes, of = self.counts[kind, "yes"], self.counts[kind, "of"]  # type: ignore[index]
            low, high = bounds(yes, of)
            share = yes / of if of else float("nan")
            good = share >= goal if kind == "right" else share <= goal
            print(
                f"{self.name:14} {kind:9} {yes:5} of {of:5}  {share:7.2%}  "
                f"({low:.2%} to {high:.2%})"
                + (f", goal {goal:.1%}{'' if good else ', missed'}" if self.name in GOALS else "")
            )
            if not good and self.name in GOALS:
                found.append(f"{self.name}: {kind} {share:.2%}, goal {goal:.1%}")
        return found


class Hearing:
    """The matcher and the judge on recordings."""

    def __init__(self, folder: Path, recogniser: Any = None) -> None:
        self.folder = folder
        self.recogniser = recogniser or MatcherRecogniser()
        self.controls = controls()
        self.times: list[float] = []
        self.reported = [
            one
            for one in speech_data.states(folder)
            if not speech_data.for_fitting(one.speaker, folder)
        ]

    def verdict(self, sound: bytes, listen: Listen, own: Any = None) -> str | None:
        """The candidate that is accepted, or None; ``own`` are entries and others with takes."""
        self.recogniser.prepare(listen)
        if own is not None:
            self.recogniser._entries, self.recogniser._others = own
        self.recogniser.begin()
        self.recogniser.feed(sound)
        before = time.perf_counter()
        proposals = self.recogniser.propose()
        self.times.append(time.perf_counter() - before)
        result = judge(proposals, listen)
        return result.candidate if result.decision == "accept" else None

    def unenrolled(self, table: Table) -> None:
        """Against synthetic voices alone."""
        windows = {pair: state_window(pair[0], self.controls) for pair in speech_data.PAIRS}
        for one in self.reported:
            sound = read_wav(one.file, RATE)
            for pair, listen in windows.items():
                taken = self.verdict(sound, listen)
                if one.known and one.word in pair:
                    table.add("right", taken == one.word)
                    table.add("opposite", taken == speech_data.OPPOSITE[one.word])
                else:
                    table.add("other", taken is not None)
        for file in speech_data.silences(self.folder):
            sound = read_wav(file, RATE)
            heard = gated(sound)
            for listen in windows.values():
                table.add("noise", heard and self.verdict(sound, listen) is not None)

    def enrolled(self, table: Table) -> None:
        """Against the speaker's own first three takes."""
        by: dict[str, dict[str, list[Path]]] = defaultdict(lambda: defaultdict(list))
        for one in self.reported:
            if one.known:
                by[one.speaker][one.word].append(one.file)
        others = [one.file for one in self.reported if not one.known]
        for number, words in enumerate(by.values()):
            enrolled = {
                word: [self.path(file) for file in files[:3]]
                for word, files in words.items()
                if len(files) >= 3
            }
            for pair in speech_data.PAIRS:
                if not all(word in enrolled for word in pair):
                    continue
                listen = state_window(pair[0], self.controls)
                own = own_entries(self.recogniser.entries(listen), enrolled)
                for word, files in words.items():
                    for file in files[3:]:
                        taken = self.verdict(read_wav(file, RATE), listen, own)
                        if word in pair:
                            table.add("right", taken == word)
                            table.add("opposite", taken == speech_data.OPPOSITE[word])
                        else:
                            table.add("other", taken is not None)
                for file in others[number::UNKNOWN_A_SPEAKER]:
                    taken = self.verdict(read_wav(file, RATE), listen, own)
                    table.add("other", taken is not None)

    def path(self, file: Path) -> Any:
        """A recording as the matcher's points."""
        said = self.recogniser._embedder.path(to_samples(read_wav(file, RATE)))
        return self.recogniser._transform(said.embedded)


def gated(sound: bytes) -> bool:
    """Whether the gate hears an utterance at all."""
    gate = Gate(voice_detector())
    places = range(0, len(sound) - FRAME_BYTES, FRAME_BYTES)
    return any(gate.take(sound[at : at + FRAME_BYTES]).change == "began" for at in places)


def rest(folder: Path) -> list[str]:
    """Print the rows of numbers and of engine noise; what was missed of their goals."""
    # Last, so that nothing of this folder stands for a package.
    sys.path.append(str(Path(__file__).parent))
    import hearing_noise
    import hearing_numbers

    missed = []
    for number in hearing_numbers.rows(folder):
        print(number)
        if number.missed:
            missed.append(str(number))
    for noise in hearing_noise.rows(folder, every=4):
        most = hearing_noise.LOSS_GOALS[noise.way]
        low, high = noise.bounds
        line = (
            f"{noise.way}: loss at 10 dB of engine noise {noise.loss:.1f} points "
            f"({low:.1f} to {high:.1f}) of {noise.of}, goal {most:g} at most"
        )
        print(line)
        if noise.loss > most:
            missed.append(line)
    return missed


def main() -> int:
    """Print the table."""
    folder = speech_data.home()
    if folder is None:
        print("RUNNER_SPEECH_DATA names no folder of recordings", file=sys.stderr)
        return 2
    if "--pocketsphinx" in sys.argv:
        from runner.voice.pocket import PocketRecogniser

        beside, table = Hearing(folder, PocketRecogniser()), Table("PocketSphinx")
        beside.unenrolled(table)
        table.missed()
    hearing = Hearing(folder)
    tables = [Table("no enrolment"), Table("own voice")]
    hearing.unenrolled(tables[0])
    hearing.enrolled(tables[1])
    missed = [line for table in tables for line in table.missed()]
    times = sorted(hearing.times)
    print(
        f"one judgement: median {statistics.median(times) * 1000:.0f} ms, 99th percentile "
        f"{times[len(times) * 99 // 100] * 1000:.0f} ms of {len(times)}"
    )
    if "--words" not in sys.argv:
        missed += rest(folder)
    if "--check" in sys.argv and missed:
        print("missed: " + "; ".join(missed))
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
