"""Response patterns: one line that says which answers are right, put to three uses.

A pattern matches a text, lists the texts it accepts (samples for a synthesiser, and what
is shown as the expected answer), and becomes the grammar of a recogniser::

    pattern      = sequence { "/" sequence }
    sequence     = { word | number | "(" pattern ")" | "(" pattern ")?" }

``/`` parts alternatives and binds least, ``( )`` groups, ``( )?`` may be left out. Case and
punctuation do not count. A number, in digits or in words, is matched by any way of saying
that number. A pattern never accepts silence.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from runner.errors import RunnerError
from runner.phrasing.hearing import hear_number
from runner.phrasing.normal import normalise, spell_number_sign
from runner.phrasing.numbers import LARGEST, say_number
from runner.phrasing.numeral_words import COUNTING_WORDS, DIGIT_WORDS, POINTS, SIGNS
from runner.phrasing.pattern_nodes import (
    LONGEST_NUMBER,
    PLAIN_NUMBER,
    Choice,
    Heard,
    Node,
    Number,
    Optional,
    Sequence,
    Word,
    ends,
    jsgf_of,
    sequence,
    source_of,
    texts_of,
    words_of,
)
from runner.phrasing.style import Form, VoiceStyle

__all__ = [
    "Choice",
    "Node",
    "Number",
    "Optional",
    "Pattern",
    "PatternError",
    "Sequence",
    "Word",
    "parse",
    "source_of",
    "with_name",
    "with_synonyms",
]

LONGEST_SOURCE = 10_000
"""Characters that a pattern may have."""

DEEPEST = 32
"""Groups that may stand inside one another."""

LONGEST_TEXT = 200
"""Words in a text that is compared with a pattern; a longer one is no answer."""


class PatternError(RunnerError):
    """What is wrong with a pattern, and ``offset``: where, in characters from its start."""

    def __init__(self, message: str, offset: int) -> None:
        super().__init__(message)
        self.offset = offset


@dataclass(frozen=True, slots=True)
class Pattern:
    """A parsed pattern. ``source`` is the line it was made from."""

    source: str
    root: Node

    def texts(self, limit: int = 200) -> tuple[str, ...]:
        """Up to ``limit`` of the accepted texts, in plain form, the canonical one first."""
        return tuple(text for text in texts_of(self.root, limit + 1) if text)[:limit]

    def matches(self, text: str) -> bool:
        """Whether ``text`` is, in its plain form, one of the accepted texts."""
        words = normalise(text).split()
        if len(words) > LONGEST_TEXT:
            return False
        return len(words) in ends(self.root, Heard(words), frozenset({0}))

    @property
    def canonical(self) -> str:
        """The answer as it is shown: first alternatives, optional words left out."""
        return self.texts(1)[0]

    def jsgf(self) -> str:
        """The body of a JSGF rule that accepts ``texts`` (JSpeech Grammar Format, W3C, 2000)."""
        return jsgf_of(self.root)

    @property
    def words(self) -> frozenset[str]:
        """Every word of ``texts`` and of ``jsgf``."""
        return frozenset(words_of(self.root))


def parse(source: str) -> Pattern:
    """The pattern that ``source`` says. Raises ``PatternError``."""
    if len(source) > LONGEST_SOURCE:
        raise PatternError(
            f"a pattern has at most {LONGEST_SOURCE} characters, this one {len(source)}",
            LONGEST_SOURCE,
        )
    root = _Parser(source).parse()
    if 0 in ends(root, Heard([]), frozenset({0})):
        raise PatternError("this pattern accepts silence: give it a word that must be said", 0)
    return Pattern(source, root)


def with_synonyms(pattern: Pattern, style: VoiceStyle) -> Pattern:
    """The pattern, each word or run of words also accepted as the style's synonyms for it.

    Synonyms of synonyms are not followed. Raises ``PatternError`` where one is no pattern.
    """
    synonyms = {
        tuple(_nodes(normalise(word).split())): tuple(parse(way).root for way in ways)
        for word, ways in style.synonyms.items()
    }
    return Pattern(pattern.source, _widen(pattern.root, synonyms)) if synonyms else pattern


def with_name(pattern: Pattern, name: str) -> Pattern:
    """The pattern with the item's name allowed before the answer: "flaps, up" for "up"."""
    words = normalise(name).split()
    if not words:
        return pattern
    return Pattern(pattern.source, sequence([Optional(sequence(_nodes(words))), pattern.root]))


_REFUSED: Mapping[str, str] = MappingProxyType(
    {
        "?": "'?' stands only behind a group: write (word)? for a word that may be left out",
        "|": "write / between alternatives, not '|'",
        "[": "write (words)? for words that may be left out, not '['",
        "]": "write (words)? for words that may be left out, not ']'",
        "<": "a figure cannot stand here: only words and numbers",
        ">": "a figure cannot stand here: only words and numbers",
        "*": "'*' has no meaning here: write out each way of saying it, with / between them",
        "{": "write ( ) for a group, not '{'",
        "}": "write ( ) for a group, not '}'",
        "\\": "'\\' has no meaning here",
    }
)


