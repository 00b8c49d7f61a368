"""``runner fly``: put a flight together from its files, devices and screen, and fly it."""

from __future__ import annotations

import argparse
import asyncio
import contextlib
import datetime
import hashlib
import signal
import sys
from collections.abc import AsyncIterator, Callable, Coroutine, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol, cast, get_args

from runner.commands import feeding
from runner.commands.people import members_of, seats_of
from runner.engine.events import (
    RULES_VERSION,
    Event,
    FiguresChanged,
    KeyAction,
    RunStarted,
    Snapshot,
)
from runner.engine.program import Program, program_of
from runner.errors import RunnerError

if TYPE_CHECKING:
    from runner.checklist.model import Procedures
    from runner.figures.model import Aircraft
    from runner.figures.sheet import Sheet, Worked
    from runner.flight import Flight
    from runner.logbook.store import Logbook
    from runner.stations import Ledger, Screen
    from runner.voice.client import VoiceProcess
    from runner.voice.settings import VoiceSettings
    from runner.voice.several import Voices


NEED_MORE = ("answer", "call", "moment", "set")
"""What a key can do and a button cannot, because it says no more than that it was pressed."""


class Fed(Protocol):
    """What takes scripted answers."""

    def feed(self) -> None: ...


@dataclass(slots=True)
class Making:
    """What a flight is made of, once its files are read: ``events`` are those so far."""

    program: Program
    sheet: Sheet
    worked: Worked
    given: dict[str, float | str]
    events: Sequence[Event]
    run: int | None = None
    resumed: bool = False


def fly(arguments: argparse.Namespace) -> int:
    """Run a flight; the exit status of the program."""
    return asyncio.run(_fly(arguments))


async def _fly(arguments: argparse.Namespace) -> int:
    check_words(arguments)
    logbook, excuse = open_logbook(arguments)
    try:
        making = _stored(logbook) if arguments.resume else from_files(arguments)
        voice = voice_of(arguments, making)
        if voice is not None:
            await voice.start()
        try:
            if not making.resumed and logbook is not None:
                try:
                    making.run = logbook.begin(cast(RunStarted, making.events[0]))
                except RunnerError as error:
                    excuse = f"{error}; this run is kept in memory and cannot be resumed"
            flight, screen = flight_of(arguments, making, logbook, voice)
            if excuse:
                screen.trouble(excuse)
            status = await with_feed(arguments, making, flight, run_flight(flight, screen, voice))
        finally:
            if voice is not None:
                await voice.stop()
        keep_record(logbook, making.run, making.program)
    finally:
        if logbook is not None:
            logbook.close()
    _say_how_it_ended(arguments, flight, making)
    return status


async def with_feed(
    arguments: argparse.Namespace,
    making: Making,
    flight: Flight,
    flying: Coroutine[Any, Any, int],
) -> int:
    """The flight with its readings; a source that cannot be opened ends it."""
    if not arguments.feed:
        return await flying
    from runner.commands.feeding import Feeding

    try:
        feeding = Feeding(arguments, making.sheet.aircraft, making.given, flight)
    except BaseException:
        flying.close()
        raise
    fed = asyncio.create_task(feeding.run())
    flown = asyncio.create_task(flying)
    try:
        await asyncio.wait({fed, flown}, return_when=asyncio.FIRST_COMPLETED)
        if fed.done():
            flight.interrupt()
            await flown
            fed.result()
        return await flown
    finally:
        fed.cancel()
        with contextlib.suppress(asyncio.CancelledError):
            await fed


def keep_record(logbook: Logbook | None, run: int | None, program: Program) -> None:
    """Keep what a debrief shows of a run, now that it is known how to read it."""
    from runner.debrief.kept import keep

    if logbook is not None and run is not None:
        with contextlib.suppress(RunnerError):
            keep(logbook, run, program)


