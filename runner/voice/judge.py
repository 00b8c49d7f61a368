"""The judge: from what recognisers propose to accept, unclear or reject. Pure.

Being deaf is better than hearing wrong: an answer accepted that was not said is the worst
fault that Runner can have. The rules, in order:

1. Nobody proposes anything: reject.
2. Each recogniser has one vote, its best proposal. A vote without a candidate says "none of
   these"; a candidate that is not in the window counts as that too.
   No opinion vetoes nothing: that of a recogniser that heard no words, or of one that writes
   down whatever was said and wrote what is near (``NEAR`` or more) to the answer of which
   another one is sure, and less near to any other. "Of" is no witness against "off". Of
   numbers this is not held: the near one is what must not be taken.
3. Every vote is "none of these": unclear when what was said was near an answer
   (``NEAR`` or more), else reject. A line that was typed was meant for Runner: unclear.
4. Votes for two different candidates, or for two different numbers: unclear.
5. A vote for a candidate and another for "none of these", which is far from every answer:
   unclear. No recogniser outvotes another one, because the measured faults of one are found
   by the other.
6. All votes agree. The smallest margin among them must reach what the answer needs:
   a typed text ``TYPED``, two words or more ``PHRASE``, a single word or a number of a
   single word ``WORD``: short words are what a recogniser invents. A control phrase that
   ends or throws away something needs ``HARSH``; a list's name or a moment, which open
   another list when nobody asked for one, ``CALL``. Otherwise unclear.
   The matcher's margin is its probability of having the right one of the window's answers,
   and needs ``MATCHED``; of several words ``MATCHED_PHRASE``, because what differs may be a
   small part of them ("runway surface dry", "runway surface damp"); harsh controls, lists and
   moments ``MATCHED_HARSH`` at the least.
7. A spoken number outside the range that makes sense in this window: unclear. A typed one
   is accepted, and the engine says what the range is.
8. A number said in engine noise is heard wrongly more often, and nobody can see that it was.
   So it is accepted at once only where two recognisers heard the same one; that one of them
   is certain was not enough. Otherwise it has to be said again, and is accepted when the same
   number is heard twice running. PocketSphinx alone decides on no number in noise. And what
   noise leaves of a longer number is often a number too, the same one every time: one that
   has fewer digits than its kind has in flight (``PART_BELOW``) or more (``NOTHING_ABOVE``),
   that is a single word or begins with zero where no heading is wanted, that has a "-teen" in
   it, which may have been a "-ty", or a "-ty" or "two" that may have been the other ("nine two
   six" of "ninety six", where both make sense), is unclear however often it is said.
9. An item's answer in words, said in engine noise, has a witness: PocketSphinx, closed to that
   answer and to the item's other ones. Where it holds another one for nearer: unclear. It hears
   many answers wrongly so, but others than the matcher does, and has no say otherwise.

Nothing here knows which answer would be right.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from runner.engine.effects import Listen, NumberWanted
from runner.engine.events import Proposal, Verdict
from runner.phrasing.number_twins import twos
from runner.phrasing.numeral_words import DIGITS
from runner.phrasing.similar import sounds_alike
from runner.voice.acceptance import RIGHT_FROM
from runner.voice.text import NUMBER, number_in, pattern_of, role_of

NEAR = 0.5
"""From this likeness on, words that are no candidate were meant for Runner."""

TYPED = 0.5
PHRASE = 0.35
WORD = 0.7
HARSH = 0.6
CALL = 0.7
"""Margins, 0 to 1, that a candidate needs; see rule 6."""

MATCHED = RIGHT_FROM
MATCHED_HARSH = 0.97
"""Probabilities that the matcher needs. ``tests/bench/fit_matcher.py`` moves what it has fitted
so that the working point, chosen on people, lies at ``RIGHT_FROM`` for every kind of answer."""

MATCHED_PHRASE = 0.98
"""Chosen on synthetic voices at other pitches: of 93 phrases accepted, the three wrong ones had
0.94 to 0.97, and all right ones but one 0.98 or more."""

PART_BELOW = {
    "speed": 40.0,
    "rpm": 400.0,
    "manifold_pressure": 10.0,
    "pressure": 20.0,
    "altitude": 100.0,
}
"""Below these a number is likelier a part of one, in the unit it is said in (common practice)."""

NOTHING_ABOVE = {"speed": 500.0}
"""Above these no number makes sense, in the unit it is said in (common practice: knots)."""

WITNESS = "pocketsphinx, closed"
OPEN = frozenset({"vosk", "whisper"})
"""The witness of rule 9, and those that write down what was said."""

SELDOM_SURE = frozenset({"pocketsphinx"})
"""Recognisers that decide on no number in noise, said however often."""

HARSH_CONTROLS = frozenset({"control:reject", "control:disregard", "control:mute"})


@dataclass(frozen=True, slots=True)
class Around:
    """How something was said: in engine noise or not, and what was proposed just before at the
    same item, where that was not accepted."""

    noisy: bool = False
    before: tuple[Proposal, ...] = ()


QUIET = Around()


def judge(proposals: Sequence[Proposal], listen: Listen, around: Around = QUIET) -> Verdict:
    """What was said in this window, by the rules above."""
    votes: dict[str, Proposal] = {}
    against = next((one.candidate for one in proposals if one.recogniser == WITNESS), None)
    for proposal in proposals:
        if proposal.recogniser == WITNESS:
            continue
        votes.setdefault(proposal.recogniser, proposal)
    if not votes:
        return Verdict("reject", reason="nothing was heard")
    votes = opinions(votes, listen)
    best = max(votes.values(), key=lambda vote: (vote.candidate is not None, vote.confidence))
    named = [vote for vote in votes.values() if role_of(vote.candidate, listen)]
    if not named:
        near = max(vote.confidence for vote in votes.values())
        if near >= NEAR or "text" in votes:
            return Verdict("unclear", text=best.text, reason="near, but none of the answers")
        return Verdict("reject", text=best.text, reason="none of the answers")
    if len({(vote.candidate, vote.value) for vote in named}) > 1:
        return Verdict("unclear", text=best.text, reason="the recognisers disagree")
    if len(named) < len(votes):
        return Verdict("unclear", text=best.text, reason="one recogniser heard none of the answers")
    first = named[0]
    needed = margin_needed(first, listen)
    margin = min(vote.margin for vote in named)
    if margin < needed:
        return Verdict(
            "unclear", text=first.text, reason=f"margin {margin:.2f}, {needed:.2f} is needed"
        )
    if against is not None and against != first.candidate:
        return Verdict("unclear", text=first.text, reason="another answer is as near, in noise")
    spoken = first.recogniser != "text"
    if first.candidate == NUMBER and listen.number is not None and spoken:
        value, wanted = first.value, listen.number
        if value is None or not wanted.low <= value <= wanted.high:
            return Verdict("unclear", text=first.text, reason="a number that makes no sense here")
        if around.noisy and a_part(first, listen.number):
            return Verdict("unclear", text=first.text, reason="a part of a number, in noise")
        if around.noisy and not believed(named, around.before):
            return Verdict("unclear", text=first.text, reason="a number in noise, heard once")
    return Verdict("accept", first.candidate, first.value, first.text, f"margin {margin:.2f}")


def opinions(votes: Mapping[str, Proposal], listen: Listen) -> dict[str, Proposal]:
    """The votes that say something: see rule 2."""
    sure = {
        vote.candidate
        for vote in votes.values()
        if role_of(vote.candidate, listen) and vote.margin >= margin_needed(vote, listen)
    }
    heard = {
        name: vote
        for name, vote in votes.items()
        if vote.candidate is not None
        or (vote.text and not (name in OPEN and written_for(vote.text, sure, listen)))
    }
    return heard or dict(votes)


def written_for(text: str, sure: Collection[str | None], listen: Listen) -> bool:
    """Whether a text that is no candidate was written down for the one that is ``sure``."""
    if len(sure) != 1:
        return False
    alike = {
        str(one.id): max(sounds_alike(text, words) for words in pattern_of(one.pattern).texts(20))
        for one in listen.candidates
    }
    nearest = max(alike, key=lambda name: alike[name], default="")
    return nearest in sure and alike[nearest] >= NEAR


def a_part(heard: Proposal, wanted: NumberWanted) -> bool:
    """Whether a number heard in noise may be what is left of a longer one: see rule 8."""
    words = heard.text.split()
    kind, size = wanted.form.kind, abs(heard.value or 0.0)
    short = size < PART_BELOW.get(kind, 0.0) or heard.value is None
    long = size > NOTHING_ABOVE.get(kind, size)
    zero = bool(words) and DIGITS.get(words[0]) == 0 and wanted.form.kind != "heading"
    teen = any(word.endswith("teen") for word in words)
    alone = len(words) == 1
    return short or long or zero or teen or alone or _may_be_another(heard.text, wanted)


def _may_be_another(text: str, wanted: NumberWanted) -> bool:
    """Whether a "-ty" taken for a "two", or the reverse, makes another number that fits."""
    kind = wanted.form.kind
    least = max(wanted.low, PART_BELOW.get(kind, wanted.low))
    most = min(wanted.high, NOTHING_ABOVE.get(kind, wanted.high))
    values = (number_in(other, wanted) for other in twos(text))
    return any(value is not None and least <= value <= most for value in values)


def believed(named: Sequence[Proposal], before: Sequence[Proposal]) -> bool:
    """Whether a number heard in noise, by those that agree on it, is believed: see rule 8."""
    able = [vote for vote in named if vote.recogniser not in SELDOM_SURE]
    if not able:
        return False
    if len(able) > 1:
        return True
    last = next((one for one in before if one.recogniser == able[0].recogniser), None)
    return last is not None and last.candidate == NUMBER and last.value == able[0].value


def margin_needed(proposal: Proposal, listen: Listen) -> float:
    """The margin at which this proposal may be accepted."""
    if proposal.recogniser == "text":
        return TYPED
    if proposal.recogniser == "matcher":
        harsh = proposal.candidate in HARSH_CONTROLS
        harsh = harsh or role_of(proposal.candidate, listen) in ("call", "moment")
        needed = MATCHED_PHRASE if " " in proposal.text else MATCHED
        return max(needed, MATCHED_HARSH) if harsh else needed
    needed = PHRASE if len(proposal.text.split()) > 1 else WORD
    if proposal.candidate in HARSH_CONTROLS:
        needed = max(needed, HARSH)
    if role_of(proposal.candidate, listen) in ("call", "moment"):
        needed = max(needed, CALL)
    return needed
