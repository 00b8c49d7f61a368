"""``runner crew``: fly one run with others, each at a machine of their own."""

from __future__ import annotations

import argparse
import asyncio
import contextlib
import getpass
import os
import uuid
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from runner.commands import fly
from runner.engine.events import FiguresChanged, RunStarted
from runner.errors import RunnerError

if TYPE_CHECKING:
    from runner.crew.journal import Membership
    from runner.crew.transport import Transport
    from runner.crew.trust.code import Code
    from runner.crew.trust.identity import Identity
    from runner.logbook.store import Logbook
    from runner.pairing import Pairing
    from runner.stations import Screen

ROOMS = 20
"""Rooms of a broker that are tried until one is free."""

FIND_SECONDS = 10.0
"""How long a crew of that code is looked for on the network."""


@dataclass(slots=True)
class _Way:
    """How this machine takes part: its key, where the others are met, whether it opens."""

    identity: Identity
    transport: Transport
    membership: Membership
    opens: bool
    code: Code | None = None


def open_crew(arguments: argparse.Namespace) -> int:
    """Open a crew and begin its run; the exit status of the program."""
    return asyncio.run(_open(arguments))


def join_crew(arguments: argparse.Namespace) -> int:
    """Join a crew's run by its code, or go back to it; the exit status of the program."""
    return asyncio.run(_join(arguments))


async def _open(arguments: argparse.Namespace) -> int:
    from runner.crew.far import Far, read_broker
    from runner.crew.journal import Membership
    from runner.crew.near import PORT, Hub
    from runner.crew.nearby import Nearby

    fly.check_words(arguments)
    if arguments.resume:
        return await _resume(arguments)
    making = fly.from_files(arguments)
    with _logbook(arguments) as logbook:
        room = await _free_room(arguments.through)
        transport: Nearby | Far
        if arguments.through:
            transport = Far(read_broker(arguments.through), room, opens=True)
        else:
            hub = Hub(arguments.address or "", _port(arguments.port, PORT))
            transport = Nearby(room, hub=hub, searches=False)
        through = without_password(arguments.through)
        membership = Membership(uuid.uuid4().hex, b"", room, through)
        way = _Way(_identity(arguments), transport, membership, opens=True)
        pairing = _pairing(arguments, logbook, way)
        linked = asyncio.create_task(pairing.crew.run())
        try:
            while not (pairing.crew.member.epochs and pairing.crew.where) and not linked.done():
                await asyncio.sleep(0.01)
            if linked.done():
                linked.result()
            pairing.crew.new_code()
            return await _fly(arguments, logbook, making, pairing, linked)
        finally:
            linked.cancel()


async def _free_room(through: str) -> str:
    """A room for a new crew, through a broker one that no other crew is in."""
    from runner.crew.far import is_taken, read_broker
    from runner.crew.trust.code import new_code

    for _ in range(ROOMS):
        room = new_code(os.urandom).room
        if not through or not await is_taken(read_broker(through), room):
            return room
    raise RunnerError(f"{without_password(through)}: too many crews are open there; try again")


