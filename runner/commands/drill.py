"""``runner drill``: put a drill together from its files, devices and screen, and run it."""

from __future__ import annotations

import argparse
import asyncio
import contextlib
import secrets
import signal
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from runner.commands.drill_options import MIXED, MOST_MINUTES, MOST_QUESTIONS, USUAL_MINUTES
from runner.commands.fly import feed_all, from_thread, screen_of, voice_settings
from runner.errors import RunnerError
from runner.practice.cards import NEW_TOGETHER, Card, deck
from runner.practice.outlook import due_and_new, next_due
from runner.practice.session import Drill
from runner.practice.store import MemoryStore, Store, progress_of

if TYPE_CHECKING:
    from runner.commands.drilling import Drilling
    from runner.engine.program import Program
    from runner.figures.figure import Figure
    from runner.figures.model import Aircraft
    from runner.figures.sheet import Sheet
    from runner.logbook.store import Logbook
    from runner.practice.spacing import Progress
    from runner.stations import Screen
    from runner.voice.client import VoiceProcess


def drill(arguments: argparse.Namespace) -> int:
    """Run a drill; the exit status of the program: 0 at its end, 1 where it was stopped."""
    return asyncio.run(_drill(arguments))


async def _drill(arguments: argparse.Namespace) -> int:
    _check(arguments)
    program, sheet, given = _from_files(arguments)
    store, logbook, excuse = _open(arguments)
    try:
        cards = _cards(arguments, program, sheet.work_out(given).figures)
        progress, unread = progress_of(store, [card.id for card in cards])
        if arguments.due:
            _say_due(program, cards, progress)
            return 0
        session = _session(arguments, program, sheet, given, cards, progress)
        voice = _voice(arguments, program)
        if voice is not None:
            await voice.start()
        troubles = [excuse]
        if unread:
            troubles.append(f"{unread} cards of the logbook cannot be read and begin anew")
        if logbook is not None:
            logbook.on_trouble = troubles.append
        try:
            number = store.drill_begin(
                arguments.kind, arguments.questions, datetime.now(tz=UTC).astimezone()
            )
            drilling, screen = _drilling(arguments, program, session, store, number, voice)
            for trouble in troubles:
                if trouble:
                    screen.trouble(trouble)
            if logbook is not None:
                loop = asyncio.get_running_loop()
                logbook.on_trouble = lambda text: from_thread(loop, lambda: screen.trouble(text))
            return await _run(drilling, screen, voice)
        finally:
            if voice is not None:
                await voice.stop()
    finally:
        if logbook is not None:
            logbook.close()


def _check(arguments: argparse.Namespace) -> None:
    how, _, rest = arguments.listen.partition(":")
    if how not in ("mic", "keys", "none", "text", "wav"):
        raise RunnerError(
            f"--listen {arguments.listen}: there is no such way to listen; right would be mic, "
            "keys, none, text:FILE or wav:FILE"
        )
    if how == "text" and not rest:
        raise RunnerError("--listen text: names no file; right would be text:FILE or text:-")
    if not 0 <= arguments.questions <= MOST_QUESTIONS:
        raise RunnerError(
            f"--questions {arguments.questions}: a drill has 1 to {MOST_QUESTIONS} questions"
        )
    if not 0 <= arguments.minutes <= MOST_MINUTES:
        raise RunnerError(
            f"--minutes {arguments.minutes:g}: a drill takes up to {MOST_MINUTES:g} minutes"
        )
    if not arguments.questions and not arguments.minutes:
        arguments.minutes = USUAL_MINUTES


def _from_files(
    arguments: argparse.Namespace,
) -> tuple[Program, Sheet, dict[str, float | str]]:
    from runner.checklist.cache import load_procedures_cached, load_voice_cached
    from runner.checklist.load import find_file
    from runner.engine.program import Program
    from runner.figures.given import read_given
    from runner.figures.sheet import Sheet

    procedures = load_procedures_cached(find_file(arguments.procedures, ("checklists",)))
    style_path = find_file(arguments.voice or procedures.voice or "cockpit", ("voices",))
    program = Program(procedures, load_voice_cached(style_path))
    _known(procedures.name, "--phase", arguments.phase, [p.id for p in procedures.phases], "phase")
    _known(procedures.name, "--list", arguments.list, list(program.lists), "list")
    given = {
        **_reported(procedures.aircraft, arguments.metar),
        **read_given(procedures.aircraft, arguments.set),
    }
    sheet = Sheet(procedures.aircraft)
    sheet.work_out(given)
    return program, sheet, given


def _reported(aircraft: Aircraft, metar: str | None) -> dict[str, float | str]:
    if metar is None:
        return {}
    from runner.figures.weather_inputs import given_from_metar

    return dict(given_from_metar(aircraft, metar).given)


