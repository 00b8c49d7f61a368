"""Where an utterance begins and ends, and which window it belongs to."""

from __future__ import annotations

import math
import random
from array import array

import pytest

from runner.engine.effects import Candidate, Listen, NumberWanted
from runner.engine.events import Proposal, Verdict
from runner.phrasing.style import Form
from runner.voice.ears import Ears, Outcome
from runner.voice.endpoint import COMPLETE, MAY_GROW, UNKNOWN, can_grow, silence_needed
from runner.voice.recogniser import Capabilities
from runner.voice.utterance import FRAME_BYTES, FRAME_SECONDS, Gate, level

LOW = Candidate("answer", "answer", "low")
LOW_BLOWER = Candidate("wrong:0", "competitor", "low blower")
HIGH = Candidate("wrong:1", "competitor", "high")


def tone(loudness: float, frames: int, noise: float = 8.0) -> list[bytes]:
    """Frames of a vowel-like buzz over room noise; ``loudness`` 0 is the noise alone."""
    source = random.Random(frames)
    made = []
    for frame in range(frames):
        samples = array("h")
        for index in range(FRAME_BYTES // 2):
            time = (frame * FRAME_BYTES // 2 + index) / 16_000
            buzz = sum(math.sin(2 * math.pi * 150 * k * time) / k for k in range(1, 20))
            samples.append(round(loudness * buzz + source.gauss(0, noise)))
        made.append(samples.tobytes())
    return made


class FakeRecogniser:
    """Hears the same text in everything that is fed to it."""

    def __init__(self, candidate: str | None, text: str) -> None:
        self.said = (candidate, text)
        self.windows: list[int] = []
        self.fed = 0

    capabilities = Capabilities("fake", "", True)

    def prepare(self, listen: Listen) -> None:
        self.windows.append(listen.window)

    def begin(self) -> None:
        self.fed = 0

    def feed(self, samples: bytes) -> None:
        self.fed += len(samples)

    def propose(self, final: bool = True) -> tuple[Proposal, ...]:  # noqa: ARG002
        candidate, text = self.said
        return (Proposal("fake", candidate, text, 1.0, 1.0),)

    def close(self) -> None:
        pass


def hear(ears: Ears, frames: list[bytes], at: float = 0.0) -> list[tuple[float, Outcome]]:
    """Every outcome with the second at which it came."""
    outcomes = []
    for number, frame in enumerate(frames):
        now = at + (number + 1) * FRAME_SECONDS
        if outcome := ears.take(frame, now):
            outcomes.append((now, outcome))
    return outcomes


SPOKEN = tone(0, 50) + tone(1500, 30) + tone(0, 60)
"""One second of room, 0.6 s of voice, 1.2 s of room."""


def test_a_voice_begins_an_utterance_and_brings_the_moments_before_it() -> None:
    gate = Gate()
    beats = [gate.take(frame) for frame in SPOKEN]
    began = [number for number, beat in enumerate(beats) if beat.change == "began"]
    assert began == [52]
    assert len(beats[52].samples) == 15 * FRAME_BYTES


def test_room_noise_and_digital_silence_begin_nothing() -> None:
    gate = Gate()
    frames = tone(0, 100, noise=60) + [bytes(FRAME_BYTES)] * 100
    assert {gate.take(frame).change for frame in frames} == {"nothing"}
    assert level(bytes(FRAME_BYTES)) == -120.0


def test_a_single_click_begins_nothing() -> None:
    gate = Gate()
    frames = tone(0, 50) + tone(6000, 1) + tone(0, 50)
    assert {gate.take(frame).change for frame in frames} == {"nothing"}


def test_a_drone_becomes_the_floor_and_a_voice_above_it_is_heard() -> None:
    gate = Gate()
    for frame in tone(0, 700, noise=80):
        gate.take(frame)
    gate.reset()
    assert {gate.take(frame).change for frame in tone(0, 50, noise=80)} == {"nothing"}
    changes = [gate.take(frame).change for frame in tone(6000, 20, noise=80)]
    assert "began" in changes


def test_what_is_loud_and_no_voice_begins_nothing() -> None:
    gate = Gate(voiced=lambda _: False)
    assert {gate.take(frame).change for frame in SPOKEN} == {"nothing"}


def test_an_answer_that_cannot_grow_ends_as_its_words_end() -> None:
    ears = Ears([FakeRecogniser("answer", "low")], Gate())
    ears.open(Listen(5, (LOW, HIGH)))
    [(at, outcome)] = hear(ears, SPOKEN)
    assert (outcome.window, outcome.verdict.candidate) == (5, "answer")
    assert outcome.began == pytest.approx(1.0, abs=0.05)
    assert outcome.ended == pytest.approx(1.6, abs=0.05)
    assert at - outcome.ended <= COMPLETE + FRAME_SECONDS


def test_an_answer_that_begins_a_longer_one_waits_for_more() -> None:
    ears = Ears([FakeRecogniser("answer", "low")], Gate())
    ears.open(Listen(5, (LOW, LOW_BLOWER)))
    [(at, outcome)] = hear(ears, SPOKEN)
    assert at - outcome.ended == pytest.approx(MAY_GROW, abs=0.05)


def test_a_pause_within_an_unfinished_answer_does_not_end_it() -> None:
    ears = Ears([FakeRecogniser(None, "both")], Gate())
    ears.open(Listen(5, (LOW,)))
    frames = tone(0, 50) + tone(1500, 20) + tone(0, 20) + tone(1500, 20) + tone(0, 60)
    outcomes = hear(ears, frames)
    assert len(outcomes) == 1
    assert outcomes[0][0] - outcomes[0][1].ended == pytest.approx(UNKNOWN, abs=0.05)


def test_an_utterance_belongs_to_the_window_in_which_it_began() -> None:
    recogniser = FakeRecogniser("answer", "low")
    ears = Ears([recogniser], Gate())
    ears.open(Listen(5, (LOW, HIGH)))
    assert hear(ears, SPOKEN[:60]) == []
    ears.open(Listen(6, (LOW, HIGH)))
    [(_, outcome)] = hear(ears, SPOKEN[60:])
    assert outcome.window == 5
    assert recogniser.windows[-1] == 5


def test_nothing_is_heard_while_no_window_is_open() -> None:
    ears = Ears([FakeRecogniser("answer", "low")], Gate())
    assert hear(ears, SPOKEN) == []
    ears.open(Listen(5, (LOW,)))
    hear(ears, SPOKEN[:60])
    ears.close(5)
    assert hear(ears, SPOKEN[60:]) == []


def test_shutting_the_microphone_decides_on_what_was_said() -> None:
    ears = Ears([FakeRecogniser("answer", "low")], Gate())
    ears.open(Listen(5, (LOW, LOW_BLOWER)))
    hear(ears, SPOKEN[:75])
    outcome = ears.finish()
    assert outcome is not None and outcome.verdict.candidate == "answer"
    assert ears.finish() is None


def test_noise_without_end_is_no_answer() -> None:
    ears = Ears([FakeRecogniser("answer", "low")], Gate())
    ears.open(Listen(5, (LOW,)))
    outcomes = hear(ears, tone(0, 50) + tone(3000, 620))
    assert [outcome.verdict.decision for _, outcome in outcomes] in ([], ["reject"])


def test_a_number_may_grow_while_more_of_it_makes_sense() -> None:
    speed = Listen(1, (), NumberWanted(Form("speed", 0, "kt"), 60, 200))
    assert can_grow("one one", speed)
    assert not can_grow("one one eight", speed)
    inches = Listen(1, (), NumberWanted(Form("manifold_pressure", 1, "inHg"), 20, 60))
    assert can_grow("forty four", inches)
    assert not can_grow("forty four point two", inches)
    accepted = Verdict("accept", "number", 118.0, "one one eight")
    assert silence_needed(accepted, speed) == COMPLETE
    assert silence_needed(Verdict("unclear"), speed) == UNKNOWN


def test_an_answer_that_could_only_be_said_at_greater_length_is_not_waited_for() -> None:
    flaps = Listen(
        6,
        (
            Candidate("answer", "answer", "flaps twenty (degrees)?"),
            Candidate("control:stand_by", "control", "stand by (please)?"),
            Candidate("wrong:0", "competitor", "flaps twenty five"),
        ),
    )
    assert can_grow("flaps twenty", flaps, "answer")
    assert not can_grow("stand by", flaps, "control:stand_by")
    assert can_grow("stand by", flaps, "answer")
