"""Phases and lists in order: what waits, what is named, how a run ends."""

from __future__ import annotations

import pytest

from engine_runs import AIRCRAFT, Crew, only, started
from runner.engine.effects import Prepare, Tone
from runner.engine.events import InputEnded
from runner.errors import RunnerError

LAMPS = "          - challenge: Lamps\n            response: on"
ONE_ENGINE = AIRCRAFT.replace("engines: 4", "engines: 1")


def test_lists_of_a_phase_follow_each_other_and_one_on_call_waits() -> None:
    crew = Crew().to("briefing")
    assert crew.says.startswith("Cockpit complete. Departure briefing checklist. Rotate at 97 kt")
    crew.hears("control:briefing_complete")
    assert crew.says == "Departure briefing complete. Next, Scan"
    crew.hears("control:affirm")
    assert crew.says == "Scan flow"


def test_a_list_whose_moment_brings_it_is_not_named_again_within_two_minutes() -> None:
    crew = Crew().to("flow")
    crew.hears("control:flow_complete")
    while "Next, Before take-off" not in crew.says:
        crew.presses("done")
    crew.listens()
    assert crew.wait == 30_000, "whoever has forgotten a list is told of it"
    crew.hears("control:affirm")
    crew.keys(2)
    assert crew.says == "Before take-off complete. Next, After take-off"
    crew.listens()
    assert crew.wait == 120_000, "nobody is disturbed on the roll"


def test_a_flow_is_done_from_memory_and_then_verified() -> None:
    crew = Crew().to("flow")
    crew.hears("answer")
    assert crew.asked == "flow"
    crew.hears("control:flow_complete")
    assert crew.says == "verify Scan. Lights"
    crew.hears("wrong:0", text="off")
    assert crew.says == "expected on, heard off. Lights"


def test_a_briefing_is_over_when_the_pilot_says_so() -> None:
    crew = Crew().to("briefing")
    assert crew.status("briefing.rotate-at-rotate-speed") == "waiting"
    crew.silence()
    assert crew.says == "Departure briefing?"
    crew.hears("control:affirm")
    runs = crew.state.lists["briefing"]
    assert {r.status for r in runs.items.values()} == {"done"} and len(runs.items) == 2


def test_the_first_list_of_the_next_phase_waits_until_it_is_called() -> None:
    crew = Crew(started(from_phase="takeoff"))
    crew.keys(2)
    assert crew.says == "Before take-off complete. Next, After take-off"
    crew.hears("call:cruise")
    assert crew.says == "Left open: After take-off. Cruise checklist. Mixtures".replace("L", "l", 1)
    assert crew.state.phase == 2
    assert crew.view.phase == "cruise"
    crew.hears("answer")
    assert crew.finish is not None
    assert crew.finish.left_open == ("After take-off",)


def test_one_phase_alone_ends_with_its_lists() -> None:
    crew = Crew(started(phase="cruise"))
    crew.hears("answer")
    assert crew.finish is not None and crew.finish.complete
    assert crew.says == "Cruise complete. All lists complete"
    assert [p.status for p in crew.view.phases] == ["done"]
    assert crew.view.activity == "finished"


def test_a_declined_list_is_named_when_the_run_ends() -> None:
    crew = Crew(started(phase="takeoff"))
    crew.keys(2)
    crew.moment("flaps_up")
    crew.hears("control:negative")
    assert crew.says == "left open: After take-off"
    assert crew.finish is not None and not crew.finish.complete


def test_a_phase_that_does_not_exist_is_one_clear_line() -> None:
    with pytest.raises(RunnerError, match="no phase landing; the phases are preparation, takeoff"):
        Crew(started(phase="landing"))


def test_a_list_that_is_not_complete_holds_the_next_one() -> None:
    crew = Crew()
    crew.hears("control:later")
    crew.to("Brakes")
    crew.hears("control:later")
    assert crew.says.endswith("Cockpit not complete. Left open: Brakes. Next, Departure briefing")
    assert crew.asked == "call"
    crew.hears("call:cockpit")
    assert crew.says == "Cockpit checklist. Brakes"
    crew.hears("answer")
    assert crew.says.startswith("Cockpit complete. Departure briefing checklist")


def test_what_is_open_and_not_critical_is_named_after_complete() -> None:
    crew = Crew(started(phase="takeoff"))
    crew.hears("control:later")
    crew.to("Stop speed")
    crew.hears("control:later")
    assert "Before take-off complete. Left open: Stop speed" in crew.says


