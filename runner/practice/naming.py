"""How an item is named aloud when it is recalled: by its challenge, short or long."""

from __future__ import annotations

from runner.checklist.model import Item
from runner.engine.program import Program
from runner.phrasing.normal import normalise
from runner.practice.cards import Figures, lines_of


def names_of(program: Program, item: Item, figures: Figures, engine: int | None) -> tuple[str, ...]:
    """Every way to name an item, as plain words: its challenge, its short form, and without
    what follows a comma ("magnetos" of "magnetos, engine two")."""
    lines = lines_of(program, item.id, figures, engine)
    written = (lines.challenge.text, lines.short.text, lines.challenge.text.split(",")[0])
    return tuple(name for name in dict.fromkeys(normalise(one) for one in written) if name)


def name_pattern(names: tuple[str, ...]) -> str:
    """A pattern of the names, with an article."""
    return f"(the)? ({' / '.join(names)})"
