"""What may be heard in a listening window: answers, competitors, controls, lists, moments.

Everything that could sensibly be said now is a candidate, the wrong answers with the
right one, because a recogniser that knows only the right answer hears nothing else. Where
something that answers the item is also a control phrase, the answer wins and the control
is heard in its long form alone ("checklist, stand by"); the long form is always accepted.
"""

from __future__ import annotations

import math
from functools import lru_cache

from runner.checklist import model
from runner.checklist.model import Enter, Readback
from runner.engine.effects import Candidate, NumberWanted
from runner.engine.lines import (
    ItemLines,
    Values,
    form_of,
    item_lines,
    pattern_of,
    pattern_text,
)
from runner.engine.program import Program
from runner.engine.state import Asking
from runner.figures.figure import Figure
from runner.figures.model import Input
from runner.phrasing.normal import normalise
from runner.phrasing.numbers import say_number
from runner.phrasing.pattern import Choice, source_of, with_synonyms
from runner.phrasing.style import Form, VoiceStyle

Window = tuple[tuple[Candidate, ...], NumberWanted | None]

CONTROL_WORDS = {
    "resume": "continue",
    "disagree": "I disagree",
    "affirm": "affirm / affirmative / yes",
    "negative": "negative / no",
    "tones": "tones only",
}
"""What a control is called where the voice style does not say; else its own name."""

_ALWAYS = ("say_again", "disregard", "reject", "mute")
_WORDINESS = ("full", "terse", "tones")
_IN_A_LIST = (*_ALWAYS, "stand_by", "later", "go_back", "disagree", *_WORDINESS)

CONTROLS: dict[Asking, tuple[str, ...]] = {
    "nothing": (),
    "item": _IN_A_LIST,
    "engine confirm": ("affirm", "negative", "stand_by", "later", "go_back", "disagree", *_ALWAYS),
    "which engine": ("negative", "stand_by", *_ALWAYS),
    "flow": ("flow_complete", *_IN_A_LIST),
    "briefing": ("briefing_complete", "affirm", *_IN_A_LIST),
    "offer": ("affirm", "negative", "later", "stand_by", "disagree", *_ALWAYS, *_WORDINESS),
    "call": ("resume", "affirm", "stand_by", "disagree", *_ALWAYS, *_WORDINESS),
    "standing by": ("resume", *_ALWAYS),
}
"""The controls that make sense while something is asked. ``done`` joins them in a read and
do list and ``why`` where an item uses figures."""

_PLAUSIBLE: dict[str, tuple[float, float]] = {
    "speed": (0, 999),
    "heading": (0, 360),
    "altitude": (-2000, 99999),
    "pressure": (0, 1100),
    "manifold_pressure": (0, 99),
    "rpm": (0, 9999),
    "temperature": (-99, 1000),
    "percent": (0, 200),
    "angle": (-90, 360),
    "engine": (1, 12),
}
"""Ranges of numbers as they are spoken on a flight deck (common practice); wide on purpose,
so that a number is never recognised by what was expected."""

_ANY_NUMBER = (-10000.0, 1_000_000.0)


def control_pattern(style: VoiceStyle, name: str) -> str:
    """The pattern of a control phrase."""
    return style.control.get(name) or CONTROL_WORDS.get(name) or name.replace("_", " ")


@lru_cache(maxsize=8192)
def window_for(
    program: Program,
    asking: Asking,
    item_id: str,
    engine: int | None,
    values: Values,
    calls: tuple[str, ...],
    phase: int,
    crewed: bool = False,
) -> Window:
    """The candidates of a window, and the number wanted in it.

    ``item_id`` is empty where no item is asked; ``values`` are its figures; ``calls`` the
    lists that may be called; ``phase`` decides which moments may be announced; ``crewed``:
    there is somebody to hand control over to.
    """
    answers: list[Candidate] = []
    number: NumberWanted | None = None
    controls = list(CONTROLS[asking])
    if crewed:
        controls += ("you_have_control", "i_have_control")
    if asking == "item":
        lines = item_lines(program, item_id, engine, values)
        answers, number = _answers(program, item_id, engine, values, lines)
        if program.list_of[item_id].kind == "read and do":
            controls.append("done")
        if program.items[item_id].used:
            controls.append("why")
    elif asking in ("engine confirm", "which engine"):
        answers = _engines(program)
    taken = frozenset(_squeezed(text) for c in answers for text in _texts(c.pattern))
    others = [
        Candidate(f"control:{name}", "control", pattern)
        for name in controls
        if (pattern := _control(program.style, name, taken))
    ]
    for list_id in calls:
        others += _calls(program, list_id)
    others += _moments(program, phase, taken)
    return (*answers, *others), number


def _answers(
    program: Program, item_id: str, engine: int | None, values: Values, lines: ItemLines
) -> tuple[list[Candidate], NumberWanted | None]:
    item = program.items[item_id]
    names = _names(lines)
    figures = {figure.name: figure for figure in values if figure is not None}
    engine = item.engine if item.engine is not None else engine
    aircraft = program.procedures.aircraft
    if lines.answer:
        found = [Candidate("answer", "answer", widened(program.style, lines.answer, names))]
        for place, (pattern, _) in enumerate(lines.competitors):
            source = widened(program.style, pattern, names)
            found.append(Candidate(f"wrong:{place}", "competitor", source))
        return found, None
    match item.response:
        case Readback(figure=name):
            figure = figures.get(name)
            return [], None if figure is None else _readback(figure, names)
        case model.Choice(options=options):
            return [
                Candidate(
                    f"option:{value}",
                    "answer",
                    widened(program.style, pattern_text(program, text, figures, engine), names),
                )
                for value, text in options
            ], None
        case Enter(input=name) if name in aircraft.inputs:
            return _entered(program, aircraft.inputs[name], names)
        case _:
            return [], None


