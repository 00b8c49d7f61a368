"""YAML as plain nodes: every scalar is text, every node knows its place in the file.

Nothing is turned into a number, a date or a truth value here, so ``on``, ``no``, ``12:30``
and ``0123`` stay the words they are. Nodes are built from libyaml's events, without
recursion, within limits on size, nesting and the expansion of aliases.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from runner.checklist.model import Where
from runner.checklist.problems import Problems, shorten

if TYPE_CHECKING:
    import yaml

MAX_BYTES = 2_000_000
MAX_NESTING = 32
MAX_EXPANDED = 10_000

LINE_BREAK = re.compile("\r\n|[\n\r\x85\u2028\u2029]")
_UNPRINTABLE = re.compile(
    "[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufeff\uff00-\ufffd\U00010000-\U0010ffff]"
)
_LOST_TEXT = re.compile(r"[ \t]+#(?=[^\s#!])(.*)")


@dataclass(frozen=True, slots=True)
class Scalar:
    """A text. ``verbatim`` is the column offset of its first character, or -1 where the
    text in the file is folded or escaped and a place inside it cannot be told."""

    text: str
    where: Where
    verbatim: int = 0

    def at(self, offset: int) -> Where:
        """The place of the character at ``offset`` in the text (its start, where unknown)."""
        if self.verbatim < 0:
            return self.where
        place = self.where
        return Where(place.file, place.line, place.column + self.verbatim + max(offset, 0))

    def piece(self, start: int, end: int) -> Scalar:
        """A part of the text as a scalar with its own place."""
        return Scalar(self.text[start:end], self.at(start), 0 if self.verbatim >= 0 else -1)


@dataclass(frozen=True, slots=True)
class Sequence:
    """Several nodes in order."""

    items: tuple[Node, ...]
    where: Where


@dataclass(frozen=True, slots=True)
class Mapping:
    """Keys and their nodes, in the order of the file; no key stands twice."""

    entries: tuple[tuple[Scalar, Node], ...]
    where: Where

    def get(self, key: str) -> Node | None:
        """The node of ``key``, or None."""
        return next((node for name, node in self.entries if name.text == key), None)


Node = Scalar | Sequence | Mapping


def plain(node: Node) -> Any:
    """The node as strings, lists and dicts, as a JSON Schema sees it."""
    if isinstance(node, Scalar):
        return node.text
    if isinstance(node, Sequence):
        return [plain(item) for item in node.items]
    return {key.text: plain(value) for key, value in node.entries}


def decode(data: bytes, file: str, problems: Problems) -> str | None:
    """Bytes of a file as text, or None with an error noted: UTF-8, at most ``MAX_BYTES``."""
    if len(data) > MAX_BYTES:
        problems.error(Where(file, 0, 0), f"the file is larger than {MAX_BYTES:,} bytes; split it")
        return None
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = LINE_BREAK.split(data[: error.start].decode("utf-8-sig", "replace"))
        where = Where(file, len(before), len(before[-1]) + 1)
        problems.error(where, "this is not UTF-8 text; save the file as UTF-8")
        return None


def compose(text: str, file: str, problems: Problems) -> Mapping | None:
    """The file's top mapping, or None with the reason noted in ``problems``."""
    import yaml

    if len(text) > MAX_BYTES or len(text.encode("utf-8", "replace")) > MAX_BYTES:
        problems.error(Where(file, 0, 0), f"the file is larger than {MAX_BYTES:,} bytes; split it")
        return None
    text = text.removeprefix("\ufeff")
    if bad := _UNPRINTABLE.search(text):
        before = LINE_BREAK.split(text[: bad.start()])
        where = Where(file, len(before), len(before[-1]) + 1)
        problems.error(where, f"character U+{ord(bad[0]):04X} cannot stand in a file; remove it")
        return None
    loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    lines = LINE_BREAK.split(text)
    builder = _Builder(file, problems, lines if _LOST_TEXT.search(text) else None)
    already = len(problems.found)
    try:
        root = builder.build(yaml.parse(text, Loader=loader))
    except yaml.MarkedYAMLError as error:
        from runner.checklist.hints import syntax_problem

        where, message = syntax_problem(error, lines, file)
        del problems.found[already:]
        problems.error(where, message)
        return None
    if isinstance(root, Mapping):
        return root
    if len(problems.found) == already:
        where = root.where if root is not None else Where(file, 1, 1)
        problems.error(where, "the file has no keys; it begins with the line 'runner: 1'")
    return None


@dataclass(slots=True)
class _Open:
    """A collection whose end has not come yet."""

    where: Where
    anchor: str | None
    mapping: bool
    nodes: list[Node] = field(default_factory=list)
    size: int = 1
    height: int = 1


class _Stop(Exception):
    """A limit was passed: what is noted is enough."""


