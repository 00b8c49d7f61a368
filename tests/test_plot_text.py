"""Charts of plain characters: their size, their letters, their scales and their faults."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plot_aircraft import PICTURES, craft
from runner.errors import RunnerError
from runner.figures.sheet import Sheet
from runner.plot.diagram import diagrams_of
from runner.plot.shapes import Diagram, Line, Scale, Today
from runner.plot.text import LETTERS, diagram_lines, lettered, text_chart
from runner.plot.ticks import room, tick_labels, ticks

RISING = Line("rising", (((0.0, 0.0), (10.0, 100.0)),))
LEVEL = Line("level", (((0.0, 80.0), (4.0, 80.0)), ((6.0, 80.0), (10.0, 80.0))))


def drawn(number: int) -> Diagram:
    sheet = Sheet(craft())
    return diagrams_of(sheet, sheet.work_out({}), PICTURES[number])[0]


def places(lines: list[str], letter: str) -> list[tuple[int, int]]:
    """Rows from the top and columns of a character within the frame."""
    return [
        (row, column)
        for row, line in enumerate(lines)
        for column, one in enumerate(line)
        if one == letter
    ]


@pytest.mark.parametrize(("width", "height"), [(80, 20), (80, 24), (40, 10), (30, 8), (120, 40)])
def test_a_chart_is_as_large_as_asked(width: int, height: int) -> None:
    lines = text_chart([RISING, LEVEL], [(5.0, 50.0)], width, height)
    assert len(lines) == height
    assert max(map(len, lines)) <= width
    assert max(map(len, lines)) >= width - 2
    assert "\x1b" not in "".join(lines)


def test_a_rising_line_rises_from_corner_to_corner() -> None:
    lines = text_chart([RISING], width=60, height=20)
    found = sorted(places(lines, "a"), key=lambda place: place[1])
    assert all(after[0] <= before[0] for before, after in pairwise(found))
    assert found[0][0] == 17 and found[-1][0] == 0
    assert found[-1][1] == max(map(len, lines)) - 1


def test_lines_bear_letters_and_gaps_stay_open() -> None:
    lines = text_chart([RISING, LEVEL], width=60, height=20)
    (row,) = {row for row, _ in places(lines, "b")}
    gap = lines[row].index("b"), lines[row].rindex("b")
    assert " " in lines[row][gap[0] : gap[1]]


def test_todays_point_stands_over_the_lines() -> None:
    lines = text_chart([RISING], [(5.0, 50.0)], 61, 21)
    ((row, column),) = places(lines, "@")
    assert 8 <= row <= 10
    assert 28 <= column <= 34


def test_points_that_are_not_joined_are_points() -> None:
    dots = replace(RISING, joined=False)
    assert len(places(text_chart([dots], width=60, height=20), "a")) == 2
    assert len(places(text_chart([RISING], width=60, height=20), "a")) > 20


def test_lines_without_a_label_are_dots_beside_those_with_one() -> None:
    bare = replace(LEVEL, label="")
    assert [letter for letter, _ in lettered([RISING, bare, LEVEL])] == ["a", ".", "b"]
    assert [letter for letter, _ in lettered([bare])] == ["a"]
    many = [replace(RISING, label=str(n)) for n in range(len(LETTERS) + 2)]
    assert [letter for letter, _ in lettered(many)][-3:] == ["z", "+", "+"]


def test_one_chart_leaves_nothing_behind_for_the_next() -> None:
    first = text_chart([RISING], [(5.0, 50.0)], 60, 20)
    text_chart([LEVEL], width=40, height=10)
    assert text_chart([RISING], [(5.0, 50.0)], 60, 20) == first


def test_a_single_point_is_a_chart() -> None:
    lines = text_chart([], [(3.0, 4.0)], 40, 10)
    assert len(places(lines, "@")) == 1


@pytest.mark.parametrize(
    ("lines", "width", "height", "message"),
    [
        ([], 80, 20, "there is nothing to draw"),
        ([Line("a", ())], 80, 20, "there is nothing to draw"),
        ([RISING], 29, 20, "a chart needs 30 columns and 8 lines, not 29 and 20"),
        ([RISING], 80, 7, "a chart needs 30 columns and 8 lines, not 80 and 7"),
    ],
)
def test_what_cannot_be_drawn_is_one_line(
    lines: list[Line], width: int, height: int, message: str
) -> None:
    with pytest.raises(RunnerError, match=message):
        text_chart(lines, (), width, height)


def test_without_the_library_there_is_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "plotext", None)
    with pytest.raises(RunnerError, match="pip install plotext") as caught:
        text_chart([RISING])
    assert caught.value.status == 2


def test_a_diagram_has_its_title_its_scales_and_a_key() -> None:
    lines = diagram_lines(drawn(0))
    assert lines[0] == "climb power; up: pressure, inHg"
    assert lines[-3:] == [
        "across: altitude, ft",
        "lines: outside temperature, degC (today 10); gear low",
        "a -20   b 0   c 20   @ today 41.0 inHg",
    ]
    assert lines[-4].split() == ["0", "1000", "2000", "3000", "4000"]
    assert len(lines) == 1 + 20 + 3


def test_a_diagram_tells_its_marks_and_its_problems() -> None:
    lines = diagram_lines(drawn(3))
    assert "from 4000: gear high" in lines
    empty = Diagram(
        "e", "empty", Scale("x", "ft"), Scale("y"), problems=("no lines: " + "w " * 60,)
    )
    lines = diagram_lines(empty, 60)
    assert lines[:2] == ["empty; up: y", "across: x, ft"]
    assert lines[2].startswith("Warning: no lines: w w")
    assert max(map(len, lines)) <= 60


def test_a_point_without_lines_is_drawn() -> None:
    alone = Diagram("a", "alone", Scale("x"), Scale("y"), today=(Today((1.0, 2.0), "today 2"),))
    lines = diagram_lines(alone, 60, 10)
    assert len(places(lines[1:11], "@")) == 1
    assert lines[-1] == "@ today 2"


@given(
    st.floats(-1e5, 1e5),
    st.floats(1e-3, 1e5),
    st.integers(2, 12),
)
def test_ticks_are_round_evenly_spaced_and_within_the_scale(
    low: float, span: float, most: int
) -> None:
    high = low + span
    low, high = room(low, high)
    found = ticks(low, high, most)
    assert len(found) <= most
    slack = 1e-6 * max(abs(low), abs(high), span)
    assert all(low - slack <= one <= high + slack for one in found)
    steps = {round((after - before) / span, 6) for before, after in pairwise(found)}
    assert len(steps) <= 2


def test_ticks_of_scales_one_meets() -> None:
    assert ticks(-2000.0, 10000.0, 8) == [-2000.0, 0.0, 2000.0, 4000.0, 6000.0, 8000.0, 10000.0]
    assert ticks(44.3, 53.8, 6) == [46.0, 48.0, 50.0, 52.0]
    assert ticks(0.0, 1.0, 6) == [0.0, 0.2, 0.4, 0.6, 0.8, 1.0]
    assert tick_labels([0.0, 0.25, 0.5]) == ["0.00", "0.25", "0.50"]
    assert tick_labels([-0.0, 2000.0]) == ["0", "2000"]


def test_a_scale_of_one_value_has_room_about_it() -> None:
    assert room(40.0, 40.0) == (38.0, 42.0)
    assert room(0.0, 0.0) == (-0.5, 0.5)
    assert room(1.0, 2.0) == (1.0, 2.0)


@settings(max_examples=30, deadline=None)
@given(
    st.lists(st.tuples(st.floats(-1e4, 1e4), st.floats(-1e4, 1e4)), min_size=1, max_size=6),
    st.integers(30, 100),
    st.integers(8, 30),
)
def test_every_chart_has_its_size(
    points: list[tuple[float, float]], width: int, height: int
) -> None:
    lines = text_chart([Line("x", (tuple(points),))], points[:1], width, height)
    assert len(lines) == height
    assert max(map(len, lines)) <= width


def test_the_card_needs_no_library_of_charts() -> None:
    program = (
        "import sys\n"
        "import runner.commands.card, runner.plot.image, runner.plot.text\n"
        "heavy = {'matplotlib', 'plotext', 'rich', 'numpy'} & set(sys.modules)\n"
        "assert not heavy, heavy\n"
    )
    subprocess.run([sys.executable, "-c", program], check=True, timeout=60)