def test_a_list_called_again_after_it_was_complete_is_run_afresh() -> None:
    crew = Crew(started(from_phase="takeoff"))
    crew.keys(2)
    crew.presses("call", "before-takeoff")
    assert crew.asked == "Stop speed"


def test_calling_the_list_that_is_being_run_puts_its_question_again() -> None:
    crew = Crew().to("Radar")
    crew.presses("call", "cockpit")
    assert crew.says == "Radar" and len(crew.state.stack) == 1
    crew.to("flow")
    crew.presses("call", "scan")
    assert crew.says == "Scan flow"


def test_an_interrupted_list_called_by_name_comes_on_top_and_is_not_run_twice() -> None:
    crew = Crew().to("Radar")
    crew.hears("call:generator")
    crew.hears("call:cockpit")
    assert [frame.key for frame in crew.state.stack] == ["generator", "cockpit"]
    crew.to("Gear")
    crew.presses("done")
    assert crew.says == "Cockpit complete. Resuming Generator failure. Generator, off"


def test_an_interrupted_flow_is_handed_back_as_a_flow() -> None:
    crew = Crew().to("flow")
    crew.hears("call:generator")
    crew.keys(2)
    assert crew.says.endswith("Resuming Scan. Scan flow")


def test_a_list_of_items_that_do_not_apply_ends_at_once() -> None:
    text = only(LAMPS + "\n            if: runway_surface == wet")
    crew = Crew(started(procedures=text))
    assert crew.finish is not None and crew.finish.complete
    assert "Lamps: not applicable" in crew.notes


def test_a_condition_that_is_not_known_skips_nothing() -> None:
    text = only(LAMPS + "\n            if: runway_surface == wet")
    assert Crew(started(procedures=text, figures=())).asked == "Lamps"


def test_a_run_without_lists_that_apply_ends_at_once() -> None:
    text = only(LAMPS).replace(
        "        kind: challenge", "        if: runway_surface == wet\n        kind: challenge"
    )
    crew = Crew(started(procedures=text))
    assert crew.finish is not None and crew.finish.complete


def test_a_line_that_is_only_spoken_at_the_end_goes_out_with_the_list_s_end() -> None:
    crew = Crew(started(procedures=only(LAMPS + "\n          - say: Good flight.")))
    crew.hears("answer")
    assert crew.says == "Good flight. Test complete. All lists complete"


def test_tones_only_ends_a_list_with_a_tone() -> None:
    crew = Crew(started(phase="takeoff", wordiness="tones"))
    crew.keys(2)
    assert "complete" in [tone.name for tone in crew.of(Tone)]
    assert crew.says == "next, After take-off"
    crew = Crew(started(phase="takeoff", wordiness="tones"))
    crew.hears("control:later")
    crew.to("Stop speed")
    crew.hears("control:later")
    assert "attention" in [tone.name for tone in crew.of(Tone)]
    assert "Left open: Stop speed" in crew.says


def test_a_phase_may_say_how_much_is_said_and_the_pilot_s_choice_comes_back_after() -> None:
    crew = Crew(started(from_phase="takeoff"))
    crew.presses("call", "cruise")
    assert crew.view.wordiness == "full"
    crew = Crew(started(from_phase="cruise"))
    assert crew.view.wordiness == "terse" and crew.says == "Cruise checklist. Mixtures"


def test_one_engine_needs_no_number() -> None:
    crew = Crew(started(aircraft=ONE_ENGINE))
    crew.hears("call:engine-fire")
    assert crew.asked == "Throttle"
    assert crew.view.list is not None and crew.view.list.argument == "engine 1"


def test_an_engine_that_the_aircraft_has_not_is_not_taken() -> None:
    crew = Crew()
    for engine in ("5", "0", "x"):
        crew.presses("call", "engine-fire", engine)
        assert crew.asked == "Brakes"
    crew.hears("call:engine-fire")
    crew.hears("engine:7")
    assert crew.asked == "which engine"
    crew.presses("answer", "4")
    assert crew.asked == "Throttle"


