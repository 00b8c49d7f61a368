"""Retuning: only with consent, only what was sure and never taken back, never a wrong take."""

from __future__ import annotations

import random
from array import array
from pathlib import Path

import pytest

import speech_data
import take_people
from runner.engine.effects import Candidate, Listen
from runner.engine.events import Proposal, Verdict
from runner.voice.embedding import Embedder
from runner.voice.retune import SETTLED, Retuner, is_quiet
from runner.voice.takes import MOST_HEARD, Takes
from take_people import Person

PATIENCE = 60.0


@pytest.fixture(scope="module")
def embedder() -> Embedder:
    return Embedder()


@pytest.fixture(scope="module")
def person() -> Person:
    """Somebody who said every state word three times, and some of them further times."""
    home = speech_data.home()
    if home is None or not (home / "states").is_dir():
        pytest.skip("RUNNER_SPEECH_DATA names no folder of recordings with states/")
    everybody = take_people.people(home, fitting=False).values()
    return next(p for p in everybody if len(p.enrolled) == 10 and len(p.further["up"]) > 0)


@pytest.fixture
def takes(person: Person, tmp_path: Path) -> Takes:
    made = Takes(tmp_path / "anna")
    for word, sounds in person.enrolled.items():
        for sound in sounds:
            made.add(word, sound)
    made.retune(True)
    return made


def window(number: int, word: str) -> Listen:
    """The item that ``word`` answers; its opposite and two controls are heard beside it."""
    return Listen(
        number,
        (
            Candidate("answer", "answer", f"(item {number})? {word}"),
            Candidate("wrong:0", "competitor", speech_data.OPPOSITE[word]),
            Candidate("control:disagree", "control", "i disagree"),
            Candidate("control:go_back", "control", "go back"),
        ),
    )


class Run:
    """A run with a retuner: items are asked and answered."""

    def __init__(self, takes: Takes, embedder: Embedder) -> None:
        self.retuner = Retuner(takes, embedder)
        self.number = 0

    def answer(
        self, word: str, sound: bytes, sure: float = 0.99, candidate: str = "answer"
    ) -> Listen:
        """A new item is answered."""
        self.number += 1
        listen = window(self.number, word)
        self.again(listen, word, sound, sure, candidate)
        return listen

    def again(
        self, listen: Listen, word: str, sound: bytes, sure: float = 0.99, candidate: str = "answer"
    ) -> None:
        """An item that may have been asked before is asked, and answered."""
        self.retuner.opened(listen)
        proposal = Proposal("matcher", candidate, word, sure, sure)
        self.retuner.heard([proposal], Verdict("accept", candidate, text=word), listen, sound)

    def others(self, count: int = SETTLED) -> None:
        """Further items are answered, none of them surely enough to be kept."""
        for _ in range(count):
            self.answer("no", b"", sure=0.9)

    def control(self, name: str) -> None:
        """A control phrase is heard."""
        listen = window(self.number, "no")
        verdict = Verdict("accept", f"control:{name}")
        self.retuner.heard([], verdict, listen, b"")


def test_a_sure_answer_that_nobody_took_back_becomes_a_further_take(
    takes: Takes, person: Person, embedder: Embedder
) -> None:
    run = Run(takes, embedder)
    sound = person.further["up"][0]
    run.answer("up", sound)
    run.others(SETTLED - 1)
    assert run.retuner.wait(PATIENCE)
    assert takes.heard("up") == (), "somebody may still take it back"
    run.others(1)
    assert run.retuner.wait(PATIENCE)
    assert takes.heard("up") == ((1, sound),)
    later = Takes(takes.folder)
    assert later.takes("up") == (*person.enrolled["up"], sound)
    assert later.enrolled("up") == tuple(person.enrolled["up"])


def test_without_consent_nothing_is_kept(takes: Takes, person: Person, embedder: Embedder) -> None:
    takes.retune(False)
    run = Run(takes, embedder)
    run.answer("up", person.further["up"][0])
    run.others()
    assert run.retuner.wait(PATIENCE)
    assert takes.heard("up") == ()


