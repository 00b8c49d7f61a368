"""Control phrases and their keys."""

from __future__ import annotations

import pytest

from engine_runs import ROTATE, Crew, only, started
from runner.engine.effects import CloseWindow, Hush, Listen, Say, SetInput

NO_REJECTED = only("          - challenge: Lights\n            response: on")


def test_say_again_puts_the_same_question_in_a_new_window() -> None:
    crew = Crew()
    window = crew.state.window
    crew.hears("control:say_again")
    assert crew.says == "Brakes"
    assert crew.state.window == window + 1


def test_stand_by_holds_the_list_and_continue_reads_the_last_item_then_the_current() -> None:
    crew = Crew().to("Radar")
    crew.hears("control:stand_by")
    assert crew.says == "standing by"
    assert crew.view.standing_by
    crew.hears("answer")
    assert crew.state.asking == "standing by"
    crew.hears("control:say_again")
    assert crew.says == "standing by"
    crew.hears("control:resume")
    assert crew.says == "resuming Cockpit. Blowers, all four, low. Radar"
    assert not crew.view.standing_by


def test_nothing_but_controls_lists_and_moments_is_heard_while_standing_by() -> None:
    crew = Crew()
    crew.hears("control:stand_by")
    assert {c.role for c in crew.window.candidates} == {"control", "call", "moment"}


def test_a_held_list_is_named_at_growing_intervals() -> None:
    crew = Crew()
    crew.hears("control:stand_by")
    waits = []
    for _ in range(5):
        crew.listens()
        waits.append(crew.wait)
        crew.silence()
        assert crew.says == "standing by, Cockpit"
    assert waits == [30_000, 60_000, 120_000, 120_000, 120_000]


def test_go_back_opens_the_item_before_and_comes_forward_again() -> None:
    crew = Crew().to("Radar")
    crew.hears("control:go_back")
    assert crew.asked == "Blowers, all four"
    crew.hears("control:go_back")
    assert crew.asked == "Brakes"
    crew.hears("control:go_back")
    assert crew.says == "nothing open. Brakes"
    crew.hears("answer")
    assert crew.asked == "Blowers, all four"
    crew.hears("answer")
    assert crew.asked == "Radar"


def test_go_back_in_a_briefing_reads_it_again() -> None:
    crew = Crew().to("briefing")
    said = crew.says
    crew.hears("control:go_back")
    assert crew.says in said


def test_later_leaves_an_item_open_and_asks_it_once_more_before_the_list_ends() -> None:
    crew = Crew()
    crew.hears("control:later")
    assert crew.says == "Brakes, left open. Blowers, all four"
    assert crew.view.open_items == ("Brakes",)
    crew.to("Gear")
    crew.presses("done")
    assert crew.says == "Brakes"
    crew.hears("control:later")
    assert crew.says.startswith("Brakes, left open. Cockpit not complete. Left open: Brakes")
    assert crew.status("cockpit.brakes") == "left open"


def test_disagree_opens_the_last_item_again() -> None:
    crew = Crew().to("Radar")
    crew.hears("control:disagree")
    assert crew.says == "Blowers, all four open again. Blowers, all four"
    crew.hears("control:disagree")
    assert crew.says == "nothing open. Blowers, all four"
    crew.hears("answer")
    assert crew.asked == "Radar"


def test_disagree_after_a_list_opens_that_list_again() -> None:
    crew = Crew(started(phase="takeoff"))
    crew.keys(2)
    assert crew.state.asking == "call"
    crew.hears("control:disagree")
    assert crew.says == "Cowl flaps open again. Cowl flaps"
    crew.hears("answer")
    assert crew.says.startswith("Before take-off complete")


def test_disregard_forgets_the_last_answer() -> None:
    crew = Crew().to("Radar")
    crew.hears("control:disregard")
    assert crew.says == "disregarded. Blowers, all four"
    assert crew.status("cockpit.blowers-all-four") == "waiting"
    crew.hears("control:disregard")
    assert crew.says == "nothing open. Blowers, all four"


def test_disregard_brings_back_the_input_that_was_given() -> None:
    crew = Crew().to("Runway surface")
    crew.hears("option:wet")
    crew.hears("control:disregard")
    assert crew.inputs == [("runway_surface", "dry")]
    assert crew.asked == "Runway surface"


