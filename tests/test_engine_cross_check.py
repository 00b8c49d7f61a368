"""Answers held against readings: contradicted, they are not accepted, and may be kept on the
pilot's word. The aircraft and its procedures are invented."""

from __future__ import annotations

import pytest

from flying_watch import FlyingWatch
from runner.checklist.load import load_procedures_text
from runner.engine.effects import Note
from runner.engine.events import Event, Heard, Verdict
from runner.engine.program import Program
from runner.engine.state import State, initial_state
from runner.engine.step import step
from runner.engine.wire import event_from_json, event_to_json, state_from_json, state_to_json
from runner.errors import RunnerError
from shipped_answers import shipped
from shipped_runs import started

AIRCRAFT = """\
runner: 1
aircraft: Dunlin Two
about: Invented.
engines: 2
roles: captain
readings:
  gear_position:
    title: gear
    decimals: 1
    shows:
      0: up
      1: down
  pump:
    title: pump
    each engine: yes
    shows:
      0: off
      1: on
  oil_pressure:
    title: oil pressure
    unit: psi
    each engine: yes
"""

PROCEDURES = """\
runner: 1
procedures: Checks
about: Invented.
aircraft: dunlin.yaml
phases:
  - phase: one
    name: One
    lists:
      - list: checks
        title: Two checks
        kind: challenge and response
        responder: captain
        items:
          - challenge: Gear lever
            response: lever down
            check: gear_position == 1
          - challenge: Pump, engine <engine>
            id: pump
            response: pump off
            not: pump on
            check: pump_<engine> == 0
            each engine: yes
          - challenge: Both pumps
            response: both off
            check: pump_1 == 0 and pump_2 == 0
          - challenge: Oil
            response: pressure up
            reading: oil_pressure_all > 50 psi
          - challenge: Trim
            response: trim set
"""

DOWN = {"gear_position": 1.0}
UP = {"gear_position": 0.0}


def flight() -> FlyingWatch:
    """The list above, its first item asked."""
    made = load_procedures_text(PROCEDURES, "checks.yaml", AIRCRAFT, "dunlin.yaml")
    return FlyingWatch(*started(made)).wait(10_000)


def last(flown: FlyingWatch) -> str:
    """What was said last, to its end."""
    return flown.wait(10_000).texts[-1]


def current(flown: FlyingWatch) -> str:
    """The id of the item that is asked."""
    return flown.state.stack[-1].item.partition(".")[2]


def test_an_answer_that_a_reading_contradicts_is_not_accepted() -> None:
    flown = flight().hears("answer", readings=UP)
    assert last(flown) == "you said lever down, the reading says up. Gear lever"
    assert current(flown) == "gear-lever"
    assert not flown.state.lists["checks"].items


def test_it_is_accepted_when_the_reading_agrees() -> None:
    flown = flight().hears("answer", readings=UP).hears("answer", readings=DOWN)
    assert current(flown) == "pump-1"
    assert flown.state.lists["checks"].items["checks.gear-lever"].answered == "lever down"


def test_a_reading_between_its_words_says_both() -> None:
    flown = flight().hears("answer", readings={"gear_position": 0.4})
    assert "the reading says between up and down" in last(flown)


def test_what_is_not_read_does_not_hinder() -> None:
    assert current(flight().hears("answer")) == "pump-1"
    assert current(flight().hears("answer", readings={"pump_1": 1.0})) == "pump-1"


def test_it_is_kept_on_the_pilots_word_said_aloud_and_recorded() -> None:
    flown = flight().hears("answer", readings=UP).wait(10_000).hears("control:keep", readings=UP)
    assert last(flown).startswith("Gear lever, lever down, on your word")
    item = flown.state.lists["checks"].items["checks.gear-lever"]
    assert (item.status, item.answered) == ("done", "lever down (on the pilot's word)")
    heard = [e for e in flown.events if isinstance(e, Heard)]
    assert [dict(e.readings) for e in heard] == [UP, UP]


def test_the_note_of_it_tells_what_was_said_and_what_was_read() -> None:
    flown = flight()
    state, effects = step(flown.state, spoken(flown, "answer", UP))
    notes = [effect.text for effect in effects if isinstance(effect, Note)]
    assert "Gear lever: said lever down; the reading says up" in notes
    _, effects = step(state, spoken(flown, "control:keep", UP, state))
    notes = [effect.text for effect in effects if isinstance(effect, Note)]
    assert "Gear lever: lever down, kept on the pilot's word" in notes


def spoken(
    flown: FlyingWatch, candidate: str, readings: dict[str, float], state: State | None = None
) -> Heard:
    """An utterance for the window that is open."""
    window = (state or flown.state).window
    verdict = Verdict("accept", candidate, None, candidate)
    return Heard(flown.at, window, flown.at, flown.at, (), verdict, tuple(readings.items()))


