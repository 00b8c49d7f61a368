"""A flight: the one place where engine, voice, screen and logbook meet.

The engine's effects are carried out here and what comes of them goes back as events.
Latency and durability are this file's care: what is likely to be said is prepared while
the pilot still answers; an event is committed while the loudspeaker is being woken; what
is said (and printed) because of an event waits for its commit, and nothing else does.
"""

from __future__ import annotations

import asyncio
from collections import deque
from collections.abc import Mapping, Sequence
from concurrent.futures import Future
from typing import cast

from runner.clock import Clock, FastClock, RealClock
from runner.delivery import SAID, Delivery
from runner.engine.effects import (
    CancelTimer,
    CloseWindow,
    Effect,
    Explain,
    Finish,
    Hush,
    Listen,
    Note,
    Prepare,
    Say,
    SetInput,
    SetTimer,
    Tone,
)
from runner.engine.events import (
    CrewChanged,
    Event,
    FiguresChanged,
    InputEnded,
    Member,
    Paused,
    Resumed,
    Said,
    TimerFired,
)
from runner.engine.looking import look
from runner.engine.program import Program
from runner.engine.state import State
from runner.engine.step import initial_state, step
from runner.engineer import Engineer, Given
from runner.figures.sheet import Sheet, Worked
from runner.instruments import LOOK, Instruments
from runner.link import Link
from runner.logbook.store import Logbook
from runner.pilot import Pilot
from runner.record import Record
from runner.replayed import replayed
from runner.scripted import Scripted
from runner.stations import Ledger, Screen, Voice
from runner.trace import Trace
from runner.voice.script import Script


