"""The pictures of an aircraft on one sheet, as a PNG or SVG file, drawn by matplotlib.

Made for print and for readers who do not tell colours apart: lines are black and differ
by their dashes, each bears its label at its end, and today's point is a ring. The same
figures give the same SVG file, byte for byte.
"""

from __future__ import annotations

import io
import re
import textwrap
from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

from runner.errors import RunnerError
from runner.figures.card import WARNING
from runner.plot.diagram import diagrams_of
from runner.plot.shapes import Diagram, Line, Point

if TYPE_CHECKING:
    from runner.figures.sheet import Sheet, Worked

ENDINGS = (".png", ".svg")
PANEL = (6.2, 4.4)
"""Inches of one panel across and up."""

DASHES: tuple[tuple[float, ...], ...] = ((), (6, 2), (2, 1.5), (7, 2, 1.5, 2), (10, 3), (1, 2.5))
"""Dashes of the lines in turn, in points of line and gap; the first is unbroken."""

LABEL = 8.0
"""Points of the type of a line's label."""

WHITE = {"boxstyle": "square,pad=0.15", "facecolor": "white", "edgecolor": "none"}
"""What keeps lines from running through words."""

STYLE = {
    "font.family": ["DejaVu Sans", "sans-serif"],
    "font.size": 9.0,
    "axes.titlesize": 10.5,
    "axes.titleweight": "bold",
    "axes.titlelocation": "left",
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.grid": True,
    "grid.color": "0.88",
    "grid.linewidth": 0.6,
    "axes.unicode_minus": False,
    "svg.fonttype": "none",
}


def draw_pictures(sheet: Sheet, worked: Worked, file: Path) -> int:
    """Draw every picture of the aircraft into ``file`` and give how many there are.

    Raises RunnerError where the file's name does not end in .png or .svg, the aircraft has
    no pictures, matplotlib is not there, or the file cannot be written.
    """
    if file.suffix.lower() not in ENDINGS:
        raise RunnerError(f"--plot {file}: its name should end in {' or '.join(ENDINGS)}")
    craft = worked.aircraft
    if not craft.pictures:
        raise RunnerError(f"--plot {file}: {craft.name} has no pictures")
    _need_matplotlib()
    panels = [diagrams_of(sheet, worked, one) for one in craft.pictures.values()]
    draw_panels(craft.name, panels, file)
    return len(panels)


def draw_panels(name: str, panels: Sequence[Sequence[Diagram]], file: Path) -> None:
    """Draw panels of one or more diagrams one above another into ``file``."""
    from matplotlib import rc_context, style
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure
    from matplotlib.layout_engine import ConstrainedLayoutEngine

    columns = _columns(panels)
    height = max(sum(map(_height, column)) for column in columns)
    size = (PANEL[0] * len(columns), PANEL[1] * height + 0.9)
    # The salt of the identifiers in an SVG file is none of a style's settings.
    with style.context(["default", STYLE]), rc_context({"svg.hashsalt": "runner"}):
        figure = Figure(figsize=size, layout=ConstrainedLayoutEngine(w_pad=0.12, h_pad=0.12))
        FigureCanvasAgg(figure)
        figure.suptitle(f"{name}, today\n{WARNING}", fontweight="bold")
        figure.supxlabel(WARNING, fontweight="bold", fontsize=9.0)
        grid = figure.add_gridspec(1, len(columns))
        labels = []
        for number, column in enumerate(columns):
            heights = [*map(_height, column)]
            empty = height - sum(heights)
            ratios = [*heights, *([empty] if empty > 0 else [])]
            cells = grid[number].subgridspec(len(ratios), 1, height_ratios=ratios)
            for row, panel in enumerate(column):
                inner = cells[row].subgridspec(len(panel), 1)
                for place, diagram in enumerate(panel):
                    axes = figure.add_subplot(inner[place])
                    labels.append((axes, _draw(axes, diagram, first=place == 0)))
        # Only once everything has its place can labels be kept from lying upon one another.
        figure.draw_without_rendering()
        for axes, texts in labels:
            _spread(axes, texts)
        try:
            if file.suffix.lower() == ".svg":
                made = io.StringIO()
                figure.savefig(made, format="svg", metadata={"Date": None})
                file.write_text(_renamed(made.getvalue()), encoding="utf-8")
            else:
                figure.savefig(file, dpi=150)
        except OSError as error:
            reason = error.strerror or str(error)
            raise RunnerError(f"--plot {file}: cannot be written: {reason}") from error


def _renamed(svg: str) -> str:
    """The clip paths numbered in their order: matplotlib names them by where they lie in
    memory, and the same picture would be another file each time."""
    names = dict.fromkeys(re.findall(r'<clipPath id="([^"]+)">', svg))
    for number, name in enumerate(names, 1):
        svg = svg.replace(f'"{name}"', f'"clip{number}"').replace(f"#{name})", f"#clip{number})")
    return svg


def _columns(panels: Sequence[Sequence[Diagram]]) -> list[list[Sequence[Diagram]]]:
    """Panels in one column, or in two about as high as one another."""
    columns: list[list[Sequence[Diagram]]] = [[] for _ in range(min(len(panels), 2))]
    for panel in panels:
        min(columns, key=lambda column: sum(map(_height, column))).append(panel)
    return columns


