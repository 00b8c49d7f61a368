"""Grammars for PocketSphinx: the window's candidates, and everything else as decoys.

A closed grammar can only say yes: whatever is said, the nearest candidate comes out. So
the same grammar holds a loop of decoys: common words spread over the sounds of English,
words of numbers and of states, and *the candidates' own words*, so that "flaps thirty" is
heard as itself where only "flaps up" is a candidate. A second grammar is a loop of other
decoys alone: how much worse it explains the sound is how sure the candidate is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from runner.engine.effects import Listen
from runner.phrasing.numbers import number_jsgf
from runner.voice.automaton import automaton
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
_STATE_WORDS = (
    "all armed both closed cold down free full half high hot in left locked low neutral normal "
    "not off on open out rich right set still up yes no okay"
)

OTHERS_LIMIT = 200
"""How many phrases of other items a grammar takes; more make it slow."""

DECOY_ENTRY = 1e-4
DECOY_WORD = 1e-3
"""Probabilities of the loop of decoys against 1 for a candidate, and of each word in it: so
low that a candidate is proposed wherever it may be one; how sure it is comes afterwards."""


def candidate_rules(listen: Listen) -> list[str]:
    """One rule body for each candidate of the window, and one for its number."""
    rules = [pattern_of(candidate.pattern).jsgf() for candidate in listen.candidates]
    if listen.number is not None:
        number = number_jsgf(listen.number.form)
        if listen.number.name:
            number = f"[ {pattern_of(listen.number.name).jsgf()} ] {number}"
        rules.append(number)
    return rules


Transitions = list[tuple[int, int, float, str] | tuple[int, int, float]]
"""Arcs as PocketSphinx takes them: from, to, probability and word; without a word it is free."""


@dataclass(frozen=True, slots=True)
class Grammar:
    """A grammar of ``PocketSphinx``: it starts in state 0."""

    transitions: Transitions
    final: int
    words: frozenset[str]


def window_grammars(
    rules: Sequence[str], others: Sequence[str] = ()
) -> tuple[Grammar, Grammar, frozenset[str]]:
    """The grammar of candidates and decoys, that of other decoys alone, the candidates' words.

    ``others`` are rule bodies of phrases that stand beside the candidates and are none.
    """
    net = automaton((*rules, *others[:OTHERS_LIMIT]))
    own = net.words
    first, second = (
        sorted(own.union(decoys, _NUMBER_WORDS.split(), _STATE_WORDS.split())) for decoys in DECOYS
    )
    loop, end = net.size, net.size + 1
    transitions: Transitions = [(start, to, 1.0, word) for start, to, word in net.arcs]
    transitions += [(state, end, 1.0) for state in sorted(net.final)]
    transitions += [(0, loop, DECOY_ENTRY), *_loop(first, loop, end)]
    candidates = Grammar(transitions, end, own.union(first))
    return candidates, Grammar(_loop(second, 0, 1), 1, frozenset(second)), own


def rivals_grammar(phrase: str, rivals: Sequence[str], handicap: float) -> Grammar:
    """A text against its rivals: ``handicap`` is its probability against 1 for each of them.

    Likelihoods can be compared within one grammar alone.
    """
    net = automaton(tuple(rivals))
    end = net.size
    arcs: Transitions = [(start, to, 1.0, word) for start, to, word in net.arcs]
    arcs += [(state, end, 1.0) for state in sorted(net.final)]
    words = phrase.split()
    states = (0, *range(end + 1, end + len(words)), end)
    for at, word in enumerate(words):
        arcs.append((states[at], states[at + 1], handicap if at == 0 else 1.0, word))
    return Grammar(arcs, end, net.words.union(words))


def _loop(words: Sequence[str], state: int, end: int) -> Transitions:
    return [*((state, state, DECOY_WORD, word) for word in words), (state, end, 1.0)]
