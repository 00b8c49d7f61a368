"""Corners of a run that a flight seldom sees."""

from __future__ import annotations

from dataclasses import replace

from engine_runs import AIRCRAFT, FIGURES, ROTATE, SURFACE, Crew, only, started
from runner.engine.events import Crossed
from runner.figures.figure import Figure

LAMPS = "          - challenge: Lamps\n            response: on"


def test_a_condition_that_cannot_be_worked_out_skips_nothing() -> None:
    text = only(LAMPS + "\n            if: 1 / (gross_weight - 60000 lb) > 0 / 1 lb")
    weight = Figure("gross_weight", 60000.0, "lb", 0, "weight")
    assert Crew(started(procedures=text, figures=(weight,))).asked == "Lamps"


def test_a_choice_is_shown_with_all_its_answers_and_another_is_not_taken() -> None:
    crew = Crew().to("Runway surface")
    assert crew.view.current is not None
    assert crew.view.current.response == "dry or wet"
    crew.hears("option:icy")
    assert crew.asked == "Runway surface"


def test_an_item_kept_as_an_input_is_not_asked_again_for_its_own_answer() -> None:
    items = (
        "          - challenge: Surface, now <runway_surface>\n"
        "            choose:\n              dry: dry\n              wet: wet\n"
        "            keep: runway_surface\n"
        "          - challenge: Weight, now <gross_weight>\n"
        "            enter: gross_weight\n"
        "          - challenge: Lamps\n            response: on"
    )
    crew = Crew(started(procedures=only(items)))
    crew.hears("option:wet")
    crew.hears("number", 60000.0)
    crew.figures(replace(SURFACE, value="wet"), replace(FIGURES[0], value=60000.0))
    assert crew.status("test.lamps") == "waiting" and crew.asked == "Lamps"
    crew.hears("answer")
    assert crew.finish is not None and crew.finish.complete


def test_a_callout_of_a_list_that_does_not_apply_is_not_said() -> None:
    text = only(LAMPS).rstrip() + (
        "\n      - list: roll\n        title: Roll\n        kind: callouts\n"
        "        if: runway_surface == wet\n"
        "        callouts:\n          - call: Alive\n            when: airspeed rises to 40 kt\n"
    )
    crew = Crew(started(procedures=text))
    crew.give(Crossed(crew.now(), "roll.alive"))
    assert crew.says == ""
    crew.figures(replace(SURFACE, value="wet"))
    crew.give(Crossed(crew.now(), "roll.alive"))
    assert crew.says == "Alive"


def test_a_phase_of_callouts_alone_is_entered_when_the_phase_before_it_ends() -> None:
    text = only(LAMPS).rstrip() + (
        "\n  - phase: roll\n    name: Roll\n    lists:\n"
        "      - list: calls\n        title: Calls\n        kind: callouts\n"
        "        callouts:\n          - call: Alive\n            when: airspeed rises to 40 kt\n"
        "  - phase: climb\n    name: Climb\n    lists:\n"
        "      - list: climb\n        title: Climb\n        kind: challenge and response\n"
        "        items:\n          - challenge: Power\n            response: climb\n"
    )
    crew = Crew(started(procedures=text))
    crew.hears("answer")
    assert crew.says == "Test complete. Next, Climb"
    assert crew.view.phase == "roll"
    crew.give(Crossed(crew.now(), "calls.alive"))
    assert crew.says == "Alive"
    crew.presses("resume")
    assert crew.view.phase == "climb" and crew.asked == "Power"


def test_a_briefing_line_that_does_not_apply_is_neither_said_nor_needed() -> None:
    items = (
        "          - say: Good morning.\n"
        "          - say: The runway is wet.\n            if: runway_surface == wet"
    )
    crew = Crew(started(procedures=only(items, kind="briefing")))
    assert crew.says == "Test checklist. Good morning."
    crew.hears("control:affirm")
    assert crew.finish is not None and crew.finish.complete


def test_a_briefing_of_nothing_that_applies_is_named() -> None:
    items = "          - say: The runway is wet.\n            if: runway_surface == wet"
    crew = Crew(started(procedures=only(items, kind="briefing")))
    assert crew.says == "Test checklist"
    crew.silence()
    assert crew.says == "Test?"


def test_a_doubted_engine_s_list_in_which_something_was_done_stays_open() -> None:
    crew = Crew()
    crew.hears("call:engine-fire:2")
    crew.hears("answer")
    crew.hears("control:negative")
    crew.hears("engine:2")
    assert crew.asked == "engine confirm"
    crew.hears("control:negative")
    crew.hears("engine:1")
    assert crew.state.lists["engine-fire:2"].status == "not complete"
    assert "Feather engine 2" in crew.view.open_items


