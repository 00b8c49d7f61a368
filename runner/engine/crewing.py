"""More than one person in a run: who may answer what, and handing over control.

A member holds roles of the aircraft; one without any observes. A question is answered by who
holds its role. Where nobody aboard holds it, anybody but an observer may answer, as one who
flies alone does. Control is handed over by both words, *you have control* from who flies and
*I have control* from who takes it, in either order (common practice): the first two roles of
the aircraft change hands. An item that needs both is done when two members have answered it.
Where they sit at one machine, each question that is somebody's begins with that name, unless the
one before was theirs too.
"""

from __future__ import annotations

from dataclasses import replace

from runner.engine.events import CrewChanged, Member
from runner.engine.lines import plain
from runner.engine.speaking import Turn
from runner.engine.state import Run

ANSWERS = frozenset(
    {"answer", "wrong", "option", "number", "engine", "keep", "done", "affirm", "set"}
    | {"flow_complete", "briefing_complete"}
)
"""What answers a question, by the candidate's kind, the control or the key."""

HANDING = frozenset({"you_have_control", "i_have_control"})
"""The controls that hand over control."""


def may_not(turn: Turn, name: str, what: str) -> str:
    """Why a member may not do that now: the phrase that says so, or ''.

    ``what`` is a candidate's id or a key's action.
    """
    if not turn.run.crew or not name:
        return ""
    member = _member(turn.run, name)
    if member is None or not member.roles:
        return "observer"
    kind, _, rest = what.partition(":")
    if (rest if kind == "control" else kind) not in ANSWERS:
        return ""
    those = turn.addressees
    return "wrong_role" if those and name not in those else ""


def wants_another(turn: Turn, answer: str) -> bool:
    """Whether the answer to an item that needs both is the first of two."""
    run = turn.run
    if not (turn.item.both and turn.member and turn.crewed):
        return False
    item = turn.item.id
    if run.agreed[0] == item and run.agreed[1] != turn.member:
        run.agreed = ("", "")
        return False
    run.agreed = (item, turn.member)
    turn.note(f"{turn.member}: {answer}", "judged")
    others = [m for m in run.crew if m.roles and m.name != turn.member]
    named = plain(turn.program, others[0].roles[0] if len(others) == 1 else "another")
    turn.say_first("both_wanted", role=named)
    return True


def hand_over(turn: Turn, control: str) -> bool:
    """One of the two words that hand over control; False where it makes no sense."""
    run = turn.run
    roles = turn.program.procedures.aircraft.roles[:2]
    speaker = _member(run, turn.member)
    if speaker is None or len(roles) < 2 or not turn.crewed:
        return False
    flies = roles[0] in speaker.roles
    if flies != (control == "you_have_control"):
        return False
    turn.hush()
    first, who = run.handing
    if first in HANDING - {control} and who != speaker.name:
        giver, taker = (speaker.name, who) if flies else (who, speaker.name)
        _exchange(run, giver, taker, roles)
        run.handing = ("", "")
        turn.say_first("has_control", member=plain(turn.program, taker))
        turn.note(f"{taker} has control", "done")
        return True
    run.handing = (control, speaker.name)
    turn.note(f"{speaker.name}: {control.replace('_', ' ')}", "judged")
    return True


def changed(turn: Turn, event: CrewChanged) -> None:
    """Somebody came, left, or has other roles: said, and the question put to whom it is for."""
    run = turn.run
    before = {member.name for member in run.crew}
    now = {member.name for member in event.members}
    run.crew = event.members
    run.together = event.together
    run.called = ""
    run.handing = ("", "")
    run.agreed = ("", "")
    if before:
        for name, phrase in (
            *((name, "aboard") for name in sorted(now - before)),
            *((name, "left") for name in sorted(before - now)),
        ):
            turn.say_first(phrase, member=plain(turn.program, name))
    for member in event.members:
        turn.note(f"{member.name}: {', '.join(member.roles) or 'observer'}", "advice")


def _member(run: Run, name: str) -> Member | None:
    return next((member for member in run.crew if member.name == name), None)


def _exchange(run: Run, giver: str, taker: str, roles: tuple[str, ...]) -> None:
    flying, monitoring = roles
    other = {flying: monitoring, monitoring: flying}
    made = []
    for member in run.crew:
        if member.name == giver:
            kept = [r for r in member.roles if r not in roles]
            member = replace(member, roles=(monitoring, *kept))
        elif member.name == taker:
            kept = [r for r in member.roles if r not in roles]
            member = replace(member, roles=(flying, *kept))
        elif monitoring in member.roles:
            # Who takes control held another role; this one goes on without it.
            kept = [other.get(r, r) for r in member.roles if r != monitoring]
            member = replace(member, roles=tuple(kept))
        made.append(member)
    run.crew = tuple(made)
