"""Finite automata of words: rule bodies in JSGF made into the smallest deterministic one.

A listening window holds some sixty phrases, most of which begin or end alike ("engine fire
number one" to "number four"). A decoder pays in memory and time for every arc, so phrases
share their beginnings and ends before it sees them: a quarter of the arcs remains.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

_TOKEN = re.compile(r"[()\[\]|]|[^\s()\[\]|]+")


@dataclass(frozen=True, slots=True)
class Automaton:
    """States are numbered from 0, where it starts; an arc is from, to and its word."""

    size: int
    arcs: tuple[tuple[int, int, str], ...]
    final: frozenset[int]

    @property
    def words(self) -> frozenset[str]:
        """Every word on an arc."""
        return frozenset(word for _, _, word in self.arcs)

    def accepts(self, text: str) -> bool:
        """Whether the words of ``text`` lead from the start to a final state."""
        step = {(start, word): end for start, end, word in self.arcs}
        state: int | None = 0
        for word in text.split():
            state = step.get((state, word)) if state is not None else None
        return state in self.final


@lru_cache(maxsize=8)
def automaton(rules: tuple[str, ...]) -> Automaton:
    """The smallest deterministic automaton for any one of the rule bodies.

    Bodies hold words, ``|``, ``( )`` and ``[ ]``; raises ``ValueError`` when a bracket has
    no partner. The empty text is never accepted.
    """
    net = _Net()
    start = net.state()
    ends = [net.body(start, _TOKEN.findall(rule)) for rule in rules]
    return _smallest(*net.determined(start, frozenset(ends)))


class _Net:
    """A non-deterministic automaton while it is built; an empty word is a free step."""

    def __init__(self) -> None:
        self.arcs: list[list[tuple[str, int]]] = []
        self._at = 0
        self._tokens: list[str] = []

    def state(self) -> int:
        """A new state."""
        self.arcs.append([])
        return len(self.arcs) - 1

    def body(self, start: int, tokens: list[str]) -> int:
        """Add a rule body that begins at ``start``; gives the state where it ends."""
        self._tokens, self._at = tokens, 0
        end = self._choice(start)
        if self._at < len(tokens):
            raise ValueError(f"{tokens[self._at]} closes nothing")
        return end

    def _choice(self, start: int) -> int:
        end = self.state()
        while True:
            self.arcs[self._sequence(start)].append(("", end))
            if self._peek() != "|":
                return end
            self._at += 1

    def _sequence(self, start: int) -> int:
        state = self.state()
        self.arcs[start].append(("", state))
        while (token := self._peek()) not in ("", "|", ")", "]"):
            self._at += 1
            if token not in ("(", "["):
                after = self.state()
                self.arcs[state].append((token, after))
                state = after
                continue
            end = self._choice(state)
            if self._peek() != (")" if token == "(" else "]"):
                raise ValueError(f"{token} is not closed")
            self._at += 1
            if token == "[":
                self.arcs[state].append(("", end))
            state = end
        return state

    def _peek(self) -> str:
        return self._tokens[self._at] if self._at < len(self._tokens) else ""

    def _closure(self, states: Iterable[int]) -> frozenset[int]:
        found = set(states)
        stack = list(found)
        while stack:
            for word, end in self.arcs[stack.pop()]:
                if not word and end not in found:
                    found.add(end)
                    stack.append(end)
        return frozenset(found)

    def determined(
        self, start: int, final: frozenset[int]
    ) -> tuple[list[dict[str, int]], list[bool]]:
        """The deterministic automaton: arcs by word of each state, and which are final."""
        first = self._closure([start])
        numbers = {first: 0}
        queue = [first]
        steps: list[dict[str, int]] = []
        for states in queue:
            ways: dict[str, set[int]] = {}
            for state in states:
                for word, end in self.arcs[state]:
                    if word:
                        ways.setdefault(word, set()).add(end)
            step: dict[str, int] = {}
            for word in sorted(ways):
                reached = self._closure(ways[word])
                if reached not in numbers:
                    numbers[reached] = len(queue)
                    queue.append(reached)
                step[word] = numbers[reached]
            steps.append(step)
        return steps, [bool(states & final) for states in queue]


def _smallest(steps: list[dict[str, int]], final: list[bool]) -> Automaton:
    """Merge states with the same future; without loops one pass from the ends is enough."""
    same: dict[tuple[bool, tuple[tuple[str, int], ...]], int] = {}
    into: dict[int, int] = {}
    for state in _ends_first(steps):
        future = tuple((word, into[end]) for word, end in steps[state].items())
        into[state] = same.setdefault((final[state], future), state)
    numbers = {into[0]: 0}
    for state in range(len(steps)):
        numbers.setdefault(into[state], len(numbers))
    arcs = tuple(
        (numbers[state], numbers[into[end]], word)
        for state in sorted(set(into.values()))
        for word, end in steps[state].items()
    )
    ends = frozenset(numbers[into[state]] for state, last in enumerate(final) if last)
    return Automaton(len(numbers), arcs, ends - {0})


def _ends_first(steps: list[dict[str, int]]) -> list[int]:
    """Every state after all that it leads to."""
    order: list[int] = []
    seen: set[int] = set()
    stack = [(0, False)]
    while stack:
        state, done = stack.pop()
        if done:
            order.append(state)
        elif state not in seen:
            seen.add(state)
            stack.append((state, True))
            stack.extend((end, False) for end in steps[state].values() if end not in seen)
    return order
