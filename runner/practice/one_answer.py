"""Questions with one answer: the response to a challenge, the item that comes next, a figure."""

from __future__ import annotations

from collections.abc import Mapping
from math import floor
from random import Random

from runner.checklist.model import Readback
from runner.engine.effects import Candidate, NumberWanted
from runner.engine.lines import EMPTY, Line, figure_line, form_of, join, number_line, values_of
from runner.engine.listening import widened, window_for
from runner.engine.program import Program
from runner.engine.speaking import list_name
from runner.figures.sheet import Sheet
from runner.phrasing.normal import normalise
from runner.phrasing.style import Form
from runner.practice import wording
from runner.practice.cards import Card, Figures, lines_of, sequence
from runner.practice.confusions import confusions
from runner.practice.draw import Drawn, day_line, draw, tolerance
from runner.practice.exercise import MORE, MOST_HINTS, Hints, Outcome, as_competitors, expected
from runner.practice.naming import name_pattern, names_of

LIMITS: Mapping[str, tuple[int, ...]] = {
    "response": (15_000, 12_000, 9_000, 7_000),
    "next": (15_000, 12_000, 9_000, 7_000),
    "numbers": (60_000, 45_000, 30_000, 20_000),
}
"""Milliseconds by kind and level after which silence counts as not knowing."""

OTHER_ITEMS = 12
"""So many other items of the list are listened for beside the right one."""


class OneAnswer:
    """A question that the first answer ends, right or wrong."""

    def __init__(
        self,
        program: Program,
        level: int,
        kind: str,
        prompt: Line,
        wanted: Line,
        candidates: tuple[Candidate, ...],
        number: NumberWanted | None = None,
        within: tuple[float, float] = (0.0, -1.0),
        about: Line = EMPTY,
    ) -> None:
        self.prompt = prompt
        self.limit_ms = LIMITS[kind][level]
        self.allowed_ms = 0
        self.missed: list[str] = []
        self.verifies = ""
        self.heading = prompt.text
        self._program = program
        self._wanted = wanted
        self._window = candidates, number
        self._within = within
        self._most_hints = MOST_HINTS[level]
        self._about = about
        self._hints = Hints(wanted, self._most_hints)

    def window(self) -> tuple[tuple[Candidate, ...], NumberWanted | None]:
        return self._window

    def hear(self, candidate: str, value: float | None, text: str) -> Outcome:
        if candidate == "answer":
            return Outcome(wording.line(self._program, "drill_right"), over=True, right=True)
        if candidate == "number" and value is not None:
            return self._number(value)
        return self._wrong(text)

    def silent(self) -> Outcome:
        return self._wrong("")

    def give_up(self) -> Outcome:
        return self._wrong("")

    def hint(self) -> Line:
        """A number is first hinted at by where it lies: its first word would be all of it."""
        if self._about.text and self._most_hints:
            about, self._about = self._about, EMPTY
            return Line(about.text + MORE, about.speech)
        if self._window[1] is not None:
            return self._wanted if self._most_hints > 1 else EMPTY
        return self._hints.next()

    def _number(self, value: float) -> Outcome:
        low, high = self._within
        slack = 1e-9 * max(1.0, abs(low), abs(high))
        number = self._window[1]
        assert number is not None
        if not low - slack <= value <= high + slack:
            return self._wrong(number_line(self._program, value, number.form).text)
        exact = number_line(self._program, value, number.form).text == self._wanted.text
        name = "drill_right" if exact else "drill_right_value"
        places = {} if exact else {"value": self._wanted}
        return Outcome(wording.line(self._program, name, **places), over=True, right=True)

    def _wrong(self, heard: str) -> Outcome:
        self.missed = [self._wanted.text]
        return Outcome(expected(self._program, self._wanted, heard), over=True)


