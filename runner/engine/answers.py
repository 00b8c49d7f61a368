"""Judging an answer to the item that is asked. Nothing else makes an item done.

The verdict on what was said came with the event; here it is held against what is wanted.
A right answer moves on, a wrong one is named and asked again, and what cannot be checked
is not accepted.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Literal

from runner.checklist.model import Choice, Enter, Readback, Reading, Spoken, Words
from runner.engine.asking import ask_again, ask_item, engine_line, item_engine
from runner.engine.conditions import holds
from runner.engine.crewing import wants_another
from runner.engine.lines import (
    Line,
    canonical,
    figure_line,
    form_of,
    listed,
    number_line,
    pattern_of,
    pattern_text,
    plain,
    said,
)
from runner.engine.lists import advance, set_input, settle
from runner.engine.speaking import Turn
from runner.figures.figure import Figure
from runner.figures.model import Input
from runner.phrasing.normal import normalise
from runner.phrasing.numbers import hear_number

By = Literal["voice", "key"]
CLOSE = 0.02
"""How near a reading has to be to a value that has a word."""

NO_READINGS: Mapping[str, float] = {}
SLACK = 1e-9
"""What binary fractions may add to a tolerance."""


def right(turn: Turn, answered: str, by: Literal["voice", "key", "feed"]) -> None:
    """The current item is answered: on to the next at once, unless another must answer too."""
    turn.hush()
    if by != "feed" and wants_another(turn, answered):
        turn.put_anew(lambda: ask_item(turn, insist=True))
        return
    if turn.run.wordiness == "tones":
        turn.tone("right")
    settle(turn, answered, by)
    advance(turn)


def wrong(turn: Turn, expected: Line, heard: Line) -> None:
    """Say what was expected and what was heard, and ask again by name."""
    turn.hush()
    challenge = turn.lines(turn.item.id, item_engine(turn)).challenge
    turn.note(f"{challenge.text}: heard {heard.text}; expected {expected.text}", "judged")
    turn.run.agreed = ("", "")
    if turn.run.wordiness == "tones":
        turn.tone("wrong")
    turn.say_first("expected", expected=expected, heard=heard)
    ask_item(turn, insist=True)


def answer_words(turn: Turn, by: By, readings: Mapping[str, float] = NO_READINGS) -> bool:
    """The right words were said. False where the item is not answered in words."""
    item = turn.item
    lines = turn.lines(item.id, item_engine(turn))
    if not lines.answer:
        return False
    if isinstance(item.response, Reading) and readings:
        condition = item.response.condition
        if holds(condition, turn.run.figures, readings) is False:
            _contradicted(turn, lines.wanted, _shown(turn, condition.names, readings))
            return True
    if item.check is not None and holds(item.check, turn.run.figures, readings) is False:
        _contradicted(turn, lines.wanted, _shown(turn, item.check.names, readings))
        return True
    right(turn, lines.wanted.text, by)
    return True


def _contradicted(turn: Turn, answer: Line, reading: Line) -> None:
    """The words were right and the readings say otherwise: not accepted, unless kept."""
    turn.hush()
    challenge = turn.lines(turn.item.id, item_engine(turn)).challenge
    turn.note(f"{challenge.text}: said {answer.text}; the reading says {reading.text}", "judged")
    turn.say_first("contradicted", answer=answer, reading=reading)
    ask_item(turn, insist=True)
    turn.run.contradicted = (turn.item.id, answer.text)


def keep(turn: Turn, by: By) -> bool:
    """Keep the answer that a reading contradicted, on the pilot's word."""
    run = turn.run
    if run.asking != "item" or run.contradicted[0] != turn.item.id:
        return False
    lines = turn.lines(turn.item.id, item_engine(turn))
    turn.note(f"{lines.challenge.text}: {lines.wanted.text}, kept on the pilot's word", "judged")
    turn.say_first("kept", challenge=lines.challenge, answer=lines.wanted)
    right(turn, f"{lines.wanted.text} (on the pilot's word)", by)
    return True


