"""A figure: one value as it will be shown and said."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Figure:
    """One named value, rounded to its safe side: what is shown, said and compared.

    ``value`` is a number in ``unit`` with ``decimals`` places, or a word (a choice such as
    a wet runway). ``kind`` is one of ``runner.phrasing.style.Kind``: how it is spoken.
    """

    name: str
    value: float | str
    unit: str = ""
    decimals: int = 0
    kind: str = "plain"
    title: str = ""

    @property
    def shown(self) -> str:
        """The value as text, without its unit."""
        if isinstance(self.value, str):
            return self.value
        return f"{self.value:.{self.decimals}f}"

    @property
    def shown_with_unit(self) -> str:
        """The value and its unit as text."""
        return f"{self.shown} {self.unit}".strip()
