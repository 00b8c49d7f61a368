"""What comes from the flight: figures, moments, callouts; and pauses and resumes."""

from __future__ import annotations

from dataclasses import replace

import pytest

from engine_runs import FIGURES, FLAP, ROTATE, STOP, SURFACE, Crew, only, started
from runner.engine.effects import CloseWindow, Finish, Hush, Listen, Say
from runner.engine.events import Crossed, Paused, Resumed, Said, TimerFired
from runner.engine.state import initial_state
from runner.engine.step import step
from runner.engine.triggers import armed_callouts
from runner.figures.figure import Figure


def crossed(crew: Crew, callout: str) -> str:
    crew.give(Crossed(crew.now(), callout))
    return crew.says


class TestFigures:
    def test_a_complete_list_is_opened_again_for_what_used_an_old_value(self) -> None:
        crew = Crew(started(phase="takeoff"))
        crew.keys(2)
        crew.figures(replace(STOP, value=93.0))
        assert crew.says == "stop speed now 93 kt. Stop speed, again"
        crew.hears("number", 93.0)
        assert crew.says == "Before take-off complete. Next, After take-off"

    def test_while_another_list_is_run_it_waits_for_the_current_item(self) -> None:
        crew = Crew(started(phase="takeoff"))
        crew.keys(2)
        crew.hears("call:after-takeoff")
        crew.figures(replace(STOP, value=93.0))
        assert crew.says == "stop speed now 93 kt" and crew.asked == "Gear lever"
        crew.hears("answer")
        assert crew.says == "Stop speed, again"
        crew.hears("number", 93.0)
        assert crew.says.startswith("Before take-off complete. Resuming After take-off")
        assert crew.finish is not None and crew.finish.complete

    def test_a_value_that_came_back_before_it_was_asked_is_as_it_was(self) -> None:
        crew = Crew(started(phase="takeoff"))
        crew.keys(2)
        crew.hears("call:after-takeoff")
        crew.figures(replace(STOP, value=93.0))
        crew.figures(STOP)
        assert crew.status("before-takeoff.stop-speed") == "done"
        crew.hears("answer")
        assert crew.finish is not None and crew.finish.complete

    def test_a_value_that_comes_back_within_the_list_is_as_it_was(self) -> None:
        crew = Crew(started(phase="takeoff"))
        crew.presses("done")
        crew.figures(replace(STOP, value=93.0))
        assert crew.status("before-takeoff.stop-speed") == "ask again"
        crew.figures(STOP)
        assert crew.status("before-takeoff.stop-speed") == "done"

    def test_an_item_of_a_complete_list_that_applies_after_all_is_asked(self) -> None:
        crew = Crew().to("briefing")
        assert crew.status("cockpit.wipers") == "not applicable"
        crew.figures(replace(SURFACE, value="wet"))
        assert crew.status("cockpit.wipers") == "ask again"
        crew.hears("control:briefing_complete")
        assert "Wipers" in crew.says

    def test_the_current_item_is_put_again_when_its_own_figure_changes(self) -> None:
        crew = Crew().to("Rotate")
        window = crew.state.window
        crew.figures(replace(ROTATE, value=101.0))
        assert crew.says == "rotate speed now 101 kt. Rotate"
        assert crew.state.window == window + 1
        crew.hears("number", 97.0)
        assert crew.asked == "Rotate"

    def test_a_figure_that_is_gone_is_said_and_its_items_are_asked_again(self) -> None:
        crew = Crew(started(phase="takeoff"))
        crew.presses("done")
        crew.figures(gone=("stop_speed", "never_known"))
        assert crew.says == "stop speed now not known"
        assert crew.status("before-takeoff.stop-speed") == "ask again"

    def test_what_this_phase_neither_shows_nor_used_is_only_noted(self) -> None:
        crew = Crew(started(phase="cruise"))
        crew.figures(replace(STOP, value=80.0), replace(FLAP, value="full_flap"))
        assert not crew.of(Say)
        assert "stop speed now 80 kt" in crew.notes

    def test_the_same_value_is_no_change(self) -> None:
        crew = Crew()
        crew.figures(*FIGURES, gone=("never_known",))
        assert crew.last == ()

    def test_a_change_said_while_a_question_is_spoken_delays_its_wait(self) -> None:
        crew = Crew()
        crew.figures(replace(ROTATE, value=99.0))
        prompt, change = crew.state.speaking
        crew.give(Said(crew.now(), prompt, True))
        assert crew.wait is None
        crew.give(Said(crew.now(), change, True))
        assert crew.wait == 6000
        crew.figures(replace(ROTATE, value=98.0))
        assert crew.says == "rotate speed now 98 kt"

    def test_after_the_end_figures_are_kept_and_nothing_is_said(self) -> None:
        crew = Crew(started(phase="cruise"))
        crew.presses("done")
        crew.figures(replace(ROTATE, value=99.0))
        assert not crew.of(Say)
        assert crew.state.figures["rotate_speed"].value == 99.0

    def test_an_item_that_says_so_is_not_asked_again(self) -> None:
        text = only(
            "          - challenge: Rotate\n            readback: rotate_speed\n"
            "            ask again: no\n"
            "          - challenge: Lamps\n            response: on"
        )
        crew = Crew(started(procedures=text))
        crew.presses("done")
        crew.figures(replace(ROTATE, value=120.0))
        assert crew.status("test.rotate") == "done"

    def test_many_changes_at_once_are_shown_and_the_first_are_said(self) -> None:
        items = "\n".join(
            f"          - challenge: Word {n}\n            response: on" for n in range(2)
        )
        crew = Crew(started(procedures=only(items)))
        crew.figures(Figure("rotate_speed", 110.0, "kt", 0, "speed"))
        assert crew.says == "rotate speed now 110 kt"
        shown = {f.name: f.changed for f in crew.view.figures}
        assert shown == {"rotate_speed": True}


