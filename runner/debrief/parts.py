"""The parts of a debrief's page: sections of sentences, advice, pictures and tables."""

from __future__ import annotations

from dataclasses import dataclass

from runner.debrief.advice import Advice


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawn picture and what it says, in words. ``svg`` is markup made by the drawing
    library, which escapes the texts in it."""

    svg: str
    says: str


@dataclass(frozen=True, slots=True)
class Table:
    """A table; ``numbers`` are the columns that stand to the right, ``wide`` is the one that
    has the room that the others leave."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numbers: frozenset[int] = frozenset()
    title: str = ""
    wide: int = 0


@dataclass(frozen=True, slots=True)
class Section:
    """A section; what is empty is left out."""

    title: str
    text: tuple[str, ...] = ()
    pictures: tuple[Picture, ...] = ()
    tables: tuple[Table, ...] = ()
    advice: tuple[Advice, ...] = ()
