"""Pronunciations for PocketSphinx: its own dictionary, trade words, and a guess by letters.

Phones are the 39 of the CMU Pronouncing Dictionary. The dictionary file is mapped, not
read: of its 130,000 words a flight needs a few hundred.
"""

from __future__ import annotations

import mmap
import re
from pathlib import Path

TRADE_WORDS: dict[str, tuple[str, ...]] = {
    "carburettor": ("K AA R B ER EY T ER", "K AA R B Y ER EH T ER"),
    "carburettors": ("K AA R B ER EY T ER Z", "K AA R B Y ER EH T ER Z"),
    "meto": ("M IY T OW", "M EH T OW"),
    "nacelle": ("N AH S EH L",),
    "pitot": ("P IY T OW",),
    "magneto": ("M AE G N IY T OW",),
    "magnetos": ("M AE G N IY T OW Z",),
    "oleo": ("OW L IY OW",),
    "empennage": ("EH M P AH N AA ZH",),
    "autofeather": ("AO T OW F EH DH ER",),
    "tree": ("T R IY",),
    "fower": ("F OW ER",),
    "fife": ("F AY F",),
    "niner": ("N AY N ER",),
}
"""Words of the trade that the dictionary lacks; ICAO digits as Annex 10 Volume II has them
pronounced (chapter 5, table of numbers; from memory)."""

_ENDINGS: tuple[tuple[str, str], ...] = (
    ("'s", "Z"),
    ("ing", "IH NG"),
    ("ed", "D"),
    ("er", "ER"),
    ("ers", "ER Z"),
    ("ly", "L IY"),
    ("s", "Z"),
    ("ness", "N AH S"),
    ("less", "L AH S"),
)

_BEGINNINGS: tuple[tuple[str, str], ...] = (
    ("un", "AH N"),
    ("re", "R IY"),
    ("de", "D IY"),
    ("non", "N AA N"),
    ("pre", "P R IY"),
    ("anti", "AE N T IY"),
    ("auto", "AO T OW"),
    ("cross", "K R AO S"),
)

_LETTERS: dict[str, str] = {
    "a": "EY", "b": "B IY", "c": "S IY", "d": "D IY", "e": "IY", "f": "EH F", "g": "JH IY",
    "h": "EY CH", "i": "AY", "j": "JH EY", "k": "K EY", "l": "EH L", "m": "EH M", "n": "EH N",
    "o": "OW", "p": "P IY", "q": "K Y UW", "r": "AA R", "s": "EH S", "t": "T IY", "u": "Y UW",
    "v": "V IY", "w": "D AH B AH L Y UW", "x": "EH K S", "y": "W AY", "z": "Z IY",
}  # fmt: skip

_SOUNDS: tuple[tuple[str, str], ...] = (
    ("tion", "SH AH N"), ("sion", "ZH AH N"), ("ture", "CH ER"), ("ough", "AO"),
    ("igh", "AY"), ("tch", "CH"), ("dge", "JH"), ("eau", "OW"), ("qu", "K W"), ("ck", "K"),
    ("ch", "CH"), ("sh", "SH"), ("th", "TH"), ("ph", "F"), ("wh", "W"), ("ng", "NG"),
    ("gh", ""), ("kn", "N"), ("wr", "R"), ("ee", "IY"), ("ea", "IY"), ("oo", "UW"),
    ("oa", "OW"), ("ou", "AW"), ("ow", "OW"), ("oi", "OY"), ("oy", "OY"), ("ai", "EY"),
    ("ay", "EY"), ("au", "AO"), ("aw", "AO"), ("ew", "Y UW"), ("ie", "IY"), ("ei", "EY"),
    ("ar", "AA R"), ("er", "ER"), ("ir", "ER"), ("or", "AO R"), ("ur", "ER"), ("bb", "B"),
    ("cc", "K"), ("dd", "D"), ("ff", "F"), ("gg", "G"), ("ll", "L"), ("mm", "M"), ("nn", "N"),
    ("pp", "P"), ("rr", "R"), ("ss", "S"), ("tt", "T"), ("zz", "Z"), ("ce", "S"), ("ci", "S IH"),
    ("cy", "S IY"), ("ge", "JH"), ("a", "AE"), ("b", "B"), ("c", "K"), ("d", "D"), ("e", "EH"),
    ("f", "F"), ("g", "G"), ("h", "HH"), ("i", "IH"), ("j", "JH"), ("k", "K"), ("l", "L"),
    ("m", "M"), ("n", "N"), ("o", "AA"), ("p", "P"), ("r", "R"), ("s", "S"), ("t", "T"),
    ("u", "AH"), ("v", "V"), ("w", "W"), ("x", "K S"), ("y", "IY"), ("z", "Z"),
)  # fmt: skip