class TestMomentsAndCallouts:
    def test_a_list_is_offered_after_the_one_being_run(self) -> None:
        crew = Crew(started(phase="takeoff"))
        crew.moment("flaps_up")
        crew.moment("flaps_up")
        assert crew.asked == "Stop speed" and crew.state.offers == ("after-takeoff",)
        crew.keys(2)
        assert crew.says == "Before take-off complete. Flaps up, after take-off list?"
        crew.moment("flaps_up")
        assert not crew.of(Say)
        crew.hears("control:affirm")
        assert crew.says == "After take-off checklist. Gear lever"
        crew.moment("flaps_up")
        assert crew.state.offers == ()

    def test_an_abnormal_list_is_offered_at_once(self) -> None:
        crew = Crew()
        crew.moment("fire_bell")
        assert crew.says == "Engine fire list?"
        crew.hears("control:negative")
        assert crew.says.endswith("Brakes")

    def test_an_offered_list_about_an_engine_asks_which(self) -> None:
        crew = Crew()
        crew.moment("fire_bell")
        crew.hears("control:affirm")
        assert crew.asked == "which engine"

    def test_moments_are_announced_by_voice_and_by_key_too(self) -> None:
        crew = Crew(started(phase="takeoff"))
        assert crew.pattern("moment:power_set") == "power set"
        crew.hears("moment:power_set")
        assert crew.says == "Before take-off not complete"
        crew.keys(2)
        crew.presses("moment", "flaps_up")
        assert crew.state.asking == "offer"
        crew.presses("moment", "power_set")
        assert not crew.of(Say)

    def test_a_gate_is_guarded_even_when_its_list_was_never_begun(self) -> None:
        crew = Crew(started(phase="takeoff"))
        crew.keys(2)
        crew.moment("power_set")
        assert not crew.of(Say)
        crew = Crew(started(from_phase="takeoff"))
        crew.hears("call:after-takeoff")
        crew.moment("power_set")
        assert crew.says == "Before take-off not complete"

    def test_callouts_are_armed_for_their_phase(self) -> None:
        crew = Crew()
        assert armed_callouts(crew.state) == ()
        assert crossed(crew, "roll.rotate") == ""
        crew = Crew(started(phase="takeoff"))
        assert next(c.text.source for c in armed_callouts(crew.state)) == "Rotate"
        assert crossed(crew, "roll.rotate") == "Rotate"
        assert len(armed_callouts(crew.state)) == 2
        assert crossed(crew, "nope") == ""

    def test_callouts_stay_armed_after_the_phase_s_last_list_and_with_the_next_named(self) -> None:
        crew = Crew(started(from_phase="takeoff"))
        crew.keys(4)
        assert crew.asked == "call"
        assert crossed(crew, "roll.rotate") == "Rotate"
        crew.presses("done")
        assert armed_callouts(crew.state) == ()

    def test_a_change_is_called_each_time(self) -> None:
        crew = Crew(started(phase="takeoff"))
        names = [c.id for c in armed_callouts(crew.state) if c.trigger.how == "changes"]
        assert crossed(crew, names[0]) == crossed(crew, names[0]) == "Stop speed 97 kt"

    def test_no_callout_is_armed_after_reject_or_before_a_run(self) -> None:
        crew = Crew(started(phase="takeoff"))
        crew.presses("reject")
        assert armed_callouts(crew.state) == ()
        assert armed_callouts(initial_state()) == ()

    def test_an_urgent_callout_cuts_in_and_is_not_cut_short(self) -> None:
        crew = Crew(started(phase="takeoff"))
        crossed(crew, "roll.rotate")
        assert crew.of(Hush) and crew.of(Say)[0].urgency == "urgent"
        urgent = crew.of(Say)[0].utterance
        crew.hears("number", 97.0)
        assert not crew.of(Hush)
        crew.give(Said(crew.now(), urgent, True))
        crew.hears("answer")
        assert crew.of(Hush)

    def test_a_question_that_an_urgent_callout_cut_off_is_put_again_after_it(self) -> None:
        crew = Crew(started(phase="takeoff"))
        asked = crew.asked
        prompting = crew.of(Say)[-1].utterance
        crossed(crew, "roll.rotate")
        assert crew.of(Hush)
        crew.give(Said(crew.now(), prompting, False))
        (again,) = crew.of(Say)
        assert again.urgency == "prompt" and asked in again.text
        crew.give(Said(crew.now(), prompting, False))
        assert not crew.of(Say)

    def test_a_routine_callout_waits_its_turn(self) -> None:
        crew = Crew(started(phase="takeoff"))
        crossed(crew, "roll.two-minutes")
        assert not crew.of(Hush) and crew.of(Say)[0].urgency == "routine"


