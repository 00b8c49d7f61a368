"""The data card: inputs, figures and what could not be worked out, as plain text."""

from __future__ import annotations

import textwrap

from runner.figures.figure import Figure
from runner.figures.model import Aircraft, Input
from runner.figures.sheet import Worked

WARNING = "For simulation and training, not for flight; the approved manual decides."
"""Stands on every data card and every printed page."""


def card_lines(worked: Worked, aircraft: Aircraft, width: int = 80) -> list[str]:
    """The data card in lines of at most ``width`` characters.

    Figures stand under the headings of their groups, in the order of the file; figures
    that do not apply now are left out; problems follow as warnings.
    """
    lines = [*_wrapped(f"{aircraft.name}: data card", width), *_wrapped(WARNING, width)]
    inputs = [
        (_title(one), worked.figures[name], _origin(worked, one))
        for name, one in aircraft.inputs.items()
        if name in worked.figures
    ]
    groups: dict[str, list[tuple[str, Figure, str]]] = {}
    for name, rule in aircraft.figures.items():
        if name in worked.figures:
            row = (rule.title or _spaced(name), worked.figures[name], "")
            groups.setdefault(rule.group or "Figures", []).append(row)
    sections = [("Inputs", inputs), *groups.items()]
    rows = [row for _, section in sections for row in section]
    title_width = min(max((len(title) for title, _, _ in rows), default=0), width // 2)
    shown_width = max((len(figure.shown) for _, figure, _ in rows), default=0)
    for heading, section in sections:
        if not section:
            continue
        lines += ["", *_wrapped(heading, width)]
        for row in section:
            lines += _row(row, title_width, shown_width, width)
    warnings = [*_problems(worked, aircraft)]
    if warnings:
        lines.append("")
        for warning in warnings:
            lines += _wrapped(f"Warning: {warning}", width, "  ")
    return lines


def _problems(worked: Worked, aircraft: Aircraft) -> list[str]:
    named: dict[str, str] = {name: _title(one) for name, one in aircraft.inputs.items()}
    named |= {name: one.title or _spaced(name) for name, one in aircraft.figures.items()}
    return [
        f"no {title}: {worked.problems[name]}"
        for name, title in named.items()
        if name in worked.problems
    ]


def _row(row: tuple[str, Figure, str], title_width: int, shown_width: int, width: int) -> list[str]:
    title, figure, origin = row
    value = _aligned(figure, shown_width)
    told = f"{value} {figure.unit}".rstrip() + (f"  ({origin})" if origin else "")
    *above, last = textwrap.wrap(title, title_width) or [""]
    line = f"  {last.ljust(title_width)}  {told}"
    if len(line) <= width:
        return [f"  {part}" for part in above] + [line]
    return [*_wrapped(f"  {title}", width, "  "), *_wrapped(f"    {told.strip()}", width, "    ")]


def _origin(worked: Worked, one: Input) -> str:
    if one.name in worked.given:
        return ""
    return "worked out" if one.formula is not None else "default"


def _title(one: Input) -> str:
    return one.title or _spaced(one.name)


def _spaced(name: str) -> str:
    return name.replace("_", " ")


def _wrapped(text: str, width: int, indent: str = "") -> list[str]:
    return textwrap.wrap(text, width, subsequent_indent=indent) or [""]


def _aligned(figure: Figure, width: int) -> str:
    """Numbers to the right, so that their places stand one under another; words left."""
    return figure.shown.ljust(width) if isinstance(figure.value, str) else figure.shown.rjust(width)
