"""Pictures of the full screen, held as they were last looked at."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from typing import Any

import pytest
from textual.app import App
from textual.pilot import Pilot

import screen_views
from runner.checklist.load import find_file, load_aircraft
from runner.engine.view import View
from runner.figures.sheet import Sheet
from runner.plot.diagram import diagrams_of
from runner.plot.text import diagram_lines
from runner.screen.full import FullScreen

Compare = Callable[..., bool]
Chart = Callable[[int, int, int], tuple[str, ...]]

SMALL = (80, 24)
LARGE = (120, 40)
SIZES = pytest.mark.parametrize("size", [SMALL, LARGE], ids=["80x24", "120x40"])


def picture(
    compare: Compare,
    view: View,
    size: tuple[int, int],
    *,
    press: tuple[str, ...] = (),
    look: Any = "paper",
    state: str = "open",
    chart: Chart | None = None,
) -> bool:
    app = FullScreen(look=look)
    app.on_chart = chart or app.on_chart
    # The fixture runs an app by Textual's own blocking call, which ours replaces.
    app.run = partial(App.run, app)  # type: ignore[method-assign,assignment]

    async def before(pilot: Pilot[None]) -> None:
        app.show(view)
        app.level(-22.0, state)
        await pilot.press(*press)
        await pilot.pause()

    return compare(app, terminal_size=size, run_before=before)


@SIZES
def test_mid_list_with_figures(snap_compare: Compare, size: tuple[int, int]) -> None:
    assert picture(snap_compare, screen_views.mid_list(), size, state="hearing speech")


@SIZES
def test_wrong_answer_just_heard(snap_compare: Compare, size: tuple[int, int]) -> None:
    assert picture(snap_compare, screen_views.wrong_answer(), size, state="shut")


@SIZES
def test_figures_changed(snap_compare: Compare, size: tuple[int, int]) -> None:
    assert picture(snap_compare, screen_views.figures_changed(), size, look="night")


@SIZES
def test_abnormal_list_over_an_interrupted_one(
    snap_compare: Compare, size: tuple[int, int]
) -> None:
    assert picture(snap_compare, screen_views.abnormal(), size)


@SIZES
def test_choice(snap_compare: Compare, size: tuple[int, int]) -> None:
    assert picture(snap_compare, screen_views.choosing(), size)


@SIZES
def test_finished_with_items_open(snap_compare: Compare, size: tuple[int, int]) -> None:
    assert picture(snap_compare, screen_views.finished_open(), size)


@SIZES
def test_waiting_for_a_list_to_be_called(snap_compare: Compare, size: tuple[int, int]) -> None:
    assert picture(snap_compare, screen_views.waiting(), size)


@SIZES
def test_list_offered(snap_compare: Compare, size: tuple[int, int]) -> None:
    assert picture(snap_compare, screen_views.offering(), size)


@SIZES
def test_standing_by_with_keys_only(snap_compare: Compare, size: tuple[int, int]) -> None:
    view = replace(screen_views.mid_list(), standing_by=True, activity="standing by")
    assert picture(snap_compare, view, size, state="no microphone")


@SIZES
@pytest.mark.parametrize("look", ["terminal", "paper"])
def test_without_colour(
    snap_compare: Compare, size: tuple[int, int], look: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    assert picture(snap_compare, screen_views.mid_list(), size, look=look)


def test_lists_being_searched(snap_compare: Compare) -> None:
    view = screen_views.mid_list()
    assert picture(snap_compare, view, SMALL, press=("l", *"engine", "space", "3", "down"))


def test_all_figures_on_a_small_screen(snap_compare: Compare) -> None:
    assert picture(snap_compare, screen_views.mid_list(), SMALL, press=("f", "down"))


def balance(_number: int, width: int, height: int) -> tuple[str, ...]:
    """The shipped aircraft's balance envelope with its default load, as text."""
    aircraft = load_aircraft(find_file("whimbrel-four-aircraft", ("checklists",)))
    sheet = Sheet(aircraft)
    (diagram,) = diagrams_of(sheet, sheet.work_out({}), aircraft.pictures["balance"])
    return tuple(diagram_lines(diagram, width, height - 6))


@SIZES
def test_a_chart_in_place_of_the_list(snap_compare: Compare, size: tuple[int, int]) -> None:
    view = screen_views.mid_list()
    assert picture(snap_compare, view, size, press=("h",), chart=balance)


def test_question_before_a_reject(snap_compare: Compare) -> None:
    assert picture(snap_compare, screen_views.mid_list(), SMALL, press=("R",))


def test_typing_a_number(snap_compare: Compare) -> None:
    view = screen_views.figures_changed()
    assert picture(snap_compare, view, SMALL, press=("1", "0", "6"))


@pytest.mark.parametrize("size", [(40, 10), (60, 16), (20, 4)], ids=["40x10", "60x16", "20x4"])
def test_terminal_too_small_keeps_the_challenge(
    snap_compare: Compare, size: tuple[int, int]
) -> None:
    assert picture(snap_compare, screen_views.mid_list(), size)