class TestPauses:
    def test_a_pause_is_silent_and_deaf(self) -> None:
        crew = Crew()
        crew.give(Paused(crew.now()))
        assert crew.of(CloseWindow) and crew.of(Hush)
        assert crew.view.activity == "paused"
        for given in (crew.presses("done"), crew.hears("answer"), crew.moment("flaps_up")):
            assert not any(isinstance(effect, Say | Listen) for effect in given)
        assert crew.asked == "Brakes"
        crew.give(Said(crew.now(), 1, False))
        assert crew.wait is None
        crew.figures(replace(ROTATE, value=99.0))
        assert not crew.of(Say)
        crew.give(Paused(crew.now()))
        assert not crew.of(Hush)

    def test_what_was_being_said_was_not_heard_and_the_question_is_put_again(self) -> None:
        crew = Crew()
        crew.give(Resumed(crew.now()))
        assert crew.says == "resumed at Brakes. Brakes"
        assert crew.of(Listen)
        crew.hears("answer")
        assert crew.asked == "Blowers, all four"

    @pytest.mark.parametrize(
        ("question", "says"),
        [
            ("flow", "resumed at Scan. Scan flow"),
            ("call", "next, Scan"),
        ],
    )
    def test_any_question_is_taken_up_again(self, question: str, says: str) -> None:
        crew = Crew().to(question)
        crew.give(Paused(crew.now()))
        crew.give(Resumed(crew.now()))
        assert crew.says == says

    def test_a_run_that_ended_ends_again(self) -> None:
        crew = Crew(started(phase="cruise"))
        crew.presses("done")
        crew.give(Resumed(crew.now()))
        assert crew.of(Finish) == [Finish(True)]

    def test_a_stale_timer_is_nothing(self) -> None:
        crew = Crew()
        assert crew.give(TimerFired(crew.now(), "silence")) == ()
        crew.listens()
        assert crew.give(TimerFired(crew.now(), "tea")) == ()

    def test_nothing_happens_before_a_run_starts_and_it_starts_once(self) -> None:
        state = initial_state()
        assert step(state, Resumed(4)) == (state, ())
        crew = Crew()
        assert crew.give(started()) == ()

    def test_a_standing_by_run_stays_standing_by(self) -> None:
        crew = Crew()
        crew.hears("control:stand_by")
        crew.give(Resumed(crew.now()))
        assert crew.says == "resumed at Brakes. Standing by"
        assert crew.view.standing_by
