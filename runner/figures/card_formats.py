"""The data card for other programs: as JSON and as CSV."""

from __future__ import annotations

import csv
import io
import json

from runner.figures.card import WARNING, Card, CardFigure, CardInput, CardSchedule
from runner.figures.figure import Figure
from runner.figures.rounding import shown

COLUMNS = (
    "name",
    "title",
    "group",
    "value",
    "unit",
    "at_least",
    "at_most",
    "margin",
    "problem",
    "use",
)
"""The headings of the CSV."""


def card_json(card: Card) -> str:
    """The card as JSON.

    An object with ``card`` (1, the number of this shape), ``aircraft``, ``warning`` (that
    it is for training only), ``inputs``, ``figures``, ``schedules`` and ``warnings`` (lines
    of text).

    - An input has ``name``, ``title``, ``value``, ``unit``, ``shown`` and ``origin``
      (given, report, worked out, default or not given).
    - A figure has ``name``, ``title``, ``group``, ``value``, ``unit``, ``shown``,
      ``limits`` (``at least`` and ``at most``, where it has them), ``margin`` (from the
      nearer one) and ``problem``.
    - A schedule has ``name``, ``title``, ``varies`` (the name of what varies), ``rows``
      (``at``, and ``figures`` by their names), ``changes`` worth calling (``name``,
      ``at``, ``before``, ``after``) and ``problem``; each value in it has ``value``,
      ``unit`` and ``shown``.

    A value is a number in ``unit`` or a word, ``shown`` the same with the places that are
    said; what is not known is null, and ``problem`` is '' where there is none. Keys are
    added where need be; none goes or changes its meaning.
    """
    return json.dumps(
        {
            "card": 1,
            "aircraft": card.aircraft,
            "warning": WARNING,
            "inputs": [
                {"name": one.name, "title": one.title, **_value(one), "origin": one.origin}
                for one in card.inputs
            ],
            "figures": [
                {
                    "name": one.name,
                    "title": one.title,
                    "group": one.group,
                    **_value(one),
                    "limits": {limit.way: limit.value for limit in one.limits},
                    "margin": one.margin,
                    "problem": one.problem,
                }
                for one in card.figures
            ],
            "schedules": [_schedule(one) for one in card.schedules],
            "warnings": list(card.warnings),
        },
        indent=2,
        ensure_ascii=False,
    )


def card_csv(card: Card) -> str:
    """The card's figures as CSV, one row a figure, below a row of headings; what is not
    known is empty. Every row says that it is for training only."""
    file = io.StringIO()
    writer = csv.writer(file, lineterminator="\n")
    writer.writerow(
        [
            "name",
            "title",
            "group",
            "value",
            "unit",
            "at_least",
            "at_most",
            "margin",
            "problem",
            "use",
        ],
    )
    for one in card.figures:
        limits = {limit.way: shown(limit.value) for limit in one.limits}
        margin = "" if one.margin is None else f"{one.margin:.{one.decimals}f}"
        writer.writerow(
            (
                one.name,
                one.title,
                one.group,
                one.figure.shown if one.figure else "",
                one.unit,
                limits.get("at least", ""),
                limits.get("at most", ""),
                margin,
                one.problem,
                WARNING,
            )
        )
    return file.getvalue()


def _value(one: CardInput | CardFigure) -> dict[str, float | str | None]:
    if one.figure is None:
        return {"value": None, "unit": one.unit, "shown": None}
    return _shown(one.figure)


def _shown(figure: Figure) -> dict[str, float | str | None]:
    return {"value": figure.value, "unit": figure.unit, "shown": figure.shown}


def _schedule(one: CardSchedule) -> dict[str, object]:
    rows = one.worked.rows if one.worked else ()
    return {
        "name": one.name,
        "title": one.title,
        "varies": one.varies,
        "rows": [
            {
                "at": _shown(row.varying),
                "figures": {name: _shown(figure) for name, figure in row.figures.items()},
            }
            for row in rows
        ],
        "changes": [
            {
                "name": change.name,
                "at": _shown(change.varying),
                "before": _shown(change.before),
                "after": _shown(change.after),
            }
            for change in one.changes
        ],
        "problem": one.problem,
    }
