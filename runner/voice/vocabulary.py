"""The words that a Vosk model knows, and those of them that stand for everything else.

A grammar given at run time is closed: whatever is said, one of its phrases comes out. Models
of other languages than English know none of the shipped decoys, and some know no ``[unk]``,
so their decoys are taken from their own words.
"""

from __future__ import annotations

import struct
from collections.abc import Sequence
from pathlib import Path

DECOYS_WANTED = 60
"""Decoys in a grammar: with 60 no other word in twenty was taken, without any a quarter were."""

SHORTEST, LONGEST = 2, 12
"""Letters of a word that makes a decoy: shorter ones fit into any sound, longer ones into none."""

_FST = 2125659606
_SYMBOLS = 2125658996
"""The numbers by which OpenFst begins a transducer and a table of symbols (OpenFst, fst.h)."""

_OUTPUT_SYMBOLS = 2
_INPUT_SYMBOLS = 1

_MOST_WORDS = 10_000_000


def words_of_model(folder: Path) -> tuple[str, ...]:
    """All words of a model, from its list or from its grammar's graph; empty where neither is."""
    for name in ("graph/words.txt", "words.txt"):
        file = folder / name
        if file.is_file():
            lines = file.read_text(encoding="utf-8", errors="replace").splitlines()
            return tuple(line.split()[0] for line in lines if line.strip())
    for name in ("graph/Gr.fst", "Gr.fst"):
        file = folder / name
        if file.is_file():
            try:
                return _words_of_graph(file.read_bytes())
            except (struct.error, ValueError):
                return ()
    return ()


def decoys_from(words: Sequence[str]) -> tuple[str, ...]:
    """``DECOYS_WANTED`` words spread evenly over a vocabulary, the same ones each time."""
    plain = [
        word
        for word in words
        if SHORTEST <= len(word) <= LONGEST and word.isalpha() and word == word.casefold()
    ]
    step = max(1, len(plain) // DECOYS_WANTED)
    return tuple(plain[::step][:DECOYS_WANTED])


def apart_from(decoys: Sequence[str], said: Sequence[str]) -> tuple[str, ...]:
    """The decoys that do not begin like a word that may be said, the other way round neither."""
    return tuple(decoy for decoy in decoys if not any(_begin_alike(decoy, other) for other in said))


def _begin_alike(one: str, other: str) -> bool:
    return one.startswith(other) or other.startswith(one)


def _words_of_graph(data: bytes) -> tuple[str, ...]:
    """The output symbols (else the input symbols) that a transducer's file begins with."""
    reader = _Reader(data)
    if reader.number("<i") != _FST:
        return ()
    reader.text()
    reader.text()
    reader.number("<i")
    flags = reader.number("<i")
    reader.at += 8 + 3 * 8
    words: tuple[str, ...] = ()
    for flag in (_INPUT_SYMBOLS, _OUTPUT_SYMBOLS):
        if flags & flag:
            words = _table(reader)
    return words


def _table(reader: _Reader) -> tuple[str, ...]:
    if reader.number("<i") != _SYMBOLS:
        raise ValueError("no table of symbols")
    reader.text()
    reader.number("<q")
    count = reader.number("<q")
    if not 0 <= count <= _MOST_WORDS:
        raise ValueError("a table of symbols of no sensible size")
    words: list[str] = []
    for _ in range(count):
        words.append(reader.text())
        reader.at += 8
    return tuple(words)


class _Reader:
    def __init__(self, data: bytes) -> None:
        self._data = data
        self.at = 0

    def number(self, form: str) -> int:
        (found,) = struct.unpack_from(form, self._data, self.at)
        self.at += struct.calcsize(form)
        return int(found)

    def text(self) -> str:
        size = self.number("<i")
        if not 0 <= size <= len(self._data) - self.at:
            raise ValueError("a text longer than the file")
        text = self._data[self.at : self.at + size].decode("utf-8", "replace")
        self.at += size
        return text
