"""``runner crew``: fly one run with others, each at a machine of their own."""

from __future__ import annotations

import argparse
import asyncio
import contextlib
import getpass
import os
import uuid
from dataclasses import dataclass
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
    from runner.crew.finding import announced, own_addresses
    from runner.crew.journal import Membership
    from runner.crew.near import PORT, Hub
    from runner.crew.trust.code import new_code

    fly.check_words(arguments)
    making = fly.from_files(arguments)
    with _logbook(arguments) as logbook:
        room = new_code(os.urandom).room
        said: contextlib.AbstractAsyncContextManager[None]
        transport: Hub | Far
        if arguments.through:
            transport = Far(read_broker(arguments.through), room, opens=True)
        else:
            transport = Hub(arguments.address or "", _port(arguments.port, PORT))
        membership = Membership(uuid.uuid4().hex, b"", room, _without_password(arguments.through))
        way = _Way(_identity(arguments), transport, membership, opens=True)
        pairing, linked = await _linked(arguments, logbook, way)
        try:
            code = pairing.crew.new_code()
            if isinstance(transport, Hub):
                await asyncio.wait_for(transport.listening.wait(), 10.0)
                where = arguments.address or own_addresses()[0]
                how = f"Join with: runner crew join --code “{code}” (or {where}:{transport.port})"
                said = announced(room, transport.port)
            else:
                how = f"Join with: runner crew join --through ... --code “{code}”"
                said = contextlib.nullcontext()
            async with said:
                return await _fly(arguments, logbook, making, pairing, linked, how)
        finally:
            linked.cancel()


async def _join(arguments: argparse.Namespace) -> int:
    from runner.crew.far import Far, read_broker
    from runner.crew.finding import find
    from runner.crew.journal import Membership
    from runner.crew.near import PORT, Spoke
    from runner.crew.trust.code import read_code

    fly.check_words(arguments)
    code = read_code(arguments.code)
    with _logbook(arguments) as logbook:
        transport: Spoke | Far
        if arguments.through:
            transport = Far(read_broker(arguments.through), code.room)
        elif arguments.address:
            transport = Spoke([_address(arguments.address, PORT)])
        else:
            print("Looking for the crew on this network.", flush=True)
            found = await find(code.room, FIND_SECONDS)
            if not found:
                raise RunnerError(
                    f"no crew of code {code.room} ... is found on this network; name its address: "
                    "runner crew join 192.168.1.20 --code ..."
                )
            transport = Spoke(found)
        membership = Membership(
            uuid.uuid4().hex,
            b"",
            code.room,
            _without_password(arguments.through),
            "observer" if arguments.observe else "crew",
        )
        way = _Way(_identity(arguments), transport, membership, opens=False, code=code)
        pairing, linked = await _linked(arguments, logbook, way)
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
            return await _fly(arguments, logbook, making, pairing, linked, "")
        finally:
            linked.cancel()


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


async def _linked(
    arguments: argparse.Namespace, logbook: Logbook, way: _Way
) -> tuple[Pairing, asyncio.Task[None]]:
    """The pairing, with its link at work."""
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

    pairing = Pairing(
        make,
        name=arguments.name or getpass.getuser(),
        wishes=tuple(arguments.role),
        observes=getattr(arguments, "observe", False),
    )
    linked = asyncio.create_task(pairing.crew.run())
    while way.opens and not pairing.crew.member.epochs and not linked.done():
        await asyncio.sleep(0.01)
    if linked.done():
        linked.result()
    return pairing, linked


async def _fly(
    arguments: argparse.Namespace,
    logbook: Logbook,
    making: fly.Making,
    pairing: Pairing,
    linked: asyncio.Task[None],
    how: str,
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
        pairing.invitation = how
        if how:
            screen.note(how, "advice")
        flying = fly.run_flight(flight, screen, voice)
        flown = asyncio.create_task(fly.with_feed(arguments, making, flight, flying))
        wishing = asyncio.create_task(_wish(pairing))
        await asyncio.wait({flown, linked}, return_when=asyncio.FIRST_COMPLETED)
        wishing.cancel()
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


def _without_password(url: str) -> str:
    scheme, _, rest = url.partition("://")
    return f"{scheme}://{rest.rpartition('@')[2]}" if rest else ""