class _Parser:
    def __init__(self, source: str) -> None:
        self.source = source
        self.at = 0

    def parse(self) -> Node:
        node = self._choice(0)
        if self.at < len(self.source):
            raise PatternError("')' closes a group that was not opened", self.at)
        return node

    def _choice(self, depth: int) -> Node:
        parts = [self._sequence(depth)]
        while self.source[self.at : self.at + 1] == "/":
            self.at += 1
            parts.append(self._sequence(depth))
        return parts[0] if len(parts) == 1 else Choice(tuple(parts))

    def _sequence(self, depth: int) -> Node:
        begins = self.at
        parts: list[Node] = []
        while self.at < len(self.source) and self.source[self.at] not in "/)":
            if self.source[self.at] == "(":
                parts.append(self._group(depth + 1))
            else:
                parts += self._run()
        if not parts:
            raise PatternError("words are missing here", begins)
        return sequence(parts)

    def _group(self, depth: int) -> Node:
        opened = self.at
        if depth > DEEPEST:
            raise PatternError(f"groups stand at most {DEEPEST} deep inside one another", opened)
        self.at += 1
        inside = self._choice(depth)
        if self.source[self.at : self.at + 1] != ")":
            raise PatternError("'(' opens a group that is not closed: add ')'", opened)
        self.at += 1
        if self.source[self.at : self.at + 1] == "?":
            self.at += 1
            return Optional(inside)
        return inside

    def _run(self) -> list[Node]:
        """The words up to the next mark."""
        begins = self.at
        while self.at < len(self.source) and self.source[self.at] not in "/()":
            refusal = _REFUSED.get(self.source[self.at])
            if refusal:
                raise PatternError(refusal, self.at)
            self.at += 1
        return _text_nodes(self.source[begins : self.at])


_NUMERAL = re.compile(
    r"(?<![\w.:])[-+]?(?:[0-9]{1,3}(?:,[0-9]{3})+|[0-9]+)(?:\.[0-9]+|:[0-9]{2})?(?![\w])"
)


def _text_nodes(text: str) -> list[Node]:
    """Words and numbers of plain text; each written numeral is a number by itself."""
    text = spell_number_sign(text)
    nodes: list[Node] = []
    at = 0
    for numeral in _NUMERAL.finditer(text):
        nodes += _nodes(normalise(text[at : numeral.start()] + " ").split())
        nodes += _numeral_nodes(numeral[0])
        at = numeral.end()
    return nodes + _nodes(normalise(text[at:]).split())


def _numeral_nodes(numeral: str) -> list[Node]:
    if len(numeral) > 1 and numeral[0] == "0" and numeral.isdigit():
        return [_NOUGHT if digit == "0" else _digit(int(digit)) for digit in numeral]
    return _nodes(normalise(numeral).split())


def _digit(digit: int) -> Number:
    return Number(float(digit), (DIGIT_WORDS[digit],))


_NOUGHT = Choice((_digit(0), Word("oh")))
"""A nought in a code, where "oh" cannot be a sigh."""


def _nodes(words: list[str]) -> list[Node]:
    """Words as nodes, each longest run of number words as one number where it is one."""
    nodes: list[Node] = []
    at = 0
    while at < len(words):
        end = _run_of_number(words, at)
        number = next(
            (
                (stop, found)
                for stop in range(end, at, -1)
                if (found := _number(words[at:stop])) is not None
            ),
            None,
        )
        if number is None:
            nodes.append(Word(words[at]))
            at += 1
        else:
            at, node = number
            nodes.append(node)
    return nodes


def _run_of_number(words: list[str], at: int) -> int:
    end = at
    while end < min(len(words), at + LONGEST_NUMBER) and (
        words[end] in COUNTING_WORDS
        or words[end] in POINTS
        or words[end] in SIGNS
        or (words[end] == "and" and end > at)
    ):
        end += 1
    return end


def _number(words: list[str]) -> Number | None:
    text = " ".join(words)
    value = hear_number(text, PLAIN_NUMBER)
    if value is None:
        return None
    return Number(value, tuple(dict.fromkeys((text, *_ways_to_say(value)))))


def _ways_to_say(value: float) -> tuple[str, ...]:
    """Counted, in pairs, and digit by digit: what a recogniser should listen for."""
    if abs(value) > LARGEST:
        return ()
    _, _, part = f"{value:.4f}".rstrip("0").partition(".")
    return (
        say_number(value, Form("plain", len(part)), "cockpit"),
        say_number(value, Form("rpm", len(part)), "cockpit"),
        say_number(value, Form("speed", len(part)), "faa").replace("niner", "nine"),
    )


_Synonyms = Mapping[tuple[Node, ...], tuple[Node, ...]]


def _widen(node: Node, synonyms: _Synonyms) -> Node:
    match node:
        case Word() | Number():
            return _widen_run([node], synonyms)[0]
        case Optional(part):
            return Optional(_widen(part, synonyms))
        case Choice(parts):
            return Choice(tuple(_widen(part, synonyms) for part in parts))
        case _:
            return sequence(_widen_run(list(node.parts), synonyms))


def _widen_run(parts: list[Node], synonyms: _Synonyms) -> list[Node]:
    widened: list[Node] = []
    at = 0
    while at < len(parts):
        key = next(
            (
                key
                for key in sorted(synonyms, key=len, reverse=True)
                if key and tuple(parts[at : at + len(key)]) == key
            ),
            None,
        )
        if key:
            said = sequence(list(parts[at : at + len(key)]))
            widened.append(Choice((said, *synonyms[key])))
            at += len(key)
        else:
            part = parts[at]
            plain = isinstance(part, Word | Number)
            widened.append(part if plain else _widen(part, synonyms))
            at += 1
    return widened
