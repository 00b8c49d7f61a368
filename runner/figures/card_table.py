"""The data card as tables: with weight on a terminal, else as plain lines.

Weight alone marks what matters, no colour; in plain lines the words say the same.
"""

from __future__ import annotations

import io
import textwrap
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, TextIO

from runner.figures.card import WARNING, Card, CardFigure, CardSchedule
from runner.figures.figure import Figure
from runner.figures.rounding import shown
from runner.figures.schedule import change_lines, schedule_lines

if TYPE_CHECKING:
    from rich.console import Console, RenderableType

WIDTH = 80
"""No card is wider, however wide the terminal."""

NARROW = 48
"""Below this many columns a row is one sentence, as a table would cut it to pieces."""

GAP = 2


def print_card(card: Card, file: TextIO) -> None:
    """Print to ``file``: with weight on a terminal, else plain lines without any style."""
    from rich.console import Console

    console = Console(file=file, highlight=False)
    if not console.is_terminal:
        print("\n".join(card_lines(card)), file=file)
        return
    console.width = min(console.width, WIDTH)
    _print(card, console)


def card_lines(card: Card, width: int = WIDTH) -> list[str]:
    """The card in plain lines of at most ``width`` characters."""
    from rich.console import Console

    file = io.StringIO()
    console = Console(file=file, width=width, force_terminal=False, color_system=None)
    _print(card, console)
    return [line.rstrip() for line in file.getvalue().splitlines()]


@dataclass(frozen=True, slots=True)
class _Row:
    title: str
    figure: Figure | None
    unit: str
    last: str
    strong: bool = False

    @property
    def value(self) -> str:
        return self.figure.shown if self.figure else "none"

    @property
    def is_number(self) -> bool:
        return self.figure is not None and not isinstance(self.figure.value, str)


@dataclass(frozen=True, slots=True)
class _Section:
    title: str
    last: str
    rows: tuple[_Row, ...]


def _sections(card: Card) -> Iterator[_Section]:
    if card.inputs:
        rows = [_Row(one.title, one.figure, one.unit, one.origin) for one in card.inputs]
        yield _Section("Inputs", "from", tuple(rows))
    groups: dict[str, list[_Row]] = {}
    for figure in card.figures:
        groups.setdefault(figure.group or "Figures", []).append(_figure_row(figure))
    for title, rows in groups.items():
        yield _Section(title, "margin", tuple(rows))


def _figure_row(one: CardFigure) -> _Row:
    if one.figure is None:
        return _Row(one.title, None, "", "see warnings", strong=True)
    nearest = one.nearest
    if nearest is None or nearest.margin is None:
        return _Row(one.title, one.figure, one.unit, "")
    if nearest.margin == 0:
        return _Row(one.title, one.figure, one.unit, f"at {shown(nearest.value)} limit", True)
    way = "below" if nearest.way == "at most" else "above"
    last = f"{nearest.margin:.{one.decimals}f} {way} {shown(nearest.value)}"
    return _Row(one.title, one.figure, one.unit, last)


def _print(card: Card, console: Console) -> None:
    from rich.text import Text

    console.print(Text(f"{card.aircraft}: take-off and landing data card", style="bold"))
    console.print(Text(WARNING, style="bold"))
    if card.warnings:
        count = len(card.warnings)
        told = "1 warning stands" if count == 1 else f"{count} warnings stand"
        console.print(Text(f"{told} at the end.", style="bold"))
    sections = tuple(_sections(card))
    for section in sections:
        console.print()
        if console.width < NARROW:
            _print_sentences(section, console)
        else:
            console.print(_table(section, _widths(sections, console.width)))
    for schedule in card.schedules:
        _print_schedule(schedule, console)
    console.print()
    if card.warnings:
        console.print(Text("Warnings", style="bold"))
        for warning in card.warnings:
            console.print(_hanging(warning, console.width))
    else:
        console.print(Text("No warnings."))
    console.print()
    console.print(Text(WARNING, style="bold"))


def _widths(sections: tuple[_Section, ...], width: int) -> tuple[int, int, int, int]:
    """Columns that stand one under another in every section. Numbers are never cut: what
    is too long for the width is broken in the title or the last column."""
    rows = [row for section in sections for row in section.rows]
    value = max(len(row.value) if row.is_number else min(len(row.value), 12) for row in rows)
    value = max(len("value"), value)
    unit = max(len("unit"), *(len(row.unit) for row in rows))
    last = max(len("margin"), *(len(row.last) for row in rows))
    title = max(len(text) for one in sections for text in (one.title, *(r.title for r in one.rows)))
    title = min(title + GAP, max(16, width - value - unit - last - 3 * GAP))
    last = min(last, width - title - value - unit - 3 * GAP)
    return title, value, unit, max(last, len("margin"))


def _table(section: _Section, widths: tuple[int, int, int, int]) -> RenderableType:
    from rich.padding import Padding
    from rich.table import Table
    from rich.text import Text

    table = Table(box=None, padding=(0, GAP, 0, 0), pad_edge=False, header_style="")
    headings = (Text(section.title, style="bold"), *map(Text, ("value", "unit", section.last)))
    for heading, width in zip(headings, widths, strict=True):
        justify = "right" if heading.plain == "value" else "left"
        table.add_column(heading, width=width, justify=justify, overflow="fold")  # type: ignore[arg-type]
    for row in section.rows:
        strong = "bold" if row.strong else ""
        value = Text(row.value, style="bold", justify="right" if row.is_number else "left")
        title = Padding(Text(row.title), (0, 0, 0, GAP))
        table.add_row(title, value, Text(row.unit), Text(row.last, style=strong))
    return table


def _print_sentences(section: _Section, console: Console) -> None:
    from rich.text import Text

    console.print(Text(section.title, style="bold"))
    for row in section.rows:
        value = f"{row.value} {row.unit}".strip()
        last = f"margin {row.last}" if row.last[:1].isdigit() else row.last
        text = f"{row.title}: {', '.join(filter(None, (value, last)))}"
        console.print(_hanging(text, console.width))


def _print_schedule(one: CardSchedule, console: Console) -> None:
    from rich.text import Text

    if one.worked is None:
        return
    # The warnings of its rows stand among those of the whole card.
    rows = tuple(replace(row, problems={}) for row in one.worked.rows)
    width = console.width
    lines = schedule_lines(replace(one.worked, rows=rows), width)
    console.print()
    console.print(Text(one.title[:1].upper() + one.title[1:], style="bold"))
    heading = len(textwrap.wrap(one.title, width))
    console.print(Text("\n".join(lines[heading + 1 :])), no_wrap=True, overflow="ignore")
    if one.changes:
        console.print()
        console.print(Text(f"Changes to call, {one.title}", style="bold"))
        for line in change_lines(one.changes, width - GAP):
            console.print(Text(f"{' ' * GAP}{line}"))


def _hanging(text: str, width: int) -> RenderableType:
    """A paragraph whose further lines stand further in than its first."""
    from rich.text import Text

    indent = " " * GAP
    return Text(textwrap.fill(text, width, initial_indent=indent, subsequent_indent=indent * 2))
