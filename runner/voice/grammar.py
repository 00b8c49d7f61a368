"""Grammars for PocketSphinx: the window's candidates, and everything else as decoys.

A closed grammar can only say yes: whatever is said, the nearest candidate comes out. So
the same grammar holds a loop of decoys: common words spread over the sounds of English,
the words of numbers, and *the candidates' own words*, so that "flaps thirty" is heard as
itself where only "flaps up" is a candidate. A word of the loop costs more than a word of
a candidate, because there are more of them to choose from.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from runner.engine.effects import Listen
from runner.phrasing.numbers import number_jsgf
from runner.voice.text import pattern_of

_FIRST_DECOYS = (
    "about always animal bread brother building camera chair children city cloud coffee "
    "dance dinner early evening father finger flower friend garden glass happy heart horse "
    "husband island jacket juice kitchen language laugh lunch machine minute money mouth "
    "music never noise orange paper people phone picture police question rain river school "
    "sister smile snow south story summer table teacher thank village window year "
)
_SECOND_DECOYS = (
    "after another around bear behind bird book bring cake car church class country cousin "
    "daughter doctor door dream earth every family farm fish forest game girl grass guitar "
    "hair home hungry idea job knife lady letter listen look market milk monday mother "
    "mountain north often parent party piano place plane quiet really room ship shirt sleep "
    "song spring star street sugar swim today uncle voice water weather work young "
)

DECOYS: tuple[tuple[str, ...], ...] = (
    tuple(_FIRST_DECOYS.split()),
    tuple(_SECOND_DECOYS.split()),
)
"""Two sets of decoys that share no word, so that two decoders err differently."""

_NUMBER_WORDS = (
    "zero one two three four five six seven eight nine ten eleven twelve twenty thirty forty "
    "fifty sixty hundred thousand point"
)

OTHERS_LIMIT = 200
"""How many phrases of other items a grammar takes; more make it slow."""


def words_of(rule: str) -> set[str]:
    """The words of a rule body."""
    return set(re.findall(r"[a-z][a-z']*", rule))


def candidate_rules(listen: Listen) -> list[str]:
    """One rule body for each candidate of the window, and one for its number."""
    rules = [pattern_of(candidate.pattern).jsgf() for candidate in listen.candidates]
    if listen.number is not None:
        number = number_jsgf(listen.number.form)
        if listen.number.name:
            number = f"[ {pattern_of(listen.number.name).jsgf()} ] {number}"
        rules.append(number)
    return rules


def window_grammar(
    rules: Sequence[str], decoys: Iterable[str], others: Sequence[str] = (), weight: float = 1.0
) -> tuple[str, frozenset[str]]:
    """The grammar's text and all its words; ``weight`` is that of the decoys against 1."""
    own = set().union(*(words_of(rule) for rule in rules)) if rules else set()
    loop = sorted(own.union(decoys, _NUMBER_WORDS.split()))
    words = frozenset(loop).union(*(words_of(phrase) for phrase in others))
    candidates = " | ".join(f"( {rule} )" for rule in rules)
    apart = "".join(f" | ( {phrase} )" for phrase in others[:OTHERS_LIMIT])
    public = f"/1/ <candidate> | /{weight:g}/ <loop>" if rules else "<loop>"
    lines = [
        "#JSGF V1.0;",
        "grammar window;",
        f"public <window> = {public};",
        f"<loop> = ( {' | '.join(loop)} )+;",
    ]
    if rules:
        lines.append(f"<candidate> = {candidates}{apart};")
    return "\n".join(lines) + "\n", words