class Flight:
    """One run from its first event to its end.

    ``events`` are those stored so far: one for a new run, all of them for a ``resumed``
    one. ``voice`` is None where nothing is spoken aloud and no microphone listens;
    ``script`` gives typed answers; ``given`` are the inputs given, in the aircraft's units,
    and ``worked`` is the sheet worked out for them.
    ``ledger`` is the link to the machines of a crew: it then stores the events.
    ``pilot`` and ``link`` are its ends to whoever sits here and to the others of a crew,
    ``record`` is its run in the logbook.
    With ``stays`` the screen shows how the run ended until the pilot closes it. ``people`` are
    those who share this machine, where it is not one person's.
    """

    def __init__(
        self,
        events: Sequence[Event],
        *,
        program: Program,
        sheet: Sheet,
        worked: Worked,
        given: Given,
        screen: Screen,
        voice: Voice | None = None,
        speaks: bool = False,
        script: Script | None = None,
        logbook: Logbook | None = None,
        run: int | None = None,
        ledger: Ledger | None = None,
        resumed: bool = False,
        fast: bool = False,
        stays: bool = False,
        people: tuple[Member, ...] = (),
    ) -> None:
        self._events = events
        self._resumed = resumed
        self._program = program
        self._screen = screen
        self._voice = voice
        self._speaks = speaks
        self._stays = stays
        self._people = people
        self.record = Record(logbook, run)
        self._state: State = initial_state(program)
        clock_type: type[FastClock] | type[RealClock] = FastClock if fast else RealClock
        self.clock: Clock = clock_type(self._on_timer, events[-1].at if resumed else 0)
        self._waiting: deque[tuple[Event, Future[None] | None]] = deque()
        self._pumping = False
        self._phase = ""
        self._begun = False
        self._input_ended = False
        self._was_over = False
        self._finish: Finish | None = None
        self._over = asyncio.Event()
        self.link = Link(ledger, self.clock, lambda said: self._delivery.waits_for(said))
        self._engineer = Engineer(sheet, worked, given, screen, self.clock, self._figures_changed)
        self._trace = Trace()
        self._delivery = Delivery(
            screen,
            voice if speaks else None,
            self.clock,
            self._trace,
            make_ready=self._make_ready,
            explain=self._engineer.explain,
            said=self.said,
            after=self._delivered,
            hears=self.link.hears,
        )
        self._instruments = Instruments(self.post, self._engineer.follow, self.clock.set_timer)
        self.pilot = Pilot(
            program.style,
            screen,
            voice,
            self.clock,
            self._trace,
            delivery=self._delivery,
            instruments=self._instruments,
            engineer=self._engineer,
            link=self.link,
            state=lambda: self._state,
            post=self.post,
        )
        self._scripted: Scripted | None = None
        if script is not None:
            self._scripted = Scripted(script, self.clock, self.pilot.typed, self.input_ended)
        screen.on_key = self.pilot.key
        screen.on_text = self.pilot.typed
        screen.on_chart = self._engineer.chart

    @property
    def state(self) -> State:
        """The run as it stands."""
        return self._state

    @property
    def fed(self) -> bool:
        """Whether readings come; the simulator's clock then carries the flight on."""
        return self._delivery.fed

    @fed.setter
    def fed(self, fed: bool) -> None:
        self._delivery.fed = fed

    @property
    def begun(self) -> bool:
        """Whether the flight has taken in the run so far and takes what comes now."""
        return self._begun

    @property
    def was_over(self) -> bool:
        """Whether the run that was resumed had come to its end already."""
        return self._was_over

    @property
    def finish(self) -> Finish | None:
        """How the run ended, None while it goes on."""
        return self._finish

    @property
    def heard_out(self) -> bool:
        """Whether the run came to its end and nobody of a crew has still to hear of it."""
        return self._finish is not None and not self.link.waits

    async def fly(self) -> int:
        """Run to the end; 0 when complete, 1 when items are open."""
        utterer = asyncio.create_task(self._delivery.run())
        self._begun = True
        if self._resumed:
            # What a crew has ordered while this flight was being put together belongs to it.
            unstored = self._replay(self.link.run_so_far(self._events))
            if self.link.orders:
                if unstored:
                    self._engineer.change(unstored)
                self.post(Resumed(self.clock.now()))
            elif self._was_over:
                self._finish = Finish(self._state.complete, self._state.left_open)
                self._over.set()
            else:
                self._catch_up()
            self.link.begun()
        else:
            self.post(self._events[0])
        if self._people and self._people != self._state.crew:
            self.post(CrewChanged(self.clock.now(), self._people, together=True))
        screen = asyncio.create_task(self._screen.run())
        over = asyncio.create_task(self._over.wait())
        try:
            await asyncio.wait({screen, over, utterer}, return_when=asyncio.FIRST_COMPLETED)
            if self._finish is None and self.link.alone:
                self.post(Paused(self.clock.now()))
            if utterer.done():
                await utterer
            self._screen.stop()
            await screen
        finally:
            utterer.cancel()
            over.cancel()
            if self._finish is not None:
                await self.record.finish(self._finish.complete)
        return 0 if self._finish is not None and self._finish.complete else 1

    def _replay(self, events: Sequence[Event]) -> Mapping[str, float | str]:
        """Go to where the events lead; gives the inputs whose new figures were not stored."""
        there = replayed(self._program, events)
        self._state = there.state
        self.record.holds(len(events))
        self.pilot.window = there.window
        if events and not self.link.alone:
            self._engineer.take(there.given)
        self._was_over = self._state.finished
        return there.unstored

    def interrupt(self) -> None:
        """The program was told to stop: note it and end; the run can be resumed."""
        if self._finish is None and self.link.alone:
            self.post(Paused(self.clock.now()))
        self._over.set()

    def post(self, event: Event) -> None:
        """Take an event in: step, store, and carry out its effects; in a crew, have it
        ordered first."""
        if not self.link.proposes(event):
            self._waiting.append((event, None))
            self._pump()

    def ordered(self, event: Event, counts: Future[None], own: bool) -> None:
        """The crew's next event; what comes of it is said when it ``counts``. ``own``: this
        machine proposed it. Before the flight begins the ledger keeps it."""
        if not self._begun:
            return
        if isinstance(event, FiguresChanged) and not own:
            self._engineer.take(dict(event.given))
        self._waiting.append((event, counts))
        self._pump()
        if self._finish is not None:
            self._end_when_said()

    def _catch_up(self) -> None:
        """Come into a crew's run that goes on: listen, and say what is asked."""
        self._show()
        self.pilot.listen()
        if self._state.prompt:
            self.announce(self._state.prompt)

    def rewind(self, events: Sequence[Event]) -> None:
        """The crew's run is these events, none of the others."""
        self._delivery.hush()
        self._forget_said()
        self.pilot.shut()
        self._finish = None
        self._replay(events)
        self._show()

    def _forget_said(self) -> None:
        """Nobody tells any more when what has been said until now was spoken."""
        for utterance in self.link.forget_said():
            self._delivery.ended(utterance)

    def announce(self, text: str, trouble: bool = False) -> None:
        """Say and show something that is no event of the run: the link's state."""
        self._delivery.announce(text, trouble)

    def note(self, text: str) -> None:
        """Show something that is no event of the run."""
        self._screen.note(text, "advice")

    def _pump(self) -> None:
        if self._pumping:
            return
        self._pumping = True
        try:
            while self._waiting:
                self._take(*self._waiting.popleft())
        finally:
            self._pumping = False
        self._show()
        if self.link.orders or self.fed:
            self._instruments.look(self._state, self.clock.now())
        asyncio.get_running_loop().call_soon(self.feed)

    def _show(self) -> None:
        view = look(self._state)
        if view.phase != self._phase:
            self._phase = view.phase
            if view.figures:
                name = next((p.name for p in view.phases if p.id == view.phase), view.phase)
                figures = ", ".join(f"{figure.title} {figure.text}" for figure in view.figures)
                self._delivery.put(None, Note(f"{name}: {figures}", "card"))
        self._screen.show(self.link.shown(view))

    def read(self, at: float, values: Mapping[str, float]) -> None:
        """Readings came from the simulator; on a virtual clock ``at`` is its second and time
        goes on to it."""
        if isinstance(self.clock, FastClock):
            self.clock.spend(max(0, round(at * 1000) - self.clock.now()))
        self._instruments.read(self._state, self.clock.now(), values)

    def feed_changed(self, state: str) -> None:
        """The feed was lost or is back, or the simulator stands still."""
        self._instruments.changed(state, self.clock.now())

    def feed_ended(self) -> None:
        """The source of readings is at its end; the run goes on by voice and keys."""
        self.fed = False
        self.feed()

    async def settled(self) -> None:
        """Wait until everything that came of the last reading has been carried out."""
        await asyncio.sleep(0)
        while self._delivery.busy or self._waiting:
            await asyncio.sleep(0)

    def trouble(self, text: str) -> None:
        """A trouble of what flies with this run, in one line."""
        self._screen.trouble(text)

    def over(self, text: str) -> None:
        """That trouble is over."""
        self._screen.over(text)

    def link_changed(self) -> None:
        """What the link says of itself, or has to hear, has changed though the run has not."""
        self.pilot.listen()
        if self._begun and not self._pumping:
            self._show()

    def said(self, utterance: int, completed: bool) -> None:
        """The voice has ended an utterance."""
        self._trace.mark("ended", utterance=utterance, completed=completed)
        if self._delivery.ended(utterance):
            if self.link.tells_the_end(utterance):
                self.post(Said(self.clock.now(), utterance, completed))
            if self._finish is not None:
                self._end_when_said()

    def input_ended(self) -> None:
        """No answer can come any more: a sound file or a script is at its end."""
        if not self._input_ended:
            self._input_ended = True
            if self.link.alone:
                self.post(InputEnded(self.clock.now()))

    def speaking(self, utterance: int) -> None:
        """The first sample of an utterance has gone to the loudspeaker."""
        self._trace.mark("speaking", utterance=utterance)

    def ready(self, capabilities: Mapping[str, object]) -> None:
        """The voice would hear an answer now."""
        self._trace.mark("ready")
        for limit in cast("Sequence[str]", capabilities.get("limits", ())):
            self._screen.note(limit, "advice")

    def _on_timer(self, name: str, at: int) -> None:
        kind, _, rest = name.partition(" ")
        if kind == LOOK:
            self._instruments.look(self._state, at)
            return
        if kind == SAID:
            self._delivery.spoken(int(rest))
            return
        if not self.link.keeps(name):
            self.post(TimerFired(at, name))

    def _take(self, event: Event, counts: Future[None] | None) -> None:
        if self._finish is not None and not isinstance(event, Said):
            return
        self._state, effects = step(self._state, event)
        if isinstance(event, Said):
            self.link.told(event.utterance)
            self._delivery.ended(event.utterance)
        elif isinstance(event, Resumed):
            self._forget_said()
        committed = self.record.store(event) if self.link.alone else counts
        speaks = any(isinstance(effect, Say) for effect in effects)
        for effect in effects:
            self._carry_out(effect, committed, speaks)

    def _carry_out(self, effect: Effect, committed: Future[None] | None, speaks: bool) -> None:
        """Carry out one effect; where its step ``speaks``, the voice is told to do so before
        it makes the next phrases and the next window's grammar ready."""
        match effect:
            case Say():
                self.link.to_be_said(effect)
                self._delivery.put(committed, effect)
            case Tone() | Note() | Explain():
                self._delivery.put(committed, effect)
            case Hush():
                self._hush()
            case Prepare():
                self._in_turn(effect, speaks)
            case Listen():
                self.pilot.window = effect
                self._in_turn(effect, speaks)
            case CloseWindow(window):
                self.pilot.close(window)
            case SetTimer(timer, after):
                if self._scripted is not None:
                    self._scripted.silence_is_over()
                self.link.timer_is_over(timer)
                self.clock.set_timer(timer, after)
            case CancelTimer(timer):
                self.link.timer_is_over(timer)
                self.clock.cancel_timer(timer)
            case SetInput(name, value):
                if self.link.orders:
                    self._engineer.change({name: value})
            case Finish():
                self._finish = effect
                self._delivery.put(committed, effect)

    def _in_turn(self, effect: Prepare | Listen, speaks: bool) -> None:
        if self.link.urged:
            # What is said may wait for who is not heard; to go on alone must be heard now.
            self._make_ready(effect)
            if speaks and isinstance(effect, Listen):
                self._delivery.put(None, effect)
        elif speaks:
            self._delivery.put(None, effect)
        else:
            self._make_ready(effect)

    def _make_ready(self, effect: Prepare | Listen) -> None:
        if isinstance(effect, Prepare):
            if self._voice is not None and self._speaks:
                self._voice.prepare(effect.speeches)
        elif effect is self.pilot.window:
            self.pilot.listen()

    def _figures_changed(self, event: FiguresChanged) -> None:
        if self._pumping and self.link.alone:
            # The figures of an answer come before whatever else it brought about.
            self._waiting.appendleft((event, None))
        else:
            self.post(event)

    def _hush(self) -> None:
        now = self.clock.now()
        for utterance in self._delivery.hush():
            if self.link.tells_the_end(utterance):
                self.post(Said(now, utterance, False))

    def _delivered(self) -> None:
        if self._finish is not None:
            self._end_when_said()
        self.feed()

    def _end_when_said(self) -> None:
        said = not self._delivery.busy and not self._delivery.speaking and not self.link.waits
        if said and not self._stays:
            self._over.set()

    def feed(self) -> None:
        """Give the next scripted answer, once everything asked so far has been said."""
        if self._scripted is None or not self._begun or self._input_ended:
            return
        busy = self._delivery.busy or self._delivery.speaking or self._waiting
        if (busy and not self.link.urged) or self._finish is not None:
            return
        if self.fed and self._instruments.answers(self._state):
            return
        self._scripted.go_on(self._state, self.pilot.window is not None, self.fed)