def _shown(turn: Turn, names: frozenset[str], readings: Mapping[str, float]) -> Line:
    """What the readings say: each with its title, one that has words for its values by them."""
    given = sorted(names & readings.keys())
    return listed([_reading(turn, name, readings[name], alone=len(given) == 1) for name in given])


def _reading(turn: Turn, name: str, value: float, alone: bool) -> Line:
    aircraft = turn.program.procedures.aircraft
    base, _, which = name.rpartition("_")
    rule = aircraft.readings.get(name) or aircraft.readings.get(base)
    if rule is None:
        title, shown = name.replace("_", " "), plain(turn.program, f"{value:g}")
    else:
        title = rule.title if rule.name == name else f"{rule.title} {which}"
        figure = Figure(name, value, rule.unit, rule.decimals, rule.kind)
        shown = figure_line(turn.program, figure)
        if rule.words:
            shown = plain(turn.program, _word(rule.words, value))
            if alone:
                return shown
    line = plain(turn.program, title)
    return Line(f"{line.text} {shown.text}", f"{line.speech} {shown.speech}")


def _word(words: tuple[tuple[float, str], ...], value: float) -> str:
    """What a value means; between two, both."""
    below = [pair for pair in words if pair[0] <= value + CLOSE]
    above = [pair for pair in words if pair[0] >= value - CLOSE]
    if not below or not above:
        return min(words, key=lambda pair: abs(pair[0] - value))[1]
    low, high = max(below), min(above)
    if low[0] >= high[0]:
        return low[1]
    return f"between {low[1]} and {high[1]}"


def competitor(turn: Turn, place: str, text: str = "") -> bool:
    """What the answer must not be mistaken for was said: named and asked again.

    ``text`` is what was heard; a competitor of several texts is named by it.
    """
    lines = turn.lines(turn.item.id, item_engine(turn))
    if not place.isdigit() or int(place) >= len(lines.competitors):
        return False
    pattern, named = lines.competitors[int(place)]
    wrong(turn, lines.wanted, plain(turn.program, _named(pattern, text) or named))
    return True


def _named(pattern: str, text: str) -> str:
    """The longest text of a pattern with which what was heard ends."""
    heard = f" {normalise(text)}"
    texts = [t for t in pattern_of(pattern).texts(limit=60) if heard.endswith(f" {t}")]
    return max(texts, key=len, default="")


def option(turn: Turn, value: str, by: By) -> bool:
    """One of several answers was chosen: it is kept as an input."""
    response = turn.item.response
    if isinstance(response, Choice):
        for name, text in response.options:
            if name == value:
                answered = canonical(
                    pattern_text(turn.program, text, turn.run.figures, item_engine(turn))
                )
                set_input(turn, response.keep, value)
                right(turn, answered, by)
                return True
        return False
    wanted = _input(turn)
    if wanted is None or value not in wanted.choices:
        return False
    set_input(turn, wanted.name, value)
    right(turn, value.replace("_", " "), by)
    return True


def number(turn: Turn, value: float, by: By) -> bool:
    """A number was said: held against the figure, or taken as an input within its range."""
    if not math.isfinite(value):
        return False
    response = turn.item.response
    if isinstance(response, Readback):
        return _read_back(turn, response, value, by)
    wanted = _input(turn)
    if wanted is None or wanted.choices:
        return False
    form = form_of(Figure(wanted.name, value, wanted.unit, wanted.decimals, wanted.kind))
    heard = number_line(turn.program, value, form)
    if not wanted.low <= value <= wanted.high:
        turn.hush()
        turn.note(f"{wanted.title}: heard {heard.text}, out of its range", "judged")
        turn.say_first(
            "out_of_range",
            name=plain(turn.program, wanted.title),
            low=number_line(turn.program, wanted.low, form),
            high=number_line(turn.program, wanted.high, form),
        )
        ask_item(turn, insist=True)
        return True
    turn.lead.append(heard)
    set_input(turn, wanted.name, value)
    right(turn, heard.text, by)
    return True


