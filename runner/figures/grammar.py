"""The grammar of formulas and conditions: from text to a small tree with places in it.

Loosest first: ``A if C else B``; ``or``; ``and``; ``not``; comparisons, which do not chain;
``+ -``; ``* /``; a sign; ``^``, which binds to the right. A unit stands after its number
(``10000 ft``, ``2800 in^3``, ``2 kt/degC``); the parts of a compound unit are written
without spaces. A table is called like a function, one of its columns after a dot. Words of
a choice are written plainly, or in quotes where they hold more than letters.

The size of a text, of its tree and of its nesting is bounded, so that no file can make
parsing or evaluation run away.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

from runner.errors import RunnerError
from runner.figures.units import PLAIN, Unit, UnitError, is_unit, parse_unit

SOURCE_LIMIT = 2000
"""The longest text of an expression, in characters."""

NODE_LIMIT = 400
"""The most numbers, names, operators and calls in one expression."""

DEPTH_LIMIT = 100
"""The deepest nesting, counting a chain of operators as nested."""

KEYWORDS = frozenset({"if", "else", "and", "or", "not"})


class ExpressionError(RunnerError):
    """What is wrong in an expression; ``offset`` is where in its text, from 0."""

    def __init__(self, message: str, offset: int) -> None:
        super().__init__(message)
        self.offset = offset

    def __reduce__(self) -> tuple[type[ExpressionError], tuple[str, int]]:
        return type(self), (self.args[0], self.offset)


@dataclass(frozen=True, slots=True)
class Number:
    """A number with its unit."""

    offset: int
    value: float
    unit: Unit


@dataclass(frozen=True, slots=True)
class Name:
    """The name of a value, or a word of a choice: which one is known when it is checked."""

    offset: int
    name: str


@dataclass(frozen=True, slots=True)
class Quoted:
    """A word of a choice in quotes."""

    offset: int
    text: str


@dataclass(frozen=True, slots=True)
class Prefix:
    """``-`` or ``not`` before an operand."""

    offset: int
    operator: str
    operand: Node


@dataclass(frozen=True, slots=True)
class Infix:
    """An operator between two operands; ``offset`` is the operator's."""

    offset: int
    operator: str
    left: Node
    right: Node


@dataclass(frozen=True, slots=True)
class Choose:
    """``then if condition else otherwise``."""

    offset: int
    then: Node
    condition: Node
    otherwise: Node


@dataclass(frozen=True, slots=True)
class Call:
    """A function or a table with its arguments; ``column`` is '' where none is named."""

    offset: int
    name: str
    column: str
    arguments: tuple[Node, ...]


Node = Number | Name | Quoted | Prefix | Infix | Choose | Call

_TOKEN = re.compile(
    r"""\s*(?:(?P<number>(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?)
    |(?P<name>[A-Za-z_][A-Za-z0-9_]*)
    |(?P<quoted>"[^"]*"|'[^']*')
    |(?P<sign><=|>=|==|!=|[-+*/^<>(),.])
    |(?P<end>\Z))""",
    re.VERBOSE | re.ASCII,
)
_UNIT_PART = re.compile(r"([A-Za-z]+|°[CF]?|%)(\^-?\d+)?", re.ASCII)

_COMPARISONS = frozenset({"<", "<=", ">", ">=", "==", "!="})
_LEFT_POWER = {
    "if": 10,
    "or": 20,
    "and": 30,
    **dict.fromkeys(_COMPARISONS, 50),
    "+": 60,
    "-": 60,
    "*": 70,
    "/": 70,
    "^": 90,
}
_NOT_POWER = 40
_SIGN_POWER = 80


@dataclass(frozen=True, slots=True)
class _Token:
    kind: str
    text: str
    offset: int
    unit: Unit = PLAIN


@lru_cache(maxsize=1024)
def parse_tree(source: str) -> Node:
    """The tree of ``source``. Raises ExpressionError."""
    if len(source) > SOURCE_LIMIT:
        raise ExpressionError(f"longer than {SOURCE_LIMIT} characters", SOURCE_LIMIT)
    parser = _Parser(list(_tokens(source)))
    tree = parser.expression(0, 0)
    parser.finish()
    if _depth(tree) > DEPTH_LIMIT:
        raise ExpressionError(f"nested more than {DEPTH_LIMIT} deep; give parts a name", 0)
    return tree