def check_words(arguments: argparse.Namespace) -> None:
    """Refuse what the parser cannot know to be wrong."""
    how = arguments.listen.partition(":")[0]
    if how not in ("mic", "keys", "none", "text", "wav"):
        raise RunnerError(
            f"--listen {arguments.listen}: there is no such way to listen; right would be mic, "
            "keys, none, text:FILE or wav:FILE"
        )
    feeding.check_words(arguments)
    if arguments.listen == "text:":
        raise RunnerError("--listen text: names no file; right would be text:FILE or text:-")


def open_logbook(arguments: argparse.Namespace) -> tuple[Logbook | None, str]:
    """The logbook, or None with the reason why there is none."""
    from runner.logbook.opening import LogbookUnwritable
    from runner.logbook.store import Logbook, default_path

    path = arguments.logbook or default_path()
    try:
        return Logbook(path), ""
    except LogbookUnwritable as error:
        if arguments.resume:
            raise
        return None, f"{error}; this run is kept in memory and cannot be resumed"
    except RunnerError as error:
        if arguments.logbook or arguments.resume:
            raise
        return None, f"{error}; this run is kept in memory and cannot be resumed"


def from_files(arguments: argparse.Namespace) -> Making:
    """A new run from the files and inputs named."""
    from runner.checklist.cache import load_procedures_cached, load_voice_cached
    from runner.checklist.load import find_file
    from runner.figures.given import read_given
    from runner.figures.sheet import Sheet

    path = find_file(arguments.procedures, ("checklists",))
    procedures = load_procedures_cached(path)
    voice_path = find_file(arguments.voice or procedures.voice or "cockpit", ("voices",))
    style = load_voice_cached(voice_path)
    _known_phase(procedures, arguments.phase, "--phase")
    _known_phase(procedures, arguments.from_phase, "--from")
    given = {
        **_reported(procedures.aircraft, arguments.metar),
        **read_given(procedures.aircraft, arguments.set),
    }
    sheet = Sheet(procedures.aircraft)
    worked = sheet.work_out(given)
    started = RunStarted(
        at=0,
        procedures=_snapshot(path),
        aircraft=_snapshot(Path(procedures.aircraft_file)),
        voice=_snapshot(voice_path),
        figures=tuple(worked.figures.values()),
        phase=arguments.phase,
        from_phase=arguments.from_phase,
        wordiness=arguments.words,
        wall_clock=datetime.datetime.now().astimezone().isoformat(timespec="seconds"),
        roles=procedures.aircraft.roles,
        given=tuple(sorted(given.items())),
    )
    hashes = (started.procedures.sha256, started.aircraft.sha256, started.voice.sha256)
    program = Program(procedures, style, hashes)
    return Making(program, sheet, worked, given, [started])


def _reported(aircraft: Aircraft, metar: str | None) -> dict[str, float | str]:
    """The inputs that a METAR sets; what it leaves alone keeps its value and is asked."""
    if metar is None:
        return {}
    from runner.figures.weather_inputs import given_from_metar

    return dict(given_from_metar(aircraft, metar).given)


def _stored(logbook: Logbook | None) -> Making:
    from runner.figures.sheet import Sheet

    assert logbook is not None
    row = logbook.latest_unfinished()
    crewed = logbook.latest_unfinished_crewed() if row is None else None
    if crewed is not None:
        raise RunnerError(
            f"{logbook.path}: the run that is open here (run {crewed.id}) is a crew's; go back to "
            "it with runner crew open --resume, or runner crew join --resume where you joined it"
        )
    if row is None:
        raise RunnerError(
            f"{logbook.path}: there is no unfinished run that nobody flies now; start one: "
            "runner fly"
        )
    events = logbook.events(row.id)
    started = cast(RunStarted, events[0])
    if started.rules != RULES_VERSION:
        raise RunnerError(
            f"{logbook.path}: the run was begun by a Runner that stepped differently (rules "
            f"{started.rules}, now {RULES_VERSION}); it cannot go on, start a new one: runner fly"
        )
    program = program_of(started)
    given: dict[str, float | str] = {}
    for event in events:
        if isinstance(event, RunStarted | FiguresChanged):
            given = dict(event.given)
    sheet = Sheet(program.procedures.aircraft)
    return Making(program, sheet, sheet.work_out(given), given, events, row.id, resumed=True)