_LONG = {"a": "EY", "e": "IY", "i": "AY", "o": "OW", "u": "UW"}


class Dictionary:
    """Looks words up in a CMU dictionary file and guesses those that are not there.

    ``guessed`` collects the words whose pronunciation is a guess by letters alone.
    """

    def __init__(self, file: Path) -> None:
        self._handle = file.open("rb")
        self._map = mmap.mmap(self._handle.fileno(), 0, access=mmap.ACCESS_READ)
        self._known: dict[str, tuple[str, ...]] = {}
        self.guessed: set[str] = set()

    def close(self) -> None:
        """Give the file back."""
        self._map.close()
        self._handle.close()

    def pronounce(self, word: str) -> tuple[str, ...]:
        """The pronunciations of a lower-case word, the usual one first; never empty for letters.

        Gives an empty tuple for what holds no letter at all.
        """
        if word not in self._known:
            self._known[word] = self._find(word)
        return self._known[word]

    def _find(self, word: str) -> tuple[str, ...]:
        found = self._look_up(word) or TRADE_WORDS.get(word, ())
        if found:
            return found
        if re.fullmatch(r"[a-z]", word):
            return (_LETTERS[word],)
        built = self._from_parts(word)
        if built:
            return (built,)
        letters = re.sub(r"[^a-z]", "", word)
        if not letters:
            return ()
        self.guessed.add(word)
        if not re.search(r"[aeiouy]", letters):
            return (" ".join(_LETTERS[letter] for letter in letters),)
        return (by_letters(letters),)

    def _from_parts(self, word: str) -> str:
        known = self._look_up
        for beginning, sound in _BEGINNINGS:
            rest = word.removeprefix(beginning)
            if rest != word and len(rest) > 2 and (found := known(rest)):
                return f"{sound} {found[0]}"
        for ending, sound in _ENDINGS:
            stem = word.removesuffix(ending)
            if stem != word and len(stem) > 2:
                found = known(stem) or known(stem + "e") or known(stem.rstrip(stem[-1]) + stem[-1])
                if found:
                    return f"{found[0]} {sound}"
        for cut in sorted(range(3, len(word) - 2), key=lambda at: abs(at - len(word) / 2)):
            first, second = known(word[:cut]), known(word[cut:])
            if first and second:
                return f"{first[0]} {second[0]}"
        return ""

    def _look_up(self, word: str) -> tuple[str, ...]:
        """Bisect the mapped file, whose lines stand in byte order of their words."""
        if not word:
            return ()
        key = word.encode()
        low, high = 0, len(self._map)
        while low < high:
            middle = (low + high) // 2
            start = self._map.rfind(b"\n", 0, middle) + 1
            end = self._map.find(b"\n", start)
            end = len(self._map) if end < 0 else end
            if self._map[start:end].split(b" ", 1)[0].split(b"(", 1)[0] < key:
                low = end + 1
            else:
                high = start
        found = []
        while low < len(self._map):
            end = self._map.find(b"\n", low)
            end = len(self._map) if end < 0 else end
            name, _, phones = self._map[low:end].partition(b" ")
            if name.split(b"(", 1)[0] != key:
                break
            found.append(phones.decode().strip())
            low = end + 1
        return tuple(found)


def by_letters(word: str) -> str:
    """A rough English pronunciation from spelling alone (a-z), for words found nowhere."""
    phones: list[str] = []
    rest = word
    silent_e = re.search(r"([aeiou])[^aeiouwxy]e$", word)
    long_at = silent_e.start(1) if silent_e else -1
    if silent_e:
        rest = word[:-1]
    at = 0
    while at < len(rest):
        if at == long_at:
            phones.append(_LONG[rest[at]])
            at += 1
            continue
        for spelling, sound in _SOUNDS:
            if rest.startswith(spelling, at):
                if sound:
                    phones.append(sound)
                at += len(spelling)
                break
        else:
            at += 1
    return " ".join(phones)
