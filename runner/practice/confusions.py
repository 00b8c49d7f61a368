"""What an item's answer is taken for: its named opposites, other lists' answers to the same
challenge, answers beside it in its own list."""

from __future__ import annotations

from functools import lru_cache

from runner.engine.lines import canonical, pattern_of, pattern_text
from runner.engine.program import Program
from runner.phrasing.normal import normalise
from runner.practice.cards import Figures, lines_of, words_of

MOST = 6
"""No more answers of other lists than this are listened for."""


def confusions(
    program: Program, figures: Figures, item_id: str, engine: int
) -> tuple[tuple[str, str], ...]:
    """What other lists answer to the same challenge, as patterns with the text of each; never
    anything that the item itself accepts or names as its opposite."""
    challenge = normalise(program.items[item_id].challenge.source)
    others = [one for one in _same_challenge(program).get(challenge, ()) if one != item_id]
    return _other_answers(program, figures, item_id, engine, others)


def neighbours(
    program: Program, figures: Figures, item_id: str, engine: int
) -> tuple[tuple[str, str], ...]:
    """The answers of other items of the same list that share a word with this one's."""
    own = set(normalise(lines_of(program, item_id, figures, engine).wanted.text).split())
    others = []
    for item in program.list_of[item_id].items:
        if item.id != item_id and words_of(item) is not None:
            theirs = lines_of(program, item.id, figures, engine).wanted.text
            if own & set(normalise(theirs).split()):
                others.append(item.id)
    return _other_answers(program, figures, item_id, engine, others)


def opposites(
    program: Program, figures: Figures, item_id: str, engine: int
) -> tuple[tuple[str, str], ...]:
    """What the item must not be mistaken for, by its file or by the trade's opposites."""
    return lines_of(program, item_id, figures, engine).competitors


def _other_answers(
    program: Program, figures: Figures, item_id: str, engine: int, others: list[str]
) -> tuple[tuple[str, str], ...]:
    lines = lines_of(program, item_id, figures, engine)
    right = pattern_of(lines.answer)
    taken = [right, *(pattern_of(source) for source, _ in lines.competitors)]
    found: dict[str, str] = {}
    for other in others:
        words = words_of(program.items[other])
        if words is None or words.pattern.figures - {"engine"}:
            continue
        source = pattern_text(program, words.pattern, figures, engine)
        texts = pattern_of(source).texts(20)
        if any(pattern.matches(text) for pattern in taken for text in texts):
            continue
        if normalise(canonical(source)) not in found:
            found[normalise(canonical(source))] = source
            taken.append(pattern_of(source))
    return tuple((source, canonical(source)) for source in list(found.values())[:MOST])


@lru_cache(maxsize=4)
def _same_challenge(program: Program) -> dict[str, tuple[str, ...]]:
    found: dict[str, tuple[str, ...]] = {}
    for item in program.items.values():
        challenge = normalise(item.challenge.source)
        if words_of(item) is not None:
            found[challenge] = (*found.get(challenge, ()), item.id)
    return found