def names_in(tree: Node) -> Iterator[Name]:
    """Every name in ``tree`` in the order written, tables and functions left out."""
    return (node for node in _walk(tree) if isinstance(node, Name))


def words_in(tree: Node) -> frozenset[str]:
    """Names that look like words of a choice: on the right of == or != after a name."""
    return frozenset(
        node.right.name
        for node in _walk(tree)
        if isinstance(node, Infix)
        and node.operator in ("==", "!=")
        and isinstance(node.left, Name)
        and isinstance(node.right, Name)
    )


def calls_in(tree: Node) -> Iterator[Call]:
    """Every call of a function or a table in ``tree``."""
    return (node for node in _walk(tree) if isinstance(node, Call))


def _walk(tree: Node) -> Iterator[Node]:
    todo: list[Node] = [tree]
    while todo:
        node = todo.pop()
        yield node
        todo.extend(reversed(children(node)))


def children(node: Node) -> tuple[Node, ...]:
    """The parts of a node in the order written."""
    match node:
        case Prefix():
            return (node.operand,)
        case Infix():
            return (node.left, node.right)
        case Choose():
            return (node.then, node.condition, node.otherwise)
        case Call():
            return node.arguments
        case _:
            return ()


def _depth(tree: Node) -> int:
    deepest = 0
    todo: list[tuple[Node, int]] = [(tree, 1)]
    while todo:
        node, depth = todo.pop()
        deepest = max(deepest, depth)
        todo.extend((child, depth + 1) for child in children(node))
    return deepest


def _tokens(source: str) -> Iterator[_Token]:
    position = 0
    while True:
        match = _TOKEN.match(source, position)
        if match is None:
            raise _stray(source, position)
        kind = match.lastgroup or ""
        text, offset, position = match[kind], match.start(kind), match.end()
        if kind == "number":
            unit, position = _unit_after(source, position)
            yield _Token(kind, text, offset, unit)
        else:
            yield _Token(kind, text, offset)
        if kind == "end":
            return


def _stray(source: str, position: int) -> ExpressionError:
    position += len(source[position:]) - len(source[position:].lstrip())
    character = source[position]
    hints = {
        "=": "'=' is written '==' in a comparison",
        "!": "'!' is written 'not'",
        "&": "'&' is written 'and'",
        "|": "'|' is written 'or'",
        "%": "'%' stands only after a number",
        '"': "a quote that does not end",
        "'": "a quote that does not end",
    }
    return ExpressionError(hints.get(character, f"'{character}' means nothing here"), position)


def _unit_after(source: str, position: int) -> tuple[Unit, int]:
    """The unit that follows a number and where it ends; '' and ``position`` without one."""
    start = position + len(source[position:]) - len(source[position:].lstrip(" "))
    first = _UNIT_PART.match(source, start)
    if first is None or first[1] in KEYWORDS:
        return PLAIN, position
    if not is_unit(first[1]) or _goes_on(source, first.end()):
        stretch = re.match(r"[\w°%]+", source[start:])
        written = stretch[0] if stretch else first[1]
        try:
            parse_unit(written)
        except UnitError as error:
            raise ExpressionError(str(error), start) from None
    end = first.end()
    while end < len(source) and source[end] in "*/":
        part = _UNIT_PART.match(source, end + 1)
        if part is None or not is_unit(part[1]) or _goes_on(source, part.end()):
            break
        end = part.end()
    try:
        return parse_unit(source[start:end]), end
    except UnitError as error:
        raise ExpressionError(str(error), start) from None


def _goes_on(source: str, end: int) -> bool:
    """Whether what looked like a unit is the start of a longer name, or a call."""
    return source[end : end + 1].isalnum() or source[end : end + 1] in ("_", "(")