def _read_back(turn: Turn, response: Readback, value: float, by: By) -> bool:
    figure = turn.run.figures.get(response.figure)
    if figure is None or isinstance(figure.value, str):
        turn.hush()
        turn.say_first(
            "changed",
            figure=plain(turn.program, response.figure.replace("_", " ")),
            value=figure_line(turn.program, None),
        )
        turn.note(f"{response.figure.replace('_', ' ')} is not known: nothing to check", "judged")
        ask_item(turn, insist=True)
        return True
    heard = number_line(turn.program, value, form_of(figure))
    if abs(value - figure.value) <= response.tolerance + SLACK:
        right(turn, heard.text, by)
    else:
        wrong(turn, figure_line(turn.program, figure), heard)
    return True


def _input(turn: Turn) -> Input | None:
    response = turn.item.response
    if not isinstance(response, Enter):
        return None
    return turn.program.procedures.aircraft.inputs.get(response.input)


def by_hand(turn: Turn) -> bool:
    """The pilot marks the item done by key.

    A value that is asked for is confirmed as it is known; where it is not known there is
    nothing to confirm and the item stays.
    """
    response = turn.item.response
    lines = turn.lines(turn.item.id, item_engine(turn))
    if isinstance(response, Words | Reading | Readback | Spoken):
        right(turn, lines.wanted.text, "key")
        return True
    name = response.keep if isinstance(response, Choice) else response.input
    known = turn.run.figures.get(name)
    if known is None:
        turn.note(f"{lines.challenge.text}: give its value", "advice")
        return False
    right(turn, figure_line(turn.program, known).text, "key")
    return True


def typed(turn: Turn, text: str) -> bool:
    """A typed or picked answer, checked as if it had been said."""
    item = turn.item
    response = item.response
    lines = turn.lines(item.id, item_engine(turn))
    if lines.answer:
        if pattern_of(lines.answer).matches(text):
            return answer_words(turn, "key")
        for place, (pattern, _) in enumerate(lines.competitors):
            if pattern_of(pattern).matches(text):
                return competitor(turn, str(place), text)
        return False
    if isinstance(response, Choice):
        for value, pattern_source in response.options:
            source = pattern_text(turn.program, pattern_source, turn.run.figures, item_engine(turn))
            if text == value or pattern_of(source).matches(text):
                return option(turn, value, "key")
        return False
    figure = _typed_number(turn, text)
    if figure is not None:
        return number(turn, figure, "key")
    return option(turn, text, "key")


def _typed_number(turn: Turn, text: str) -> float | None:
    try:
        return float(text.replace(",", ""))
    except ValueError:
        pass
    response = turn.item.response
    wanted = _input(turn)
    if isinstance(response, Readback):
        figure = turn.run.figures.get(response.figure)
        return None if figure is None else hear_number(text, form_of(figure))
    if wanted is None or wanted.choices:
        return None
    form = form_of(Figure(wanted.name, 0.0, wanted.unit, wanted.decimals, wanted.kind))
    return hear_number(text, form)


def confirm(turn: Turn, engine: int) -> bool:
    """An engine's number was said where it is to be confirmed."""
    wanted = item_engine(turn)
    assert wanted is not None, "an engine is confirmed only where there is one"
    if engine != wanted:
        wrong(turn, engine_line(turn, wanted), engine_line(turn, engine))
        return True
    confirmed(turn)
    return True


def confirmed(turn: Turn) -> None:
    """The engine is confirmed for this item: now the item itself."""
    turn.hush()
    turn.set_top(replace(turn.run.stack[-1], confirmed=turn.item.id))
    turn.note(f"engine {item_engine(turn)} confirmed", "judged")
    ask_item(turn)


def repeat_unclear(turn: Turn) -> None:
    """Somebody answered and it is not sure what: ask to say it again, without babbling.

    The window stays open: nothing was decided. The third time the question is put again,
    in a new window; a tone is all there is in between from then on.
    """
    run = turn.run
    run.unclear += 1
    if run.unclear % 3 == 0:
        unclear = run.unclear
        ask_again(turn)
        run.unclear = unclear
    elif run.unclear < 3:
        turn.stop_timer()
        run.prompting = turn.say(said(turn.program, "say_again"), "prompt")
    else:
        turn.tone("wrong")
