"""Numbers heard: from words to a value, or to nothing where it is not certain.

One small grammar covers digit by digit ("one zero eight"), counting ("one hundred and
eight"), and pairs ("twenty three fifty"). What a listener could take for two numbers
("seventy four three") is in none of them, and so is not a number here.
"""

from __future__ import annotations

import re
from decimal import Decimal

from runner.phrasing.normal import normalise, plain_characters
from runner.phrasing.numeral_words import (
    COUNTING_WORDS,
    DIGITS,
    HUNDRED,
    MINUSES,
    POINTS,
    SIGNS,
    TEENS,
    TENS,
    THOUSANDS,
    cardinal,
    digit_by_digit,
)
from runner.phrasing.style import Form, Kind
from runner.phrasing.unit_words import units_heard

UNSIGNED: frozenset[Kind] = frozenset({"heading", "frequency", "rpm", "count", "engine"})
"""Kinds of number that are never below zero: a minus before one is not heard."""

WHOLE: frozenset[Kind] = frozenset({"count", "engine"})
"""Kinds of number that have no decimals."""

PREFIXES: dict[Kind, tuple[tuple[str, ...], ...]] = {
    "heading": (("heading",),),
    "engine": (("engine", "number"), ("number",), ("engine",)),
}
"""Words that may stand before a number of a kind, the longest first."""

FLIGHT_LEVEL = ["flight", "level"]
_MOST_DIGITS = 9
_MOST_DECIMALS = 4
_PARTS = {
    ("and", "a", "half"): Decimal("0.5"),
    ("and", "a", "quarter"): Decimal("0.25"),
    ("and", "three", "quarters"): Decimal("0.75"),
}


def implied_point(form: Form) -> bool:
    """Whether four digits alone are said for this form, the point understood.

    So are altimeter settings in inches given in the United States: "two niner niner two".
    """
    return form.kind == "pressure" and form.unit == "inHg" and form.decimals == 2


def hear_number(text: str, form: Form) -> float | None:
    """The number that ``text`` says, in the form's unit, or None.

    ``text`` is what was heard or typed, unchanged: words, digits, or both. It may carry
    the form's own unit behind it, "heading" before a heading, "number" or "engine" before
    an engine, "flight level" before an altitude in feet. None where it is not wholly a
    number of this form, or where it could be two. Decimals beyond the form's are kept, so
    that a wrong answer is named as it was given.
    """
    words = _words(_without_written_unit(text, form.unit))
    if not words:
        return None
    if form.kind == "altitude" and form.unit == "ft" and words[:2] == FLIGHT_LEVEL:
        level = words[2:]
        hundreds = _digits(level) if len(level) <= 3 else None
        return None if hundreds is None else float(hundreds * 100)
    for prefix in PREFIXES.get(form.kind, ()):
        if tuple(words[: len(prefix)]) == prefix:
            words = words[len(prefix) :]
            break
    sign = words[0] if words and words[0] in SIGNS else ""
    if sign and form.kind in UNSIGNED:
        return None
    words = words[1:] if sign else words
    if form.kind == "temperature" and words[-2:] == ["below", "zero"] and not sign:
        words, sign = words[:-2], "minus"
    words = _without_unit(words, form.unit)
    number = _unsigned(words, form)
    if number is None or (form.kind in WHOLE and number % 1):
        return None
    return float(-number if sign in MINUSES and number else number)


def number_words(form: Form) -> tuple[str, ...]:
    """Every word that can be part of a number of this form, in alphabetical order."""
    words = set(COUNTING_WORDS) | {"a", "and"}
    if form.kind not in WHOLE:
        words |= POINTS | {word for part in _PARTS for word in part}
    if form.kind not in UNSIGNED:
        words |= SIGNS
    if form.kind == "temperature":
        words.add("below")
    if form.kind == "altitude" and form.unit == "ft":
        words |= set(FLIGHT_LEVEL)
    words |= {word for prefix in PREFIXES.get(form.kind, ()) for word in prefix}
    words |= {word for way in units_heard(form.unit) for word in way}
    return tuple(sorted(words))


_SPACED_GROUPS = re.compile(r"(?<![0-9.,])[0-9]{1,3}(?: [0-9]{3})+(?![0-9,])")
_SPELT_DIGITS = re.compile(r"[0-9](?:-[0-9])+")
_TOKEN = re.compile(
    r"(?P<sign>[-+](?=[0-9.]))?"
    r"(?P<numeral>[0-9]{1,3}(?:,[0-9]{3})+(?:\.[0-9]+)?|[0-9]*\.[0-9]+|[0-9]+)?"
    r"(?P<letters>[a-z]+(?:-[a-z]+)*|%|°[cf]?)?"
)


def _without_written_unit(text: str, unit: str) -> str:
    if not unit:
        return text
    written = re.compile(rf"(?<![^\W\d_]){re.escape(unit)}\s*\.?\s*$", re.IGNORECASE)
    return written.sub("", text.strip())


def _words(text: str) -> list[str] | None:
    """The words of a text in which everything counts; None where something cannot."""
    plain = plain_characters(text)
    plain = _SPACED_GROUPS.sub(lambda groups: groups[0].replace(" ", ""), plain)
    pieces = plain.split()
    alone = sum(any(c.isdigit() for c in piece) for piece in pieces) == 1
    words: list[str] = []
    before = ""
    for piece in pieces:
        piece = piece.rstrip(",;!?").removesuffix(".")
        if _SPELT_DIGITS.fullmatch(piece):
            piece = piece.replace("-", "")
        token = _TOKEN.fullmatch(piece)
        if token is None or not piece:
            return None
        numeral = (token["numeral"] or "").replace(",", "")
        if before and numeral and max(len(before), len(numeral)) > 2:
            return None
        if token["sign"]:
            words.append("minus" if token["sign"] == "-" else "plus")
        if numeral:
            words += _numeral_words(numeral, alone).split()
        if token["letters"]:
            words += normalise(token["letters"]).split()
        before = "" if token["letters"] else numeral
    return words


