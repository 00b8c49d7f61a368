"""A whole flow from memory: every item named, in order; then the list is run to verify it."""

from __future__ import annotations

from runner.engine.effects import Candidate, NumberWanted
from runner.engine.lines import EMPTY, Line, join, plain
from runner.engine.program import Program
from runner.engine.speaking import list_name
from runner.practice import wording
from runner.practice.cards import Card, Figures, lines_of, sequence
from runner.practice.exercise import MOST_HINTS, Hints, Outcome
from runner.practice.naming import names_of

LIMITS = (30_000, 20_000, 15_000, 10_000)
"""Milliseconds by level of silence after which it is asked whether there is anything more."""


class FromMemory:
    """A flow under way: the items are named, with or without their answer."""

    def __init__(
        self, program: Program, figures: Figures, list_id: str, level: int, engine: int
    ) -> None:
        checklist = program.lists[list_id]
        argument = str(engine) if checklist.argument == "engine" else ""
        title = list_name(program, list_id, argument)
        self.prompt = wording.line(program, "drill_flow", list=title)
        self.heading = self.prompt.text
        self.limit_ms = LIMITS[level]
        self.allowed_ms = 0
        self.missed: list[str] = []
        self.verifies = list_id
        self._program = program
        self._level = level
        self._lines: list[Line] = []
        self._candidates: list[Candidate] = []
        self._said: list[int] = []
        self._reminded = False
        self._list(figures, list_id, engine)
        self._hints = self._fresh_hints()

    def _list(self, figures: Figures, list_id: str, engine: int) -> None:
        taken: set[str] = set()
        for item in sequence(self._program.lists[list_id], figures):
            names = names_of(self._program, item, figures, engine)
            names = tuple(name for name in names if name not in taken)
            if not names:
                continue
            taken |= set(names)
            lines = lines_of(self._program, item.id, figures, engine)
            answer = f" ({lines.answer})?" if lines.answer else ""
            pattern = f"(the)? ({' / '.join(names)}){answer}"
            self._candidates.append(Candidate(f"item:{len(self._lines)}", "answer", pattern))
            self._lines.append(lines.challenge)

    def window(self) -> tuple[tuple[Candidate, ...], NumberWanted | None]:
        controls = wording.controls(self._program, ("flow_complete",), ())
        return (*self._candidates, *controls), None

    def hear(self, candidate: str, value: float | None, text: str) -> Outcome:  # noqa: ARG002
        if candidate == "control:flow_complete":
            return self._end()
        kind, _, place = candidate.partition(":")
        if kind != "item" or int(place) in self._said:
            return Outcome()
        self._said.append(int(place))
        self._reminded = False
        self._hints = self._fresh_hints()
        return Outcome(took=True)

    def silent(self) -> Outcome:
        if self._reminded:
            return self._end()
        self._reminded = True
        return Outcome(ask=wording.line(self._program, "drill_anything_more"))

    def give_up(self) -> Outcome:
        return self._end()

    def hint(self) -> Line:
        return self._hints.next()

    def _fresh_hints(self) -> Hints:
        left = next((n for n in range(len(self._lines)) if n not in self._said), None)
        most = 0 if left is None else MOST_HINTS[self._level]
        return Hints(EMPTY if left is None else self._lines[left], most)

    def _end(self) -> Outcome:
        left = [line for n, line in enumerate(self._lines) if n not in self._said]
        late = [
            self._lines[one]
            for place, one in enumerate(self._said)
            if any(earlier > one for earlier in self._said[:place])
        ]
        self.missed = [line.text for line in (*left, *late)]
        found = []
        if left:
            found.append(self._named("drill_missed", left))
        if late:
            found.append(self._named("drill_not_in_order", late))
        if not found:
            found.append(wording.line(self._program, "drill_none_missed"))
        return Outcome(join(found), over=True, right=not self.missed)

    def _named(self, name: str, lines: list[Line]) -> Line:
        items = wording.and_then(plain(self._program, line.text) for line in lines)
        return wording.line(self._program, name, items=items)


def flow(program: Program, figures: Figures, card: Card, level: int, engine: int) -> FromMemory:
    """The card's list, named from memory."""
    return FromMemory(program, figures, card.thing, level, engine)