def _known(name: str, option: str, value: str, known: Sequence[str], what: str) -> None:
    if value and value not in known:
        raise RunnerError(f"{option} {value}: {name} has no such {what}; it has {', '.join(known)}")


def _open(arguments: argparse.Namespace) -> tuple[Store, Logbook | None, str]:
    from runner.logbook.opening import LogbookUnwritable
    from runner.logbook.store import Logbook, default_path

    try:
        logbook = Logbook(arguments.logbook or default_path())
    except LogbookUnwritable as error:
        return MemoryStore(), None, f"{error}; what is learned now is not kept"
    return logbook, logbook, ""


def _cards(
    arguments: argparse.Namespace, program: Program, figures: Mapping[str, Figure]
) -> list[Card]:
    kinds = NEW_TOGETHER if arguments.kind == MIXED else (arguments.kind,)
    cards = deck(program, figures, kinds, phase=arguments.phase, list_id=arguments.list)
    if not cards:
        chosen = arguments.list or arguments.phase or program.procedures.name
        raise RunnerError(
            f"--kind {arguments.kind}: {chosen} has nothing of this kind to drill; leave --phase "
            "and --list out, or choose another kind"
        )
    return cards


def _session(
    arguments: argparse.Namespace,
    program: Program,
    sheet: Sheet,
    given: dict[str, float | str],
    cards: Sequence[Card],
    progress: Mapping[str, Progress],
) -> Drill:
    return Drill(
        program,
        sheet,
        given,
        cards,
        progress,
        began=datetime.now(tz=UTC),
        seed=secrets.randbits(32) if arguments.seed is None else arguments.seed,
        questions=arguments.questions,
        minutes=arguments.minutes,
        typed=arguments.listen.startswith(("keys", "none")),
    )


def _say_due(program: Program, cards: Sequence[Card], progress: Mapping[str, Progress]) -> None:
    now = datetime.now(tz=UTC)
    kinds = due_and_new(cards, progress, now)
    due, new = (sum(counts[n] for counts in kinds.values()) for n in (0, 1))
    print(f"{program.procedures.name}: {due} due, {new} new")
    if len(kinds) > 1:
        for kind, (due_of_kind, new_of_kind) in kinds.items():
            print(f"  {kind}: {due_of_kind} due, {new_of_kind} new")
    comes = next_due(cards, progress, now)
    if not due and comes is not None:
        print(f"The next is due on {comes.astimezone():%A, %d %B %Y at %H:%M}")


def _voice(arguments: argparse.Namespace, program: Program) -> VoiceProcess | None:
    listens = arguments.listen if arguments.listen.startswith(("mic", "wav:")) else "none"
    if arguments.speak == "none" and listens == "none":
        return None
    from runner.voice.client import VoiceProcess

    return VoiceProcess(voice_settings(arguments, program, listens))


def _drilling(
    arguments: argparse.Namespace,
    program: Program,
    session: Drill,
    store: Store,
    number: int,
    voice: VoiceProcess | None,
) -> tuple[Drilling, Screen]:
    from runner.commands.drilling import Drilling
    from runner.voice.script import Script

    loop = asyncio.get_running_loop()
    script = None
    running: list[Drilling] = []
    if arguments.listen.startswith("text:"):
        script = Script(
            arguments.listen.removeprefix("text:"),
            lambda: from_thread(loop, lambda: feed_all(running)),
        )
    screen = screen_of(arguments, drill=True)
    drilling = Drilling(
        session,
        style=program.style,
        screen=screen,
        store=store,
        number=number,
        voice=voice,
        speaks=arguments.speak != "none",
        script=script,
        fast=arguments.clock == "fast",
        stays=arguments.screen == "full",
    )
    running.append(drilling)
    return drilling, screen


async def _run(drilling: Drilling, screen: Screen, voice: VoiceProcess | None) -> int:
    if voice is not None:
        voice.on_said = drilling.said
        voice.on_heard = drilling.heard
        voice.on_level = screen.level
        voice.on_trouble = screen.trouble
        voice.on_input_ended = drilling.input_ended
        voice.on_ready = drilling.ready
        screen.on_talk = drilling.talk
    loop = asyncio.get_running_loop()
    for name in ("SIGINT", "SIGTERM", "SIGHUP"):
        with contextlib.suppress(NotImplementedError, AttributeError):
            loop.add_signal_handler(getattr(signal, name), drilling.interrupt)
    running = asyncio.create_task(drilling.run())
    if voice is None:
        return await running
    ready = asyncio.create_task(voice.wait_ready(timeout=3600.0))
    try:
        await asyncio.wait({running, ready}, return_when=asyncio.FIRST_COMPLETED)
        if ready.done() and ready.exception() is not None and not running.done():
            drilling.interrupt()
            await running
            ready.result()
        return await running
    finally:
        ready.cancel()
