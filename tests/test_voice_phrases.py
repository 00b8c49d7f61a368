"""What other items are answered with: patterns for decoys and templates."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import pytest

from checklist_files import AIRCRAFT, PROCEDURES
from runner.checklist.files import find_file
from runner.checklist.load import load_procedures, load_procedures_text, load_voice
from runner.cli import main
from runner.engine.effects import Listen
from runner.engine.lines import values_of
from runner.engine.listening import window_for
from runner.engine.program import Program
from runner.phrasing.pattern import parse
from runner.voice.client import VoiceProcess
from runner.voice.grammar import OTHERS_LIMIT
from runner.voice.phrases import answers_of
from runner.voice.pocket import PocketRecogniser
from runner.voice.settings import VoiceSettings
from runner.voice.text import propose_text
from runner.voice.waves import read_wav
from sound import speak_to_file, voices


@lru_cache(maxsize=4)
def program(name: str = "") -> Program:
    style = load_voice(find_file("cockpit", ("voices",)))
    if name:
        return Program(load_procedures(find_file(name)), style)
    made = load_procedures_text(PROCEDURES, "p.yaml", AIRCRAFT, "sandpiper-aircraft.yaml")
    return Program(made, style)


def test_every_answer_in_words_is_there_once_with_what_it_must_not_be_taken_for() -> None:
    found = answers_of(program())
    assert {"up", "down", "feathered", "off"} <= set(found)
    assert len(set(found)) == len(found)
    assert not [pattern for pattern in found if "<" in pattern or "not known" in pattern]
    assert all(parse(pattern).canonical for pattern in found)


def test_choices_are_there_and_numbers_are_not() -> None:
    found = answers_of(program("whimbrel-four"))
    assert "low blower / four in low / all in low" in found
    assert any("dry runway" in pattern for pattern in found)
    assert not [pattern for pattern in found if any(c.isdigit() for c in pattern)]


def test_the_most_frequent_answers_come_first_because_a_grammar_takes_only_so_many() -> None:
    first = answers_of(program("whimbrel-four"))[:OTHERS_LIMIT]
    every = " | ".join(first)
    assert "auto rich" in every
    assert "idle cut off" in every


class _Stopped(Exception):
    """The flight goes no further than its voice."""


@pytest.mark.parametrize(("listen", "given"), [("mic", True), ("none", False), ("text:-", False)])
def test_a_flight_tells_its_voice_what_its_items_are_answered_with(
    listen: str, given: bool, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    told: list[VoiceSettings] = []

    async def start(voice: VoiceProcess) -> None:
        told.append(voice.settings)
        raise _Stopped

    monkeypatch.setattr(VoiceProcess, "start", start)
    logbook = str(tmp_path / "log.sqlite")
    arguments = ["fly", "whimbrel-four", "--listen", listen, "--logbook", logbook]
    with pytest.raises(_Stopped):
        main([*arguments, "--speak", f"wav:{tmp_path}", "--screen", "plain"])
    (settings,) = told
    assert settings.answers == (answers_of(program("whimbrel-four")) if given else ())
    assert VoiceSettings.from_json(settings.to_json()) == settings


def test_another_items_answer_is_heard_as_itself(tmp_path: Path) -> None:
    if not voices():
        pytest.skip("neither flite nor festival has a voice here")
    made = program("whimbrel-four")
    item = next(i for i in made.lists["before-takeoff"].items if i.challenge.source == "Cowl flaps")
    answers, number = window_for(made, "item", item.id, None, values_of(made, {}, item.id), (), 0)
    listen = Listen(1, answers, number)
    sound = read_wav(speak_to_file(voices()[0], "generator isolated", tmp_path), 16_000)
    with_them = PocketRecogniser(answers_of(made))
    with_them.prepare(listen)
    with_them.begin()
    with_them.feed(sound)
    (heard,) = with_them.propose()
    assert (heard.candidate, heard.text) == (None, "generator isolated")


def test_the_items_name_may_stand_before_its_answer() -> None:
    made = program()
    item = next(i for i in made.items.values() if i.challenge.source == "Fuel")
    answers, number = window_for(made, "item", item.id, 1, values_of(made, {}, item.id), (), 0)
    listen = Listen(1, answers, number)
    for said, wanted in (("fuel off", "answer"), ("off", "answer"), ("Fuel, on", "wrong:0")):
        assert propose_text(said, listen, made.style)[0].candidate == wanted
    assert propose_text("gear off", listen, made.style)[0].candidate is None
