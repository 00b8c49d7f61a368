"""Numbers to speech and back.

Three styles are spoken. *icao*: each digit by itself, "decimal", whole hundreds and
thousands of an altitude or a distance as such (ICAO Annex 10 Volume II, 5.2.1.4). *faa*:
the same with "point", and round hundreds and thousands of anything but speeds, headings,
pressures and frequencies (Aeronautical Information Manual, 4-2-8 to 4-2-11). *cockpit*: as
crews talk among themselves (common practice): pairs for an RPM, digits where fifteen and
fifty could change places, counted words elsewhere.

Hearing (``runner.phrasing.hearing``) takes all three and the ways in between.
"""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal

from runner.phrasing.hearing import hear_number, implied_point, number_words
from runner.phrasing.number_grammar import number_jsgf
from runner.phrasing.numeral_words import HUNDRED, below_hundred, cardinal, digit_by_digit
from runner.phrasing.style import Form, Kind, NumberStyle
from runner.phrasing.unit_words import say_unit

__all__ = ["hear_number", "number_jsgf", "number_words", "say_digits", "say_number", "say_unit"]

LARGEST = 999_999
"""The largest whole number that is said; larger ones are an error of whoever asks."""

_ROUND_IN_ICAO: frozenset[Kind] = frozenset({"altitude", "distance"})
_DIGITS_IN_FAA: frozenset[Kind] = frozenset({"speed", "heading", "frequency", "pressure"})


def _written(value: float, form: Form) -> tuple[bool, str, str]:
    places = Decimal(1).scaleb(-max(form.decimals, 0))
    number = Decimal(repr(float(value)))
    if not number.is_finite() or abs(number) > LARGEST:
        raise ValueError(f"{value!r} is not a number that can be said")
    number = number.quantize(places, ROUND_HALF_UP)
    whole, _, part = f"{abs(number):f}".partition(".")
    return number < 0, whole, part


def say_number(value: float, form: Form, style: NumberStyle) -> str:
    """The words for ``value`` (in the form's unit, without the unit), rounded to its decimals.

    Raises ``ValueError`` for what is not finite or beyond 999,999 either way.
    """
    below_zero, whole, part = _written(value, form)
    if implied_point(form) and style != "icao" and len(whole) == 2:
        words = _four_figures(whole, part, style)
    else:
        if form.kind == "frequency":
            part = part[:1] + part[1:].rstrip("0") if len(part) < 3 else _channel(part)
        words = _say_whole(whole.zfill(3) if form.kind == "heading" else whole, form, style, part)
        if part:
            words += f" {'decimal' if style == 'icao' else 'point'} {digit_by_digit(part)}"
    words = _radio_nine(words, style)
    return f"minus {words}" if below_zero else words


def say_digits(digits: str, style: NumberStyle) -> str:
    """Each digit of a code by itself: a transponder code, a time, a number with a leading zero."""
    return _radio_nine(digit_by_digit(digits), style)


def _radio_nine(words: str, style: NumberStyle) -> str:
    if style == "cockpit":
        return words
    return " ".join("niner" if word == "nine" else word for word in words.split())


def _channel(part: str) -> str:
    return part[:1] if part[1:].strip("0") == "" else part


def _four_figures(whole: str, part: str, style: NumberStyle) -> str:
    if style == "faa" or part == "00":
        return digit_by_digit(whole + part)
    if part[0] == "0":
        return f"{below_hundred(int(whole))} oh {digit_by_digit(part[1])}"
    return f"{below_hundred(int(whole))} {below_hundred(int(part))}"


def _say_whole(digits: str, form: Form, style: NumberStyle, part: str) -> str:
    if style == "cockpit":
        return _say_cockpit(digits, form)
    number = int(digits)
    spoken_round = (
        form.kind in _ROUND_IN_ICAO if style == "icao" else form.kind not in _DIGITS_IN_FAA
    )
    if not spoken_round or part or number == 0 or number % 100:
        return digit_by_digit(digits)
    thousands, hundreds = divmod(number // 100, 10)
    words = [f"{digit_by_digit(str(thousands))} thousand"] if thousands else []
    if hundreds:
        words.append(f"{digit_by_digit(str(hundreds))} hundred")
    return " ".join(words)


def _say_cockpit(digits: str, form: Form) -> str:
    number = int(digits)
    if form.kind in ("heading", "frequency"):
        return digit_by_digit(digits)
    if form.kind == "rpm" and 100 <= number < 10_000:
        return _pairs(number)
    if form.kind in ("speed", "pressure") and 100 <= number < 10_000:
        if number % 100 == 0 and number < 1000:
            return cardinal(number)
        words = digit_by_digit(digits)
        return (
            words.replace("zero", "oh", 1) if form.kind == "speed" and digits[1] == "0" else words
        )
    return cardinal(number)


def _pairs(number: int) -> str:
    first, second = divmod(number, 100)
    if second == 0:
        return cardinal(number) if first % 10 == 0 else f"{below_hundred(first)} {HUNDRED}"
    if second < 10:
        return f"{below_hundred(first)} oh {digit_by_digit(str(second))}"
    return f"{below_hundred(first)} {below_hundred(second)}"
