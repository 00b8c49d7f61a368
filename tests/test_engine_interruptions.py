"""Lists: their order and ends, gates and offers, abnormal lists and the way back, changes."""

from __future__ import annotations

from engine_runs import FIGURES, ROTATE, STOP, WEIGHT, Crew, started
from runner.engine.effects import Say
from runner.engine.events import Crossed, Resumed
from runner.figures.figure import Figure


def faster(figure: Figure, knots: float) -> Figure:
    return Figure(figure.name, knots, "kt", 0, "speed", figure.title)


class TestAbnormalLists:
    def test_hands_back_to_the_item_it_interrupted_with_the_last_one_read(self) -> None:
        crew = Crew().to("Radar")
        crew.hears("call:generator")
        assert crew.says == "Generator failure checklist. Generator, off"
        crew.hears("answer")
        crew.hears("control:done")
        assert crew.says == (
            "Generator failure complete. Resuming Cockpit. Blowers, all four, low. Radar"
        )
        assert crew.asked == "Radar"

    def test_a_list_about_an_engine_asks_which_where_none_was_named(self) -> None:
        crew = Crew()
        crew.hears("call:engine-fire")
        assert crew.asked == "which engine"
        crew.hears("engine:3")
        assert crew.view.list is not None
        assert (crew.view.list.title, crew.view.list.argument) == ("Engine fire", "engine 3")

    def test_memory_items_are_called_at_once_and_verified_after(self) -> None:
        crew = Crew()
        crew.hears("call:engine-fire:2")
        assert crew.says == "Engine fire, engine 2 checklist. Throttle, closed. Throttle"
        assert crew.asked == "Throttle"

    def test_nothing_final_is_asked_before_its_engine_is_confirmed(self) -> None:
        crew = Crew()
        crew.hears("call:engine-fire:2")
        crew.hears("answer")
        assert crew.asked == "engine confirm"
        crew.hears("answer")
        assert crew.asked == "engine confirm"
        crew.hears("engine:3")
        assert crew.says == "expected 2, heard 3. Confirm engine 2"
        crew.hears("engine:2")
        assert crew.asked == "Feather engine 2"

    def test_two_deep_and_back_again(self) -> None:
        crew = Crew().to("Radar")
        crew.hears("call:generator")
        crew.hears("call:engine-fire:1")
        assert crew.view.interrupted == ("Cockpit, at Radar", "Generator failure, at Generator")
        crew.hears("answer")
        crew.hears("engine:1")
        crew.hears("answer")
        assert crew.asked == "Generator"
        crew.hears("answer")
        crew.hears("answer")
        assert crew.asked == "Radar"


class TestEndsOfLists:
    def test_a_list_with_a_critical_item_open_is_not_called_complete(self) -> None:
        crew = Crew()
        crew.hears("control:later")
        assert crew.says == "Brakes, left open. Blowers, all four"
        crew.to("Brakes")
        crew.hears("control:later")
        assert "Cockpit not complete" in crew.says
        assert "Left open: Brakes" in crew.says

    def test_a_list_whose_moment_comes_is_offered_and_may_be_declined(self) -> None:
        crew = Crew(started(from_phase="takeoff")).to("call")
        crew.moment("flaps_up")
        assert crew.says == "Flaps up, after take-off list?"
        crew.hears("control:negative")
        assert crew.asked == "call"

    def test_a_moment_that_must_not_come_while_a_list_is_open_is_called_urgently(self) -> None:
        crew = Crew(started(from_phase="takeoff"))
        crew.moment("power_set")
        urgent = [say.text for say in crew.of(Say) if say.urgency == "urgent"]
        assert urgent == ["Before take-off not complete"]

    def test_a_callout_is_said_once(self) -> None:
        crew = Crew(started(from_phase="takeoff"))
        crew.give(Crossed(crew.now(), "roll.rotate"))
        assert [say.text for say in crew.of(Say) if say.urgency == "urgent"] == ["Rotate"]
        crew.give(Crossed(crew.now(), "roll.rotate"))
        assert not crew.of(Say)

    def test_reject_brings_its_list_and_silences_every_callout(self) -> None:
        crew = Crew(started(from_phase="takeoff"))
        crew.hears("control:reject")
        assert crew.asked == "Throttles"
        assert crew.says.startswith("rejected, Rejected take-off")
        crew.give(Crossed(crew.now(), "roll.rotate"))
        assert not crew.of(Say)


class TestChanges:
    def test_an_answered_item_that_used_the_old_value_is_asked_again(self) -> None:
        crew = Crew().to("Rotate")
        crew.hears("number", 97.0)
        assert crew.asked == "Runway surface"
        crew.figures(faster(ROTATE, 104.0))
        assert "rotate speed now 104 kt" in crew.says
        crew.hears("option:dry")
        assert crew.says == "Rotate, again"
        crew.hears("number", 97.0)
        assert crew.says.startswith("expected 104 kt, heard 97 kt")
        crew.hears("number", 104.0)
        assert crew.asked == "Gross weight"

    def test_a_change_that_rounding_hides_is_no_change(self) -> None:
        crew = Crew().to("Rotate")
        crew.hears("number", 97.0)
        crew.figures(faster(ROTATE, 97.3))
        assert not crew.of(Say)

    def test_what_an_earlier_phase_answered_is_over(self) -> None:
        crew = Crew(started(figures=(*FIGURES, WEIGHT)))
        crew.to("briefing")
        crew.presses("done")
        crew.hears("call:before-takeoff")
        crew.figures(faster(ROTATE, 110.0))
        assert crew.asked == "Stop speed"
        crew.figures(faster(STOP, 90.0))
        assert "stop speed now 90 kt" in crew.says
        crew.hears("number", 90.0)
        assert crew.asked == "Cowl flaps"


def test_a_run_taken_up_again_says_where_and_reads_the_last_item() -> None:
    crew = Crew().to("Radar")
    crew.give(Resumed(crew.now()))
    assert crew.says == "resumed at Radar. Blowers, all four, low. Radar"
