"""Lines: what is shown and what is spoken, made from the files' texts and today's figures.

All of it is pure, so it is kept in bounded caches: the same item with the same figures
gives the same lines.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple, cast

from runner.checklist.model import (
    Choice,
    Enter,
    FigureRef,
    Item,
    Readback,
    Reading,
    Spoken,
    Text,
    Words,
)
from runner.engine.opposites import opposite_texts
from runner.engine.program import Program
from runner.figures.figure import Figure
from runner.phrasing.numbers import say_number, say_unit
from runner.phrasing.pattern import Pattern, PatternError, parse
from runner.phrasing.speech import phrase, speak_text
from runner.phrasing.style import Form, Kind

NOT_KNOWN = "not known"


class Line(NamedTuple):
    """One thing said: as shown, and as given to the synthesiser."""

    text: str
    speech: str


EMPTY = Line("", "")

Values = tuple[Figure | None, ...]


@dataclass(frozen=True, slots=True)
class ItemLines:
    """Everything that is ever said of one item with one set of figures.

    ``wanted`` is the answer wanted; ``answer`` its pattern with figures filled in, and
    ``competitors`` the patterns it must not be mistaken for, each with how it is named.
    """

    challenge: Line
    short: Line
    wanted: Line
    prompt: Line
    prompt_terse: Line
    still_waiting: Line
    again: Line
    first_wrong: Line
    note: str
    answer: str
    competitors: tuple[tuple[str, str], ...]


def values_of(program: Program, figures: Mapping[str, Figure], item: str) -> Values:
    """The figures that an item's lines depend on, in the order of ``Program.names``."""
    names = program.names[item]
    if not names:
        return ()
    return tuple([figures.get(name) for name in names])


def form_of(figure: Figure) -> Form:
    """How a figure is written and spoken."""
    return Form(cast(Kind, figure.kind), figure.decimals, figure.unit)


def number_line(program: Program, value: float | str, form: Form) -> Line:
    """A number, or a choice's word, shown with its unit and spoken by its kind.

    A number too large to be said by its kind is left to the synthesiser.
    """
    if isinstance(value, str):
        words = value.replace("_", " ")
        return Line(words, speak_text(words, program.style))
    shown = f"{value:.{form.decimals}f} {form.unit}".strip()
    words = _number_words(program, value, form)
    return Line(shown, speak_text(words, program.style) if words else shown)


def _number_words(program: Program, value: float, form: Form) -> str:
    """A number in words as they are written, or nothing where its kind has none for it."""
    try:
        return say_number(value, form, program.style.numbers)
    except ValueError:
        return ""


def figure_line(program: Program, figure: Figure | None) -> Line:
    """A figure's value; ``not known`` where there is none."""
    if figure is None:
        return plain(program, NOT_KNOWN)
    return number_line(program, figure.value, form_of(figure))


@lru_cache(maxsize=2048)
def plain(program: Program, text: str) -> Line:
    """A line without figures."""
    return Line(text, speak_text(text, program.style))


@lru_cache(maxsize=8192)
def said(program: Program, name: str, /, **places: Line) -> Line:
    """One of Runner's own phrases, in the words of the voice style."""
    style = program.style
    text = phrase(style, name, **{k: v.text for k, v in places.items()})
    speech = phrase(style, name, **{k: v.speech for k, v in places.items()})
    return Line(text, speak_text(speech, style))


def join(lines: Iterable[Line]) -> Line:
    """Lines one after the other as one utterance."""
    given = [line for line in lines if line.text]
    if len(given) < 2:
        return given[0] if given else EMPTY
    shown = [given[0].text, *(g.text[0].upper() + g.text[1:] for g in given[1:])]
    return Line(_sentences(shown), _sentences([g.speech for g in given]))


def _sentences(parts: list[str]) -> str:
    ended = [part if part[-1:] in ".?!" else part + "." for part in parts[:-1]]
    return " ".join(ended + parts[-1:])


def listed(lines: Iterable[Line]) -> Line:
    """Lines as an enumeration."""
    given = list(lines)
    return Line(", ".join(g.text for g in given), ", ".join(g.speech for g in given))


def fill(
    program: Program, text: Text, figures: Mapping[str, Figure], engine: int | None = None
) -> Line:
    """A text with its figures in it."""
    if len(text.parts) == 1 and isinstance(text.parts[0], str):
        return plain(program, text.parts[0])
    shown: list[str] = []
    spoken: list[str] = []
    for number, part in enumerate(text.parts):
        if isinstance(part, str):
            shown.append(part)
            spoken.append(part)
            continue
        figure = _engine(engine) if part.name == "engine" else figures.get(part.name)
        line = figure_line(program, figure)
        following = text.parts[number + 1] if number + 1 < len(text.parts) else ""
        if figure is not None and isinstance(following, str) and _names_unit(following, figure):
            shown.append(figure.shown)
        else:
            shown.append(line.text)
        spoken.append(line.speech)
    return Line("".join(shown), speak_text("".join(spoken), program.style))


def _engine(engine: int | None) -> Figure | None:
    return None if engine is None else Figure("engine", engine, kind="engine")


def _names_unit(following: str, figure: Figure) -> bool:
    """Whether the text goes on with the unit's own name, which then is not shown twice."""
    words = following.split()
    named = say_unit(figure.unit).split() if figure.unit else []
    return bool(words and named) and words[0].strip(".,;:").lower() == named[0].lower()