def test_disregard_of_an_input_that_was_not_known_leaves_it_to_the_question() -> None:
    crew = Crew(started(figures=(ROTATE,))).to("Runway surface")
    crew.hears("option:wet")
    crew.hears("control:disregard")
    assert crew.inputs == []
    assert crew.asked == "Runway surface"


def test_disregard_means_what_came_before_what_changes_nothing() -> None:
    crew = Crew().to("Radar")
    crew.hears("control:say_again")
    crew.hears("control:terse")
    crew.hears("control:nonsense")
    crew.hears("control:disregard")
    assert crew.asked == "Blowers, all four"


def test_disregard_undoes_a_stand_by_and_a_called_list() -> None:
    crew = Crew().to("Radar")
    crew.hears("control:stand_by")
    crew.hears("control:disregard")
    assert crew.asked == "Radar"
    crew.hears("call:generator")
    assert crew.asked == "Generator"
    crew.hears("control:disregard")
    assert crew.asked == "Radar"
    assert crew.state.stack[-1].key == "cockpit" and len(crew.state.stack) == 1


def test_reject_stops_the_callouts_and_brings_the_rejected_takeoff_list() -> None:
    crew = Crew(started(phase="takeoff"))
    crew.hears("control:reject")
    says = crew.of(Say)
    assert says[0].text == "rejected, Rejected take-off" and says[0].urgency == "urgent"
    assert says[1].text == "Throttles"
    assert crew.state.rejected
    crew.hears("answer")
    assert crew.says.startswith("Rejected take-off complete")


def test_reject_without_a_list_for_it_stands_by() -> None:
    crew = Crew(started(procedures=NO_REJECTED))
    crew.hears("control:reject")
    assert crew.state.asking == "standing by"


def test_mute_closes_the_window_and_only_a_key_opens_it_again() -> None:
    crew = Crew()
    crew.hears("control:mute")
    assert crew.says == "muted" and crew.of(CloseWindow)
    crew.hears("answer")
    assert crew.asked == "Brakes"
    crew.presses("mute")
    assert not crew.last
    crew.presses("done")
    assert not crew.of(Listen)
    crew.presses("unmute")
    assert crew.says == "listening" and crew.of(Listen)
    crew.presses("unmute")
    assert not crew.last
    crew.hears("answer")
    assert crew.asked == "Radar"


def test_why_says_the_figures_of_the_item() -> None:
    crew = Crew().to("Rotate")
    crew.hears("control:why")
    assert crew.says == "rotate speed, 97 kt. Rotate"
    crew = Crew(started(figures=())).to("Rotate")
    crew.presses("why")
    assert crew.says == "Rotate"
    crew = Crew(started(phase="takeoff"))
    crew.keys(2)
    crew.presses("why")
    assert crew.says.startswith("next,")


def test_wordiness_is_chosen_by_voice_and_by_key() -> None:
    crew = Crew().to("Blowers, all four")
    crew.hears("control:terse")
    assert crew.says == "Blowers"
    crew.presses("tones")
    assert crew.says == ""
    crew.presses("full")
    assert crew.says == "Blowers, all four"


def test_done_is_said_in_a_read_and_do_list_alone() -> None:
    crew = Crew()
    assert not crew.pattern("control:done")
    crew.presses("call", "generator")
    assert crew.asked == "Generator"
    assert crew.pattern("control:done")
    crew.hears("control:done")
    assert crew.asked == "Load"


def test_done_by_voice_does_not_answer_for_a_number_or_a_choice() -> None:
    text = only(
        "          - challenge: Runway surface\n"
        "            choose:\n"
        "              dry: dry\n"
        "              wet: wet\n"
        "            keep: runway_surface",
        kind="read and do",
    )
    crew = Crew(started(procedures=text))
    crew.hears("control:done")
    assert crew.asked == "Runway surface"


def test_by_key_done_says_yes_to_whatever_waits() -> None:
    crew = Crew(started(phase="takeoff"))
    crew.keys(2)
    assert crew.state.asking == "call"
    crew.moment("flaps_up")
    assert crew.state.asking == "offer"
    crew.presses("done")
    assert crew.asked == "Gear lever"
    crew.presses("stand_by")
    crew.presses("done")
    assert crew.asked == "Gear lever"


