"""Text brought to one plain form, so that what was written and what was heard can be compared.

The plain form is lower-case words with one space between them: digits as number words,
no punctuation, one spelling for words that are written in several ways. Bringing a text
that is plain already to its plain form changes nothing.
"""

from __future__ import annotations

import re
import unicodedata

from runner.phrasing.numeral_words import below_hundred, cardinal, digit_by_digit

_FRACTIONS = {"½": " and a half", "¼": " and a quarter", "¾": " and three quarters"}
_SYMBOLS = {"%": " percent ", "&": " and ", "°c": " degrees celsius ", "°f": " degrees fahrenheit "}
_SYMBOLS |= {"°": " degrees ", "#": " number ", "×": " times ", "=": " equals "}
_SYMBOLS |= {"²": " squared ", "³": " cubed "}
_APOSTROPHES = str.maketrans({"’": "'", "‘": "'", "ʼ": "'", "`": "'", "−": "-", "–": "-", "—": "-"})

_SPELLINGS = {
    "takeoff": "take off",
    "standby": "stand by",
    "readback": "read back",
    "crosscheck": "cross check",
    "crosschecked": "cross checked",
    "goaround": "go around",
    "ok": "okay",
    "vee": "v",
    "carburettor": "carburetor",
    "carburettors": "carburetors",
    "metre": "meter",
    "metres": "meters",
    "litre": "liter",
    "litres": "liters",
    "centre": "center",
    "grey": "gray",
}
_PAIRS = {("check", "list"): "checklist", ("check", "lists"): "checklists"}

_DOTTED = re.compile(r"\b(?:[a-z]\.){2,}")
_NUMBER_SIGN = re.compile(r"\bno\.\s*(?=[0-9])", re.IGNORECASE)
_SIGN = re.compile(r"(?:(?<=\s)|(?<=[(/])|^)([-+])(?=\.?[0-9])")
_GROUPS = re.compile(r"(?<![0-9,.])([0-9]{1,3}(?:,[0-9]{3})+)(?![0-9,])")
_LONE_COMMA = re.compile(r"(?<=[0-9]),(?=[0-9])")
_PIECE = re.compile(
    r"(?P<clock>[0-9]{1,2}:[0-9]{2}(?![0-9:]))"
    r"|(?P<whole>[0-9]+)?(?:(?<![0-9])|(?<=[0-9]))\.(?P<part>[0-9]+)"
    r"|(?P<digits>[0-9]+)"
    r"|(?P<word>[^\W\d_]+(?:'[^\W\d_]+)*)"
)


def plain_characters(text: str) -> str:
    """Lower case, plain apostrophes and hyphens, and every decimal digit as 0 to 9."""
    text = unicodedata.normalize("NFC", text).translate(_APOSTROPHES).casefold()
    for mark, words in _FRACTIONS.items():
        text = text.replace(mark, words)
    return "".join(
        str(unicodedata.decimal(character)) if character.isdecimal() else character
        for character in text
    )


def whole_words(digits: str) -> str:
    """A written whole number in words: counted, or digit by digit where it is a code.

    A leading zero or more than six digits make it a code: ``"0123"`` is not "one hundred
    twenty three".
    """
    if len(digits) > 6 or (len(digits) > 1 and digits[0] == "0"):
        return digit_by_digit(digits)
    return cardinal(int(digits))


def clock_words(clock: str) -> str:
    """A time of day, hours and minutes with a colon, as it is said: "twelve thirty"."""
    hours, minutes = clock.split(":")
    if minutes == "00":
        return f"{whole_words(hours)} {digit_by_digit(minutes)}"
    if minutes[0] == "0":
        return f"{whole_words(hours)} oh {digit_by_digit(minutes[1])}"
    return f"{whole_words(hours)} {below_hundred(int(minutes))}"


def _piece_words(piece: re.Match[str]) -> str:
    if piece["clock"]:
        return clock_words(piece["clock"])
    if piece["part"]:
        whole = f"{whole_words(piece['whole'])} " if piece["whole"] else ""
        return f"{whole}point {digit_by_digit(piece['part'])}"
    if piece["digits"]:
        return whole_words(piece["digits"])
    return _SPELLINGS.get(piece["word"], piece["word"])


def spell_number_sign(text: str) -> str:
    """The text with "No." before a digit written out: the word "no" is an answer."""
    return _NUMBER_SIGN.sub("number ", text)


def normalise(text: str) -> str:
    """The plain form of ``text``: words with one space between them, or an empty string.

    Numbers are written out as they are counted ("20" is "twenty", "44.5" is "forty four
    point five", "12:30" is "twelve thirty"), "No. 3" is "number three", a hyphen between
    words is a space and one before a number is "minus", an apostrophe inside a word stays.
    """
    text = plain_characters(text)
    for mark, words in _SYMBOLS.items():
        text = text.replace(mark, words)
    text = _DOTTED.sub(lambda dotted: dotted[0].replace(".", "") + " ", text)
    text = spell_number_sign(text)
    text = _SIGN.sub(lambda sign: " minus " if sign[1] == "-" else " plus ", text)
    text = _GROUPS.sub(lambda grouped: grouped[1].replace(",", ""), text)
    # "1,5" is one and a half to some and fifteen to nobody: the word keeps it from being either.
    text = _LONE_COMMA.sub(" comma ", text)
    joined: list[str] = []
    for word in " ".join(_piece_words(piece) for piece in _PIECE.finditer(text)).split():
        pair = _PAIRS.get((joined[-1], word)) if joined else None
        if pair:
            joined[-1] = pair
        else:
            joined.append(word)
    return " ".join(joined)
