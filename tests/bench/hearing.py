"""How well people are heard: the whole table, with counts and 95 % bounds.

    RUNNER_SPEECH_DATA=FOLDER python tests/bench/hearing.py [--check] [--words] [--quick]

First state words by the matcher and the judge, with the values as shipped, on the half of the
speakers that nothing was fitted on (``tests/speech_data.py``); a window holds one state word,
its opposite and the cockpit style's control phrases. Then numbers (``hearing_numbers``), engine
noise (``hearing_noise``), what nobody meant for Runner (``hearing_unmeant``), and each recogniser
alone beside the judge with all of them (``hearing_each``). ``--check`` exits 1 where a goal is
missed, naming it; ``--words`` stops after the first part; ``--quick`` takes a part of the
recordings for the last ones.
"""

from __future__ import annotations

import statistics
import sys
import time
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parents[1])]

from hearing_each import gated  # noqa: E402
from shares import Share  # noqa: E402

import speech_data  # noqa: E402
from matching import controls, own_entries, state_window  # noqa: E402
from runner.engine.effects import Listen  # noqa: E402
from runner.voice.embedding import to_samples  # noqa: E402
from runner.voice.judge import judge  # noqa: E402
from runner.voice.matcher import MatcherRecogniser  # noqa: E402
from runner.voice.utterance import Gate  # noqa: E402
from runner.voice.voice_activity import voice_detector  # noqa: E402
from runner.voice.waves import read_wav  # noqa: E402

RATE = 16_000
UNKNOWN_A_SPEAKER = 12
GOALS = {
    "no enrolment": {"right": 0.85, "opposite": 0.005, "other": 0.04, "noise": 0.005},
    "own voice": {"right": 0.97, "opposite": 0.002, "other": 0.01},
}

WHAT = {
    "right": "state word accepted",
    "opposite": "opposite state accepted",
    "other": "other word accepted",
    "noise": "room accepted, after the gate",
}


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
        for kind, goal in GOALS[self.name].items():
            yes, of = self.counts[kind, "yes"], self.counts[kind, "of"]  # type: ignore[index]
            row = Share(self.name, WHAT[kind], yes, of, goal, kind == "right")
            print(row, flush=True)
            if row.missed:
                found.append(f"{self.name}: {WHAT[kind]}")
        return found


class Hearing:
    """The matcher and the judge on recordings."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.recogniser = MatcherRecogniser()
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
            heard = gated(sound, Gate(voice_detector()))
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


def rest(folder: Path, quick: bool) -> list[str]:
    """Print all further rows; what was missed of their goals."""
    import hearing_each
    import hearing_noise
    import hearing_numbers
    import hearing_unmeant

    missed = []
    for number in hearing_numbers.rows(folder):
        print(number, flush=True)
        if number.missed:
            missed.append(str(number))
    for noise in hearing_noise.rows(folder, every=4):
        print(noise.line(), flush=True)
        if noise.loss > hearing_noise.LOSS_GOALS[noise.way]:
            missed.append(f"{noise.way}: loss {noise.loss:.1f} points at 10 dB")
    for row in (
        *shown(hearing_unmeant.rows(folder, every=8 if quick else 1)),
        *shown(hearing_each.table(folder, limit=40 if quick else 0)),
    ):
        if row.missed:
            missed.append(f"{row.way}: {row.what}")
    return missed


def shown(rows: Iterable[Share]) -> Iterator[Share]:
    """The rows, each printed when it is there."""
    for row in rows:
        print(row, flush=True)
        yield row


def main() -> int:
    """Print the table."""
    folder = speech_data.home()
    if folder is None:
        print("RUNNER_SPEECH_DATA names no folder of recordings", file=sys.stderr)
        return 2
    hearing = Hearing(folder)
    tables = [Table("no enrolment"), Table("own voice")]
    hearing.unenrolled(tables[0])
    hearing.enrolled(tables[1])
    missed = [line for table in tables for line in table.missed()]
    times = sorted(hearing.times)
    print(
        f"one judgement: median {statistics.median(times) * 1000:.0f} ms, 99th percentile "
        f"{times[len(times) * 99 // 100] * 1000:.0f} ms of {len(times)}",
        flush=True,
    )
    if "--words" not in sys.argv:
        missed += rest(folder, "--quick" in sys.argv)
    if "--check" in sys.argv and missed:
        print("missed: " + "; ".join(missed))
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
