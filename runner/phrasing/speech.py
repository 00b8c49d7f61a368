"""What Runner says: its own phrases, and shown lines made ready for a synthesiser."""

from __future__ import annotations

import re
from collections.abc import Mapping
from types import MappingProxyType

from runner.phrasing.normal import clock_words
from runner.phrasing.numbers import LARGEST, say_digits, say_number, say_unit
from runner.phrasing.style import Form, VoiceStyle
from runner.phrasing.unit_words import kind_of_unit, known_units

PHRASES: Mapping[str, str] = MappingProxyType(
    {
        "list_begins": "<list> checklist",
        "list_complete": "<list> complete",
        "list_not_complete": "<list> not complete",
        "left_open": "left open: <items>",
        "say_again": "say again",
        "expected": "expected <expected>, heard <heard>",
        "still_waiting": "<challenge>?",
        "standing_by": "standing by",
        "resuming": "resuming <list>",
        "last_done": "<challenge>, <answer>",
        "reopened": "<challenge> open again",
        "later": "<challenge>, left open",
        "not_applicable": "<challenge>, not applicable",
        "muted": "muted",
        "unmuted": "listening",
        "list_offered": "<offer>",
        "next_list": "next, <list>",
        "waiting_for_call": "call for <list>",
        "changed": "<figure> now <value>",
        "ask_again": "<challenge>, again",
        "rejected": "rejected, <list>",
        "confirm_engine": "confirm engine <engine>",
        "which_engine": "<list>, which engine?",
        "shown_by_instruments": "shown by the instruments",
        "no_such_list": "no list of that name",
        "gate": "<list> not complete",
        "flow_begins": "<list> flow",
        "flow_verify": "verify <list>",
        "briefing_complete": "briefing complete",
        "resumed_from": "resumed at <challenge>",
        "disregarded": "disregarded",
        "run_complete": "all lists complete",
        "nothing_open": "nothing open",
        "heard_number": "heard <heard>",
        "out_of_range": "<name> from <low> to <high>",
        "limit": "<what>, <value>",
        "limit_engine": "number <engine> <what>, <value>",
        "limit_engines": "numbers <engines> <what>, <value>",
        "limit_all_engines": "all engines <what>, <value>",
        "contradicted": "you said <answer>, the reading says <reading>",
        "kept": "<challenge>, <answer>, on your word",
        "readings_lost": "readings lost",
        "readings_back": "readings back",
        "wrong_role": "<role> answers",
        "observer": "observers do not answer",
        "both_wanted": "<role> too",
        "put_to": "<member>, <challenge>",
        "too_late": "<heard>, too late",
        "has_control": "<member> has control",
        "aboard": "<member> is aboard",
        "left": "<member> has left",
    }
)
"""Each phrase by name, as it stands where a style has no wording of its own."""

CONTROLS = (
    "say_again",
    "stand_by",
    "resume",
    "go_back",
    "later",
    "disagree",
    "disregard",
    "reject",
    "mute",
    "affirm",
    "negative",
    "done",
    "flow_complete",
    "briefing_complete",
    "why",
    "keep",
    "you_have_control",
    "i_have_control",
    "full",
    "terse",
    "tones",
)
"""The names of the control phrases that a style has patterns for."""

_PLACE = re.compile(r"<([a-z_]+)>")


def phrase_places(template: str) -> frozenset[str]:
    """The names of the places in a phrase: ``list`` of "<list> complete"."""
    return frozenset(_PLACE.findall(template))


def phrase(style: VoiceStyle, name: str, /, **places: str) -> str:
    """What Runner says under ``name`` in this style, its places filled in.

    Raises ``KeyError`` for a name or a place that does not exist: a mistake of the caller.
    """
    template = style.phrases.get(name, PHRASES[name])
    return _PLACE.sub(lambda place: places[place[1]], template)


_NUMERAL = r"(?:[0-9]{1,3}(?:,[0-9]{3})+|[0-9]+)(?:\.[0-9]+)?"
_DIGIT_BY_DIGIT_AFTER = frozenset(
    {"qnh", "qfe", "squawk", "heading", "track", "course", "runway", "level", "fl", "frequency"}
)
"""Words after which a number without a unit is a setting or a name, said digit by digit."""

_NEVER_A_UNIT = frozenset({"in", "t"})
"""Units that are words of ordinary text too: "20 in the climb"."""

