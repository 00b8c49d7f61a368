"""PocketSphinx with synthesised voices: answers, opposites, other items' answers, chatter."""

from __future__ import annotations

import random
from array import array
from pathlib import Path

import pytest

from runner.engine.effects import Candidate, Listen, NumberWanted
from runner.engine.events import Verdict
from runner.phrasing.style import Form
from runner.voice.judge import judge
from runner.voice.recogniser import RATE
from runner.voice.waves import read_wav
from sound import speak_to_file, voices

pytest.importorskip("pocketsphinx")

ITEMS = (
    ("low blower / four in low", "high blower / four in high"),
    ("fully rich / auto rich", "auto lean / idle cut off"),
    ("armed and green / system armed", "not armed / switch off"),
    ("brake set / set and holding", "brake off / brake released"),
)
CONTROLS = (
    ("control:say_again", "say again (please)?"),
    ("control:stand_by", "stand by (one)? / hold the list"),
    ("control:go_back", "go back (one)?"),
    ("control:disagree", "I disagree / that is wrong"),
    ("control:reject", "reject (reject / the take-off)?"),
)
CHATTER = (
    "what time is the next bus",
    "tower good morning",
    "it is getting cold in here",
    "set the table for dinner",
    "thank you",
    "the engine sounds rough today",
)


def window(number: int, wanted: NumberWanted | None = None) -> Listen:
    """The window of an item, or of a number, with control phrases and a list's name."""
    right, wrong = ITEMS[number % len(ITEMS)]
    item = (Candidate("answer", "answer", right), Candidate("wrong:0", "competitor", wrong))
    return Listen(
        number,
        (() if wanted else item)
        + tuple(Candidate(name, "control", pattern) for name, pattern in CONTROLS)
        + (Candidate("call:engine-fire", "call", "engine fire (checklist / list)?"),),
        wanted,
    )


class Listener:
    """One recogniser and what it makes of voices."""

    def __init__(self, folder: Path) -> None:
        from runner.voice.pocket import PocketRecogniser

        self._ears = PocketRecogniser()
        self._folder = folder

    def hear(self, voice: str, text: str, listen: Listen) -> Verdict:
        """The verdict on a voice saying a text in a room that is nearly quiet."""
        sound = array("h", read_wav(speak_to_file(voice, text, self._folder), RATE))
        room = random.Random(3)
        padded = [0] * (RATE // 4) + list(sound) + [0] * (RATE // 4)
        noisy = array("h", (max(-32_768, min(32_767, s + room.randint(-8, 8))) for s in padded))
        self._ears.prepare(listen)
        self._ears.begin()
        self._ears.feed(noisy.tobytes())
        return judge(self._ears.propose(), listen)


@pytest.fixture(scope="module")
def listener(tmp_path_factory: pytest.TempPathFactory) -> Listener:
    if not voices():
        pytest.skip("no flite and no festival on this machine: nobody to listen to")
    return Listener(tmp_path_factory.mktemp("voices"))


@pytest.mark.slow
def test_most_answers_of_two_words_are_kept_and_none_is_taken_for_its_opposite(
    listener: Listener,
) -> None:
    kept = said = 0
    for number, item in enumerate(ITEMS):
        for candidate, patterns in zip(("answer", "wrong:0"), item, strict=True):
            for text in patterns.split(" / "):
                for voice in voices():
                    verdict = listener.hear(voice, text, window(number))
                    said += 1
                    kept += verdict.candidate == candidate
                    assert verdict.candidate in (candidate, None), (voice, text, verdict)
    assert kept / said >= 0.8


def test_chatter_and_other_items_answers_are_never_accepted(listener: Listener) -> None:
    for number in range(len(ITEMS)):
        other = ITEMS[(number + 1) % len(ITEMS)]
        texts = (*CHATTER[number % 2 :: 2], *(p.split(" / ")[0] for p in other))
        for voice in voices():
            for text in texts:
                verdict = listener.hear(voice, text, window(number))
                assert verdict.decision != "accept", (voice, text, verdict)


def test_most_chatter_is_passed_over_in_silence(listener: Listener) -> None:
    verdicts = [
        listener.hear(voice, text, window(0)).decision for voice in voices() for text in CHATTER
    ]
    assert verdicts.count("reject") / len(verdicts) >= 0.8


def test_control_phrases_are_heard_in_a_window_of_any_item(listener: Listener) -> None:
    kept = 0
    for voice in voices():
        for text, name in (
            ("go back one", "control:go_back"),
            ("hold the list", "control:stand_by"),
        ):
            verdict = listener.hear(voice, text, window(1))
            assert verdict.candidate in (name, None)
            kept += verdict.candidate == name
    assert kept >= len(voices())


def test_numbers_are_heard_as_themselves_or_not_at_all(listener: Listener) -> None:
    pressure = NumberWanted(Form("manifold_pressure", 1, "inHg"), 20, 60, "manifold pressure")
    altitude = NumberWanted(Form("altitude", 0, "ft"), 0, 20_000, "elevation")
    kept = said = 0
    for wanted, text, value in (
        (pressure, "forty four point two", 44.2),
        (pressure, "fifty two point five", 52.5),
        (altitude, "fifteen thousand nine hundred", 15_900.0),
        (altitude, "twelve thousand five hundred", 12_500.0),
    ):
        for voice in voices():
            verdict = listener.hear(voice, text, window(9, wanted))
            said += 1
            kept += verdict.value == value
            assert verdict.value in (value, None), (voice, text, verdict)
    assert kept / said >= 0.6


def test_silence_and_noise_are_no_answer() -> None:
    from runner.voice.pocket import PocketRecogniser

    ears = PocketRecogniser()
    listen = window(0)
    room = random.Random(5)
    hiss = array("h", (round(room.gauss(0, 600)) for _ in range(RATE))).tobytes()
    for sound in (bytes(RATE), hiss, bytes(100)):
        ears.prepare(listen)
        ears.begin()
        ears.feed(sound)
        assert judge(ears.propose(), listen).decision != "accept"


def test_a_window_seen_again_gives_the_same_verdict(listener: Listener) -> None:
    # Its likelihoods differ a little: the decoder begins with the sounds that it heard last.
    voice = voices()[0]
    first = listener.hear(voice, "low blower", window(0))
    for number in (1, 2, 3):
        listener.hear(voice, "low blower", window(number))
    again = listener.hear(voice, "low blower", window(0))
    assert (again.decision, again.candidate) == (first.decision, first.candidate)