def _height(panel: Sequence[Diagram]) -> float:
    """How many panels high: further diagrams of one panel are lower than the first."""
    return 1.0 + 0.6 * (len(panel) - 1)


def _draw(axes: Any, diagram: Diagram, first: bool) -> list[Any]:
    """Draw one diagram; gives the labels that may have to make room for one another."""
    notes = [diagram.note, *diagram.problems]
    under = "\n".join(part for note in notes for part in textwrap.wrap(note, 84))
    if first:
        axes.set_title(diagram.title, pad=8 + 11 * (under.count("\n") + 1 if under else 0))
    if under:
        axes.annotate(
            under,
            (0, 1),
            xytext=(0, 5),
            xycoords="axes fraction",
            textcoords="offset points",
            fontsize=LABEL,
            va="bottom",
        )
    axes.set_xlabel(diagram.across.label)
    axes.set_ylabel(diagram.up.label)
    axes.ticklabel_format(useOffset=False, style="plain")
    axes.margins(x=0.02, y=0.08)
    labels = []
    labelled = any(line.label for line in diagram.lines)
    for number, line in enumerate(diagram.lines):
        # What only closes an envelope is thinner than its limits.
        width = 0.9 if labelled and not line.label else 1.4
        if (text := _line(axes, line, number, width)) is not None:
            labels.append(text)
    for mark in diagram.marks:
        axes.axvline(mark.at, color="0.4", linewidth=0.8, dashes=(1, 2))
        axes.annotate(
            mark.label,
            (mark.at, 0),
            xycoords=("data", "axes fraction"),
            xytext=(3, 4),
            textcoords="offset points",
            fontsize=LABEL,
            rotation=90,
            va="bottom",
            color="0.25",
            bbox=WHITE,
        )
    for today in diagram.today:
        axes.plot(
            *today.at,
            marker="X" if today.refused else "o",
            markersize=12 if today.refused else 9,
            markerfacecolor="white",
            markeredgecolor="black",
            markeredgewidth=2.2,
            linestyle="none",
            zorder=5,
        )
        right = _is_right(axes, today.at[0])
        axes.annotate(
            today.label,
            today.at,
            xytext=(-9 if right else 9, 9),
            textcoords="offset points",
            ha="right" if right else "left",
            fontweight="bold",
            fontsize=9.0,
            zorder=6,
            bbox=WHITE,
        )
    return labels


def _is_right(axes: Any, at: float) -> bool:
    """Whether a place lies so far right that what stands beside it stands left of it."""
    low, high = axes.get_xlim()
    return bool(at > low + 0.6 * (high - low))


def _line(axes: Any, line: Line, number: int, width: float) -> Any:
    """Draw a line; gives the label at its end, or None where it has none there."""
    dashes = DASHES[number % len(DASHES)] if line.label else ()
    for part in line.parts:
        alone = not line.joined or len(part) == 1
        (drawn,) = axes.plot(
            [x for x, _ in part],
            [y for _, y in part],
            color="black",
            linewidth=width,
            linestyle="none" if alone else "-",
            marker="o" if alone or line.marked else "",
            markersize=3,
        )
        if dashes and not alone:
            drawn.set_dashes(dashes)
    if not line.label or not line.parts:
        return None
    if line.beside == "end":
        at, offset, ha = line.parts[-1][-1], 5, "left"
    else:
        at = _middle(line.parts[0])
        offset, ha = (6, "left") if line.beside == "right" else (-6, "right")
    text = axes.annotate(
        line.label,
        at,
        xytext=(offset, 0 if line.beside == "end" else -LABEL),
        textcoords="offset points",
        fontsize=LABEL,
        ha=ha,
        va="center",
        annotation_clip=False,
    )
    return text if line.beside == "end" else None


def _middle(part: Sequence[Point]) -> Point:
    """The place of a line at half its height."""
    half = (part[0][1] + part[-1][1]) / 2
    for (x, y), (other_x, other_y) in pairwise(part):
        if y <= half <= other_y and other_y > y:
            return x + (other_x - x) * (half - y) / (other_y - y), half
    return part[len(part) // 2]


def _spread(axes: Any, texts: Sequence[Any]) -> None:
    """Move labels that lie upon one another apart, up and down."""
    ends = [axes.transData.transform(text.xy) for text in texts]
    gap = LABEL * 1.25 * axes.figure.dpi / 72
    order = sorted(range(len(texts)), key=lambda index: ends[index][1])
    groups: list[tuple[list[int], float]] = []
    for index in order:
        group, middle = [index], ends[index][1]
        while groups:
            before, below = groups[-1]
            if middle - below >= gap * (len(group) + len(before)) / 2:
                break
            groups.pop()
            middle = (middle * len(group) + below * len(before)) / (len(group) + len(before))
            group = before + group
        groups.append((group, middle))
    for group, middle in groups:
        for place, index in enumerate(group):
            wanted = middle + (place - (len(group) - 1) / 2) * gap
            texts[index].set_position((5, (wanted - ends[index][1]) * 72 / axes.figure.dpi))


def _need_matplotlib() -> None:
    try:
        import matplotlib  # noqa: F401
    except ImportError:
        raise RunnerError(
            "pictures are drawn by matplotlib, which is not there; "
            "to have it: pip install 'runner-checklists[plot]'"
        ) from None