def test_which_engine_may_be_asked_with_no_list_below() -> None:
    crew = Crew(started(phase="takeoff"))
    crew.keys(2)
    crew.hears("call:engine-fire")
    crew.hears("engine:4")
    assert crew.asked == "Throttle"


def test_go_back_passes_over_what_does_not_apply_or_was_only_spoken() -> None:
    crew = Crew().to("Gear")
    crew.hears("control:go_back")
    assert crew.asked == "Flap"


def test_a_called_abnormal_list_may_be_offered_again_and_not_while_it_is_run() -> None:
    crew = Crew()
    crew.hears("call:engine-fire:2")
    crew.moment("fire_bell")
    assert crew.asked == "Throttle" and crew.state.offers == ()


def test_a_list_that_comes_back_by_itself_after_being_run_by_name_is_not_asked_twice() -> None:
    crew = Crew(started(phase="takeoff"))
    crew.presses("done")
    crew.hears("call:generator")
    crew.hears("call:before-takeoff")
    crew.presses("done")
    assert crew.says.startswith("Before take-off complete. Resuming Generator failure")


def test_a_figure_without_a_title_is_named_by_its_words() -> None:
    crew = Crew(started(figures=(Figure("rotate_speed", 97.0, "kt", 0, "speed"),)))
    assert [f.title for f in crew.view.figures if f.name == "rotate_speed"] == ["rotate speed"]
    assert AIRCRAFT.startswith("runner: 1")


def test_items_that_stopped_applying_stay_as_they_were_judged() -> None:
    items = LAMPS + "\n            if: runway_surface == wet\n" + LAMPS.replace("Lamps", "Doors")
    crew = Crew(started(procedures=only(items)))
    crew.figures(replace(SURFACE, value="dry"), replace(ROTATE, value=98.0))
    assert crew.status("test.lamps") == "not applicable"
    assert crew.asked == "Doors"


def test_a_figure_that_changes_while_its_item_is_asked_again_is_asked_with_the_new_value() -> None:
    crew = Crew().to("Rotate")
    crew.hears("number", 97.0)
    crew.figures(replace(ROTATE, value=104.0))
    crew.hears("option:dry")
    assert crew.says == "Rotate, again"
    crew.figures(replace(ROTATE, value=110.0))
    assert crew.says == "rotate speed now 110 kt. Rotate, again"
    crew.hears("number", 104.0)
    assert crew.says.startswith("expected 110 kt, heard 104 kt")
    crew.hears("number", 110.0)
    assert crew.asked == "Gross weight"


def test_done_is_no_answer_to_a_flow_by_voice() -> None:
    crew = Crew().to("flow")
    crew.hears("control:done")
    assert crew.asked == "flow"


def test_a_read_back_may_be_shown_in_the_file_s_own_words() -> None:
    items = (
        "          - challenge: Rotate\n            readback: rotate_speed\n"
        "            shown: at <rotate_speed>, firmly"
    )
    crew = Crew(started(procedures=only(items)))
    assert crew.view.current is not None
    assert crew.view.current.response == "at 97 kt, firmly"


def test_an_item_left_open_and_then_answered_by_going_back_is_not_asked_a_third_time() -> None:
    items = "\n".join(LAMPS.replace("Lamps", name) for name in ("First", "Second", "Third"))
    crew = Crew(started(procedures=only(items)))
    crew.hears("control:later")
    crew.hears("control:later")
    crew.hears("answer")
    assert crew.asked == "First"
    crew.presses("later")
    assert crew.asked == "Second"
    crew.hears("control:go_back")
    assert crew.asked == "First"
    crew.hears("answer")
    crew.hears("answer")
    assert crew.finish is not None and crew.finish.complete


def test_an_item_left_open_is_not_lost_when_the_pilot_disagrees_while_it_is_asked_once_more() -> (
    None
):
    items = "\n".join(LAMPS.replace("Lamps", name) for name in ("First", "Second"))
    crew = Crew(started(procedures=only(items)))
    crew.hears("control:later")
    crew.hears("answer")
    assert crew.asked == "First"
    crew.hears("control:disagree")
    assert crew.asked == "Second"
    crew.hears("answer")
    assert crew.asked == "First"
    crew.hears("answer")
    assert crew.finish is not None and crew.finish.complete
