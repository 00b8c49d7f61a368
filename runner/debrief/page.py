"""A debrief as one HTML file: no script, nothing from elsewhere, every text escaped.

Its template stands beside this file. What is told of a run comes from files that anybody
may have written: the template escapes every value but the pictures, whose markup the
drawing library makes and whose texts it escapes; and the page forbids scripts by itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from importlib.resources import files
from typing import Any

from runner.debrief.comparison import Comparison
from runner.debrief.kept import Book
from runner.debrief.looked import Debrief
from runner.debrief.parts import Section
from runner.debrief.past import RunTold
from runner.debrief.sections import sections_of
from runner.debrief.summary import ending, in_short
from runner.debrief.told import WARNING, clock, day


def page(
    book: Book,
    told: Debrief,
    other: int | None,
    comparison: Comparison | None,
    trend: Sequence[RunTold],
    now: datetime,
) -> str:
    """The page of a run; ``other`` is the run that it is compared with.

    Raises RunnerError where what it is made with is not there.
    """
    record = told.record
    return render(
        title=f"{record.procedures}: debrief of run {told.row.id}",
        what=(
            f"{record.aircraft}, {day(told.row.started)}, {clock(record.length)} from the first "
            f"challenge to the last; {ending(record)}."
        ),
        short=in_short(told).capitalize() + ".",
        sections=sections_of(book, told, other, comparison, trend, now),
    )


def render(title: str, what: str, short: str, sections: Sequence[Section]) -> str:
    """The template filled in."""
    from jinja2 import Environment, StrictUndefined
    from markupsafe import Markup

    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    source = files("runner.debrief").joinpath("page.html").read_text(encoding="utf-8")
    plain: list[dict[str, Any]] = [
        {
            "title": section.title,
            "text": section.text,
            "advice": section.advice,
            "tables": section.tables,
            "pictures": [{"svg": Markup(p.svg), "says": p.says} for p in section.pictures],
        }
        for section in sections
    ]
    return environment.from_string(source).render(
        title=title, what=what, short=short, sections=plain, warning=WARNING
    )
