"""Diagrams as lines of plain characters, for a terminal of any kind, without colour.

Each line of a diagram is drawn with a letter of its own, which the key below names;
today's point is ``@``. What draws is the library ``plotext``.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from importlib import import_module
from typing import Any

from runner.errors import RunnerError
from runner.plot.shapes import Diagram, Line, Point
from runner.plot.ticks import room, tick_labels, ticks

LETTERS = "abcdefghijklmnopqrstuvwxyz"
TODAY = "@"
HEIGHT = 20
SMALLEST = (30, 8)
"""Columns and rows of the smallest chart that can still be read."""


def text_chart(
    lines: Sequence[Line], today: Sequence[Point] = (), width: int = 80, height: int = HEIGHT
) -> list[str]:
    """A chart of ``height`` lines of at most ``width`` characters, with its scales.

    The first line is drawn with ``a``, the next with ``b`` and so on; lines without a
    label, such as those that close an envelope, with dots. Raises RunnerError where there
    is nothing to draw, no room for it, or no ``plotext``.
    """
    points = [point for line in lines for part in line.parts for point in part] + list(today)
    if not points:
        raise RunnerError("there is nothing to draw: no line and no point")
    if width < SMALLEST[0] or height < SMALLEST[1]:
        raise RunnerError(
            f"a chart needs {SMALLEST[0]} columns and {SMALLEST[1]} lines, not {width} and {height}"
        )
    plotext = _plotext()
    # The library keeps one figure for the whole program: it is cleared before and after.
    figure = plotext.figure.clear()
    try:
        plotext.terminal.limit(False, False)
        figure.plot_size(width, height)
        figure.theme("colorless")
        figure.axes(False, axis=(0, 1), side=1)
        for axis, values in enumerate(zip(*points, strict=True)):
            low, high = room(min(values), max(values))
            places = ticks(low, high, (width // 10, height // 3)[axis])
            figure.ruler(axis, 0).lim(low, high)
            figure.ruler(axis, 0).ticks(places, tick_labels(places))
        for letter, line in lettered(lines):
            for part in line.parts:
                xs, ys = [x for x, _ in part], [y for _, y in part]
                figure.draw(figure.signal(xs, ys, marker=letter).lines(line.joined))
        for x, y in today:
            figure.draw(figure.signal([x], [y], marker=TODAY))
        text: str = figure.build().string(colorless=True)
    finally:
        plotext.figure.clear()
        plotext.terminal.limit()
    return [line.rstrip() for line in text.splitlines()]


def lettered(lines: Iterable[Line]) -> list[tuple[str, Line]]:
    """Each line with the character that it is drawn with."""
    drawn = tuple(lines)
    letters = iter(LETTERS)
    alone = not any(line.label for line in drawn)
    return [(next(letters, "+") if line.label or alone else ".", line) for line in drawn]


def diagram_lines(diagram: Diagram, width: int = 80, height: int = HEIGHT) -> list[str]:
    """A diagram as text: its title, the chart, its key, and what it cannot show."""
    key = [f"{letter} {line.label}" for letter, line in lettered(diagram.lines) if line.label]
    key += [f"{TODAY} {one.label}" for one in diagram.today]
    below = [f"across: {diagram.across.label}", diagram.note, "   ".join(key)]
    below += [f"from {tick_labels([one.at])[0]}: {one.label}" for one in diagram.marks]
    below += [f"Warning: {one}" for one in diagram.problems]
    lines = textwrap.wrap(f"{diagram.title}; up: {diagram.up.label}", width)
    if diagram.lines or diagram.today:
        lines += text_chart(diagram.lines, [one.at for one in diagram.today], width, height)
    return lines + [part for line in below for part in textwrap.wrap(line, width)]


def _plotext() -> Any:
    try:
        return import_module("plotext")
    except ImportError:
        raise RunnerError(
            "charts of text are drawn by plotext, which is not there; "
            "to have it: pip install plotext"
        ) from None
