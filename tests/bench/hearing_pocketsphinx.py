"""How well PocketSphinx hears: kept, wrong and other answers taken, and what it costs.

    python tests/bench/hearing_pocketsphinx.py

Phrases of two words and more by the flite and festival voices of this machine; recordings
of people where ``RUNNER_SPEECH_DATA`` names their folder (``states/``, ``digits/``).
``kept`` is right and accepted, ``wrong`` another answer of the item accepted, ``other``
something that is no answer in this window accepted as anything at all.
"""

from __future__ import annotations

import os
import random
import sys
import tempfile
import time
from array import array
from collections import Counter
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parents[1])]

from runner.engine.effects import Candidate, Listen, NumberWanted  # noqa: E402
from runner.phrasing.style import Form  # noqa: E402
from runner.voice.judge import judge  # noqa: E402
from runner.voice.pocket import PocketRecogniser  # noqa: E402
from runner.voice.waves import read_wav  # noqa: E402
from sound import speak_to_file, voices  # noqa: E402

PAIRS = (
    "both low|both high, left main|right main, set and locked|set and free, "
    "cowl flaps open|cowl flaps closed, auto rich|auto lean, fully forward|fully back, "
    "boost pumps on|boost pumps off, landing lights off|landing lights on, "
    "down three green|not down, flaps twenty|flaps thirty, idle cut off|full rich, "
    "brakes released|brakes set, tank to engine|crossfeed open, checked and set|not set, "
    "doors closed|doors open, generators on|generators off, "
    "carburettor heat cold|carburettor heat hot, high blower|low blower, gear up|gear down, "
    "armed and tested|not armed, all four feathered|not feathered, "
    "pressure normal|pressure low, fuel on|fuel off, trim neutral|trim nose up, "
    "windows closed|windows open, hydraulics normal|hydraulics failed"
)
CHATTER = (
    "what time is the next bus, I think we should turn around now, hello, "
    "can you hand me the coffee please, tower good morning, that was a bumpy one, "
    "set the table for dinner, low clouds over the hills, open the window a little, "
    "both of them were late, lights out at ten, my seat is broken, okay, maybe tomorrow, "
    "the left one looks fine, pass me the chart, turn off the radio, yes I think so, "
    "flaps are funny things, they said the gear was old, normal people sleep at night"
)
CONTROLS = {
    "say_again": "say again",
    "stand_by": "stand by",
    "later": "later",
    "go_back": "go back",
    "disagree": "i disagree",
    "disregard": "disregard",
    "reject": "reject",
    "mute": "mute",
    "before_takeoff": "before take off (checklist / list)",
    "landing": "landing (checklist / list)",
    "flaps_up": "flaps up",
}
NUMBERS = (
    (Form("speed", 0, "kt"), 60, 200, "one one eight=118, one zero nine=109, ninety six=96"),
    (Form("manifold_pressure", 1, "inHg"), 20, 60, "forty four point two=44.2"),
    (Form("rpm", 0, "rpm"), 1000, 3000, "twenty three fifty=2350"),
)


def controls() -> tuple[Candidate, ...]:
    """The control phrases and calls that are open in every window."""
    return tuple(Candidate(f"control:{n}", "control", p) for n, p in CONTROLS.items())


def window(number: int, right: str, wrong: str) -> Listen:
    """A window whose answer and competitor are these."""
    pair = (Candidate("answer", "answer", right), Candidate("wrong:0", "competitor", wrong))
    return Listen(number, pair + controls())


def as_heard(file: Path) -> bytes:
    """A recording as a microphone gives it: room noise before, under and after it."""
    sound = array("h", read_wav(file, 16_000))
    peak = max(map(abs, sound), default=1) or 1
    noise = random.Random(len(sound))
    padded = [0] * 4000 + [round(sample * 9000 / peak) for sample in sound] + [0] * 5000
    return array("h", (sample + round(noise.gauss(0, 12)) for sample in padded)).tobytes()


