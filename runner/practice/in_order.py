"""The memory items of an abnormal list: each answer from memory, in order, against the clock."""

from __future__ import annotations

from runner.checklist.model import Item
from runner.engine.effects import Candidate, NumberWanted
from runner.engine.lines import EMPTY, Line, listed, values_of
from runner.engine.listening import widened, window_for
from runner.engine.program import Program
from runner.engine.speaking import list_name
from runner.phrasing.normal import normalise
from runner.practice import wording
from runner.practice.cards import Card, Figures, lines_of, memory_items
from runner.practice.exercise import MOST_HINTS, Hints, Outcome, expected
from runner.practice.naming import names_of

AN_ITEM = (8_000, 6_500, 5_000, 4_000)
"""Milliseconds by level that an item may take, in the mean."""

LIMITS = (15_000, 12_000, 10_000, 8_000)
"""Milliseconds by level of silence after which the item is told."""


class InOrder:
    """Memory items under way."""

    def __init__(
        self, program: Program, figures: Figures, list_id: str, level: int, engine: int
    ) -> None:
        checklist = program.lists[list_id]
        argument = str(engine) if checklist.argument == "engine" else ""
        title = list_name(program, list_id, argument)
        self.items: list[Item] = memory_items(checklist, figures)
        self.prompt = wording.line(program, "drill_memory", list=title)
        self.heading = self.prompt.text
        self.limit_ms = LIMITS[level]
        self.allowed_ms = AN_ITEM[level] * len(self.items)
        self.missed: list[str] = []
        self.verifies = ""
        self._program = program
        self._figures = figures
        self._engine = engine
        self._level = level
        self._place = 0
        self._hints = self._fresh_hints()

    def window(self) -> tuple[tuple[Candidate, ...], NumberWanted | None]:
        """The item's answer and what it must not be mistaken for, and the other items'."""
        item = self.items[self._place]
        engine = self._engine
        values = values_of(self._program, self._figures, item.id)
        known, _ = window_for(self._program, "item", item.id, engine, values, (), 0)
        found = [one for one in known if one.role in ("answer", "competitor")]
        own = lines_of(self._program, item.id, self._figures, engine)
        for number, other in enumerate(self.items):
            lines = lines_of(self._program, other.id, self._figures, engine)
            if number != self._place and normalise(lines.wanted.text) != normalise(own.wanted.text):
                names = names_of(self._program, other, self._figures, engine)
                source = widened(self._program.style, lines.answer, names)
                found.append(Candidate(f"wrong:{100 + number}", "competitor", source))
        return tuple(found), None

    def hear(self, candidate: str, value: float | None, text: str) -> Outcome:  # noqa: ARG002
        if candidate != "answer":
            return self._not_known(text)
        return self._next(EMPTY, took=True)

    def silent(self) -> Outcome:
        return self._not_known("")

    def give_up(self) -> Outcome:
        return self._not_known("")

    def hint(self) -> Line:
        return self._hints.next()

    def _not_known(self, heard: str) -> Outcome:
        line = self._line()
        self.missed.append(line.text)
        return self._next(expected(self._program, line, heard), took=False)

    def _next(self, said: Line, took: bool) -> Outcome:
        self._place += 1
        if self._place < len(self.items):
            self._hints = self._fresh_hints()
            # Who was told what comes here has to know that the next one is wanted now.
            then = EMPTY if took else wording.line(self._program, "drill_then")
            return Outcome(said, ask=then, took=took)
        right = not self.missed
        if right:
            said = wording.line(self._program, "drill_right")
        return Outcome(said, over=True, right=right, took=took)

    def _line(self) -> Line:
        lines = lines_of(self._program, self.items[self._place].id, self._figures, self._engine)
        return listed((lines.challenge, lines.wanted))

    def _fresh_hints(self) -> Hints:
        return Hints(self._line(), MOST_HINTS[self._level])


def memory(program: Program, figures: Figures, card: Card, level: int, engine: int) -> InOrder:
    """The memory items of the card's list, about that engine where it is about one."""
    return InOrder(program, figures, card.thing, level, engine)
