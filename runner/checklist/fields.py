"""Typed reading of one mapping: keys that are known, and values that are what they should be.

Every method notes what is wrong and gives None (or nothing), so that the reader of a file
goes on and finds the rest.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from runner.checklist.model import Text, Where
from runner.checklist.nodes import Mapping, Node, Scalar, Sequence
from runner.checklist.problems import Problems, did_you_mean, one_of, shorten
from runner.checklist.text import check_pattern, parse_text

VERSION = "1"
"""The version of the file formats, in the line ``runner: 1``."""

ID = re.compile(r"[a-z0-9]+(?:[-_][a-z0-9]+)*")
NAME = re.compile(r"[a-z][a-z0-9_]*")
NUMBER = re.compile(r"[-+]?(?:\d+(?:\.\d*)?|\.\d+)")


class Fields:
    """The keys of one mapping. ``what`` names it in messages: `an item`."""

    def __init__(
        self, node: Mapping, what: str, keys: Iterable[str], problems: Problems, key: str = ""
    ) -> None:
        self.where = node.where
        self.what = what
        self.problems = problems
        known = tuple(keys)
        self._meant: list[str] = []
        self._nodes: dict[str, Node] = {}
        self._keys: dict[str, Where] = {}
        for name, value in node.entries:
            if name.text not in known:
                meant = did_you_mean(name.text, known)
                self._meant.append(meant)
                problems.error(
                    name.where,
                    f"'{shorten(name.text)}' is not a key of {what}"
                    + (meant or f"; its keys are {one_of(known, 40)}"),
                )
            elif isinstance(value, Scalar) and not value.text.strip():
                problems.error(
                    name.where, f"'{name.text}' has no value; give one or remove the line"
                )
            else:
                self._nodes[name.text] = value
            self._keys[name.text] = name.where
        if key:
            self.require(key)

    def __contains__(self, key: str) -> bool:
        """Whether the key stands in the file, with a good value or not."""
        return key in self._keys

    def at(self, key: str) -> Where:
        """The place of a key, or of the whole where it is missing."""
        return self._keys.get(key, self.where)

    def get(self, key: str) -> Node | None:
        """The node of a key, or None where it is missing or has no value."""
        return self._nodes.get(key)

    def require(self, key: str) -> bool:
        """Whether the key stands here; notes it where not, and no other key is meant for it."""
        if key not in self._keys and not any(f"'{key}'" in meant for meant in self._meant):
            self.problems.error(self.where, f"{self.what} needs the key '{key}'")
        return key in self._keys

    def refuse(self, key: str, reason: str) -> None:
        """Note that the key cannot stand here, where it does."""
        if key in self._keys:
            self.problems.error(self._keys[key], f"'{key}' {reason}")

    def scalar(self, key: str) -> Scalar | None:
        """A value of one text."""
        node = self._nodes.get(key)
        if node is None or isinstance(node, Scalar):
            return node
        self.problems.error(node.where, f"'{key}' is one line of text{_quotes(node)}")
        return None

    def line(self, key: str, default: str = "") -> str:
        """A value of one text, as it stands."""
        scalar = self.scalar(key)
        return default if scalar is None else scalar.text.strip()

    def word(self, key: str, allowed: Iterable[str], default: str = "") -> str:
        """One of several words."""
        scalar = self.scalar(key)
        if scalar is None:
            return default
        words = tuple(allowed)
        if scalar.text in words:
            return scalar.text
        self.problems.error(
            scalar.where,
            f"'{shorten(scalar.text)}' is not a {key}; it is {one_of(words, 24)}"
            + did_you_mean(scalar.text, words),
        )
        return default

    def yes(self, key: str, default: bool = False) -> bool:
        """``yes`` or ``no``."""
        scalar = self.scalar(key)
        if scalar is None:
            return default
        if scalar.text not in ("yes", "no"):
            self.problems.error(scalar.where, f"'{key}' is yes or no, not '{shorten(scalar.text)}'")
            return default
        return scalar.text == "yes"

    def whole(self, key: str, low: int, high: int, default: int) -> int:
        """A whole number from ``low`` to ``high``."""
        scalar = self.scalar(key)
        if scalar is None:
            return default
        if re.fullmatch(r"\d{1,9}", scalar.text) and low <= int(scalar.text) <= high:
            return int(scalar.text)
        self.problems.error(
            scalar.where,
            f"'{key}' is a whole number from {low} to {high}, not '{shorten(scalar.text)}'",
        )
        return default

    def id(self, key: str) -> str | None:
        """An id: small letters and digits, with ``-`` or ``_`` between words."""
        scalar = self.scalar(key)
        if scalar is None or good_id(scalar, self.problems):
            return None if scalar is None else scalar.text
        return None

    def names(self, key: str) -> tuple[Scalar, ...]:
        """Names in a YAML list or in one line with commas."""
        node = self._nodes.get(key)
        if node is None:
            return ()
        if isinstance(node, Scalar):
            return tuple(split(node, self.problems, key))
        if isinstance(node, Mapping):
            self.problems.error(node.where, f"'{key}' is a list of names: one, two, three")
            return ()
        return tuple(self._scalars(node, f"a name of '{key}'"))

    def texts(self, key: str) -> tuple[Scalar, ...]:
        """One text or a YAML list of texts."""
        node = self._nodes.get(key)
        if node is None:
            return ()
        if isinstance(node, Scalar):
            return (node,)
        if isinstance(node, Mapping):
            self.problems.error(node.where, f"'{key}' is a text or a list of texts{_quotes(node)}")
            return ()
        return tuple(self._scalars(node, f"a line of '{key}'"))

    def pattern(self, key: str) -> Text | None:
        """One response pattern."""
        scalar = self.scalar(key)
        if scalar is None or not check_pattern(scalar, self.problems):
            return None
        return parse_text(scalar.text)

    def patterns(self, key: str) -> tuple[tuple[Text, Scalar], ...]:
        """Response patterns, each with its node: one, or a YAML list of them."""
        return tuple(
            (parse_text(scalar.text), scalar)
            for scalar in self.texts(key)
            if check_pattern(scalar, self.problems)
        )

    def mapping(self, key: str) -> Mapping | None:
        """A mapping of names to values."""
        node = self._nodes.get(key)
        if node is None or isinstance(node, Mapping):
            return node
        self.problems.error(node.where, f"'{key}' holds lines 'name: value', further in")
        return None

    def mappings(self, key: str, *, some: bool = False) -> Iterator[Mapping]:
        """The mappings of a YAML list; with ``some`` there must be at least one."""
        node = self._nodes.get(key)
        if node is None:
            return
        if not isinstance(node, Sequence):
            self.problems.error(node.where, f"'{key}' is a list: each entry begins with '- '")
            return
        if not node.items and some:
            self.problems.error(node.where, f"'{key}' has no entry; {self.what} needs one")
        for item in node.items:
            if isinstance(item, Mapping):
                yield item
            else:
                self.problems.error(
                    item.where, f"an entry of '{key}' has keys, as in '- key: value'"
                )

    def named(self, key: str) -> Iterator[tuple[Scalar, Node]]:
        """The names and values of a mapping whose keys are names."""
        node = self.mapping(key)
        for name, value in node.entries if node is not None else ():
            if good_name(name, self.problems):
                yield name, value

    def version(self) -> None:
        """Check the line ``runner: 1``."""
        if self.require("runner") and (scalar := self.scalar("runner")) and scalar.text != VERSION:
            self.problems.error(
                scalar.where,
                f"this Runner reads files of version {VERSION}, not '{shorten(scalar.text)}'; "
                f"write 'runner: {VERSION}'",
            )

    def _scalars(self, node: Sequence, what: str) -> Iterator[Scalar]:
        for item in node.items:
            if isinstance(item, Scalar) and item.text.strip():
                yield item
            else:
                self.problems.error(item.where, f"{what} is one line of text{_quotes(item)}")


def good_id(scalar: Scalar, problems: Problems) -> bool:
    """Whether a scalar is an id; notes it where not."""
    if ID.fullmatch(scalar.text) and len(scalar.text) <= 80:
        return True
    problems.error(
        scalar.where,
        f"'{shorten(scalar.text)}' is not an id: small letters and digits with '-' or '_' "
        "between words, as before-takeoff",
    )
    return False


def good_name(scalar: Scalar, problems: Problems) -> bool:
    """Whether a scalar is a name that formulas can use; notes it where not."""
    if NAME.fullmatch(scalar.text) and len(scalar.text) <= 80:
        return True
    problems.error(
        scalar.where,
        f"'{shorten(scalar.text)}' is not a name: small letters, digits and '_', beginning with "
        "a letter, as gross_weight",
    )
    return False


def split(scalar: Scalar, problems: Problems, key: str) -> Iterator[Scalar]:
    """The names of one line with commas between them."""
    start = 0
    for piece in scalar.text.split(","):
        text = piece.strip()
        offset = start + len(piece) - len(piece.lstrip())
        if text:
            yield scalar.piece(offset, offset + len(text))
        else:
            problems.error(scalar.at(offset), f"a name is missing beside a comma of '{key}'")
        start += len(piece) + 1


def number(scalar: Scalar, problems: Problems, what: str) -> float | None:
    """A plain decimal number."""
    if NUMBER.fullmatch(scalar.text) and len(scalar.text) <= 24:
        return float(scalar.text)
    problems.error(scalar.where, f"{what} is a number, not '{shorten(scalar.text)}'")
    return None


def decimal_places(text: str) -> int:
    """How many decimal places a written number needs: 2 for `0.25`, 0 for `5` and `5.0`."""
    _, _, fraction = text.partition(".")
    return len(fraction.rstrip("0"))


def _quotes(node: Node) -> str:
    if isinstance(node, Scalar):
        return "; give it a value or remove it"
    mark = "[" if isinstance(node, Sequence) else "{"
    return f"; a text that starts with '{mark}' needs quotes"
