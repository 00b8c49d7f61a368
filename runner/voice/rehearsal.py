"""An enrolment's test of itself: each take, left out, heard as it would be in flight.

The takes of all phrases are dealt into as many parts as there are takes of each; every part
is heard by the matcher with the other parts as templates, in a window that holds its phrase
and what is heard beside it, and judged by the judge. With one take fewer than in flight a
little more is refused here than there.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from runner.engine.effects import Candidate, CandidateRole, Listen
from runner.voice.enrolment import TAKES_EACH, Kind, Plan
from runner.voice.judge import judge
from runner.voice.matcher import MatcherRecogniser
from runner.voice.takes import Takes

_ROLES: dict[Kind, CandidateRole] = {
    "answer": "answer",
    "opposite": "competitor",
    "number": "answer",
    "control": "control",
}


@dataclass(frozen=True, slots=True)
class Result:
    """How the takes of a phrase were heard: accepted as itself, as ``taken_for``, or refused.

    ``near`` is the phrase that the refused ones were nearest to, where it is another one.
    """

    phrase: str
    kind: Kind
    takes: int
    accepted: int
    taken_for: tuple[tuple[str, int], ...] = ()
    near: str = ""

    @property
    def refused(self) -> int:
        """Takes that would have to be said again."""
        return self.takes - self.accepted - sum(count for _, count in self.taken_for)


class HeldOut:
    """A pilot's takes without those of one part, as the matcher reads them."""

    def __init__(self, takes: Takes, part: int) -> None:
        self._takes = takes
        self._part = part

    def phrases(self) -> tuple[str, ...]:
        """Phrases of which something is left."""
        return tuple(phrase for phrase in self._takes.phrases() if self.takes(phrase))

    def takes(self, phrase: str) -> tuple[bytes, ...]:
        """The takes of a phrase but for one."""
        enrolled = self._takes.enrolled(phrase)
        return tuple(sound for place, sound in enumerate(enrolled) if place != self._part)


def rehearse(
    plan: Plan, takes: Takes, told: Callable[[int, int], None] | None = None
) -> tuple[Result, ...]:
    """Every phrase of the plan that has two takes or more, in the plan's order.

    ``told`` is called with the takes heard and their number, for those who wait. Raises
    ``RunnerError`` where the matcher is not installed.
    """
    kinds = {wanted.phrase: wanted.kind for wanted in plan.phrases}
    there = [phrase for phrase in kinds if len(takes.enrolled(phrase)) > 1]
    whole = sum(len(takes.enrolled(phrase)[:TAKES_EACH]) for phrase in there)
    heard: dict[str, list[tuple[bool, str]]] = {phrase: [] for phrase in there}
    done = 0
    for part in range(TAKES_EACH):
        recogniser = MatcherRecogniser(HeldOut(takes, part))
        for number, phrase in enumerate(there):
            enrolled = takes.enrolled(phrase)
            if part >= len(enrolled):
                continue
            listen = _window(number, phrase, kinds, plan.rivals.get(phrase, frozenset()))
            heard[phrase].append(_heard(recogniser, listen, enrolled[part]))
            done += 1
            if told is not None:
                told(done, whole)
        recogniser.close()
    return tuple(_result(phrase, kinds[phrase], heard[phrase]) for phrase in there)


def _window(number: int, phrase: str, kinds: dict[str, Kind], rivals: frozenset[str]) -> Listen:
    """The phrase and what is heard beside it, each candidate named by its phrase."""
    beside = [other for other in kinds if other in rivals]
    names = [phrase, *beside]
    return Listen(number, tuple(Candidate(name, _ROLES[kinds[name]], name) for name in names))


def _heard(recogniser: MatcherRecogniser, listen: Listen, sound: bytes) -> tuple[bool, str]:
    """Whether anything was accepted, and the phrase that it was or was nearest to."""
    recogniser.prepare(listen)
    recogniser.begin()
    recogniser.feed(sound)
    proposals = recogniser.propose()
    verdict = judge(proposals, listen)
    if verdict.decision == "accept":
        return True, verdict.candidate or ""
    return False, proposals[0].text if proposals else ""


def _result(phrase: str, kind: Kind, heard: Sequence[tuple[bool, str]]) -> Result:
    taken: dict[str, int] = {}
    near: dict[str, int] = {}
    accepted = 0
    for sure, what in heard:
        if sure and what == phrase:
            accepted += 1
        elif sure:
            taken[what] = taken.get(what, 0) + 1
        elif what and what != phrase:
            near[what] = near.get(what, 0) + 1
    return Result(
        phrase,
        kind,
        len(heard),
        accepted,
        tuple(sorted(taken.items(), key=lambda each: -each[1])),
        max(near, key=near.__getitem__, default=""),
    )


def advice(result: Result, long_form: str = "") -> str:
    """What is wrong with a phrase and what helps, as one line; empty where nothing is wrong.

    ``long_form`` is the word before which a control phrase is always heard. One refused take
    of three is no fault yet: the templates were one short.
    """
    what, name = "", f"'{result.phrase}'"
    if result.taken_for:
        other, count = result.taken_for[0]
        what = f"{name} is taken for '{other}' ({count} of {result.takes} takes)"
    elif result.refused * 2 > result.takes:
        what = f"{name} is refused ({result.refused} of {result.takes} takes)"
        what += f", nearest to '{result.near}'" if result.near else ""
    if not what:
        return ""
    return f"{what}: {_remedy(result, long_form)}"


def _remedy(result: Result, long_form: str) -> str:
    again = f"record it once more with --again '{result.phrase}'"
    if result.kind in ("answer", "opposite"):
        return f"say the item's name before it, or {again}"
    if result.kind == "control" and long_form and not result.phrase.startswith(long_form):
        return f"say '{long_form} {result.phrase}', or {again}"
    return again