_CLOCK = r"(?P<hours>[0-9]{1,2}):(?P<minutes>[0-9]{2})(?![\w:])"
_CODE = r"(?P<letters>[A-Z]{1,3})(?P<figure>[0-9]{1,2})(?!\w)"
_MARKS: Mapping[str, str] = MappingProxyType(
    {"/": ", ", "(": ", ", ")": ", ", ":": ", ", ";": ", ", "%": " percent", "&": " and "}
    | {"°C": " degrees", "°F": " degrees", "°": " degrees", "=": " equals ", "×": " times "}
    | {"–": ", ", "—": ", ", "→": ", ", "<": " ", ">": " ", "_": " ", "*": " ", "|": ", "}
)


def speak_text(text: str, style: VoiceStyle) -> str:
    """A shown line as the synthesiser is given it.

    Abbreviations and words are put in the style's pronunciation, numbers in words of its
    number style (with a unit behind them, in the way of what is measured in that unit),
    marks become the pause or the word they stand for.
    """
    said = _scanner(style).sub(lambda found: _said(found, style), text)
    said = re.sub(r"\s+", " ", said)
    said = re.sub(r"(?: ?,)+", ",", said)
    said = re.sub(r",(?= ?[.?!])|^[ ,]+|[ ,]+$", "", said)
    return said.strip()


def _scanner(style: VoiceStyle) -> re.Pattern[str]:
    keys = sorted(style.pronunciations, key=len, reverse=True)
    written = [f"(?i:{re.escape(key)})" if key.islower() else re.escape(key) for key in keys]
    units = sorted(set(known_units()) - _NEVER_A_UNIT, key=len, reverse=True)
    unit = "|".join(map(re.escape, units))
    number = rf"(?P<sign>(?<![\w)])[-+−])?(?P<number>{_NUMERAL})(?:\s?(?P<unit>{unit}))?(?!\w)"
    parts = [
        rf"(?<!\w)(?P<key>{'|'.join(written)})(?!\w)" if written else r"(?P<key>(?!))",
        rf"(?<![\w.:]){_CLOCK}",
        rf"(?<![\w.,:]){number}",
        rf"(?<!\w){_CODE}",
        r"\b(?P<no>[Nn]o\.\s*)(?=[0-9])",
        rf"(?P<mark>{'|'.join(re.escape(mark) for mark in _MARKS)})",
    ]
    return re.compile("|".join(parts))


def _said(found: re.Match[str], style: VoiceStyle) -> str:
    if found["key"]:
        key = found["key"]
        return style.pronunciations.get(key) or style.pronunciations[key.lower()]
    if found["no"]:
        return "number "
    if found["mark"]:
        return _MARKS[found["mark"]]
    if found["letters"]:
        figure = _number_said(found["figure"], "", style)
        return f"{' '.join(found['letters'])} {_pronounced(figure, style)}"
    if found["hours"]:
        hours, minutes = found["hours"], found["minutes"]
        if style.numbers == "cockpit":
            return _pronounced(clock_words(f"{hours}:{minutes}"), style)
        return _pronounced(say_digits(hours + minutes, style.numbers), style)
    sign = {"": "", "+": "plus "}.get(found["sign"] or "", "minus ")
    if found["unit"]:
        said = _number_said(found["number"], found["unit"], style)
        return f"{_pronounced(sign + said, style)} {say_unit(found['unit'])}"
    before = re.search(r"(\w+)\W*$", found.string[: found.start()])
    code = before is not None and before[1].lower() in _DIGIT_BY_DIGIT_AFTER
    said = (_code_said if code else _number_said)(found["number"], "", style)
    return _pronounced(sign + said, style)


def _number_said(numeral: str, unit: str, style: VoiceStyle) -> str:
    whole, _, part = numeral.replace(",", "").partition(".")
    if (len(whole) > 1 and whole[0] == "0") or int(whole) > LARGEST:
        return _code_said(numeral, unit, style)
    kind = kind_of_unit(unit)
    if unit == "inHg" and len(part) == 2:
        kind = "pressure"
    form = Form(kind, len(part), unit)
    return say_number(float(f"{whole}.{part or 0}"), form, style.numbers)


def _code_said(numeral: str, _unit: str, style: VoiceStyle) -> str:
    whole, _, part = numeral.replace(",", "").partition(".")
    said = say_digits(whole, style.numbers)
    point = "decimal" if style.numbers == "icao" else "point"
    return f"{said} {point} {say_digits(part, style.numbers)}" if part else said


def _pronounced(words: str, style: VoiceStyle) -> str:
    return " ".join(style.pronunciations.get(word, word) for word in words.split())
