"""Text with figures in it: ``Take-off at <takeoff_manifold_pressure> inches``.

A figure's place is its name between ``<`` and ``>``; a ``<`` that begins no such place
stands for itself.
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import TYPE_CHECKING

from runner.checklist.model import FigureRef, Text
from runner.checklist.nodes import Scalar
from runner.checklist.problems import Problems

if TYPE_CHECKING:
    from runner.phrasing.pattern import Pattern

ENGINE = "engine"
"""The place of the engine's number: ``<engine>``."""

UNLIKELY = 7001
"""Numbers from here on stand for figures where a pattern is tried without their values."""

MANY = 200
"""Accepted texts of a pattern that are compared one by one."""

_PLACE = re.compile(r"<\s*([^\W\d][\w -]*?)\s*>")


def parse_text(source: str) -> Text:
    """The text's parts in order. Names are taken as they stand; none is checked here."""
    if "<" not in source:
        return Text(source, (source,))
    parts: list[str | FigureRef] = []
    end = 0
    for place in _PLACE.finditer(source):
        if place.start() > end:
            parts.append(source[end : place.start()])
        parts.append(FigureRef(place[1]))
        end = place.end()
    if end < len(source):
        parts.append(source[end:])
    return Text(source, tuple(parts))


def with_engine(text: Text, engine: int) -> Text:
    """The text with the engine's number in place of ``<engine>``; other figures stay."""
    if ENGINE not in text.figures:
        return text
    parts: list[str | FigureRef] = []
    for part in text.parts:
        new = str(engine) if part == FigureRef(ENGINE) else part
        if isinstance(new, str) and parts and isinstance(parts[-1], str):
            parts[-1] += new
        else:
            parts.append(new)
    source = _PLACE.sub(lambda p: str(engine) if p[1] == ENGINE else p[0], text.source)
    return Text(source, tuple(parts))


def places(scalar: Scalar) -> tuple[tuple[str, int], ...]:
    """The figures' names in a scalar and the offset of each name in it."""
    if "<" not in scalar.text:
        return ()
    return tuple((place[1], place.start(1)) for place in _PLACE.finditer(scalar.text))


def check_pattern(scalar: Scalar, problems: Problems) -> bool:
    """Whether a response pattern parses once its figures are filled in; notes why not."""
    from runner.phrasing.pattern import PatternError

    filled, offsets = _filled(scalar.text)
    try:
        parsed(filled)
    except PatternError as error:
        offset = getattr(error, "offset", 0)
        place = next((source - at + offset for at, source in reversed(offsets) if at <= offset), 0)
        message = getattr(error, "message", None) or str(error)
        problems.error(scalar.at(place), f"{message}")
        return False
    return True


def trial(text: Text | str) -> str:
    """The pattern with a number of its own in place of each figure, as it is tried when loaded."""
    return _filled(text if isinstance(text, str) else text.source)[0]


@lru_cache(maxsize=4096)
def parsed(source: str) -> Pattern:
    """``runner.phrasing.pattern.parse``, remembered: the same answers come again and again."""
    from runner.phrasing.pattern import parse

    return parse(source)


def _filled(source: str) -> tuple[str, tuple[tuple[int, int], ...]]:
    """The source with figures replaced by numbers, and pairs of (offset there, offset here)."""
    if "<" not in source:
        return source, ((0, 0),)
    names: dict[str, str] = {}
    out: list[str] = []
    offsets = [(0, 0)]
    end = length = 0
    for place in _PLACE.finditer(source):
        number = names.setdefault(place[1], str(UNLIKELY + len(names)))
        out += [source[end : place.start()], number]
        length += place.start() - end + len(number)
        end = place.end()
        offsets.append((length, end))
    return "".join(out) + source[end:], tuple(offsets)


def overlap(one: Text, other: Text) -> str:
    """A text that both patterns accept, or nothing."""
    first, second = parsed(trial(one)), parsed(trial(other))
    texts, others = first.texts(MANY), second.texts(MANY)
    known = set(others)
    common = next((text for text in texts if text in known), "")
    if common or (len(texts) < MANY and len(others) < MANY):
        return common
    return next(
        (text for text in texts if second.matches(text)),
        next((text for text in others if first.matches(text)), ""),
    )