def _numeral_words(numeral: str, alone: bool) -> str:
    """Digit by digit where nothing else is a numeral; counted where one stands among words."""
    whole, _, part = numeral.partition(".")
    as_digits = alone or whole[:1] == "0" or len(whole) > 6
    said = "" if not whole else digit_by_digit(whole) if as_digits else cardinal(int(whole))
    return f"{said} point {digit_by_digit(part)}" if part else said


def _without_unit(words: list[str], unit: str) -> list[str]:
    for way in sorted(units_heard(unit), key=len, reverse=True):
        if len(words) > len(way) and tuple(words[-len(way) :]) == way:
            return words[: -len(way)]
    return words


def _unsigned(words: list[str], form: Form) -> Decimal | None:
    points = [index for index, word in enumerate(words) if word in POINTS]
    if points:
        whole = 0 if points[0] == 0 else _whole(words[: points[0]])
        part = _decimals(words[points[0] + 1 :])
        return None if whole is None or part is None else Decimal(f"{whole}.{part}")
    part_words = tuple(words[-3:])
    if part_words in _PARTS:
        words = words[:-3]
        whole = _whole(words)
        if whole is None or words[-1] in THOUSANDS | {HUNDRED}:
            return None
        return whole + _PARTS[part_words]
    whole = _whole(words)
    if whole is None:
        return None
    if implied_point(form) and words[-1] not in THOUSANDS | {HUNDRED}:
        if whole >= 1000:
            return Decimal(whole) / 100 if whole < 10_000 else None
        if _pair(words) is not None:
            return None
    return Decimal(whole)


def _decimals(words: list[str]) -> str | None:
    if words and len(words) <= _MOST_DECIMALS and all(word in DIGITS for word in words):
        return "".join(str(DIGITS[word]) for word in words)
    two = _two_digits(words)
    return None if two is None else str(two)


def _whole(words: list[str]) -> int | None:
    for reading in (_digits, _two_digits, _thousands, _hundreds, _pair):
        number = reading(words)
        if number is not None:
            return number
    return None


def _digits(words: list[str]) -> int | None:
    """Digit by digit; "oh" alone is more often a sigh than a nought."""
    if not 1 <= len(words) <= _MOST_DIGITS or not all(word in DIGITS for word in words):
        return None
    if words in (["oh"], ["o"]):
        return None
    return int("".join(str(DIGITS[word]) for word in words))


def _one_digit(words: list[str]) -> int | None:
    return (DIGITS.get(words[0]) or None) if len(words) == 1 else None


def _two_digits(words: list[str]) -> int | None:
    """10 to 99 as counted: "fifteen", "forty", "forty four"."""
    if len(words) == 1:
        return TEENS.get(words[0], TENS.get(words[0]))
    if len(words) == 2 and words[0] in TENS:
        ones = _one_digit(words[1:])
        return None if ones is None else TENS[words[0]] + ones
    return None


def _small(words: list[str]) -> int | None:
    return _one_digit(words) or _two_digits(words)


def _hundreds(words: list[str]) -> int | None:
    """1 to 99 hundreds and what is over: "a hundred eight", "twenty three hundred"."""
    if words.count(HUNDRED) != 1:
        return None
    at = words.index(HUNDRED)
    hundreds = 1 if words[:at] == ["a"] else _small(words[:at])
    rest = words[at + 1 :]
    over = 0 if not rest else _small(rest[1:] if rest[0] == "and" else rest)
    return None if hundreds is None or over is None else hundreds * 100 + over


def _pair(words: list[str]) -> int | None:
    """Two groups: "one eighteen", "nine fifty", "twenty three oh five"."""
    for split in (1, 2):
        first, rest = _small(words[:split]), words[split:]
        if first is None:
            continue
        second = _two_digits(rest)
        if second is None and len(rest) == 2 and DIGITS.get(rest[0]) == 0:
            second = _one_digit(rest[1:])
        if second is not None:
            return first * 100 + second
    return None


def _thousands(words: list[str]) -> int | None:
    at = next((index for index, word in enumerate(words) if word in THOUSANDS), None)
    if at is None:
        return None
    before, rest = words[:at], words[at + 1 :]
    thousands = 1 if before == ["a"] else _count_of_thousands(before)
    over = 0 if not rest else _after_thousands(rest)
    return None if thousands is None or over is None else thousands * 1000 + over


def _count_of_thousands(words: list[str]) -> int | None:
    if not words or DIGITS.get(words[0]) == 0:
        return None
    readings = (_digits(words), _two_digits(words), _hundreds(words), _pair(words))
    count = next((reading for reading in readings if reading is not None), None)
    return count if count is not None and count < 1000 else None


def _after_thousands(words: list[str]) -> int | None:
    """What follows "thousand"; a lone digit only after "and": it could be hundreds."""
    counted = words[1:] if words[0] == "and" else words
    hundreds = _hundreds(counted)
    if hundreds is not None:
        return hundreds if hundreds < 1000 else None
    if words[0] == "and":
        return _small(counted)
    two = _two_digits(words)
    if two is not None:
        return two
    if len(words) == 3 and _digits(words) is not None:
        return _digits(words)
    pair = _pair(words)
    return pair if pair is not None and pair < 1000 else None