def _snapshot(path: Path) -> Snapshot:
    content = path.read_bytes()
    return Snapshot(path.name, hashlib.sha256(content).hexdigest(), content.decode("utf-8"))


def _known_phase(procedures: Procedures, phase: str, option: str) -> None:
    known = [p.id for p in procedures.phases]
    if phase and phase not in known:
        raise RunnerError(
            f"{option} {phase}: {procedures.name} has no such phase; it has {', '.join(known)}"
        )


def voice_settings(arguments: argparse.Namespace, program: Program, listens: str) -> VoiceSettings:
    """What the options say of speaking and listening; ``listens`` is to what."""
    from runner.voice.phrases import answers_of
    from runner.voice.settings import VoiceSettings

    return VoiceSettings(
        speak=arguments.speak,
        listen=listens,
        recogniser=arguments.recogniser,
        headset=not arguments.loudspeaker,
        speaker=arguments.speaker_name,
        microphone=arguments.microphone_name,
        style=program.style,
        answers=() if listens == "none" else answers_of(program),
        pace=0.0 if arguments.clock == "fast" else 1.0,
    )


def voice_of(arguments: argparse.Namespace, making: Making) -> VoiceProcess | Voices | None:
    """The voice process, or None where nothing is spoken, heard or pressed; where several at
    this machine have a microphone each, theirs."""
    listens = arguments.listen if arguments.listen.startswith(("mic", "wav:")) else "none"
    buttons = _buttons(arguments)
    if arguments.speak == "none" and listens == "none" and not buttons:
        return None
    from runner.voice.client import VoiceProcess

    settings = replace(
        voice_settings(arguments, making.program, listens),
        push_to_talk=arguments.talk,
        controller=arguments.controller,
        buttons=buttons,
    )
    seats = seats_of(arguments)
    if not seats:
        return VoiceProcess(settings)
    if not seats[0].microphone:
        # Whose voice it is, is not known: nobody's own takes would do.
        return VoiceProcess(replace(settings, takes=""))
    from runner.voice.several import Voices

    silent = replace(settings, speak="none", buttons=(), controller="")
    return Voices(
        {
            seat.name: VoiceProcess(
                replace(silent if place else settings, microphone=seat.microphone, takes=seat.name)
            )
            for place, seat in enumerate(seats)
        }
    )


def _buttons(arguments: argparse.Namespace) -> tuple[tuple[str, int], ...]:
    does = ("talk", *(name for name in get_args(KeyAction) if name not in NEED_MORE))
    buttons: list[tuple[str, int]] = []
    for pair in arguments.button:
        name, _, number = pair.partition("=")
        if not name or not number.isdecimal():
            raise RunnerError(f"--button {pair}: say it as what=number, for example talk=0")
        if name not in does:
            raise RunnerError(f"--button {pair}: a button can be {', '.join(does)}")
        buttons.append((name, int(number)))
    if arguments.controller and not buttons:
        raise RunnerError(
            f"--controller {arguments.controller}: none of its buttons does anything; say which, "
            "for example --button talk=0"
        )
    if arguments.talk != "off" and not arguments.listen.startswith(("mic", "wav:")):
        raise RunnerError(
            f"--talk {arguments.talk}: there is no microphone to open with "
            f"--listen {arguments.listen}"
        )
    return tuple(buttons)