def pattern_text(
    program: Program, text: Text, figures: Mapping[str, Figure], engine: int | None = None
) -> str:
    """A response pattern with its figures filled in as they are spoken."""
    parts: list[str] = []
    for part in text.parts:
        if isinstance(part, FigureRef):
            figure = _engine(engine) if part.name == "engine" else figures.get(part.name)
            parts.append(_figure_words(program, figure))
        else:
            parts.append(part)
    return "".join(parts)


def _figure_words(program: Program, figure: Figure | None) -> str:
    """A figure as a pattern has it: words by their spelling, not as a synthesiser wants them."""
    if figure is None:
        return NOT_KNOWN
    if isinstance(figure.value, str):
        return figure.value.replace("_", " ")
    words = _number_words(program, figure.value, form_of(figure))
    return words or f"{figure.shown} {figure.unit}".strip()


@lru_cache(maxsize=4096)
def pattern_of(source: str) -> Pattern:
    """A pattern parsed; one that holds what no pattern can is taken as plain words."""
    try:
        return parse(source)
    except PatternError:
        words = "".join(c if c.isalnum() or c in " '" else " " for c in source)
        return parse(words if words.strip() else "unknown")


@lru_cache(maxsize=8192)
def item_lines(program: Program, item_id: str, engine: int | None, values: Values) -> ItemLines:
    """What is said of an item; ``values`` as ``values_of`` gives them."""
    item = program.items[item_id]
    figures = {figure.name: figure for figure in values if figure is not None}
    engine = item.engine if item.engine is not None else engine
    challenge = fill(program, item.challenge, figures, engine)
    short = challenge if item.short is None else fill(program, item.short, figures, engine)
    answer, competitors = _words(program, item, figures, engine)
    wanted = _wanted(program, item, figures, engine, answer)
    first_wrong = EMPTY
    if competitors:
        heard = plain(program, competitors[0][1])
        wrong = said(program, "expected", expected=wanted, heard=heard)
        first_wrong = join((wrong, challenge))
    both = program.list_of[item_id].kind == "read and do" and bool(wanted.text)
    return ItemLines(
        challenge=challenge,
        short=short,
        wanted=wanted,
        prompt=listed((challenge, wanted)) if both else challenge,
        prompt_terse=listed((short, wanted)) if both else short,
        still_waiting=said(program, "still_waiting", challenge=challenge),
        again=said(program, "ask_again", challenge=challenge),
        first_wrong=first_wrong,
        note="" if item.note is None else fill(program, item.note, figures, engine).text,
        answer=answer,
        competitors=competitors,
    )


def _wanted(
    program: Program,
    item: Item,
    figures: Mapping[str, Figure],
    engine: int | None,
    answer: str,
) -> Line:
    match item.response:
        case Readback(figure=name, shown=shown):
            if shown is not None:
                return fill(program, shown, figures, engine)
            return figure_line(program, figures.get(name))
        case Choice(options=options):
            words = [_canonical(pattern_text(program, t, figures, engine)) for _, t in options]
            return plain(program, " or ".join(words))
        case Enter(input=name):
            known = figures.get(name)
            return EMPTY if known is None else figure_line(program, known)
        case Spoken():
            return EMPTY
        case Words(pattern=pattern):
            return _shown_words(program, pattern, figures, engine, answer)
        case Reading(words=words):
            if words is None:
                return said(program, "shown_by_instruments")
            return _shown_words(program, words.pattern, figures, engine, answer)


def _shown_words(
    program: Program,
    text: Text,
    figures: Mapping[str, Figure],
    engine: int | None,
    answer: str,
) -> Line:
    """The first way of saying an answer, as the file writes it where it writes it plainly."""
    if text.figures:
        first = text.source.split(" / ")[0]
        if not set("()/") & set(first):
            parts = _first_alternative(text)
            return fill(program, parts, figures, engine)
    return plain(program, _as_written(text.source) or _canonical(answer))


def _as_written(source: str) -> str:
    first = source.split("/")[0].strip()
    return "" if set("()?<") & set(first) else first


def _first_alternative(text: Text) -> Text:
    parts: list[str | FigureRef] = []
    for part in text.parts:
        if isinstance(part, str) and "/" in part:
            parts.append(part.split("/")[0].rstrip())
            break
        parts.append(part)
    return Text(text.source.split("/")[0].strip(), tuple(p for p in parts if p != ""))


def _words(
    program: Program, item: Item, figures: Mapping[str, Figure], engine: int | None
) -> tuple[str, tuple[tuple[str, str], ...]]:
    """An item's pattern in words and its competitors; those of the file, else opposites."""
    response = item.response
    words = response.words if isinstance(response, Reading) else response
    if not isinstance(words, Words):
        return "", ()
    answer = pattern_text(program, words.pattern, figures, engine)
    if words.confusable:
        named = [pattern_text(program, text, figures, engine) for text in words.confusable]
        return answer, tuple((source, _canonical(source)) for source in named)
    texts = pattern_of(answer).texts(limit=40)
    return answer, tuple((text, text) for text in opposite_texts(texts))


def canonical(source: str) -> str:
    """The first text that a pattern accepts: how an answer is named."""
    return _canonical(source)


@lru_cache(maxsize=4096)
def _canonical(source: str) -> str:
    return _as_written(source) or pattern_of(source).canonical
