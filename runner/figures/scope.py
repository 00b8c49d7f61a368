"""What a formula may name: values with their types, and tables."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Literal

from runner.figures.model import Table
from runner.figures.units import PLAIN, Unit, described, dimensions, parse_unit

Sense = Literal["", "point", "difference", "either"]
"""How a temperature is meant; '' for every other quantity."""


KELVIN = parse_unit("K")
SCALES = (parse_unit("degC"), parse_unit("degF"))


@dataclass(frozen=True, slots=True)
class Type:
    """What a value is: a number in a unit, one of several words, or a truth."""

    what: Literal["number", "word", "truth"]
    unit: Unit = PLAIN
    sense: Sense = ""
    choices: tuple[str, ...] = ()
    constant: float | None = None

    def __str__(self) -> str:
        if self.what == "truth":
            return "true or false"
        if self.what == "word":
            return f"one of {', '.join(self.choices)}"
        return described(self.unit)


@dataclass(frozen=True, slots=True)
class Scope:
    """What an expression may name: values with their types, and tables.

    ``unusable`` holds names that exist but not here, with the reason.
    """

    names: Mapping[str, Type] = field(default_factory=dict)
    tables: Mapping[str, Table] = field(default_factory=dict)
    unusable: Mapping[str, str] = field(default_factory=dict)

    @property
    def words(self) -> frozenset[str]:
        """Every word that is a choice of a value or a row of a table."""
        words = {word for kind in self.names.values() for word in kind.choices}
        for table in self.tables.values():
            for axis in table.axes:
                words.update(row for row in axis.rows if isinstance(row, str))
        return frozenset(words)


def number_type(unit: str, *, difference: bool = False, constant: float | None = None) -> Type:
    """The type of a named number in ``unit``. Raises UnitError."""
    parsed = parse_unit(unit)
    sense = sense_of(parsed, named=True)
    if difference and sense:
        sense = "difference"
    return Type("number", parsed, sense, constant=constant)


def word_type(choices: Iterable[str]) -> Type:
    """The type of a named choice."""
    return Type("word", choices=tuple(choices))


def sense_of(unit: Unit, *, named: bool) -> Sense:
    if unit in SCALES:
        return "point" if named else "either"
    if unit == KELVIN:
        return "either"
    return "difference" if dimensions(unit) == dimensions(KELVIN) else ""


def near(name: str, known: Iterable[str]) -> str:
    """'; did you mean X?' where something close is known, or ''."""
    import difflib

    match = difflib.get_close_matches(name, list(known), n=1, cutoff=0.6)
    return f"; did you mean {match[0]}?" if match else ""
