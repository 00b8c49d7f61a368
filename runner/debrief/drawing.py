"""Pictures as SVG to stand in a page, drawn by matplotlib.

Black on white, as wide as a telephone held upright: there a point of type is one on paper.
No state is told by colour. Texts stay text and are escaped; none is read as a formula.
"""

from __future__ import annotations

import html
import io
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from runner.debrief.told import clock
from runner.errors import RunnerError

WIDTH = 3.6
"""Inches across."""

STYLE = {
    "font.family": ["DejaVu Sans", "sans-serif"],
    "font.size": 8.0,
    "axes.titlesize": 8.5,
    "axes.labelsize": 8.0,
    "axes.titlelocation": "left",
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.axisbelow": True,
    "grid.color": "0.85",
    "grid.linewidth": 0.6,
    "axes.unicode_minus": False,
    "svg.fonttype": "none",
    "text.parse_math": False,
    "hatch.linewidth": 0.6,
}

_NOTHING_OF_ITSELF = {"Date": None, "Creator": None, "Format": None, "Type": None}


def need_libraries() -> None:
    """Raises RunnerError where the libraries that the page is made with are not there."""
    try:
        import jinja2  # noqa: F401
        import matplotlib  # noqa: F401
    except ImportError as error:
        raise RunnerError(
            f"the page is made with {error.name}, which is not there; "
            "to have it: pip install 'runner-checklists[plot]'"
        ) from None


@contextmanager
def styled() -> Iterator[None]:
    """The style of the pictures, for as long as they are drawn."""
    from matplotlib import rc_context, style

    # The salt of the identifiers in an SVG file is none of a style's settings.
    with style.context(["default", STYLE]), rc_context({"svg.hashsalt": "runner"}):
        yield


def drawn(name: str, says: str, height: float, draw: Callable[[Any], None], rows: int = 1) -> str:
    """An SVG element: ``draw`` is given axes, or an array of ``rows`` of them.

    ``name`` keeps its identifiers apart from those of the page's other pictures; ``says`` is
    its text for those who do not see it. ``height`` in inches.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(WIDTH, height), layout="constrained")
    FigureCanvasAgg(figure)
    draw(figure.subplots(rows, 1))
    made = io.StringIO()
    figure.savefig(made, format="svg", metadata=_NOTHING_OF_ITSELF)
    return _element(made.getvalue(), name, says)


def _element(file: str, name: str, says: str) -> str:
    """The element of an SVG file, without what only a file of its own needs."""
    svg = file[file.index("<svg") :].rstrip()
    svg = re.sub(r"<metadata>.*?</metadata>", "", svg, flags=re.DOTALL)
    inside = svg[svg.index(">") + 1 :]
    found = re.search(r'viewBox="([^"]*)"', svg)
    assert found is not None
    names = dict.fromkeys(re.findall(r'<[^<>]* id="([^"]+)"', inside))
    for number, old in enumerate(names, 1):
        new = f"{name}-{number}"
        inside = inside.replace(f'id="{old}"', f'id="{new}"')
        inside = inside.replace(f"(#{old})", f"(#{new})").replace(f'"#{old}"', f'"#{new}"')
    label = html.escape(says, quote=True)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        f'viewBox="{found[1]}" role="img" aria-label="{label}">{inside}'
    )


def shortened(text: str, most: int) -> str:
    """A text of at most so many characters."""
    return text if len(text) <= most else text[: most - 1].rstrip() + "…"


def time_across(axes: Any, end: int) -> None:
    """An axis across in minutes and seconds of the run; values are milliseconds."""
    from matplotlib.ticker import FuncFormatter, MaxNLocator

    axes.set_xlim(0, max(end, 1000))
    axes.xaxis.set_major_locator(MaxNLocator(4, steps=[1, 1.2, 1.8, 2, 3, 6, 10]))
    axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: clock(int(value))))
