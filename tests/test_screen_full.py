"""The full screen with keys alone: what each key does, what is shown and what is drawn anew."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import replace

import pytest
from textual.pilot import Pilot

import screen_views
from runner.engine.view import View
from runner.screen.full import FullScreen
from runner.screen.keys import KEYS
from runner.screen.panel import Panel


class Pressed:
    """What came out of the screen, in order."""

    def __init__(self, app: FullScreen) -> None:
        self.keys: list[tuple[str, str, str]] = []
        self.texts: list[str] = []
        self.talks = 0
        app.on_key = lambda *key: self.keys.append(key)
        app.on_text = self.texts.append
        app.on_talk = self._talk

    def _talk(self) -> None:
        self.talks += 1


@asynccontextmanager
async def running(
    view: View, size: tuple[int, int] = (80, 24)
) -> AsyncIterator[tuple[FullScreen, Pilot[None], Pressed]]:
    app = FullScreen()
    pressed = Pressed(app)
    async with app.run_test(size=size) as pilot:
        app.show(view)
        await pilot.pause()
        yield app, pilot, pressed


def text_on(app: FullScreen) -> str:
    return "\n".join(
        "".join(segment.text for segment in strip)
        for strip in app.screen._compositor.render_strips()
    )


@pytest.mark.parametrize(
    ("key", "action"),
    [
        ("space", "done"),
        ("enter", "done"),
        ("a", "say_again"),
        ("b", "stand_by"),
        ("c", "resume"),
        ("g", "go_back"),
        ("o", "later"),
        ("d", "disagree"),
        ("x", "disregard"),
        ("y", "affirm"),
        ("n", "negative"),
        ("w", "why"),
        ("m", "mute"),
        ("v", "terse"),
    ],
)
async def test_key_calls_its_action(key: str, action: str) -> None:
    async with running(screen_views.mid_list()) as (_, pilot, pressed):
        await pilot.press(key)
        assert pressed.keys == [(action, "", "")]


async def test_mute_key_unmutes_when_muted() -> None:
    async with running(replace(screen_views.mid_list(), muted=True)) as (app, pilot, pressed):
        assert "Muted" in text_on(app)
        assert "m unmute" in text_on(app)
        await pilot.press("m")
        assert pressed.keys == [("unmute", "", "")]


async def test_wording_key_goes_round() -> None:
    async with running(screen_views.mid_list()) as (app, pilot, pressed):
        for wordiness in ("full", "terse", "tones"):
            app.show(replace(screen_views.mid_list(), wordiness=wordiness))
            await pilot.press("v")
        assert [key[0] for key in pressed.keys] == ["terse", "tones", "full"]


async def test_push_to_talk_has_its_own_hook() -> None:
    async with running(screen_views.mid_list()) as (_, pilot, pressed):
        await pilot.press("p", "p")
        assert pressed.talks == 2
        assert pressed.keys == []


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
async def test_every_key_is_shown(size: tuple[int, int]) -> None:
    async with running(screen_views.choosing(), size) as (app, _, _pressed):
        shown = text_on(app)
        for key in KEYS:
            assert f"{key.shown} " in shown or f"{key.shown}↓" in shown, key.shown
        assert "1–3 choose" in shown


async def test_number_keys_choose() -> None:
    async with running(screen_views.choosing()) as (_, pilot, pressed):
        await pilot.press("2", "4")
        assert pressed.keys == [("answer", "wet", "")]


async def test_digit_begins_a_number_where_one_is_wanted() -> None:
    async with running(screen_views.figures_changed()) as (_, pilot, pressed):
        await pilot.press("1", "0", "6", "enter")
        assert pressed.texts == ["106"]


async def test_digit_names_the_engine_that_is_asked_for() -> None:
    view = replace(
        screen_views.mid_list(), activity="asking which engine", prompt="Engine fire, which engine?"
    )
    async with running(view, (120, 40)) as (app, pilot, pressed):
        assert "low blower" not in text_on(app).split("Heard")[0].lower()
        await pilot.press("3")
        assert pressed.texts == ["engine 3"]


async def test_digit_does_nothing_where_none_is_wanted() -> None:
    async with running(screen_views.mid_list()) as (app, pilot, pressed):
        await pilot.press("3")
        assert not app.query("#entry")
        assert pressed.keys == []


@pytest.mark.parametrize("key", ["slash", "t"])
async def test_typed_answer(key: str) -> None:
    async with running(screen_views.mid_list()) as (app, pilot, pressed):
        await pilot.press(key, *"low", "space", *"blower", "enter")
        assert pressed.texts == ["low blower"]
        assert not app.query("#entry")
        await pilot.press("space")
        assert pressed.keys == [("done", "", "")]


async def test_escape_closes_the_line_and_sends_nothing() -> None:
    async with running(screen_views.mid_list()) as (app, pilot, pressed):
        await pilot.press("t", *"low", "escape")
        assert not app.query("#entry")
        assert pressed.texts == []


async def test_input_is_set_by_name() -> None:
    async with running(screen_views.mid_list()) as (_, pilot, pressed):
        await pilot.press("s", *"gross_weight=76900lb", "enter")
        assert pressed.keys == [("set", "gross_weight", "76900lb")]


async def test_set_without_a_value_says_what_is_right() -> None:
    async with running(screen_views.mid_list()) as (app, pilot, pressed):
        await pilot.press("s", *"gross_weight", "enter")
        await pilot.pause()
        assert pressed.keys == []
        assert "name=value" in text_on(app)


async def test_list_is_called_by_a_part_of_its_name() -> None:
    async with running(screen_views.mid_list()) as (app, pilot, pressed):
        await pilot.press("l", *"fire", "space", "3")
        await pilot.pause()
        assert "Engine fire, engine 3, abnormal" in text_on(app)
        await pilot.press("enter")
        assert pressed.keys == [("call", "engine-fire", "3")]


async def test_abnormal_lists_are_found_by_that_word() -> None:
    async with running(screen_views.mid_list(), (120, 40)) as (app, pilot, pressed):
        await pilot.press("l", *"abn")
        await pilot.pause()
        assert "Walk round" not in text_on(app)
        await pilot.press("down", "down", "enter")
        assert pressed.keys == [("call", "engine-fire", "")]


async def test_unknown_list_calls_nothing() -> None:
    async with running(screen_views.mid_list()) as (app, pilot, pressed):
        await pilot.press("l", *"submarine")
        await pilot.pause()
        assert "No list is called that" in text_on(app)
        await pilot.press("enter")
        assert pressed.keys == []


@pytest.mark.parametrize("key", ["q", "ctrl+q", "ctrl+c"])
async def test_end_asks_first(key: str) -> None:
    async with running(screen_views.mid_list()) as (app, pilot, pressed):
        await pilot.press(key)
        await pilot.pause()
        assert "End this run?" in text_on(app)
        assert pressed.keys == []
        await pilot.press("n")
        assert pressed.keys == []
        assert app.is_running
        await pilot.press(key, "y")
        assert pressed.keys == [("end", "", "")]


async def test_end_can_be_asked_for_while_typing() -> None:
    async with running(screen_views.mid_list()) as (_, pilot, pressed):
        await pilot.press("t", *"lo", "ctrl+q", "y")
        assert pressed.keys == [("end", "", "")]
        assert pressed.texts == []


async def test_reject_asks_first() -> None:
    async with running(screen_views.mid_list()) as (_, pilot, pressed):
        await pilot.press("R", "R")
        assert pressed.keys == []
        await pilot.press("R", "y")
        assert pressed.keys == [("reject", "", "")]


async def test_key_that_withdraws_a_question_does_nothing_else() -> None:
    async with running(screen_views.choosing()) as (_, pilot, pressed):
        for other in ("space", "2", "escape", "t"):
            await pilot.press("R", other)
        assert pressed.keys == []
        assert not pressed.texts
        await pilot.press("space")
        assert pressed.keys == [("done", "", "")]


async def test_why_asks_about_the_chosen_figure() -> None:
    async with running(screen_views.mid_list(), (120, 40)) as (app, pilot, pressed):
        await pilot.press("f", "down", "down", "w")
        assert pressed.keys == [("why", "takeoff_manifold_pressure", "")]
        app.note("take-off manifold pressure: limit by altitude, row 0 ft", "figures")
        await pilot.pause()
        assert "row 0 ft" in text_on(app)
        await pilot.press("escape")
        await pilot.pause()
        assert "Boost pumps: high boost" in text_on(app)


async def test_trouble_is_shown_once_until_a_key_is_pressed() -> None:
    async with running(screen_views.mid_list()) as (app, pilot, _):
        app.trouble("no sound device was found")
        await pilot.pause()
        assert "No sound device was found." in text_on(app)
        await pilot.press("space")
        app.trouble("no sound device was found")
        await pilot.pause()
        assert "No sound device was found." not in text_on(app)
        app.trouble("no sound device was found", anew=True)
        await pilot.pause()
        assert "No sound device was found." in text_on(app)


async def test_trouble_that_is_over_is_shown_no_more_and_told_again_when_it_comes_again() -> None:
    async with running(screen_views.mid_list()) as (app, pilot, _):
        app.trouble("Ben is not heard")
        app.over("no sound device was found")
        await pilot.pause()
        assert "Ben is not heard." in text_on(app)
        app.over("Ben is not heard")
        await pilot.pause()
        assert "Ben is not heard." not in text_on(app)
        app.trouble("Ben is not heard")
        await pilot.pause()
        assert "Ben is not heard." in text_on(app)


async def test_note_that_runner_says_as_well_is_shown_once() -> None:
    async with running(screen_views.mid_list()) as (app, pilot, _):
        app.note("decision speed now 87 kt", "figures")
        app.note("take-off power may be too low", "advice")
        await pilot.pause()
        assert "Decision speed now 87 kt." in text_on(app)
        app.said("Decision speed now 87 kt")
        await pilot.pause()
        assert text_on(app).lower().count("decision speed now 87 kt") == 1
        assert "Take-off power may be too low." in text_on(app)


async def test_mistake_made_twice_is_told_twice() -> None:
    async with running(screen_views.mid_list()) as (app, pilot, _):
        app.on_key = lambda *_: app.trouble("gross_weight is out of its range")
        for _again in range(2):
            await pilot.press("s", *"gross_weight=9", "enter")
            await pilot.pause()
            assert "Gross_weight is out of its range." in text_on(app)
            app.action_close()


async def test_many_open_items_leave_room_for_the_way_out() -> None:
    names = tuple(f"Item {number}" for number in range(40))
    view = replace(screen_views.finished_open(), open_items=names)
    async with running(view) as (app, _, _pressed):
        shown = text_on(app)
        assert "and 35 more" in shown
        assert "Press q to close." in shown


async def test_finished_run_is_closed_without_a_question() -> None:
    async with running(screen_views.finished_open()) as (app, pilot, pressed):
        assert "Press q to close." in text_on(app)
        await pilot.press("q")
        assert pressed.keys == [("end", "", "")]


@pytest.mark.parametrize(
    ("state", "words"),
    [
        ("open", "Microphone open"),
        ("hearing speech", "Microphone open, hearing speech, good level"),
        ("shut", "Microphone shut while Runner speaks"),
        ("no microphone", "No microphone, keys only"),
    ],
)
async def test_microphone_in_words(state: str, words: str) -> None:
    async with running(screen_views.mid_list()) as (app, pilot, _):
        app.level(-20.0, state)
        await pilot.pause()
        assert words in text_on(app)


async def test_what_runner_says_is_shown_unless_it_is_the_challenge() -> None:
    async with running(screen_views.mid_list()) as (app, pilot, _):
        app.said("Blowers?")
        await pilot.pause()
        assert "Runner:" not in text_on(app)
        app.said("Mixtures, auto rich.")
        await pilot.pause()
        assert "Runner: Mixtures, auto rich." in text_on(app)


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
@pytest.mark.parametrize("current", range(16))
async def test_current_item_and_the_next_are_in_view(current: int, size: tuple[int, int]) -> None:
    rows = screen_views.items(screen_views.BEFORE_TAKEOFF, current)
    view = screen_views.mid_list()
    assert view.list is not None
    view = replace(view, list=replace(view.list, items=rows), current=rows[current])
    async with running(view, size) as (app, _, _pressed):
        shown = text_on(app)
        assert f"{rows[current].challenge}: {rows[current].response}, now" in shown
        if current + 1 < len(rows):
            assert f"{rows[current + 1].challenge}: {rows[current + 1].response}" in shown


async def test_arrows_look_along_the_list_and_the_next_item_comes_back() -> None:
    view = screen_views.mid_list()
    async with running(view) as (app, pilot, _):
        await pilot.press(*["down"] * 30)
        await pilot.pause()
        assert "Rotation speed: 104 kt" in text_on(app)
        await pilot.press("up")
        await pilot.pause()
        assert "Rotation speed: 104 kt" not in text_on(app)
        assert view.list is not None
        rows = screen_views.items(screen_views.BEFORE_TAKEOFF, 6)
        app.show(replace(view, list=replace(view.list, items=rows), current=rows[6]))
        await pilot.pause()
        assert "Boost pumps: high boost, now" in text_on(app)


async def test_only_changed_parts_are_drawn_again(monkeypatch: pytest.MonkeyPatch) -> None:
    drawn: list[str] = []
    redraw = Panel.redraw

    def count(panel: Panel) -> None:
        drawn.append(type(panel).__name__)
        redraw(panel)

    view = screen_views.mid_list()
    async with running(view) as (app, _, _pressed):
        monkeypatch.setattr(Panel, "redraw", count)
        app.show(replace(view, at=view.at + 1000))
        assert drawn == []
        app.show(replace(screen_views.wrong_answer(), last_said=view.last_said))
        assert drawn == ["Exchange"]
        app.level(-20.0, "hearing speech")
        app.level(-21.0, "hearing speech")
        assert drawn == ["Exchange", "Microphone"]


async def test_view_may_come_before_the_screen_and_from_another_task() -> None:
    app = FullScreen(headless=True, size=(80, 24))
    pressed = Pressed(app)
    app.show(screen_views.mid_list())
    app.said("Before take-off checklist.")
    app.level(-50.0, "open")
    app.trouble("no sound device was found")
    running_app = asyncio.create_task(app.run())
    while not app.is_running:
        await asyncio.sleep(0.01)
    await asyncio.sleep(0.2)
    app.show(screen_views.wrong_answer())
    await asyncio.sleep(0.2)
    shown = text_on(app)
    assert "No sound device was found." in shown
    assert "Heard “high blower”" in shown
    app.stop()
    await asyncio.wait_for(running_app, 5)
    app.stop()
    assert pressed.keys == []


async def test_sizes_from_nothing_to_large_are_survived() -> None:
    async with running(screen_views.abnormal()) as (app, pilot, _):
        for size in ((1, 1), (8, 2), (200, 60), (30, 30), (300, 8), (120, 40)):
            await pilot.resize_terminal(*size)
            await pilot.press("f", "l", "a", "escape", "f")
        await pilot.pause()
        assert "Waiting underneath: Climb power, at Cowl flaps." in text_on(app)


async def test_charts_are_gone_through_and_left_again() -> None:
    asked: list[int] = []

    def chart(number: int, width: int, height: int) -> tuple[str, ...]:
        assert width >= 60 and height >= 10
        asked.append(number)
        return (f"chart number {number}", "a line")

    async with running(screen_views.mid_list()) as (app, pilot, _):
        app.on_chart = chart
        await pilot.press("h")
        await pilot.pause()
        assert "chart number 0" in text_on(app)
        assert "h shows the next chart" in text_on(app)
        await pilot.press("h")
        await pilot.pause()
        assert asked[-1] == 1 and "chart number 1" in text_on(app)
        await pilot.press("f")
        await pilot.pause()
        assert "Arrows choose" in text_on(app) and "chart number" not in text_on(app)
        await pilot.press("h", "escape")
        await pilot.pause()
        assert "Arrows choose" not in text_on(app) and "chart number" not in text_on(app)


async def test_the_challenge_stays_in_view_above_a_chart() -> None:
    async with running(screen_views.mid_list()) as (app, pilot, _):
        app.on_chart = lambda *_: ("a chart",)
        await pilot.press("h")
        await pilot.pause()
        current = screen_views.mid_list().current
        assert current is not None
        assert current.challenge.upper() in text_on(app)


async def test_in_a_drill_the_keys_have_the_words_of_a_drill() -> None:
    app = FullScreen(drill=True)
    async with app.run_test(size=(80, 24)) as pilot:
        app.show(screen_views.mid_list())
        await pilot.pause()
        shown = text_on(app)
        assert "w hint" in shown and "o tell me" in shown and "q stop" in shown
        assert "reject" not in shown and "go back" not in shown
        await pilot.press("q")
        await pilot.pause()
        assert "Stop the drill?" in text_on(app)