async def _join(arguments: argparse.Namespace) -> int:
    from runner.crew.far import Far, read_broker
    from runner.crew.finding import find
    from runner.crew.journal import Membership
    from runner.crew.near import PORT
    from runner.crew.nearby import Nearby
    from runner.crew.trust.code import read_code

    fly.check_words(arguments)
    if arguments.resume:
        return await _resume(arguments)
    code = read_code(arguments.code)
    with _logbook(arguments) as logbook:
        transport: Nearby | Far
        found: list[tuple[str, int]] = []
        if arguments.through:
            transport = Far(read_broker(arguments.through), code.room)
        else:
            if arguments.address:
                found = [_address(arguments.address, PORT)]
            else:
                print("Looking for the crew on this network.", flush=True)
                found = await find(code.room, FIND_SECONDS)
            if not found:
                raise RunnerError(
                    f"no crew of code {code.room} ... is found on this network; name its address: "
                    "runner crew join 192.168.1.20 --code ..."
                )
            transport = Nearby(code.room, addresses=found)
        membership = Membership(
            uuid.uuid4().hex,
            b"",
            code.room,
            without_password(arguments.through),
            "observer" if arguments.observe else "crew",
            others=" ".join(f"{host}:{port}" for host, port in found),
        )
        way = _Way(_identity(arguments), transport, membership, opens=False, code=code)
        pairing = _pairing(arguments, logbook, way)
        linked = asyncio.create_task(pairing.crew.run())
        try:
            begun = asyncio.create_task(pairing.first())
            await asyncio.wait(
                {begun, linked}, timeout=arguments.wait, return_when=asyncio.FIRST_COMPLETED
            )
            if linked.done():
                linked.result()
            if not begun.done():
                begun.cancel()
                raise RunnerError(
                    f"nobody answered in {arguments.wait:g} s; is the crew still open there, and "
                    "is the way to it free?"
                )
            making = _from_run(begun.result(), pairing)
            return await _fly(arguments, logbook, making, pairing, linked)
        finally:
            linked.cancel()


async def _resume(arguments: argparse.Namespace) -> int:
    """Go back to the last crew's run from what this machine has kept of it."""
    from runner.crew.far import Far, read_broker
    from runner.crew.journal import Journal
    from runner.crew.near import PORT, Hub
    from runner.crew.nearby import Nearby
    from runner.crew.resuming import crew_to_go_back_to

    with _logbook(arguments) as logbook:
        identity = _identity(arguments)
        journal = Journal(logbook.write, logbook.reading)
        kept = crew_to_go_back_to(journal, logbook, identity.id.hex())
        opens = arguments.verb == "open"
        through = arguments.through or kept.through
        transport: Nearby | Far
        if through:
            transport = Far(read_broker(through), kept.room, opens=opens)
        else:
            host, port = _address(kept.listens, PORT) if kept.listens else ("", None)
            port = getattr(arguments, "port", None) or port
            addresses = [_address(one, PORT) for one in kept.others.split()]
            if opens:
                hub = Hub(arguments.address or host, _port(port, PORT))
                transport = Nearby(kept.room, hub=hub, addresses=addresses, searches=False)
            else:
                if arguments.address:
                    addresses.insert(0, _address(arguments.address, PORT))
                transport = Nearby(kept.room, addresses=addresses, host=host, port=port)
        kept = replace(kept, through=without_password(through))
        way = _Way(identity, transport, kept, opens=False)
        pairing = _pairing(arguments, logbook, way, resumed=True)
        if pairing.crew.member.epochs[-1].voters == (pairing.crew.me,):
            transport.meet_here()
        making = _from_run(await pairing.first(), pairing)
        linked = asyncio.create_task(_link_when_flying(pairing))
        try:
            return await _fly(arguments, logbook, making, pairing, linked)
        finally:
            linked.cancel()


async def _link_when_flying(pairing: Pairing) -> None:
    """What the others tell is for the flight, which has to be there first."""
    await pairing.flying.wait()
    await pairing.crew.run()


def _from_run(started: RunStarted, pairing: Pairing) -> fly.Making:
    """The flight as the other machine's files make it, with the inputs given until now."""
    from runner.engine.program import program_of
    from runner.figures.sheet import Sheet

    given: dict[str, float | str] = {}
    for event in pairing.events:
        if isinstance(event, RunStarted | FiguresChanged):
            given = dict(event.given)
    program = program_of(started)
    sheet = Sheet(program.procedures.aircraft)
    return fly.Making(
        program, sheet, sheet.work_out(given), given, pairing.events, pairing.run, resumed=True
    )


