"""Opposite states: what an answer in words must at least not be mistaken for.

Common practice: the words in which crews state a control's position. A closed grammar
that holds only the right answer can only say yes, so an item whose file names no
competitor gets these.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

_PAIRS = (
    ("on", "off"),
    ("up", "down"),
    ("open", "closed"),
    ("opened", "closed"),
    ("low", "high"),
    ("left", "right"),
    ("in", "out"),
    ("full", "empty"),
    ("rich", "lean"),
    ("hot", "cold"),
    ("locked", "unlocked"),
    ("engaged", "disengaged"),
    ("armed", "disarmed"),
    ("connected", "disconnected"),
    ("extended", "retracted"),
    ("normal", "alternate"),
    ("auto", "manual"),
    ("automatic", "manual"),
    ("forward", "aft"),
    ("increase", "decrease"),
    ("first", "second"),
    ("start", "stop"),
    ("inserted", "removed"),
    ("clear", "not clear"),
    ("free", "not free"),
    ("set", "not set"),
    ("checked", "not checked"),
    ("complete", "not complete"),
    ("secure", "not secure"),
    ("secured", "not secured"),
    ("released", "set"),
    ("running", "stopped"),
    ("lit", "out"),
)

_ONE_WAY = (
    ("both", "left"),
    ("both", "right"),
    ("all", "none"),
    ("steady", "flashing"),
    ("extinguished", "lit"),
    ("shut", "open"),
    ("idle", "cut off"),
)


@lru_cache(maxsize=1)
def opposites() -> dict[str, tuple[str, ...]]:
    """Word to the words that mean the opposite state."""
    table: dict[str, tuple[str, ...]] = {}
    directed = [*_PAIRS, *((b, a) for a, b in _PAIRS if " " not in b), *_ONE_WAY]
    for word, other in directed:
        table[word] = (*table.get(word, ()), other)
    return table


MOST = 6
"""No more competitors than this are added to one item."""


def opposite_texts(accepted: Iterable[str]) -> tuple[str, ...]:
    """Texts that say the opposite of the accepted ones, none of them accepted itself.

    The state's word is the last one of a text that has an opposite: "left booster on" is
    opposed by "left booster off", not by "right booster on".
    """
    right = tuple(accepted)
    table = opposites()
    found: list[str] = []
    for text in right:
        words = text.split()
        for place in range(len(words) - 1, -1, -1):
            others = table.get(words[place], ())
            if not others or words[max(0, place - 1)] == "not":
                continue
            for other in others:
                opposed = " ".join([*words[:place], other, *words[place + 1 :]])
                if opposed not in right and opposed not in found:
                    found.append(opposed)
            break
    found.sort(key=lambda text: len(text.split()))
    return tuple(found[:MOST])