def _entered(
    program: Program, wanted: Input, names: tuple[str, ...]
) -> tuple[list[Candidate], NumberWanted | None]:
    if wanted.choices:
        return [
            Candidate(
                f"option:{value}",
                "answer",
                widened(program.style, value.replace("_", " "), names),
            )
            for value in wanted.choices
        ], None
    figure = Figure(wanted.name, 0.0, wanted.unit, wanted.decimals, wanted.kind)
    form = form_of(figure)
    low, high = _range(form, wanted.low, wanted.high)
    return [], NumberWanted(form, low, high, _either(names))


def _readback(figure: Figure, names: tuple[str, ...]) -> NumberWanted | None:
    if isinstance(figure.value, str):
        return None
    form = form_of(figure)
    low, high = _range(form, figure.value, figure.value)
    return NumberWanted(form, low, high, _either(names))


def _range(form: Form, *wanted: float) -> tuple[float, float]:
    ends = (*_PLAUSIBLE.get(form.kind, _ANY_NUMBER), *filter(math.isfinite, wanted))
    return min(ends), max(ends)


def _names(lines: ItemLines) -> tuple[str, ...]:
    """What may be said before the answer: the item's own name, where it is short."""
    names = dict.fromkeys(normalise(line.text) for line in (lines.challenge, lines.short))
    return tuple(name for name in names if 0 < len(name.split()) <= 5)


def _either(names: tuple[str, ...]) -> str:
    return " / ".join(names)


def widened(style: VoiceStyle, source: str, names: tuple[str, ...]) -> str:
    """A response pattern with the style's synonyms, and the item's name before it."""
    root = with_synonyms(pattern_of(source), style).root
    answer = source_of(root)
    if not names:
        return answer
    return f"({_either(names)})? " + (f"({answer})" if isinstance(root, Choice) else answer)


def _squeezed(text: str) -> str:
    """A text as the ear has it: "standby" and "stand by" are one."""
    return text.replace(" ", "")


@lru_cache(maxsize=4096)
def _texts(source: str) -> tuple[str, ...]:
    return pattern_of(source).texts(limit=60)


def _control(style: VoiceStyle, name: str, taken: frozenset[str]) -> str:
    """A control's pattern, with the long form alone for what an answer already uses."""
    source = control_pattern(style, name)
    long = normalise(style.long_form)
    texts = _texts(source)
    clashing = [text for text in texts if _squeezed(text) in taken]
    if not clashing:
        return f"({long})? ({source})" if long else source
    short = [text for text in texts if text not in clashing]
    options = [f"({long})? {text}" for text in short]
    if long:
        options += [f"{long} {text}" for text in clashing]
    return " / ".join(options)


def _engines(program: Program) -> list[Candidate]:
    return [
        Candidate(
            f"engine:{number}",
            "answer",
            f"(confirm)? (engine)? (number)? {engine_word(program, number)}",
        )
        for number in range(1, program.procedures.aircraft.engines + 1)
    ]


def engine_word(program: Program, number: int) -> str:
    """An engine's number as it is spoken."""
    return say_number(number, Form("engine"), program.style.numbers)


@lru_cache(maxsize=1024)
def _calls(program: Program, list_id: str) -> tuple[Candidate, ...]:
    checklist = program.lists[list_id]
    title = normalise(checklist.title)
    plain = [f"{title} (checklist / list)?"]
    plain += [f"({pattern_text(program, t, {})})" for t in checklist.calls if not t.figures]
    found = [Candidate(f"call:{list_id}", "call", " / ".join(plain))]
    if checklist.argument == "engine":
        for number in range(1, program.procedures.aircraft.engines + 1):
            word = engine_word(program, number)
            ways = [f"({way}) (number / engine / engine number)? {word}" for way in plain]
            ways += [
                f"({pattern_text(program, t, {}, number)})" for t in checklist.calls if t.figures
            ]
            found.append(Candidate(f"call:{list_id}:{number}", "call", " / ".join(ways)))
    return tuple(found)


@lru_cache(maxsize=256)
def _moments(program: Program, phase: int, taken: frozenset[str]) -> tuple[Candidate, ...]:
    """The moments that can be announced by voice now: those of this phase and the next.

    What already answers the item announces none: "flaps up" to the challenge "Flaps".
    """
    procedures = program.procedures
    near = [c for p in procedures.phases[phase : phase + 2] for c in p.lists]
    wanted: dict[str, None] = {}
    for checklist in (*near, *procedures.abnormal):
        for moment in (checklist.offered_at, checklist.gate):
            wanted[moment] = None
        for callout in checklist.callouts:
            if callout.trigger.how == "after":
                wanted[callout.trigger.subject] = None
    found: list[Candidate] = []
    for name in wanted:
        known = procedures.moments.get(name)
        if known is None or known.said is None:
            continue
        source = pattern_text(program, known.said, {})
        texts = _texts(source)
        free = [text for text in texts if _squeezed(text) not in taken]
        if free:
            pattern = source if len(free) == len(texts) else " / ".join(free)
            found.append(Candidate(f"moment:{name}", "moment", pattern))
    return tuple(found)