def flight_of(
    arguments: argparse.Namespace,
    making: Making,
    logbook: Logbook | None,
    voice: VoiceProcess | Voices | None,
    ledger: Ledger | None = None,
) -> tuple[Flight, Screen]:
    """The flight and its screen, put together; not begun."""
    from runner.flight import Flight
    from runner.voice.script import Script

    loop = asyncio.get_running_loop()
    screen = screen_of(arguments)
    if arguments.tablet:
        from runner.tablet.beside import Beside
        from runner.tablet.server import Tablet

        host = "" if arguments.tablet == "network" else "127.0.0.1"
        screen = Beside(screen, Tablet(host, arguments.tablet_port))
    seats = seats_of(arguments)
    script = None
    flights: list[Flight] = []
    if arguments.listen.startswith("text:"):
        script = Script(
            arguments.listen.removeprefix("text:"),
            lambda: from_thread(loop, lambda: feed_all(flights)),
        )
    flight = Flight(
        making.events,
        program=making.program,
        sheet=making.sheet,
        worked=making.worked,
        given=making.given,
        screen=screen,
        voice=voice,
        speaks=arguments.speak != "none",
        script=script,
        logbook=logbook,
        run=making.run,
        ledger=ledger,
        resumed=making.resumed,
        fast=arguments.clock == "fast",
        stays=arguments.screen == "full",
        people=members_of(seats, making.program.procedures.aircraft.roles) if seats else (),
    )
    flights.append(flight)
    if logbook is not None:
        logbook.on_trouble = lambda text: from_thread(loop, lambda: screen.trouble(text))
    return flight, screen


def feed_all(running: Sequence[Fed]) -> None:
    """Have whatever runs take its next scripted answer."""
    for one in running:
        one.feed()


def from_thread(loop: asyncio.AbstractEventLoop, work: Callable[[], object]) -> None:
    """Have work done in the loop."""
    # The loop may be gone already: then nobody is left to be told.
    with contextlib.suppress(RuntimeError):
        loop.call_soon_threadsafe(work)


def screen_of(arguments: argparse.Namespace, drill: bool = False) -> Screen:
    """The screen that is asked for; of a ``drill`` with its own words for the keys."""
    if arguments.screen == "plain":
        from runner.screen.plain import PlainScreen

        return PlainScreen(typed=False if arguments.listen.startswith("text:") else None)
    if not (sys.stdout.isatty() and sys.stdin.isatty()):
        raise RunnerError(
            "the full screen needs a terminal; use --screen plain to read and write lines of text"
        )
    from runner.screen.full import FullScreen

    return FullScreen(drill=drill)


async def run_flight(flight: Flight, screen: Screen, voice: VoiceProcess | Voices | None) -> int:
    """Fly it with its voice, to its end or until the program is told to stop."""
    if voice is not None:
        voice.on_said = flight.said
        voice.on_heard = flight.pilot.heard
        voice.on_level = screen.level
        voice.on_trouble = screen.trouble
        voice.on_input_ended = flight.input_ended
        voice.on_button = flight.pilot.button
        voice.on_ready = flight.ready
        voice.on_speaking = flight.speaking
        screen.on_talk = flight.pilot.talk
    async with _beside(screen):
        return await _run(flight, voice)


@contextlib.asynccontextmanager
async def _beside(screen: Screen) -> AsyncIterator[None]:
    """Serve the second screen, where there is one, while the flight lasts."""
    tablet = getattr(screen, "tablet", None)
    if tablet is None:
        yield
        return
    await tablet.start()
    try:
        yield
    finally:
        await tablet.stop()


async def _run(flight: Flight, voice: VoiceProcess | Voices | None) -> int:
    loop = asyncio.get_running_loop()
    for name in ("SIGINT", "SIGTERM", "SIGHUP"):
        with contextlib.suppress(NotImplementedError, AttributeError):
            loop.add_signal_handler(getattr(signal, name), flight.interrupt)
    flying = asyncio.create_task(flight.fly())
    if voice is None:
        return await flying
    ready = asyncio.create_task(voice.wait_ready(timeout=3600.0))
    try:
        await asyncio.wait({flying, ready}, return_when=asyncio.FIRST_COMPLETED)
        if ready.done() and ready.exception() is not None and not flying.done():
            flight.interrupt()
            await flying
            ready.result()
        return await flying
    finally:
        ready.cancel()


def _say_how_it_ended(arguments: argparse.Namespace, flight: Flight, making: Making) -> None:
    if flight.was_over:
        print("This run had come to its end already; start a new one: runner fly")
    if flight.finish is None:
        if making.run is not None:
            option = f" --logbook {arguments.logbook}" if arguments.logbook else ""
            print(f"Stopped. Go on with: runner fly --resume{option}")
        return
    if arguments.screen == "full" and flight.finish.left_open:
        print("Left open: " + "; ".join(flight.finish.left_open))
