"""Typed or transcribed text held against what may be heard in a listening window."""

from __future__ import annotations

from functools import lru_cache

from runner.engine.effects import Candidate, CandidateRole, Listen, NumberWanted
from runner.engine.events import Proposal
from runner.phrasing.normal import normalise
from runner.phrasing.numbers import hear_number
from runner.phrasing.pattern import Pattern, PatternError, parse
from runner.phrasing.style import VoiceStyle

RECOGNISER = "text"

_ORDER: dict[CandidateRole, int] = {
    "answer": 0,
    "competitor": 1,
    "call": 2,
    "moment": 3,
    "control": 4,
}
"""An item's own answers go before everything that could also be meant by the same words."""


def propose_text(text: str, listen: Listen, style: VoiceStyle) -> tuple[Proposal, ...]:
    """Everything that ``text`` says in this window, an item's own answers first.

    One proposal without a candidate where it says nothing that may be heard now; a text
    is certain, so its confidence is 1, and its margin is 0 only where two answers match.
    """
    del style
    words = normalise(text)
    value = _number(text, words, listen.number)
    found = sorted(
        (c for c in listen.candidates if _matches(c, words)), key=lambda c: _ORDER[c.role]
    )
    proposals = [Proposal(RECOGNISER, c.id, text, 1.0, 1.0) for c in found]
    if value is not None:
        proposals.insert(0, Proposal(RECOGNISER, "number", text, 1.0, 1.0, value))
    return tuple(proposals) or (Proposal(RECOGNISER, None, text, 1.0, 0.0),)


@lru_cache(maxsize=4096)
def pattern_of(source: str) -> Pattern | None:
    """A candidate's pattern parsed; None where it holds what no pattern can."""
    try:
        return parse(source)
    except PatternError:
        return None


def _matches(candidate: Candidate, words: str) -> bool:
    pattern = pattern_of(candidate.pattern)
    return pattern is not None and pattern.matches(words)


def _number(text: str, words: str, wanted: NumberWanted | None) -> float | None:
    """The number said, with or without the item's name before it, within what makes sense."""
    if wanted is None:
        return None
    value = hear_number(text, wanted.form)
    name = pattern_of(wanted.name) if wanted.name else None
    if value is None and name is not None:
        parts = words.split()
        for place in range(1, len(parts)):
            if name.matches(" ".join(parts[:place])):
                value = hear_number(" ".join(parts[place:]), wanted.form)
                if value is not None:
                    break
    if value is None or not wanted.low <= value <= wanted.high:
        return None
    return value
