"""The parts of a response pattern, and what each use makes of them.

Matching keeps sets of places, never lists of readings, and texts are made bottom up, a
limited number at each node: neither can be made to explode by a long pattern.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from runner.phrasing.hearing import hear_number
from runner.phrasing.style import Form

PLAIN_NUMBER = Form("plain", 2)
"""The form in which numbers in patterns are heard."""

LONGEST_NUMBER = 12
"""Words that a number in a pattern may have."""


@dataclass(frozen=True, slots=True)
class Word:
    """One plain word."""

    text: str


@dataclass(frozen=True, slots=True)
class Number:
    """A number, however it is said; ``ways`` are sample texts, the first as it was written."""

    value: float
    ways: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Sequence:
    """Parts one after the other."""

    parts: tuple[Node, ...]


@dataclass(frozen=True, slots=True)
class Choice:
    """One of several parts."""

    parts: tuple[Node, ...]


@dataclass(frozen=True, slots=True)
class Optional:
    """A part that may be left out."""

    part: Node


Node = Word | Number | Sequence | Choice | Optional


def sequence(parts: list[Node]) -> Node:
    """The parts in a row; one part alone stands for itself."""
    return parts[0] if len(parts) == 1 else Sequence(tuple(parts))


class Heard:
    """The words of a text, and the numbers in it, each worked out once."""

    def __init__(self, words: list[str]) -> None:
        self.words = words
        self._numbers: dict[tuple[int, int], float | None] = {}

    def number(self, start: int, end: int) -> float | None:
        span = (start, end)
        if span not in self._numbers:
            self._numbers[span] = hear_number(" ".join(self.words[start:end]), PLAIN_NUMBER)
        return self._numbers[span]


def ends(node: Node, heard: Heard, starts: frozenset[int]) -> frozenset[int]:
    """Where a node can end in the heard words when it begins at one of ``starts``.

    Sets of places, not lists of readings: the time is bounded by words times nodes.
    """
    match node:
        case Word(text):
            words = heard.words
            return frozenset(at + 1 for at in starts if at < len(words) and words[at] == text)
        case Number(value):
            return frozenset(
                end
                for at in starts
                for end in range(at + 1, min(len(heard.words), at + LONGEST_NUMBER) + 1)
                if heard.number(at, end) == value
            )
        case Optional(part):
            return starts | ends(part, heard, starts)
        case Choice(parts):
            return frozenset().union(*(ends(part, heard, starts) for part in parts))
        case _:
            for part in node.parts:
                starts = ends(part, heard, starts)
            return starts


def texts_of(node: Node, limit: int) -> tuple[str, ...]:
    """Up to ``limit`` texts of a node; an empty one where it may be left out."""
    match node:
        case Word(text):
            return (text,)
        case Number(_, ways):
            return ways[:limit]
        case Optional(part):
            return _first(limit, ("", *texts_of(part, limit)))
        case Choice(parts):
            return _first(limit, (text for part in parts for text in texts_of(part, limit)))
        case _:
            texts: tuple[str, ...] = ("",)
            for part in node.parts:
                more = texts_of(part, limit)
                texts = _first(limit, (f"{a} {b}".strip() for a in texts for b in more))
            return texts


def _first(limit: int, texts: Iterable[str]) -> tuple[str, ...]:
    found: dict[str, None] = {}
    for text in texts:
        found[text] = None
        if len(found) == limit:
            break
    return tuple(found)


def jsgf_of(node: Node) -> str:
    """A node as part of the body of a JSGF rule."""
    match node:
        case Word(text):
            return text
        case Number(_, ways):
            return ways[0] if len(ways) == 1 else f"( {' | '.join(ways)} )"
        case Optional(part):
            return f"[ {jsgf_of(part)} ]"
        case Choice(parts):
            return f"( {' | '.join(jsgf_of(part) for part in parts)} )"
        case _:
            return " ".join(jsgf_of(part) for part in node.parts)


def words_of(node: Node) -> Iterator[str]:
    """Every word of a node's texts."""
    match node:
        case Word(text):
            yield text
        case Number(_, ways):
            yield from (word for way in ways for word in way.split())
        case Optional(part):
            yield from words_of(part)
        case _:
            for part in node.parts:
                yield from words_of(part)


def source_of(node: Node) -> str:
    """A node as a pattern again: parsed, it gives an equal node.

    Numbers stand in groups of their own, because two in a row would be read as one.
    """
    match node:
        case Choice(parts):
            return " / ".join(
                source_of(part) if isinstance(part, Sequence) else _part(part) for part in parts
            )
        case Sequence(parts):
            return " ".join(_part(part) for part in parts)
        case _:
            return _part(node)


def _part(node: Node) -> str:
    match node:
        case Word(text):
            return text
        case Number(_, ways):
            return f"({ways[0]})"
        case Optional(part):
            return f"({source_of(part)})?"
        case _:
            return f"({source_of(node)})"
