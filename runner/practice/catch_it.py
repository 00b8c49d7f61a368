"""What is wrong: the co-pilot answers, and a wrong answer is to be caught, a right one let pass."""

from __future__ import annotations

from random import Random

from runner.engine.effects import Candidate, NumberWanted
from runner.engine.lines import Line, join, listed, plain
from runner.engine.program import Program
from runner.engine.speaking import list_name
from runner.practice import wording
from runner.practice.cards import Card, Figures, lines_of
from runner.practice.confusions import confusions, neighbours, opposites
from runner.practice.exercise import MOST_HINTS, Hints, Outcome

LIMITS = (6_000, 5_000, 4_000, 3_000)
"""Milliseconds by level: who says nothing for so long has let it pass."""

WRONG_SHARE = 0.5


class CatchIt:
    """The answer was wrong (``said`` is not what is ``wanted``) or right (they are the same)."""

    def __init__(
        self, program: Program, level: int, prompt: Line, challenge: Line, wanted: Line, said: Line
    ) -> None:
        self.prompt = prompt
        self.limit_ms = LIMITS[level]
        self.allowed_ms = 0
        self.missed: list[str] = []
        self.verifies = ""
        self.heading = prompt.text
        self.is_wrong = said.text != wanted.text
        self._program = program
        self._challenge = challenge
        self._wanted = wanted
        self._hints = Hints(wanted, MOST_HINTS[level])

    def window(self) -> tuple[tuple[Candidate, ...], NumberWanted | None]:
        return tuple(wording.controls(self._program, ("pass", "disagree"), ())), None

    def hear(self, candidate: str, value: float | None, text: str) -> Outcome:  # noqa: ARG002
        if candidate == "control:disagree":
            if self.is_wrong:
                caught = wording.line(self._program, "drill_caught", answer=self._wanted)
                return Outcome(caught, over=True, right=True)
            was = wording.line(self._program, "drill_was_right", answer=self._wanted)
            return Outcome(was, over=True)
        if candidate == "control:pass":
            return self._passed()
        return Outcome(ask=self.prompt)

    def silent(self) -> Outcome:
        return self._passed()

    def give_up(self) -> Outcome:
        name = "drill_was_wrong" if self.is_wrong else "drill_was_right"
        return Outcome(self._told(name), over=True)

    def hint(self) -> Line:
        """The right answer's first word, then more of it."""
        return self._hints.next()

    def _passed(self) -> Outcome:
        if self.is_wrong:
            return Outcome(self._told("drill_was_wrong"), over=True)
        return Outcome(wording.line(self._program, "drill_right"), over=True, right=True)

    def _told(self, name: str) -> Line:
        places = {"answer": self._wanted}
        if name == "drill_was_wrong":
            places["challenge"] = self._challenge
        return wording.line(self._program, name, **places)


def wrong(
    program: Program, figures: Figures, card: Card, level: int, engine: int, random: Random
) -> CatchIt:
    """A challenge with its answer, wrong half of the time.

    The wrong answers come nearer with the level: first the item's own opposites, then what
    another list answers to the same challenge or an item beside it answers.
    """
    lines = lines_of(program, card.thing, figures, engine)
    checklist = program.list_of[card.thing]
    argument = str(engine) if checklist.argument == "engine" else ""
    plainly = opposites(program, figures, card.thing, engine)
    near = (
        *confusions(program, figures, card.thing, engine),
        *neighbours(program, figures, card.thing, engine),
    )
    pool = (near or plainly) if level >= 2 else (plainly or near)
    said = lines.wanted
    if pool and random.random() < WRONG_SHARE:
        said = plain(program, random.choice(pool)[1])
    prompt = join((list_name(program, checklist.id, argument), listed((lines.challenge, said))))
    return CatchIt(program, level, prompt, lines.challenge, lines.wanted, said)
