"""Several people at one machine: who they are, what they are aboard, whose microphone is whose."""

from __future__ import annotations

import argparse
from dataclasses import dataclass

from runner.engine.events import Member
from runner.errors import RunnerError

LONGEST = 40
"""Characters of a name."""

EXAMPLE = "--here Anna --here Ben"


@dataclass(frozen=True, slots=True)
class Seat:
    """One of several at this machine; ``microphone`` is a part of its name, '' for the one that
    they pass on."""

    name: str
    microphone: str


def add_here(sub: argparse.ArgumentParser) -> None:
    """The option that names who shares this machine."""
    sub.add_argument(
        "--here",
        action="append",
        default=[],
        metavar="NAME[=MICROPHONE]",
        help="one of two or more at this machine, given once for each, who flies first; with a "
        "part of the name of a microphone of their own, or else taking turns at one",
    )


def seats_of(arguments: argparse.Namespace) -> tuple[Seat, ...]:
    """Who shares this machine; empty for one person alone.

    Raises ``RunnerError`` for what is no crew.
    """
    given: list[str] = getattr(arguments, "here", [])
    parts = [text.partition("=") for text in given]
    seats = tuple(Seat(name.strip(), microphone.strip()) for name, _, microphone in parts)
    names = [seat.name for seat in seats]
    for name in names:
        if not name or len(name) > LONGEST or not name.isprintable() or ":" in name:
            raise RunnerError(
                f"--here {name!r}: a name has 1 to {LONGEST} letters and no colon; right would be "
                f"{EXAMPLE}"
            )
        if names.count(name) > 1:
            raise RunnerError(f"--here {name}: two of that name; give each one of their own")
    if len(seats) == 1:
        raise RunnerError(f"--here {names[0]}: one alone needs no name; for two: {EXAMPLE}")
    _check_microphones(arguments, seats)
    return seats


def _check_microphones(arguments: argparse.Namespace, seats: tuple[Seat, ...]) -> None:
    having = [seat for seat in seats if seat.microphone]
    if not having:
        return
    if len(having) < len(seats):
        without = next(seat.name for seat in seats if not seat.microphone)
        raise RunnerError(
            f"--here {without}: has no microphone and {having[0].name} has one; name one for "
            f"each ({without}=MICROPHONE), or none to take turns at one"
        )
    if arguments.listen != "mic":
        raise RunnerError(
            f"--here {having[0].name}={having[0].microphone}: no microphone is listened to with "
            f"--listen {arguments.listen}"
        )
    if arguments.microphone_name:
        raise RunnerError(
            f"--microphone-name {arguments.microphone_name}: each has a microphone by --here"
        )


def members_of(seats: tuple[Seat, ...], roles: tuple[str, ...]) -> tuple[Member, ...]:
    """They with their roles: one each in the aircraft's order, who is last all that are left.

    Raises ``RunnerError`` where there are more of them than roles.
    """
    if len(seats) > len(roles):
        how_many = "1 role" if len(roles) == 1 else f"{len(roles)} roles"
        raise RunnerError(
            f"--here {seats[-1].name}: this aircraft has {how_many}: {', '.join(roles)}"
        )
    last = len(seats) - 1
    return tuple(
        Member(seat.name, roles[place:] if place == last else roles[place : place + 1])
        for place, seat in enumerate(seats)
    )
