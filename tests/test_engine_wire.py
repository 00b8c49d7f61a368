"""Stored events, effects and states, and the first event's files."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from engine_runs import AIRCRAFT, PROCEDURES, VOICE, Crew, only, program, replay, started
from runner.engine.events import InputEnded, RunStarted, Said
from runner.engine.looking import look
from runner.engine.program import same_program
from runner.engine.state import initial_state
from runner.engine.step import step
from runner.engine.view import View
from runner.engine.wire import (
    effect_from_json,
    event_from_json,
    event_to_json,
    state_from_json,
    state_to_json,
)
from runner.errors import RunnerError


def test_a_run_is_rebuilt_from_its_own_first_event_and_nothing_else() -> None:
    crew = Crew().to("Gear")
    crew.hears("call:engine-fire:2")
    stored = [event_to_json(event) for event in crew.events]
    again = replay([event_from_json(text) for text in stored])
    assert again.program is not crew.state.program
    assert state_to_json(again) == state_to_json(crew.state)


def test_a_program_parsed_beforehand_is_used_only_where_it_is_the_run_s_own() -> None:
    first = started()
    assert same_program(program(), first)
    assert not same_program(None, first)
    other = only("          - challenge: Lamps\n            response: on")
    state, _ = step(initial_state(program(other)), first)
    assert state.program is not None
    assert state.program.procedures.name == "Plover Four, tests"


def test_editing_a_file_later_breaks_no_stored_run() -> None:
    assert json.loads(event_to_json(started()))["procedures"]["text"] == PROCEDURES


def test_files_that_do_not_parse_are_told_of_by_line() -> None:
    bad = started()
    broken = replace(bad.procedures, text="runner: 1\nprocedures: [", sha256="0")
    with pytest.raises(RunnerError, match=r"tests.yaml:\d+:\d+"):
        step(initial_state(), replace(bad, procedures=broken))


def test_a_state_is_read_back_only_with_its_own_procedures() -> None:
    text = state_to_json(Crew().to("Radar").state)
    assert state_to_json(state_from_json(text, program())) == text
    assert state_to_json(state_from_json(state_to_json(initial_state()))) == state_to_json(
        initial_state()
    )
    other = only("          - challenge: Lamps\n            response: on")
    with pytest.raises(RunnerError, match="other procedures"):
        state_from_json(text, program(other))


@pytest.mark.parametrize("text", ["", "{}", "[]", '{"is": "Tea"}', '{"is": "Said", "tea": 1}', "3"])
def test_what_is_no_event_effect_or_state_is_one_clear_line(text: str) -> None:
    for read in (event_from_json, effect_from_json, state_from_json):
        with pytest.raises(RunnerError, match="not a stored"):
            read(text)


def test_the_text_of_an_event_is_canonical() -> None:
    assert event_to_json(Said(4, 2, True)) == '{"at":4,"completed":true,"is":"Said","utterance":2}'


def test_figures_keep_their_type_through_the_wire() -> None:
    event = event_from_json(event_to_json(started()))
    assert isinstance(event, RunStarted)
    assert event == started()


def test_time_never_runs_backwards_in_a_state() -> None:
    crew = Crew()
    crew.give(Said(5000, 1, True))
    crew.give(Said(3000, 1, True))
    assert crew.state.at == 5000


def test_before_a_run_there_is_nothing_to_look_at() -> None:
    assert look(initial_state()) == View("", "")


def test_a_screen_is_told_of_phases_ahead_done_and_left_open() -> None:
    crew = Crew(started(from_phase="takeoff"))
    assert [(p.id, p.status) for p in crew.view.phases] == [
        ("takeoff", "current"),
        ("cruise", "ahead"),
    ]
    crew.presses("call", "before-takeoff")
    crew.keys(2)
    crew.presses("call", "cruise")
    assert [p.status for p in crew.view.phases] == ["left open", "current"]
    crew = Crew()
    crew.presses("call", "generator")
    assert crew.view.interrupted == ("Cockpit, at Brakes",)
    crew = Crew().to("flow")
    crew.presses("call", "generator")
    assert crew.view.interrupted == ("Scan",)
    assert crew.view.next_list == "Before take-off"


def test_a_screen_is_told_what_kind_of_answer_is_wanted() -> None:
    crew = Crew().to("Rotate")
    assert crew.view.wants_number and crew.view.choices == ()
    crew.to("Runway surface")
    assert not crew.view.wants_number and crew.view.choices == ("dry", "wet")
    crew.to("Gross weight")
    assert crew.view.wants_number
    assert {f.name: f.text for f in crew.view.figures}["rotate_speed"] == "97 kt"
    crew.presses("end")
    crew.give(Said(crew.now(), crew.state.utterance, False))
    crew.give(InputEnded(crew.now()))
    assert crew.view.finished and not crew.view.complete


def test_the_texts_of_a_run_are_told_apart_by_their_hashes() -> None:
    assert len(set(program(PROCEDURES, AIRCRAFT, VOICE).hashes)) == 3