def test_the_wrong_engine_s_list_is_put_right_by_negative() -> None:
    crew = Crew()
    crew.hears("call:engine-fire:2")
    crew.hears("answer")
    crew.hears("control:negative")
    assert crew.asked == "which engine"
    crew.hears("engine:3")
    assert crew.asked == "Throttle"
    assert [frame.key for frame in crew.state.stack] == ["cockpit", "engine-fire:3"]
    crew.presses("answer", "closed")
    crew.presses("answer", "2")
    assert crew.says == "expected 3, heard 2. Confirm engine 3"
    crew.presses("answer", "3")
    assert crew.asked == "Feather engine 3"


def test_a_doubted_engine_s_list_leaves_nothing_behind_where_nothing_was_done() -> None:
    text = only(
        LAMPS,
        extra="""\
abnormal:
  - list: fire
    title: Fire
    kind: challenge and response
    argument: engine
    items:
      - challenge: Feather
        response: feathered
        confirm: engine
""",
    )
    crew = Crew(started(procedures=text))
    crew.hears("call:fire:1")
    assert crew.says == "Fire, engine 1 checklist. Confirm engine 1"
    crew.hears("control:negative")
    crew.hears("engine:2")
    assert set(crew.state.lists) == {"test", "fire:2"}
    crew.hears("control:affirm")
    assert crew.asked == "Feather"


def test_no_engine_after_all_goes_back_to_the_item() -> None:
    crew = Crew()
    crew.hears("call:engine-fire")
    crew.hears("control:negative")
    assert crew.says == "Brakes"


def test_an_engine_said_where_none_is_asked_for_changes_nothing() -> None:
    crew = Crew()
    crew.hears("engine:2")
    assert crew.asked == "Brakes"


def test_an_item_for_each_engine_is_asked_by_its_number() -> None:
    text = only(
        "          - challenge: Magneto, engine <engine>\n"
        "            response: both\n"
        "            each engine: yes"
    )
    crew = Crew(started(procedures=text))
    assert crew.says == "Test checklist. Magneto, engine 1"
    crew.hears("answer")
    assert crew.says == "Magneto, engine 2"
    crew.hears("wrong:0", text="left")
    assert crew.says == "expected both, heard left. Magneto, engine 2"


def test_silence_is_asked_again_then_at_growing_intervals_and_never_accepted() -> None:
    crew = Crew()
    waits = []
    for _ in range(7):
        crew.listens()
        waits.append(crew.wait)
        crew.silence()
        assert crew.says == "Brakes?"
    assert waits == [6_000, 12_000, 24_000, 48_000, 96_000, 120_000, 120_000]
    assert crew.asked == "Brakes"


@pytest.mark.parametrize(
    ("question", "reminder"),
    [
        ("call:engine-fire", "Engine fire, which engine?"),
        ("call:engine-fire:2", "Throttle?"),
        ("call:generator", "Generator, off"),
    ],
)
def test_every_question_has_its_reminder(question: str, reminder: str) -> None:
    crew = Crew()
    crew.hears(question)
    crew.silence()
    assert crew.says == reminder


def test_waiting_for_a_list_and_an_offer_and_a_flow_are_reminded_too() -> None:
    crew = Crew(started(phase="takeoff"))
    crew.keys(2)
    crew.silence()
    assert crew.says == "next, After take-off"
    crew.moment("flaps_up")
    crew.silence()
    assert crew.says == "Flaps up, after take-off list?"
    crew = Crew().to("flow")
    crew.silence()
    assert crew.says == "Scan flow"


def test_the_list_s_end_is_prepared_while_its_last_item_is_answered() -> None:
    crew = Crew(started(phase="cruise"))
    assert "Cruise complete" in [s for p in crew.of(Prepare) for s in p.speeches]


def test_the_end_of_the_answers_ends_the_run_with_what_is_open() -> None:
    crew = Crew(started(phase="takeoff"))
    crew.hears("number", 97.0)
    crew.give(InputEnded(crew.now()))
    assert crew.finish is not None and not crew.finish.complete
    assert crew.finish.left_open == ("Cowl flaps", "After take-off")
    assert "left open: Cowl flaps, After take-off" in crew.notes
    assert crew.view.open_items == ("Cowl flaps", "After take-off")
    assert crew.give(InputEnded(crew.now())) == ()


def test_a_read_and_do_item_is_challenged_with_its_response() -> None:
    crew = Crew(started(wordiness="terse"))
    crew.hears("call:generator")
    assert crew.says == "Generator failure checklist. Generator, off"
    crew.listens()
    assert crew.wait == 15_000
