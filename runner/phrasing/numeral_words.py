"""The English number words: what each one counts, and whole numbers written out in them."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

DIGIT_WORDS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")

DIGITS: Mapping[str, int] = MappingProxyType(
    {word: value for value, word in enumerate(DIGIT_WORDS)}
    | {"oh": 0, "o": 0, "nought": 0, "naught": 0}
    | {"tree": 3, "fower": 4, "fife": 5, "ait": 8, "niner": 9}
)
"""Every word heard as one digit, with the radio pronunciations as they are written down."""

TEENS: Mapping[str, int] = MappingProxyType(
    {
        "ten": 10,
        "eleven": 11,
        "twelve": 12,
        "thirteen": 13,
        "fourteen": 14,
        "fifteen": 15,
        "sixteen": 16,
        "seventeen": 17,
        "eighteen": 18,
        "nineteen": 19,
    }
)

TENS: Mapping[str, int] = MappingProxyType(
    {
        "twenty": 20,
        "thirty": 30,
        "forty": 40,
        "fifty": 50,
        "sixty": 60,
        "seventy": 70,
        "eighty": 80,
        "ninety": 90,
    }
)

HUNDRED = "hundred"
THOUSANDS = frozenset({"thousand", "tousand"})
POINTS = frozenset({"point", "decimal", "dot"})
MINUSES = frozenset({"minus", "negative"})
SIGNS = MINUSES | {"plus"}

COUNTING_WORDS = frozenset(DIGITS) | frozenset(TEENS) | frozenset(TENS) | THOUSANDS | {HUNDRED}
"""Words that are part of a number wherever they stand."""

_TEEN_WORDS = {value: word for word, value in TEENS.items()}
_TENS_WORDS = {value: word for word, value in TENS.items()}


def digit_by_digit(digits: str) -> str:
    """The digits, each as its word: ``"080"`` gives "zero eight zero"."""
    return " ".join(DIGIT_WORDS[int(digit)] for digit in digits)


def below_hundred(number: int) -> str:
    """A whole number from 0 to 99 in words: 44 gives "forty four"."""
    if number < 10:
        return DIGIT_WORDS[number]
    if number < 20:
        return _TEEN_WORDS[number]
    tens, ones = divmod(number, 10)
    return _TENS_WORDS[tens * 10] + (f" {DIGIT_WORDS[ones]}" if ones else "")


def cardinal(number: int) -> str:
    """A whole number from 0 to 999,999 in words, as it is counted.

    Less than a hundred left over after the thousands takes "and" ("seventy four thousand
    and five"), because "seventy four thousand five" is also heard for 74,500.
    """
    thousands, rest = divmod(number, 1000)
    hundreds, small = divmod(rest, 100)
    words = []
    if thousands:
        words += [cardinal(thousands), "thousand"]
    if hundreds:
        words += [DIGIT_WORDS[hundreds], HUNDRED]
    elif thousands and small:
        words.append("and")
    if small or not number:
        words.append(below_hundred(small))
    return " ".join(words)
