"""Who of a crew is called what, has which roles of the aircraft and brings which events."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from runner.crew.core.base import Turn
from runner.engine.events import (
    Event,
    Heard,
    InputEnded,
    Keyed,
    Member,
    Paused,
    Resumed,
    RunStarted,
    TimerFired,
)

NOT_FROM_ANOTHER = (RunStarted, Paused, Resumed, InputEnded, TimerFired)
"""Events that only the machine that orders can bring."""


def distinct_names(known: Mapping[str, str], order: Sequence[str]) -> dict[str, str]:
    """A name for each member, no two alike; the same on all machines that know the ``order``."""
    found: dict[str, str] = {}
    for member in (*order, *sorted(set(known) - set(order))):
        name = known.get(member, "") or "crew"
        number = 2
        while name in found.values():
            name = f"{known.get(member, '') or 'crew'} {number}"
            number += 1
        found[member] = name
    return found


def roles_for(
    me: str,
    flying: Sequence[str],
    watching: Sequence[str],
    before: Sequence[Member],
    roles: Sequence[str],
    wishes: Sequence[str],
) -> tuple[Member, ...]:
    """The crew of ``me`` and of those ``flying``, with those ``watching``, in the order of the
    crew ``before``.

    Who had roles keeps them. Of those that are free ``me`` gets its ``wishes``; who wishes
    none gets the first one where nobody is before them, all others otherwise.
    """
    known = [member.name for member in before]
    had = {member.name: member.roles for member in before}
    here = [me, *flying, *watching]
    here.sort(key=lambda name: known.index(name) if name in known else len(known))
    taken = {role for name in (me, *flying) for role in had.get(name, ())}
    made: list[Member] = []
    for name in here:
        has = () if name in watching else had.get(name, ())
        if not has and name not in watching:
            free = [role for role in roles if role not in taken]
            left = free[:1] if not made else free
            has = tuple(r for r in (wishes if name == me else ()) if r in free) or tuple(left)
            taken.update(has)
        made.append(Member(name, has))
    return tuple(made)


def with_wish(
    name: str, wishes: Sequence[str], crew: Sequence[Member], roles: Sequence[str]
) -> tuple[Member, ...]:
    """The crew with the roles that one of it asks for; Turn where nothing of that is to be had:
    nobody takes another's flying."""
    held = {r for m in crew if m.name != name for r in m.roles if r in roles[:1]}
    wanted = tuple(r for r in roles if r in wishes and r not in held)
    if not wanted or name not in {m.name for m in crew}:
        raise Turn("these roles are not to be had")
    return tuple(
        Member(m.name, wanted)
        if m.name == name
        else Member(m.name, tuple(r for r in m.roles if r not in wanted))
        for m in crew
    )


def brought_by(name: str, event: Event, now: int) -> Event:
    """An event from another machine as it is ordered: in its person's name, at ``now``.

    Turn where only the machine that orders can bring it.
    """
    if isinstance(event, NOT_FROM_ANOTHER):
        raise Turn("it comes too late")
    if isinstance(event, Heard):
        late = now - event.at
        began, ended = event.began + late, event.ended + late
        return replace(event, at=now, began=began, ended=ended, member=name)
    if isinstance(event, Keyed):
        return replace(event, at=now, member=name)
    return replace(event, at=now)