class Table:
    """Counts of one kind of test, printed as a line."""

    def __init__(self) -> None:
        self.counts: Counter[str] = Counter()
        self.spent = 0.0
        self.sound = 0.0
        self.bad: list[str] = []

    def hear(
        self, ears: PocketRecogniser, listen: Listen, sound: bytes, right: str | None, what: str
    ) -> None:
        """Judge one recording; ``right`` is the candidate that it is, None for no answer."""
        began = time.perf_counter()
        ears.prepare(listen)
        ears.begin()
        ears.feed(sound)
        verdict = judge(ears.propose(), listen)
        self.spent += time.perf_counter() - began
        self.sound += len(sound) / 32_000
        taken = verdict.candidate if verdict.value is None else f"number {verdict.value:g}"
        if verdict.decision != "accept":
            self.counts[verdict.decision] += 1
        elif taken == right:
            self.counts["kept"] += 1
        else:
            self.counts["other" if right is None else "wrong"] += 1
            self.bad.append(f"{what} taken for {verdict.text}")
        self.counts["all"] += 1

    def show(self, name: str) -> None:
        """Print the line, and what went wrong."""
        total = self.counts["all"] or 1
        cells = "  ".join(
            f"{key} {100 * self.counts[key] / total:5.1f}%"
            for key in ("kept", "wrong", "other", "unclear", "reject")
        )
        cost = 1000 * self.spent / total
        print(f"{name:34} {total:5}  {cells}  {cost:5.0f} ms")
        for line in self.bad[:12]:
            print(f"    {line}")


def main() -> None:
    """Print one line a kind of recording."""
    random.seed(7)
    ears = PocketRecogniser()
    folder = Path(tempfile.gettempdir()) / "runner-bench-voices"
    folder.mkdir(exist_ok=True)
    pairs = [tuple(pair.strip().split("|")) for pair in PAIRS.split(",")]
    windows = [window(n, right, wrong) for n, (right, wrong) in enumerate(pairs)]
    chatter = [text.strip() for text in CHATTER.split(",")]
    right, chat, other, number = Table(), Table(), Table(), Table()
    for listen, pair in zip(windows, pairs, strict=True):
        for voice in voices():
            for candidate, text in zip(("answer", "wrong:0"), pair, strict=True):
                sound = as_heard(speak_to_file(voice, text, folder))
                right.hear(ears, listen, sound, candidate, f"{voice} {text}")
        for voice in voices():
            for _ in range(2):
                text = random.choice(chatter)
                sound = as_heard(speak_to_file(voice, text, folder))
                chat.hear(ears, listen, sound, None, f"{voice} {text}")
                text = random.choice([t for p in pairs if p is not pair for t in p])
                sound = as_heard(speak_to_file(voice, text, folder))
                if text not in pair:
                    other.hear(ears, listen, sound, None, f"{voice} {text}")
    right.show("two words and more")
    other.show("other items' answers")
    chat.show("chatter")
    for form, low, high, texts in NUMBERS:
        listen = Listen(900, controls(), NumberWanted(form, low, high))
        for entry in texts.split(","):
            text, _, value = entry.strip().partition("=")
            for voice in voices():
                sound = as_heard(speak_to_file(voice, text, folder))
                number.hear(ears, listen, sound, f"number {value}", f"{voice} {text}")
    number.show("numbers")
    data = os.environ.get("RUNNER_SPEECH_DATA", "")
    if not data:
        print("recordings of people: RUNNER_SPEECH_DATA is not set")
        return
    people(ears, Path(data))


def people(ears: PocketRecogniser, data: Path, each: int = 12) -> None:
    """Single words and digits by many speakers."""
    states, digits, unknown = Table(), Table(), Table()
    opposites = (("on", "off"), ("up", "down"), ("left", "right"), ("stop", "go"))
    strangers = sorted((data / "states" / "unknown").glob("*.wav"))
    for first, second in opposites:
        listen = window(1, first, second)
        for candidate, word in (("answer", first), ("wrong:0", second)):
            for file in random.sample(sorted((data / "states" / word).glob("*.wav")), each * 2):
                states.hear(ears, listen, as_heard(file), candidate, f"{word} {file.name}")
        for file in random.sample(strangers, each * 2):
            unknown.hear(ears, listen, as_heard(file), None, file.name)
    listen = Listen(2, controls(), NumberWanted(Form("count"), 0, 9))
    for digit in range(10):
        for file in random.sample(sorted((data / "digits").glob(f"{digit}_*.wav")), each):
            digits.hear(ears, listen, as_heard(file), f"number {digit}", file.name)
    states.show("people, one word of two")
    unknown.show("people, other words")
    digits.show("people, one digit")


if __name__ == "__main__":
    main()
