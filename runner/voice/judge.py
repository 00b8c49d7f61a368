"""The judge: from what recognisers propose to accept, unclear or reject. Pure.

Being deaf is better than hearing wrong: an answer accepted that was not said is the worst
fault that Runner can have. The rules, in order:

1. Nobody proposes anything: reject.
2. Each recogniser has one vote, its best proposal. A vote without a candidate says "none of
   these"; a candidate that is not in the window counts as that too.
3. Every vote is "none of these": unclear when what was said was near an answer
   (``NEAR`` or more), else reject. A line that was typed was meant for Runner: unclear.
4. Votes for two different candidates, or for two different numbers: unclear.
5. A vote for a candidate and another for "none of these": unclear. No recogniser outvotes
   another one, because the measured faults of one are found by the other.
6. All votes agree. The smallest margin among them must reach what the answer needs:
   a typed text ``TYPED``, two words or more ``PHRASE``, a single word or a number of a
   single word ``WORD``: short words are what a recogniser invents. A control phrase that
   ends or throws away something needs ``HARSH``; a list's name or a moment, which open
   another list when nobody asked for one, ``CALL``. Otherwise unclear.
   The matcher's margin is its probability of having the right one of the window's answers,
   and needs ``MATCHED``; harsh controls, lists and moments ``MATCHED_HARSH``.
7. A spoken number outside the range that makes sense in this window: unclear. A typed one
   is accepted, and the engine says what the range is.

Nothing here knows which answer would be right.
"""

from __future__ import annotations

from collections.abc import Sequence

from runner.engine.effects import Listen
from runner.engine.events import Proposal, Verdict
from runner.voice.acceptance import RIGHT_FROM
from runner.voice.text import NUMBER, role_of

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

HARSH_CONTROLS = frozenset({"control:reject", "control:disregard", "control:mute"})


def judge(proposals: Sequence[Proposal], listen: Listen) -> Verdict:
    """What was said in this window, by the rules above."""
    votes: dict[str, Proposal] = {}
    for proposal in proposals:
        votes.setdefault(proposal.recogniser, proposal)
    if not votes:
        return Verdict("reject", reason="nothing was heard")
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
    spoken = first.recogniser != "text"
    if first.candidate == NUMBER and listen.number is not None and spoken:
        value, wanted = first.value, listen.number
        if value is None or not wanted.low <= value <= wanted.high:
            return Verdict("unclear", text=first.text, reason="a number that makes no sense here")
    return Verdict("accept", first.candidate, first.value, first.text, f"margin {margin:.2f}")


def margin_needed(proposal: Proposal, listen: Listen) -> float:
    """The margin at which this proposal may be accepted."""
    if proposal.recogniser == "text":
        return TYPED
    if proposal.recogniser == "matcher":
        harsh = proposal.candidate in HARSH_CONTROLS
        harsh = harsh or role_of(proposal.candidate, listen) in ("call", "moment")
        return MATCHED_HARSH if harsh else MATCHED
    needed = PHRASE if len(proposal.text.split()) > 1 else WORD
    if proposal.candidate in HARSH_CONTROLS:
        needed = max(needed, HARSH)
    if role_of(proposal.candidate, listen) in ("call", "moment"):
        needed = max(needed, CALL)
    return needed