class _Parser:
    """A Pratt parser over the tokens of one expression."""

    def __init__(self, tokens: list[_Token]) -> None:
        self._tokens = tokens
        self._at = 0
        self._nodes = 0

    def expression(self, power: int, depth: int) -> Node:
        """An expression of operators that bind tighter than ``power``."""
        token = self._take()
        if depth > DEPTH_LIMIT:
            raise ExpressionError(f"nested more than {DEPTH_LIMIT} deep", token.offset)
        left = self._operand(token, depth)
        while True:
            operator = self._peek()
            binding = _LEFT_POWER.get(operator.text, 0) if operator.kind != "quoted" else 0
            if binding <= power:
                return left
            self._take()
            self._count(operator)
            left = self._after(left, operator, binding, depth)

    def finish(self) -> None:
        """Nothing may follow the expression."""
        token = self._peek()
        if token.kind == "end":
            return
        if token.text == "else":
            raise ExpressionError("'else' without an 'if' before it", token.offset)
        if token.text == ")":
            raise ExpressionError("')' without a '(' before it", token.offset)
        raise ExpressionError(f"an operator is missing before '{token.text}'", token.offset)

    def _after(self, left: Node, operator: _Token, binding: int, depth: int) -> Node:
        if operator.text == "if":
            condition = self.expression(binding, depth + 1)
            self._expect("else", "'if' wants an 'else' after its condition")
            otherwise = self.expression(binding - 1, depth + 1)
            return Choose(operator.offset, left, condition, otherwise)
        tighter = binding - 1 if operator.text == "^" else binding
        right = self.expression(tighter, depth + 1)
        if operator.text in _COMPARISONS and self._peek().text in _COMPARISONS:
            raise ExpressionError(
                "comparisons do not chain; write 'a < b and b < c'", self._peek().offset
            )
        return Infix(operator.offset, operator.text, left, right)

    def _operand(self, token: _Token, depth: int) -> Node:
        self._count(token)
        if token.kind == "number":
            return _number(token)
        if token.kind == "quoted":
            return Quoted(token.offset, token.text[1:-1].strip())
        if token.kind == "name" and token.text not in KEYWORDS:
            return self._named(token, depth)
        if token.text == "-":
            return Prefix(token.offset, "-", self.expression(_SIGN_POWER, depth + 1))
        if token.text == "not":
            return Prefix(token.offset, "not", self.expression(_NOT_POWER, depth + 1))
        if token.text == "(":
            inner = self.expression(0, depth + 1)
            self._expect(")", "')' is missing")
            return inner
        if token.kind == "end":
            raise ExpressionError("something is missing at the end", token.offset)
        raise ExpressionError(
            f"a number, a name or '(' should stand here, not '{token.text}'", token.offset
        )

    def _named(self, token: _Token, depth: int) -> Node:
        column = ""
        if self._peek().text == ".":
            self._take()
            after = self._take()
            if after.kind != "name":
                raise ExpressionError("the name of a column should follow '.'", after.offset)
            column = after.text
            if self._peek().text != "(":
                raise ExpressionError(
                    f"a column is looked up at values in parentheses: {token.text}.{column}(...)",
                    self._peek().offset,
                )
        if self._peek().text != "(":
            return Name(token.offset, token.text)
        self._take()
        arguments: list[Node] = []
        if self._peek().text != ")":
            arguments.append(self.expression(0, depth + 1))
            while self._peek().text == ",":
                self._take()
                arguments.append(self.expression(0, depth + 1))
        self._expect(")", "')' is missing")
        return Call(token.offset, token.text, column, tuple(arguments))

    def _count(self, token: _Token) -> None:
        self._nodes += 1
        if self._nodes > NODE_LIMIT:
            raise ExpressionError(
                f"more than {NODE_LIMIT} parts; give some of them a name", token.offset
            )

    def _peek(self) -> _Token:
        return self._tokens[min(self._at, len(self._tokens) - 1)]

    def _take(self) -> _Token:
        token = self._peek()
        self._at += 1
        return token

    def _expect(self, text: str, message: str) -> None:
        token = self._peek()
        if token.text != text or token.kind == "quoted":
            raise ExpressionError(message, token.offset)
        self._take()


def _number(token: _Token) -> Number:
    value = float(token.text)
    if value == float("inf"):
        raise ExpressionError("too large a number", token.offset)
    return Number(token.offset, value, token.unit)
