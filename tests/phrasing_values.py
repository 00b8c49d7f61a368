"""What the tests of numbers and words share: every form, and a recogniser's grammar as a regex."""

from __future__ import annotations

import random
import re
from typing import get_args

from hypothesis import strategies as st

from runner.phrasing.hearing import UNSIGNED, WHOLE
from runner.phrasing.style import Form, Kind, NumberStyle

KINDS: tuple[Kind, ...] = get_args(Kind)
STYLES: tuple[NumberStyle, ...] = get_args(NumberStyle)

UNITS: dict[str, tuple[str, ...]] = {
    "speed": ("kt", "mph"),
    "altitude": ("ft", "m"),
    "pressure": ("inHg", "hPa", "psi"),
    "manifold_pressure": ("inHg",),
    "rpm": ("rpm",),
    "weight": ("lb", "kg"),
    "temperature": ("degC", "degF"),
    "frequency": ("MHz",),
    "distance": ("nm", "m"),
    "percent": ("%",),
    "angle": ("deg",),
    "duration": ("min", "s"),
}


@st.composite
def forms(draw: st.DrawFn) -> Form:
    """Every kind of number with 0 to 2 decimals, with and without its units."""
    kind = draw(st.sampled_from(KINDS))
    decimals = 0 if kind in WHOLE else draw(st.integers(0, 2))
    return Form(kind, decimals, draw(st.sampled_from(("", *UNITS.get(kind, ())))))


@st.composite
def values(draw: st.DrawFn, form: Form) -> float:
    """Every value that can be said in a form: up to 999,999, below zero where it may be."""
    if form.kind == "heading":
        most = 360
    else:
        most = draw(st.sampled_from((9, 99, 999, 9_999, 99_999, 999_998)))
    whole = draw(st.integers(0, most))
    part = draw(st.integers(0, 10**form.decimals - 1))
    sign = "" if form.kind in UNSIGNED else draw(st.sampled_from(("", "-")))
    return float(f"{sign}{whole}.{part:0{form.decimals}d}" if form.decimals else f"{sign}{whole}")


class Grammar:
    """A JSGF rule body, to match sentences with and to draw them from."""

    def __init__(self, body: str) -> None:
        self.tokens = re.findall(r"[()\[\]|]|[^\s()\[\]|]+", body)
        self.at = 0
        self.tree = self._choice()
        assert self.at == len(self.tokens), f"unbalanced: {body}"
        self._regex = re.compile(self._as_regex(self.tree))

    def accepts(self, sentence: str) -> bool:
        return self._regex.fullmatch(f"{sentence} ") is not None

    def sentence(self, chance: random.Random) -> str:
        return " ".join(self._draw(self.tree, chance))

    def _choice(self) -> tuple:
        parts = [self._row()]
        while self.at < len(self.tokens) and self.tokens[self.at] == "|":
            self.at += 1
            parts.append(self._row())
        return ("choice", parts)

    def _row(self) -> tuple:
        parts = []
        while self.at < len(self.tokens) and self.tokens[self.at] not in ")]|":
            token = self.tokens[self.at]
            self.at += 1
            if token in "([":
                inside = self._choice()
                assert self.tokens[self.at] == {"(": ")", "[": "]"}[token]
                self.at += 1
                parts.append(inside if token == "(" else ("option", [inside]))
            else:
                parts.append(("word", token))
        assert parts, "an empty alternative"
        return ("row", parts)

    def _as_regex(self, node: tuple) -> str:
        kind, content = node
        if kind == "word":
            return re.escape(content) + " "
        if kind == "row":
            return "".join(map(self._as_regex, content))
        inside = "|".join(map(self._as_regex, content))
        return f"(?:{inside}){'?' if kind == 'option' else ''}"

    def _draw(self, node: tuple, chance: random.Random) -> list[str]:
        kind, content = node
        if kind == "word":
            return [content]
        if kind == "row":
            return [word for part in content for word in self._draw(part, chance)]
        if kind == "option" and chance.random() < 0.5:
            return []
        return self._draw(chance.choice(content), chance)