def _pairing(
    arguments: argparse.Namespace, logbook: Logbook, way: _Way, *, resumed: bool = False
) -> Pairing:
    """The pairing; its link is not at work yet."""
    from runner.crew.crew import Crew
    from runner.crew.journal import Journal
    from runner.pairing import Pairing

    def make(**told: Any) -> Crew:
        journal = Journal(logbook.write, logbook.reading)
        return Crew(
            way.identity,
            journal,
            way.transport,
            way.membership,
            opens=way.opens,
            code=way.code,
            **told,
        )

    return Pairing(
        make,
        name=arguments.name or way.membership.name or getpass.getuser(),
        wishes=tuple(arguments.role),
        observes=way.membership.wants == "observer",
        run=way.membership.run,
        resumed=resumed,
    )


async def _fly(
    arguments: argparse.Namespace,
    logbook: Logbook,
    making: fly.Making,
    pairing: Pairing,
    linked: asyncio.Task[None],
) -> int:
    """Fly the crew's run on this machine until its end or until this person leaves."""
    known = making.program.procedures.aircraft.roles
    for role in arguments.role:
        if role not in known:
            raise RunnerError(f"--role {role}: this aircraft has {', '.join(known)}")
    voice = fly.voice_of(arguments, making)
    if voice is not None:
        await voice.start()
    try:
        flight, screen = fly.flight_of(arguments, making, logbook, voice, pairing)
        pairing.attach(flight)
        flying = fly.run_flight(flight, screen, voice)
        flown = asyncio.create_task(fly.with_feed(arguments, making, flight, flying))
        wishing = asyncio.create_task(_wish(pairing))
        meeting = asyncio.create_task(_tell_where(pairing, screen))
        await asyncio.wait({flown, linked}, return_when=asyncio.FIRST_COMPLETED)
        wishing.cancel()
        meeting.cancel()
        if linked.done() and not flown.done():
            flight.interrupt()
            await flown
            linked.result()
        status = await flown
        await pairing.leave()
        if pairing.run is not None and flight.finish is not None:
            how_it_ended = "complete" if flight.finish.complete else "open"
            await asyncio.wrap_future(logbook.finish(pairing.run, how_it_ended))
        return status
    finally:
        if voice is not None:
            await voice.stop()


async def _wish(pairing: Pairing) -> None:
    """Ask for the roles wanted once this machine's person is aboard."""
    while not pairing.aboard:
        await asyncio.sleep(0.1)
    pairing.wish()


async def _tell_where(pairing: Pairing, screen: Screen) -> None:
    """Once others can join at this machine: tell how, and keep where, for coming back."""
    while not pairing.crew.lets_in:
        await asyncio.sleep(0.05)
    if pairing.crew.listens:
        pairing.crew.keep(listens=pairing.crew.listens)
    said = "Others can join at this machine: say “crew code”."
    screen.note(pairing.invitation or said, "advice")


@contextlib.contextmanager
def _logbook(arguments: argparse.Namespace) -> Any:
    from runner.logbook.store import Logbook, default_path

    logbook = Logbook(arguments.logbook or default_path())
    try:
        yield logbook
    finally:
        logbook.close()


def _identity(arguments: argparse.Namespace) -> Identity:
    from runner.crew.trust.identity import load_identity
    from runner.logbook.store import default_path

    book = Path(arguments.logbook) if arguments.logbook else default_path()
    return load_identity(book.parent / f"{book.stem}-crew.key")


def _address(text: str, port: int) -> tuple[str, int]:
    host, colon, number = text.rpartition(":")
    if not colon or "]" in number:
        return text.strip("[]"), port
    if not number.isdecimal() or not 0 < int(number) < 65536:
        raise RunnerError(f"{text}: write the address as HOST or HOST:PORT")
    return host.strip("[]"), int(number)


def _port(wanted: int | None, usual: int) -> int:
    """The port asked for, else the usual one if it is free, else any."""
    import socket

    if wanted is not None:
        return wanted
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as tried:
        tried.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            tried.bind(("", usual))
        except OSError:
            return 0
    return usual


def without_password(url: str) -> str:
    """A broker's address as it may be kept and shown: with the user, without the password."""
    scheme, _, rest = url.partition("://")
    user, at, host = rest.rpartition("@")
    return f"{scheme}://{user.partition(':')[0]}{at}{host}" if rest else ""
