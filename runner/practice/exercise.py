"""What every kind of question has in common: what is said, heard, hinted and what comes of it.

A question is put to the pilot as an ``Exercise``. It knows no time and no scheduling: the
session (``runner.practice.session``) asks it for a window, tells it what was heard and
takes what it says. None of them ever takes silence for a right answer, but for a right
answer of the co-pilot's that is let pass.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from runner.engine.effects import Candidate, NumberWanted
from runner.engine.lines import EMPTY, Line
from runner.engine.program import Program
from runner.practice import wording

MORE = " …"
"""How a hint ends that does not hold the whole answer."""

MOST_HINTS = (9, 9, 1, 0)
"""By level of difficulty: how many hints there are."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What comes of what was heard, or of silence. ``said`` comes before what is next.

    ``over``: the question has ended, and ``right`` says how; else it goes on, and is put
    again as ``ask`` where that is not empty. ``took`` was a right part of a longer answer.
    """

    said: Line = EMPTY
    over: bool = False
    right: bool = False
    ask: Line = EMPTY
    took: bool = False


class Exercise(Protocol):
    """One question under way."""

    prompt: Line
    limit_ms: int
    """So long after the question's end (or the last part of the answer) silence counts."""

    allowed_ms: int
    """An answer that takes longer is a slow one; 0 where only one's own past says so."""

    missed: list[str]
    """What was not known, for the summary."""

    verifies: str
    """The list that is run after the answer to verify it; '' for none."""

    heading: str
    """What the question was about, for the summary."""

    def window(self) -> tuple[tuple[Candidate, ...], NumberWanted | None]:
        """What may be said now."""

    def hear(self, candidate: str, value: float | None, text: str) -> Outcome:
        """Something was said: a candidate of the window, or '' for none of them."""

    def silent(self) -> Outcome:
        """Nothing was said in time."""

    def give_up(self) -> Outcome:
        """The pilot asks to be told."""

    def hint(self) -> Line:
        """The next hint; empty where there is none left."""


class Hints:
    """The hints of one answer: its first word, then half of it, then all."""

    def __init__(self, answer: Line, most: int) -> None:
        self._words = answer.speech.split()
        self._shown = answer.text.split()
        self._left = most
        self._given = 0

    def next(self) -> Line:
        """A little more of the answer than before; empty where no hint is left."""
        total = len(self._shown)
        if self._left <= 0 or self._given >= total:
            return EMPTY
        self._left -= 1
        more = 1 if not self._given else max(self._given + 1, (total + 1) // 2)
        self._given = total if self._given >= (total + 1) // 2 else more
        if self._given < total:
            words = " ".join(self._shown[: self._given])
            return Line(f"{words}{MORE}", words)
        return Line(" ".join(self._shown), " ".join(self._words))


def expected(program: Program, wanted: Line, heard: str) -> Line:
    """What was wanted and what was said instead; what is wanted alone where nothing was."""
    if not heard:
        return wording.line(program, "drill_it_is", answer=wanted)
    from runner.engine.lines import plain, said

    return said(program, "expected", expected=wanted, heard=plain(program, heard))


def as_competitors(sources: Sequence[str]) -> list[Candidate]:
    """Wrong answers, as a window has them."""
    return [Candidate(f"wrong:{n}", "competitor", source) for n, source in enumerate(sources)]