def response(program: Program, figures: Figures, card: Card, level: int, engine: int) -> OneAnswer:
    """The challenge is said, the answer is wanted; what other lists answer to the same
    challenge is listened for too."""
    lines = lines_of(program, card.thing, figures, engine)
    checklist = program.list_of[card.thing]
    values = values_of(program, figures, card.thing)
    known, _ = window_for(program, "item", card.thing, engine, values, (), 0)
    heard = [one for one in known if one.role in ("answer", "competitor")]
    found = [source for source, _ in confusions(program, figures, card.thing, engine)]
    extra = [
        Candidate(f"wrong:{100 + n}", "competitor", widened(program.style, source, ()))
        for n, source in enumerate(found)
    ]
    title = list_name(program, checklist.id, _argument(checklist.argument, engine))
    prompt = join((title, lines.challenge))
    return OneAnswer(program, level, "response", prompt, lines.wanted, (*heard, *extra))


def next_item(program: Program, figures: Figures, card: Card, level: int, engine: int) -> OneAnswer:
    """An item is named, the one after it is wanted; the others of its list may be said."""
    item = program.items[card.thing]
    checklist = program.list_of[card.thing]
    title = list_name(program, checklist.id, _argument(checklist.argument, engine))
    if card.before:
        after = lines_of(program, card.before, figures, engine).challenge
        prompt = wording.line(program, "drill_next", list=title, challenge=after)
    else:
        prompt = wording.line(program, "drill_first", list=title)
    names = names_of(program, item, figures, engine)
    wrong: dict[str, None] = {}
    for other in sequence(checklist, figures):
        theirs = tuple(n for n in names_of(program, other, figures, engine) if n not in names)
        if theirs and other.id != item.id:
            wrong[name_pattern(theirs)] = None
    candidates = (
        Candidate("answer", "answer", name_pattern(names)),
        *as_competitors(list(wrong)[:OTHER_ITEMS]),
    )
    wanted = lines_of(program, item.id, figures, engine).challenge
    return OneAnswer(program, level, "next", prompt, wanted, candidates)


def numbers(
    program: Program,
    sheet: Sheet,
    given: Mapping[str, float | str],
    card: Card,
    level: int,
    random: Random,
) -> OneAnswer:
    """A load and a day are drawn, and the figure for them is wanted.

    Raises RunnerError where no load and day gives the figure.
    """
    drawn = draw(sheet, card.thing, given, random)
    return _number_question(program, sheet, drawn, level)


def _number_question(program: Program, sheet: Sheet, drawn: Drawn, level: int) -> OneAnswer:
    figure = drawn.figure
    assert not isinstance(figure.value, str)
    own = max(
        (
            item.response.tolerance
            for item in program.items.values()
            if isinstance(item.response, Readback) and item.response.figure == figure.name
        ),
        default=0.0,
    )
    slack = tolerance(sheet.aircraft, figure, level, own)
    form = form_of(figure)
    title = figure.title or figure.name.replace("_", " ")
    within = number_line(program, slack, form)
    shown = Line(title[0].upper() + title[1:], title)
    day = day_line(program, drawn)
    asked = Line(f"{shown.text}, within {within.text}", f"{shown.speech}, within {within.speech}")
    prompt = wording.line(program, "drill_numbers", day=day, figure=asked)
    low, high = _plausible(float(figure.value))
    number = NumberWanted(form, low, high, normalise(title))
    wanted = figure_line(program, figure)
    value = float(figure.value)
    return OneAnswer(
        program,
        level,
        "numbers",
        prompt,
        wanted,
        (),
        number,
        (value - slack, value + slack),
        _about(program, value, slack, form),
    )


def _about(program: Program, value: float, slack: float, form: Form) -> Line:
    """Where a figure lies: a stretch several times as wide as what is let pass."""
    wide = 6 * slack
    low = floor((value - wide / 3) / wide) * wide
    ends = [number_line(program, end, form) for end in (low, low + 2 * wide)]
    places = {"low": ends[0], "high": ends[1]}
    return wording.line(program, "drill_between", **places)


def _plausible(value: float) -> tuple[float, float]:
    return min(0.0, 10 * value), max(0.0, 10 * value, 100.0)


def _argument(argument: str, engine: int) -> str:
    return str(engine) if argument == "engine" else ""
