"""A number as a grammar for a recogniser: the body of a JSGF rule.

JSGF: JSpeech Grammar Format, W3C Note, 5 June 2000. The grammar holds what is said for
numbers of a kind in practice, so it is narrower than what is heard in text: the fewer
ways, the surer a recogniser is: "a hundred" is left out where "eight hundred" could be
meant, and "oh" where a long row of noughts would grow by one. Every sentence of it is a
number to ``hear_number``, and only words of PocketSphinx's English pronouncing dictionary
are in it ("fower" is not).
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from runner.phrasing.hearing import FLIGHT_LEVEL, PREFIXES, WHOLE, implied_point
from runner.phrasing.numeral_words import TEENS, TENS
from runner.phrasing.style import Form, Kind
from runner.phrasing.unit_words import units_heard

NOT_IN_DICTIONARY = frozenset({"hectopascal", "hectopascals", "millibars"})
"""Words for units that PocketSphinx's English dictionary cannot spell."""

_ONES = "( one | two | three | tree | four | five | fife | six | seven | eight | nine | niner )"
_NOUGHT = "( zero | oh )"
_DIGIT = f"( {_NOUGHT} | {_ONES} )"
_FIRST_DIGIT = f"( zero | {_ONES} )"
_TWO = f"( {' | '.join(TEENS)} | ( {' | '.join(TENS)} ) [ {_ONES} ] )"
_FEW_HUNDREDS = "( a | one | two | three | four | five | six ) hundred"
_SMALL = f"( {_ONES} | {_TWO} )"

_MOST_DIGITS: Mapping[Kind, int] = MappingProxyType(
    {
        "engine": 1,
        "count": 2,
        "manifold_pressure": 2,
        "percent": 3,
        "temperature": 3,
        "angle": 3,
        "duration": 3,
        "speed": 3,
        "frequency": 4,
        "pressure": 4,
        "rpm": 4,
        "altitude": 5,
        "distance": 5,
    }
)
_MOST_DIGITS_OTHERWISE = 6

_NO_PAIRS: frozenset[Kind] = frozenset({"engine", "count", "manifold_pressure"})
_NO_HALVES: frozenset[Kind] = frozenset({"engine", "count", "frequency", "heading"})
_WITH_THOUSANDS: frozenset[Kind] = frozenset(
    {"plain", "words", "altitude", "weight", "rpm", "distance"}
)
_WITH_A_HUNDRED: frozenset[Kind] = frozenset({"speed", "percent"})
_WITH_MINUS: frozenset[Kind] = frozenset(
    {"plain", "words", "altitude", "temperature", "angle", "percent"}
)


def number_jsgf(form: Form) -> str:
    """The body of a JSGF rule for a number of this form, without a name or a semicolon.

    Decimals are in it where the form has them; a minus where the kind is often negative.
    """
    whole = _whole(form)
    body = f"( {whole} )"
    if form.kind not in WHOLE and (form.decimals > 0 or form.kind == "frequency"):
        body = f"( {body} [ {_decimals(max(form.decimals, 1))} ] )"
    if form.decimals > 0 and form.kind not in _NO_HALVES and not implied_point(form):
        half = f"{_SMALL} and a ( half | quarter )"
        body = f"( {body} | {half} | [ zero ] {_decimals(form.decimals)} )"
    if form.kind in _WITH_MINUS:
        body = f"[ minus | negative ] {body}"
    prefixes = PREFIXES.get(form.kind, ())
    if prefixes:
        body = f"[ {' | '.join(' '.join(prefix) for prefix in prefixes)} ] {body}"
    units = [way for way in units_heard(form.unit) if not NOT_IN_DICTIONARY & set(way)]
    if units:
        body = f"{body} [ {' | '.join(' '.join(way) for way in units)} ]"
    if form.kind == "altitude" and form.unit == "ft":
        level = f"{_ONES} {_DIGIT} [ {_DIGIT} ]"
        body = f"( {body} | {' '.join(FLIGHT_LEVEL)} {level} )"
    return body


def _decimals(places: int) -> str:
    point = "( point | decimal )"
    return f"{point} ( {_up_to(places)} | {_TWO} )" if places > 1 else f"{point} {_DIGIT}"


def _up_to(digits: int, digit: str = _DIGIT) -> str:
    return digit if digits == 1 else f"{digit} [ {_up_to(digits - 1, digit)} ]"


def _whole(form: Form) -> str:
    if form.kind == "engine":
        return _ONES
    if form.kind == "heading":
        return f"{_DIGIT} {_DIGIT} {_DIGIT} | {_ONES} {_TWO} | {_TWO}"
    most = _MOST_DIGITS.get(form.kind, _MOST_DIGITS_OTHERWISE)
    digit = _DIGIT if most < 5 else _FIRST_DIGIT
    ways = [f"{_FIRST_DIGIT} [ {_up_to(most - 1, digit)} ]", _TWO]
    hundred = f"{_SMALL if most > 3 else _ONES} hundred"
    if form.kind in _WITH_A_HUNDRED:
        hundred = _FEW_HUNDREDS
    if most > 2:
        ways.append(f"{hundred} [ [ and ] {_SMALL} ]")
    if form.kind not in _NO_PAIRS and form.kind not in ("weight", "altitude", "distance"):
        first = _ONES if most == 3 else _TWO if implied_point(form) else _SMALL
        ways.append(f"{first} ( {_TWO} | {_NOUGHT} {_ONES} )")
    if form.kind in _WITH_THOUSANDS:
        below_thousand = f"{_ONES} hundred [ [ and ] {_SMALL} ]"
        count = f"{_SMALL} | {_ONES} {_FIRST_DIGIT}"
        if most > 5:
            count += f" | {below_thousand} | {_ONES} {_FIRST_DIGIT} {_FIRST_DIGIT}"
        after = f"[ and ] {below_thousand} | and {_SMALL} | {_TWO} | {_ONES} {_TWO}"
        ways.append(f"( {count} ) thousand [ {after} | {digit} {digit} {digit} ]")
    return " | ".join(ways)
