"""What is said and what is listened for in a drill, beside the phrases of a run."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from types import MappingProxyType

from runner.engine.effects import Candidate
from runner.engine.lines import Line
from runner.engine.listening import control_pattern
from runner.engine.program import Program
from runner.phrasing.normal import normalise
from runner.phrasing.pattern import parse
from runner.phrasing.speech import speak_text

PHRASES: Mapping[str, str] = MappingProxyType(
    {
        "drill_begins": "Drill. <due> due, <new> new",
        "drill_complete": "Drill complete. <right> of <asked> right",
        "drill_stopped": "Drill stopped. <right> of <asked> right",
        "nothing_to_drill": "Nothing to drill",
        "drill_next": "<list>. After <challenge>",
        "drill_first": "<list>. The first item",
        "drill_last": "<list> ends there",
        "drill_flow": "<list>, from memory",
        "drill_anything_more": "anything more",
        "drill_missed": "missed: <items>",
        "drill_none_missed": "none missed",
        "drill_not_in_order": "not in order: <items>",
        "drill_verify": "now verify",
        "drill_memory": "<list>. Memory items",
        "drill_then": "and then",
        "drill_time": "<seconds> seconds, allowed <allowed>",
        "drill_numbers": "<day>. <figure>",
        "drill_right": "right",
        "drill_right_value": "right, <value>",
        "drill_it_is": "it is <answer>",
        "drill_was_right": "that was right: <answer>",
        "drill_was_wrong": "that was wrong: <challenge> is <answer>",
        "drill_caught": "caught, it is <answer>",
        "drill_hint": "<words>",
        "drill_between": "between <low> and <high>",
        "drill_no_hint": "no more hints",
        "drill_due": "<count> due again by tomorrow",
    }
)
"""Each phrase by name; a style may have its own wording for it."""

CONTROLS: Mapping[str, str] = MappingProxyType(
    {
        "hint": "hint (please)? / give me a hint",
        "tell": "tell me / I don't know / I do not know / no idea",
        "end": "end (of)? (the)? drill / stop (the)? drill",
        "pass": "check / checked / agreed",
    }
)
"""Control phrases that only a drill has; a style may have its own patterns for them."""

_PLACE = re.compile(r"<([a-z_]+)>")


def line(program: Program, name: str, /, **places: Line) -> Line:
    """One of the drill's phrases with its places filled in."""
    template = program.style.phrases.get(name, PHRASES[name])
    text = _PLACE.sub(lambda place: places[place[1]].text, template)
    speech = _PLACE.sub(lambda place: places[place[1]].speech, template)
    return Line(text, speak_text(speech, program.style))


def count(number: int) -> Line:
    """A count as it is shown and spoken."""
    return Line(str(number), str(number))


def and_then(lines: Iterable[Line]) -> Line:
    """Lines as one enumeration; nothing of nothing."""
    given = list(lines)
    return Line("; ".join(g.text for g in given), ", ".join(g.speech for g in given))


def controls(program: Program, names: Iterable[str], answers: Iterable[str]) -> list[Candidate]:
    """The control phrases ``names``; where one is an answer too, only in its long form."""
    long = normalise(program.style.long_form)
    taken = {text for source in answers for text in _texts(source)}
    found = []
    for name in names:
        own = CONTROLS.get(name)
        source = control_pattern(program.style, name)
        if own is not None and name not in program.style.control:
            source = own
        plain = [text for text in _texts(source) if text not in taken]
        lengthened = [f"{long} {text}" for text in _texts(source) if long]
        if plain or lengthened:
            pattern = " / ".join([*plain, *lengthened])
            found.append(Candidate(f"control:{name}", "control", pattern))
    return found


def _texts(source: str) -> tuple[str, ...]:
    return parse(source).texts(limit=40)