def test_a_key_that_makes_no_sense_now_says_so_and_changes_nothing() -> None:
    crew = Crew()
    crew.presses("affirm")
    assert crew.notes == ["affirm: makes no sense now"]
    crew.presses("call", "roll")
    assert crew.notes == ["call roll: makes no sense now"]
    crew.presses("negative")
    assert crew.asked == "Brakes"
    crew.presses("stand_by")
    crew.presses("affirm")
    crew.presses("answer", "set")
    assert crew.state.asking == "standing by"
    crew.presses("later")
    assert crew.state.asking == "standing by"


def test_the_end_key_ends_the_run_with_what_is_open() -> None:
    crew = Crew(started(phase="cruise"))
    crew.presses("end")
    assert crew.finish is not None
    assert crew.finish.left_open == ("Mixtures, all engines",)
    assert crew.presses("done") == ()


@pytest.mark.parametrize("control", ["stand_by", "resume", "go_back", "later", "disagree"])
def test_keys_do_what_the_phrases_do(control: str) -> None:
    spoken, keyed = Crew().to("Radar"), Crew().to("Radar")
    spoken.hears(f"control:{control}")
    keyed.presses(control)  # type: ignore[arg-type]
    assert spoken.says == keyed.says
    assert spoken.state.stack == keyed.state.stack


def test_an_input_is_set_by_key_in_the_aircraft_s_units() -> None:
    crew = Crew()
    crew.presses("set", "gross_weight", "33500 kg")
    assert crew.inputs == [("gross_weight", pytest.approx(73855, abs=1))]
    crew.presses("set", "gross_weight", "74310")
    assert crew.of(SetInput) == [SetInput("gross_weight", 74310.0)]
    crew.presses("set", "runway_surface", "wet")
    assert crew.inputs == [("runway_surface", "wet")]


@pytest.mark.parametrize(
    ("name", "value", "problem"),
    [
        ("gross_weight", "200000 lb", "out of its range"),
        ("gross_weight", "heavy", "not a number"),
        ("runway_surface", "icy", "dry, wet"),
        ("wing_span", "3", "no input"),
    ],
)
def test_a_wrong_value_set_by_key_is_refused(name: str, value: str, problem: str) -> None:
    crew = Crew()
    crew.presses("set", name, value)
    assert crew.inputs == []
    assert any(problem in note for note in crew.notes)


def test_a_control_cuts_short_what_is_being_said() -> None:
    crew = Crew()
    crew.hears("control:stand_by")
    assert crew.of(Hush)


def test_later_of_an_offer_goes_on_waiting_and_later_of_a_flow_stands_by() -> None:
    crew = Crew(started(phase="takeoff"))
    crew.keys(2)
    crew.moment("flaps_up")
    crew.hears("control:later")
    assert crew.state.asking == "call" and crew.says == "next, After take-off"
    crew = Crew(started(phase="preparation")).to("call")
    crew.hears("control:resume")
    assert crew.state.asking == "flow"
    crew.hears("control:later")
    assert crew.state.asking == "standing by"
    crew.hears("control:resume")
    assert crew.state.asking == "flow"


def test_stand_by_keeps_an_offer_and_a_question_for_the_engine() -> None:
    crew = Crew(started(phase="takeoff"))
    crew.keys(2)
    crew.moment("flaps_up")
    crew.hears("control:stand_by")
    crew.hears("control:resume")
    assert crew.state.asking == "offer"
    crew.hears("call:engine-fire")
    crew.hears("control:stand_by")
    crew.hears("control:resume")
    assert crew.state.asking == "which engine"
    crew.hears("control:say_again")
    assert crew.says == "Engine fire, which engine?"


def test_continue_takes_an_offer() -> None:
    crew = Crew(started(phase="takeoff"))
    crew.keys(2)
    crew.moment("flaps_up")
    crew.hears("control:say_again")
    assert crew.says == "Flaps up, after take-off list?"
    crew.hears("control:resume")
    assert crew.asked == "Gear lever"


def test_continue_while_an_item_is_asked_puts_it_again() -> None:
    crew = Crew()
    crew.presses("resume")
    assert crew.says == "Brakes"