def test_nothing_is_kept_that_was_not_contradicted() -> None:
    flown = flight().hears("control:keep")
    assert current(flown) == "gear-lever"


@pytest.mark.parametrize("away", [["control:later"], ["control:stand_by", "control:resume"]])
def test_the_word_for_one_answer_does_not_keep_a_later_one(away: list[str]) -> None:
    flown = flight().hears("answer", readings=UP)
    for candidate in away:
        flown.hears(candidate)
    asked = current(flown)
    flown.hears("control:keep")
    assert current(flown) == asked
    assert not any(item.status == "done" for item in flown.state.lists["checks"].items.values())


def test_asking_to_say_it_again_does_not_lose_the_answer_that_may_be_kept() -> None:
    flown = flight().hears("answer", readings=UP).hears("control:say_again").hears("control:keep")
    assert current(flown) == "pump-1"


def test_each_engine_is_held_against_its_own_reading() -> None:
    pumps = {"pump_1": 0.0, "pump_2": 1.0}
    flown = flight().hears("answer").hears("answer", readings=pumps)
    assert current(flown) == "pump-2"
    flown.hears("answer", readings=pumps)
    assert last(flown) == "you said pump off, the reading says on. Pump, engine 2"


def test_several_readings_are_named() -> None:
    flown = flight().hears("answer").hears("answer").hears("answer")
    flown.hears("answer", readings={"pump_1": 0.0, "pump_2": 1.0})
    assert last(flown) == "you said both off, the reading says pump 1 off, pump 2 on. Both pumps"


def test_an_item_that_waits_for_a_reading_may_be_kept_too() -> None:
    flown = flight()
    for _ in range(4):
        flown.hears("answer")
    flown.hears("answer", readings={"oil_pressure_all": 40.0})
    assert last(flown) == "you said pressure up, the reading says oil pressure all 40 psi. Oil"
    assert current(flown.hears("control:keep")) == "trim"


def test_an_item_that_waits_for_a_reading_is_done_when_it_has_shown_for_a_moment() -> None:
    flown = flight()
    for _ in range(4):
        flown.hears("answer")
    good = {"oil_pressure_1": 60.0, "oil_pressure_2": 61.0}
    begin = flown.at
    flown.fly(
        (begin + n * 50, good if n % 4 else {**good, "oil_pressure_2": 0.0}) for n in range(40)
    )
    assert current(flown) == "oil"
    begin = flown.at
    flown.fly((begin + n * 50, good) for n in range(1, 10))
    assert current(flown) == "trim"


def test_a_run_with_a_contradiction_replays_to_the_same_state() -> None:
    flown = flight().hears("answer", readings=UP).hears("control:keep", readings=UP)
    first, program = started(
        load_procedures_text(PROCEDURES, "checks.yaml", AIRCRAFT, "dunlin.yaml")
    )
    state = replayed([first, *flown.events[1:]], program)
    assert state_to_json(state) == state_to_json(flown.state)
    assert state_to_json(state_from_json(state_to_json(state), program)) == state_to_json(state)


def replayed(events: list[Event], program: Program) -> State:
    """The state after events that went through JSON."""
    state = initial_state(program)
    for event in events:
        state, _ = step(state, event_from_json(event_to_json(event)))
    return state


class TestTheShippedFile:
    def test_says_brake_set_against_a_brake_that_is_released(self) -> None:
        flown = FlyingWatch(*started(shipped(), phase="before-start"))
        while current(flown) != "parking-brake":
            flown.hears("answer")
        flown.hears("answer", readings={"parking_brake": 0.0})
        assert last(flown) == "you said brake set, the reading says released. Parking brake"

    def test_holds_flaps_gear_brake_and_cowl_flaps_against_readings(self) -> None:
        checked = {
            item.challenge.source
            for one in shipped().lists.values()
            for item in one.items
            if item.check is not None
        }
        assert checked == {"Parking brake", "Gear lever", "Flaps", "Cowl flaps"}


@pytest.mark.parametrize(
    ("before", "after", "message"),
    [
        ("check: gear_position == 1", "check: gear_positon == 1", "gear_positon"),
        ("0: up", "low: up", "low"),
    ],
)
def test_what_cannot_be_checked_is_refused(before: str, after: str, message: str) -> None:
    with pytest.raises(RunnerError, match=message):
        load_procedures_text(
            PROCEDURES.replace(before, after),
            "checks.yaml",
            AIRCRAFT.replace(before, after),
            "dunlin.yaml",
        )
