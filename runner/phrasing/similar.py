"""How much alike two answers sound, judged from their spelling.

Each word is turned into phonemes by a short list of English spelling rules (and a table of
words that follow none), and the two strings of phonemes are compared by edit distance. A
substitution costs by how far apart the two sounds are made: place, manner and voice of a
consonant, height and place of a vowel. Vowels weigh most and the last consonant of a word
least, because that is how words are told apart in noise: "on" and "off" share all but
their ends. It is a warning for whoever writes a list, not a recogniser.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache
from types import MappingProxyType

from runner.phrasing.normal import normalise

ALIKE = 0.6
"""From here up two answers are worth a warning: "five" and "nine" lie just above it."""

_IRREGULAR: Mapping[str, str] = MappingProxyType(
    {
        "a": "AH",
        "air": "EH R",
        "all": "AO L",
        "are": "AA R",
        "armed": "AA R M D",
        "blower": "B L OW ER",
        "both": "B OW TH",
        "bus": "B AH S",
        "buses": "B AH S IH Z",
        "closed": "K L OW Z D",
        "cowl": "K AW L",
        "cold": "K OW L D",
        "down": "D AW N",
        "eight": "EY T",
        "engine": "EH N JH IH N",
        "engines": "EH N JH IH N Z",
        "found": "F AW N D",
        "four": "F AO R",
        "feather": "F EH DH ER",
        "feathered": "F EH DH ER D",
        "fower": "F OW ER",
        "full": "F UH L",
        "gear": "G IH R",
        "give": "G IH V",
        "go": "G OW",
        "have": "HH AE V",
        "hold": "HH OW L D",
        "hundred": "HH AH N D R AH D",
        "idle": "AY D AH L",
        "latched": "L AE CH T",
        "locked": "L AA K T",
        "main": "M EY N",
        "minus": "M AY N AH S",
        "now": "N AW",
        "neutral": "N UW T R AH L",
        "of": "AH V",
        "off": "AO F",
        "oil": "OY L",
        "on": "AO N",
        "one": "W AH N",
        "open": "OW P AH N",
        "own": "OW N",
        "power": "P AW ER",
        "push": "P UH SH",
        "put": "P UH T",
        "removed": "R IH M UW V D",
        "said": "S EH D",
        "some": "S AH M",
        "the": "DH AH",
        "thousand": "TH AW Z AH N D",
        "to": "T UW",
        "two": "T UW",
        "was": "W AA Z",
        "water": "W AO T ER",
        "weight": "W EY T",
        "radar": "R EY D AA R",
        "radio": "R EY D IY OW",
        "standby": "S T AE N D B AY",
        "zero": "Z IH R OW",
    }
)

_LETTERS: Mapping[str, str] = MappingProxyType(
    {"b": "B IY", "c": "S IY", "d": "D IY", "e": "IY", "f": "EH F", "g": "JH IY", "h": "EY CH"}
    | {"i": "AY", "j": "JH EY", "k": "K EY", "l": "EH L", "m": "EH M", "n": "EH N", "o": "OW"}
    | {"p": "P IY", "q": "K Y UW", "r": "AA R", "s": "EH S", "t": "T IY", "u": "Y UW", "v": "V IY"}
    | {"w": "D AH B AH L Y UW", "x": "EH K S", "y": "W AY", "z": "Z IY"}
)
"""The letters by their names; "a" is more often the article."""

_RULES: tuple[tuple[str, str], ...] = (
    (r"tions?$|sions?$", "SH AH N"),
    (r"ture(?=s?$)", "CH ER"),
    (r"ssure(?=s?$)", "SH ER"),
    (r"ure(?=[sd]?$)", "Y UH R"),
    (r"(?<=ch|sh)es$|(?<=[sxz])es$", "IH Z"),
    (r"(?<=[gkptbdlmnrvwy])s(?=$)(?<![ptk]s)", "Z"),
    (r"gui", "G W IH"),
    (r"at(?=ors?$|ed$|e$|es$)", "EY T"),
    (r"ors?$", "ER"),
    (r"ward$", "W ER D"),
    (r"ough", "AO"),
    (r"augh", "AO"),
    (r"eigh", "EY"),
    (r"igh", "AY"),
    (r"tch", "CH"),
    (r"ch", "CH"),
    (r"sh", "SH"),
    (r"th", "TH"),
    (r"ph", "F"),
    (r"ck", "K"),
    (r"qu", "K W"),
    (r"wh", "W"),
    (r"^wr", "R"),
    (r"^kn", "N"),
    (r"ng(?=s?$)", "NG"),
    (r"nk", "NG K"),
    (r"dge", "JH"),
    (r"le(?=s?$)|al(?=s?$)|el(?=s?$)", "AH L"),
    (r"(?<=[a-z]{2})on$|(?<=[a-z]{2})en$", "AH N"),
    (r"(?<=[td])ed$", "IH D"),
    (r"(?<=[ckpsxfh])ed$", "T"),
    (r"(?<=[a-z]{2})ed$", "D"),
    (r"ear|eer", "IH R"),
    (r"are$|air", "EH R"),
    (r"ire", "AY ER"),
    (r"ore|oor|oar|our|or", "AO R"),
    (r"ar", "AA R"),
    (r"er|ir|ur", "ER"),
    (r"ee|ea|ie", "IY"),
    (r"ai|ay|ei|ey(?!$)", "EY"),
    (r"ey$", "IY"),
    (r"oo|ue|ew|ui", "UW"),
    (r"oa|oe|ow$|ow(?=[sn]?$)", "OW"),
    (r"ou|ow", "AW"),
    (r"oi|oy", "OY"),
    (r"au|aw", "AO"),
    (r"al(?=[lkt])", "AO"),
    (r"ind$", "AY N D"),
    (r"a(?=[^aeiouwxy]es?$|ble$|tion)", "EY"),
    (r"e(?=[^aeiouwxy]es?$)", "IY"),
    (r"i(?=[^aeiouwxy]es?$)", "AY"),
    (r"o(?=[^aeiouwxy]es?$)", "OW"),
    (r"u(?=[^aeiouwxy]es?$)", "UW"),
    (r"e$|(?<=[^aeiousxz])e(?=s$)", ""),
    (r"(?<=^[^aeiou])y$|(?<=^[^aeiou]{2})y$", "AY"),
    (r"^y", "Y"),
    (r"y$", "IY"),
    (r"y", "IH"),
    (r"c(?=[eiy])", "S"),
    (r"g(?=[ei])", "JH"),
    (r"x", "K S"),
    (r"o$", "OW"),
    (r"([bcdfgklmnprstz])\1", ""),
)
_LETTER_SOUNDS: Mapping[str, str] = MappingProxyType(
    {"a": "AE", "b": "B", "c": "K", "d": "D", "e": "EH", "f": "F", "g": "G", "h": "HH", "i": "IH"}
    | {"j": "JH", "k": "K", "l": "L", "m": "M", "n": "N", "o": "AA", "p": "P", "q": "K", "r": "R"}
    | {"s": "S", "t": "T", "u": "AH", "v": "V", "w": "W", "x": "K S", "y": "IH", "z": "Z"}
)
"""What a letter sounds like where no rule says otherwise."""

_VOWELS: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "IY": (1.0, 0.0),
        "IH": (0.8, 0.15),
        "EY": (0.7, 0.05),
        "EH": (0.45, 0.1),
        "AE": (0.15, 0.15),
        "AA": (0.0, 0.75),
        "AH": (0.35, 0.55),
        "AO": (0.25, 0.9),
        "OW": (0.6, 0.95),
        "UH": (0.75, 0.85),
        "UW": (1.0, 1.0),
        "ER": (0.5, 0.5),
        "AY": (0.3, 0.35),
        "AW": (0.25, 0.65),
        "OY": (0.55, 0.65),
    }
)
"""Vowels as (height, backness), each 0 to 1; a diphthong lies between its ends."""

_PLACES = {
    **dict.fromkeys(("P", "B", "M", "W"), 0.0),
    **dict.fromkeys(("F", "V"), 0.15),
    **dict.fromkeys(("TH", "DH"), 0.35),
    **dict.fromkeys(("T", "D", "N", "S", "Z", "L", "R"), 0.5),
    **dict.fromkeys(("SH", "ZH", "CH", "JH", "Y"), 0.65),
    **dict.fromkeys(("K", "G", "NG"), 0.9),
    "HH": 1.0,
}
_MANNERS = {
    **dict.fromkeys(("P", "B", "T", "D", "K", "G"), 0.0),
    **dict.fromkeys(("CH", "JH"), 0.25),
    **dict.fromkeys(("F", "V", "TH", "DH", "S", "Z", "SH", "ZH", "HH"), 0.5),
    **dict.fromkeys(("M", "N", "NG"), 0.85),
    **dict.fromkeys(("L", "R", "W", "Y"), 1.0),
}
_VOICELESS = frozenset({"P", "T", "K", "F", "TH", "S", "SH", "CH", "HH"})

_VOWEL_WEIGHT = 1.5
_CONSONANT_WEIGHT = 1.0
_LAST_WEIGHT = 0.6


@cache
def _rules() -> tuple[tuple[re.Pattern[str], str], ...]:
    return tuple((re.compile(rule), said) for rule, said in _RULES)


def phonemes(word: str) -> tuple[str, ...]:
    """The sounds of one plain word, in the letters of ARPAbet, by spelling rules."""
    if word in _IRREGULAR:
        return tuple(_IRREGULAR[word].split())
    if len(word) == 1:
        return tuple(_LETTERS.get(word, "").split())
    sounds: list[str] = []
    at = 0
    while at < len(word):
        for rule, said in _rules():
            found = rule.match(word, at)
            if found:
                doubled = found.lastindex == 1
                sounds += (_LETTER_SOUNDS[word[at]] if doubled else said).split()
                at = found.end()
                break
        else:
            sounds += _LETTER_SOUNDS.get(word[at], "").split()
            at += 1
    return tuple(sounds)


def sounds_alike(a: str, b: str) -> float:
    """How much alike two answers sound: 1 for the same, 0 for nothing in common.

    Depends on the plain form of the texts alone, and is the same either way round.
    """
    first, second = normalise(a), normalise(b)
    if first == second:
        return 1.0
    left, right = _weighted(first), _weighted(second)
    longest = max(sum(weight for _, weight in sounds) for sounds in (left, right))
    return max(0.0, 1.0 - _distance(left, right) / longest) if longest else 0.0


_Sounds = list[tuple[str, float]]


def _weighted(text: str) -> _Sounds:
    sounds: _Sounds = []
    for word in text.split():
        spelt = phonemes(word)
        for place, sound in enumerate(spelt):
            if sound in _VOWELS:
                sounds.append((sound, _VOWEL_WEIGHT))
            else:
                last = place == len(spelt) - 1
                sounds.append((sound, _LAST_WEIGHT if last else _CONSONANT_WEIGHT))
    return sounds


def _distance(left: _Sounds, right: _Sounds) -> float:
    above = [0.0]
    for _, weight in right:
        above.append(above[-1] + weight)
    for sound, weight in left:
        row = [above[0] + weight]
        for column, (other, other_weight) in enumerate(right):
            replaced = _apart(sound, other) * _pair_weight(weight, other_weight)
            row.append(
                min(above[column] + replaced, above[column + 1] + weight, row[-1] + other_weight)
            )
        above = row
    return above[-1]


def _pair_weight(one: float, other: float) -> float:
    """The lighter of two consonants' weights, so that an end against a middle is not overrated."""
    return max(one, other) if _VOWEL_WEIGHT in (one, other) else min(one, other)


def _apart(a: str, b: str) -> float:
    """0 for the same sound, 1 for a vowel and a consonant."""
    if a == b:
        return 0.0
    if a in _VOWELS and b in _VOWELS:
        (height_a, back_a), (height_b, back_b) = _VOWELS[a], _VOWELS[b]
        return min(1.0, 0.15 + abs(height_a - height_b) * 0.9 + abs(back_a - back_b) * 0.9)
    if a in _VOWELS or b in _VOWELS:
        return 1.0
    voice = 0.2 if (a in _VOICELESS) != (b in _VOICELESS) else 0.0
    place = abs(_PLACES[a] - _PLACES[b])
    return min(1.0, 0.1 + place * 0.5 + abs(_MANNERS[a] - _MANNERS[b]) * 0.7 + voice)