class _Builder:
    """Turns events into nodes."""

    def __init__(self, file: str, problems: Problems, lines: list[str] | None) -> None:
        self.file = file
        self.problems = problems
        self.lines = lines
        self.open: list[_Open] = []
        self.anchors: dict[str, tuple[Node, int, int]] = {}
        self.named: dict[str, Where] = {}
        self.expanded = 0
        self.root: Node | None = None

    def build(self, events: Iterator[yaml.Event]) -> Node | None:
        import yaml

        try:
            for event in events:
                kind = type(event)
                if kind is yaml.ScalarEvent:
                    self._scalar(event)
                elif kind is yaml.MappingStartEvent or kind is yaml.SequenceStartEvent:
                    self._start(event, kind is yaml.MappingStartEvent)
                elif kind is yaml.MappingEndEvent or kind is yaml.SequenceEndEvent:
                    self._end()
                elif kind is yaml.AliasEvent:
                    self._alias(event)
                elif kind is yaml.DocumentStartEvent and self.root is not None:
                    self._refuse(event, "a file holds one document: remove this '---'")
        except _Stop:
            return None
        for anchor, where in self.named.items():
            self.problems.error(
                where,
                f"'&{anchor}' would be lost, as nothing refers to it: put a value that starts "
                "with '&' in quotes",
            )
        return self.root

    def _where(self, event: Any) -> Where:
        mark = event.start_mark
        return Where(self.file, mark.line + 1, mark.column + 1)

    def _refuse(self, event: Any, message: str) -> None:
        self.problems.error(self._where(event), message)
        raise _Stop

    def _scalar(self, event: Any) -> None:
        start, end, style = event.start_mark, event.end_mark, event.style
        where = Where(self.file, start.line + 1, start.column + 1)
        text: str = event.value
        if start.line != end.line:
            verbatim = -1
        elif style is None or style == "":
            verbatim = 0
        else:
            verbatim = 1 if end.column - start.column == len(text) + 2 else -1
        if event.tag is not None and event.tag != "!":
            self.problems.error(
                where, f"'{event.tag}' is read as a tag, not as text: put the value in quotes"
            )
        if (
            self.lines is not None
            and style not in ("|", ">")
            and (lost := _LOST_TEXT.match(self.lines[end.line], end.column))
        ):
            self.problems.error(
                Where(self.file, end.line + 1, end.column + 1),
                f"'#{shorten(lost[1])}' would be lost as a comment: write 'number' for '#', "
                "put the value in quotes, or leave a space after '#' for a comment",
            )
        node = Scalar(text, where, verbatim)
        if event.anchor is not None:
            self._name(event.anchor, node, 1, 0)
        self._add(node, 1, 0)

    def _start(self, event: Any, mapping: bool) -> None:
        if len(self.open) >= MAX_NESTING:
            self._refuse(event, f"nested deeper than {MAX_NESTING} levels")
        where = self._where(event)
        if event.tag is not None:
            self.problems.error(where, f"'{event.tag}': tags are not used here; remove it")
        self.open.append(_Open(where, event.anchor, mapping))
        if event.anchor is not None:
            self.anchors.pop(event.anchor, None)

    def _end(self) -> None:
        done = self.open.pop()
        node = self._mapping(done) if done.mapping else Sequence(tuple(done.nodes), done.where)
        if done.anchor is not None:
            self._name(done.anchor, node, done.size, done.height)
        self._add(node, done.size, done.height)

    def _name(self, anchor: str, node: Node, size: int, height: int) -> None:
        self.anchors[anchor] = (node, size, height)
        self.named.setdefault(anchor, node.where)

    def _alias(self, event: Any) -> None:
        if event.anchor not in self.anchors:
            self.problems.error(
                self._where(event),
                f"'*{event.anchor}' refers to nothing before it: put a value that starts "
                "with '*' in quotes",
            )
            self._add(Scalar("*" + event.anchor, self._where(event)), 1, 0)
            return
        self.named.pop(event.anchor, None)
        node, size, height = self.anchors[event.anchor]
        self.expanded += size
        if self.expanded > MAX_EXPANDED:
            self._refuse(event, f"aliases repeat more than {MAX_EXPANDED:,} values; write fewer")
        if len(self.open) + height > MAX_NESTING:
            self._refuse(event, f"nested deeper than {MAX_NESTING} levels")
        self._add(node, size, height)

    def _add(self, node: Node, size: int, height: int) -> None:
        if not self.open:
            self.root = node
            return
        top = self.open[-1]
        top.nodes.append(node)
        top.size += size
        top.height = max(top.height, height + 1)

    def _mapping(self, done: _Open) -> Mapping:
        entries: dict[str, tuple[Scalar, Node]] = {}
        for key, value in zip(done.nodes[::2], done.nodes[1::2], strict=True):
            if not isinstance(key, Scalar):
                self.problems.error(
                    key.where,
                    "a key is one line of text: put a value that starts with '[' or '{' in quotes",
                )
            elif key.text in entries:
                first = entries[key.text][0].where
                self.problems.error(
                    key.where,
                    f"'{shorten(key.text)}' stands here twice (first in line {first.line}); "
                    "keep one of them",
                )
            else:
                entries[key.text] = (key, value)
        return Mapping(tuple(entries.values()), done.where)