@pytest.mark.parametrize("control", ["disagree", "disregard", "go_back"])
def test_an_answer_that_is_taken_back_is_not_kept(
    takes: Takes, person: Person, embedder: Embedder, control: str
) -> None:
    run = Run(takes, embedder)
    run.answer("up", person.further["up"][0])
    run.control(control)
    run.others()
    assert run.retuner.wait(PATIENCE)
    assert takes.heard("up") == ()


def test_an_item_that_is_asked_again_takes_its_answer_back_whoever_wanted_it(
    takes: Takes, person: Person, embedder: Embedder
) -> None:
    # A key that says "I disagree" is never heard here, but the item comes again.
    run = Run(takes, embedder)
    listen = run.answer("up", person.further["up"][0])
    run.others(1)
    run.retuner.opened(listen)
    run.others()
    assert run.retuner.wait(PATIENCE)
    assert takes.heard("up") == ()


def test_what_was_kept_in_this_run_is_forgotten_when_it_is_taken_back_late(
    takes: Takes, person: Person, embedder: Embedder
) -> None:
    run = Run(takes, embedder)
    listen = run.answer("up", person.further["up"][0])
    run.others()
    assert run.retuner.wait(PATIENCE)
    assert len(takes.heard("up")) == 1
    run.retuner.opened(listen)
    assert takes.heard("up") == ()
    assert takes.enrolled("up") == tuple(person.enrolled["up"])


def test_a_wrong_answer_an_unsure_one_and_one_never_enrolled_are_not_kept(
    takes: Takes, person: Person, embedder: Embedder
) -> None:
    takes.remove("yes")
    run = Run(takes, embedder)
    run.answer("down", person.further["up"][0], candidate="wrong:0")
    run.answer("up", person.further["up"][0], sure=0.95)
    run.answer("yes", person.enrolled["yes"][0])
    run.others()
    assert run.retuner.wait(PATIENCE)
    assert not list(takes.folder.rglob("heard-*"))


def test_a_take_of_another_phrase_never_comes_in_however_sure_the_matcher_was(
    takes: Takes, person: Person, embedder: Embedder
) -> None:
    run = Run(takes, embedder)
    for word in person.enrolled:
        for said, sounds in person.further.items():
            if said != word:
                run.answer(word, sounds[0])
    run.others()
    assert run.retuner.wait(PATIENCE)
    assert not list(takes.folder.rglob("heard-*"))


def noisy(sound: bytes, level: float) -> bytes:
    source = random.Random(3)
    samples = (round(s + source.gauss(0, level)) for s in array("h", sound))
    return array("h", (max(-32_768, min(32_767, s)) for s in samples)).tobytes()


def test_a_take_in_noise_or_a_bad_one_is_not_kept(
    takes: Takes, person: Person, embedder: Embedder
) -> None:
    good = person.further["up"][0]
    assert is_quiet(good)
    assert not is_quiet(noisy(good, 1500))
    assert not is_quiet(b"")
    run = Run(takes, embedder)
    run.answer("up", noisy(good, 1500))
    run.answer("up", bytes(32_000))
    run.others()
    assert run.retuner.wait(PATIENCE)
    assert takes.heard("up") == ()


def test_a_run_that_ends_keeps_nothing_that_is_not_settled(
    takes: Takes, person: Person, embedder: Embedder
) -> None:
    run = Run(takes, embedder)
    run.answer("up", person.further["up"][0])
    run.retuner.close()
    assert takes.heard("up") == ()


def test_a_folder_that_cannot_be_written_ends_no_run(
    takes: Takes, person: Person, embedder: Embedder, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> int:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Takes, "keep_heard", refuse)
    run = Run(takes, embedder)
    run.answer("up", person.further["up"][0])
    run.others()
    assert run.retuner.wait(PATIENCE)
    assert takes.heard("up") == ()


def test_at_most_six_takes_of_a_phrase_and_the_enrolled_ones_never_go(
    takes: Takes, person: Person
) -> None:
    sounds = [bytes([n, 0]) * 8_000 for n in range(1, 8)]
    numbers = [takes.keep_heard("up", sound) for sound in sounds]
    assert numbers == [1, 2, 3, 4, 5, 6, 7]
    assert [sound for _, sound in takes.heard("up")] == sounds[-MOST_HEARD:]
    assert takes.enrolled("up") == tuple(person.enrolled["up"])
    assert len(takes.takes("up")) == 6
