"""``runner fly``: put a flight together from its files, devices and screen, and fly it."""

from __future__ import annotations

import argparse
import asyncio
import datetime
import os
import signal
import sys
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from runner.engine.events import Event, RunStarted, Snapshot
from runner.errors import RunnerError

if TYPE_CHECKING:
    from runner.checklist.model import Procedures
    from runner.flight import Flight, Screen, Started
    from runner.logbook.store import Logbook
    from runner.phrasing.style import VoiceStyle
    from runner.voice.client import VoiceProcess


@dataclass(slots=True)
class _Making:
    """What a flight is made of, once its files are read."""

    procedures: Procedures
    style: VoiceStyle
    first: RunStarted
    given: dict[str, float | str]


def fly(arguments: argparse.Namespace) -> int:
    """Run a flight; the exit status of the program."""
    return asyncio.run(_fly(arguments))


async def _fly(arguments: argparse.Namespace) -> int:
    from runner.voice.script import Script

    loop = asyncio.get_running_loop()
    logbook, excuse = _open_logbook(arguments)
    try:
        resumed = _stored(logbook, arguments) if arguments.resume else None
        making = _from_stored(resumed[1]) if resumed else _from_files(arguments)
        voice = _voice(arguments, making)
        if voice is not None:
            await voice.start()
        try:
            flights: list[Flight] = []
            script = None
            if arguments.listen.startswith("text:"):
                script = Script(
                    arguments.listen.removeprefix("text:"),
                    lambda: loop.call_soon_threadsafe(_feed_all, flights),
                )
            started = _begin(making, logbook, resumed)
            flight = _flight(arguments, making, started, logbook, voice, script)
            flights.append(flight)
            screen = flight.screen
            if excuse:
                screen.trouble(excuse)
            status = await _run(arguments, flight, voice)
        finally:
            if voice is not None:
                await voice.stop()
        _say_how_it_ended(arguments, flight, started)
        return status
    finally:
        if logbook is not None:
            logbook.close()


def _feed_all(flights: list[Flight]) -> None:
    for flight in flights:
        flight.feed()


def _open_logbook(arguments: argparse.Namespace) -> tuple[Logbook | None, str]:
    from runner.logbook.store import Logbook, default_path

    path = arguments.logbook or default_path()
    try:
        return Logbook(path), ""
    except RunnerError as error:
        if arguments.logbook or arguments.resume:
            raise
        return None, f"{error}; this run is not stored and cannot be resumed"


def _from_files(arguments: argparse.Namespace) -> _Making:
    from runner.checklist.load import (
        aircraft_text_of,
        find_file,
        load_procedures_cached,
        load_voice_cached,
    )
    from runner.engine.program import prime
    from runner.figures.given import read_given

    path = find_file(arguments.procedures)
    procedures = load_procedures_cached(path)
    voice_path = find_file(arguments.voice or procedures.voice or "cockpit", "voices")
    style = load_voice_cached(voice_path)
    _known_phase(procedures, arguments.phase, "--phase")
    _known_phase(procedures, arguments.from_phase, "--from")
    first = RunStarted(
        at=0,
        procedures=Snapshot(path.name, procedures.sha256, path.read_text(encoding="utf-8")),
        aircraft=Snapshot(
            procedures.aircraft_file, procedures.aircraft.sha256, aircraft_text_of(procedures)
        ),
        voice=_snapshot(voice_path),
        phase=arguments.phase,
        from_phase=arguments.from_phase,
        wordiness=arguments.words,
        wall_clock=datetime.datetime.now().astimezone().isoformat(timespec="seconds"),
        roles=procedures.aircraft.roles,
    )
    prime(first, procedures, style)
    given = read_given(procedures.aircraft, arguments.set)
    return _Making(procedures, style, first, given)
