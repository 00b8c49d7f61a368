"""Typed or transcribed text against a listening window: which candidate is it, if any.

The whole text has to be one of the candidates, or the number that is wanted. Part of a
text is never taken for an answer: "not low" holds "low" and means the opposite.
"""

from __future__ import annotations

from functools import lru_cache

from runner.engine.effects import Candidate, Listen, NumberWanted
from runner.engine.events import Proposal
from runner.phrasing.normal import normalise
from runner.phrasing.numbers import hear_number, number_words
from runner.phrasing.pattern import Pattern, parse
from runner.phrasing.similar import sounds_alike
from runner.phrasing.style import VoiceStyle

NUMBER = "number"
"""The candidate id of a number."""

HESITATIONS = frozenset({"uh", "um", "er", "erm", "ah", "hm"})
"""Sounds that mean nothing; left out at both ends of a text."""

_ROLES = {"answer": 0, "competitor": 1, "moment": 3, "call": 4, "control": 5}
_NUMBER_RANK = 2


@lru_cache(maxsize=4096)
def pattern_of(source: str) -> Pattern:
    """The parsed pattern of a candidate."""
    return parse(source)


def without_hesitations(text: str) -> str:
    """The text as it was given, without hesitations at its ends."""
    words = text.split()
    while words and normalise(words[0]) in HESITATIONS:
        words.pop(0)
    while words and normalise(words[-1]) in HESITATIONS:
        words.pop()
    return " ".join(words)


def number_in(text: str, wanted: NumberWanted) -> float | None:
    """The number that the text is, with or without its name before it.

    The text is taken as it was given: as plain words "1/2" would be twelve.
    """
    value = hear_number(text, wanted.form)
    if value is not None or not wanted.name:
        return value
    name = pattern_of(wanted.name)
    split = text.split()
    for cut in range(1, len(split)):
        if name.matches(normalise(" ".join(split[:cut]))):
            value = hear_number(" ".join(split[cut:]), wanted.form)
            if value is not None:
                return value
    return None


def matching(text: str, listen: Listen) -> tuple[tuple[str, float | None], ...]:
    """Every candidate that the text is, the one that wins first; numbers with their value.

    An answer wins over a control phrase of the same words; a competitor counts as an answer.
    """
    found: list[tuple[int, str, float | None]] = []
    words = normalise(text)
    for candidate in listen.candidates:
        if pattern_of(candidate.pattern).matches(words):
            found.append((_ROLES[candidate.role], candidate.id, None))
    if listen.number is not None:
        value = number_in(text, listen.number)
        if value is not None:
            found.append((_NUMBER_RANK, NUMBER, value))
    found.sort(key=lambda entry: entry[0])
    return tuple((name, value) for _, name, value in found)


def role_of(candidate: str | None, listen: Listen) -> str:
    """The role of a candidate id in this window; a number is an answer, unknown is empty."""
    if candidate == NUMBER:
        return "answer" if listen.number is not None else ""
    for known in listen.candidates:
        if known.id == candidate:
            return known.role
    return ""


def is_answer(candidate: Candidate) -> bool:
    """Whether a candidate answers the item, rightly or wrongly."""
    return candidate.role in ("answer", "competitor")


def likeness(words: str, listen: Listen) -> float:
    """How much the words sound like the nearest answer of the item, 0 to 1.

    Where a number is wanted it is the share of words that numbers have, when that is more.
    """
    said = words.split()
    numbers = set(number_words(listen.number.form)) if listen.number is not None else set()
    share = sum(word in numbers for word in said) / max(1, len(said))
    alike = (
        sounds_alike(words, answer)
        for candidate in listen.candidates
        if is_answer(candidate)
        for answer in pattern_of(candidate.pattern).texts(20)
    )
    return max((share, *alike))


def propose_text(text: str, listen: Listen, style: VoiceStyle) -> tuple[Proposal, ...]:  # noqa: ARG001
    """Proposals for a text, best first; empty for an empty text.

    Two answers that the same text matches stand before each other by no margin at all. A
    text that is no candidate gives one proposal without a candidate, whose confidence is how
    much it sounds like the nearest answer. The window's patterns hold the style's synonyms
    already.
    """
    said = without_hesitations(text)
    words = normalise(said)
    if not words:
        return ()
    found = matching(said, listen)
    if not found:
        return (Proposal("text", None, words, likeness(words, listen), 0.0),)
    answers = [name for name, _ in found if role_of(name, listen) in ("answer", "competitor")]
    margin = 0.0 if len(answers) > 1 else 1.0
    return tuple(
        Proposal("text", name, words, 1.0, margin if name in answers or not answers else 0.0, value)
        for name, value in found
    )
