"""A flight: the one place where engine, voice, screen and logbook meet.

The engine's effects are carried out here and what comes of them goes back as events.
Latency and durability are this file's care: what is likely to be said is prepared while
the pilot still answers; an event is committed while the loudspeaker is being woken; what
is said (and printed) because of an event waits for its commit, and nothing else does.
"""

from __future__ import annotations

import asyncio
import re
import time
from collections import deque
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Future
from dataclasses import replace
from sqlite3 import Connection
from typing import cast, get_args

from runner.clock import Clock, FastClock, RealClock
from runner.delivery import MILLISECONDS_A_WORD, SAID, Delivery
from runner.engine.crewing import ANSWERS
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
    Heard,
    InputEnded,
    KeyAction,
    Keyed,
    Member,
    Paused,
    Proposal,
    Resumed,
    RunStarted,
    Said,
    TimerFired,
    Verdict,
)
from runner.engine.looking import look
from runner.engine.program import Program
from runner.engine.state import State
from runner.engine.step import initial_state, step
from runner.engine.turns import by_name, whose
from runner.engineer import Engineer, Given
from runner.errors import RunnerError
from runner.figures.sheet import Sheet, Worked
from runner.instruments import LOOK, Instruments
from runner.logbook.store import Logbook
from runner.stations import Ledger, Screen, Voice
from runner.trace import Trace
from runner.voice.judge import judge
from runner.voice.script import Script
from runner.voice.text import propose_text

UNASKED = "nothing counts now; answer again when it is asked"
"""What is said of an answer that comes before its question."""


class Flight:
    """One run from its first event to its end.

    ``events`` are those stored so far: one for a new run, all of them for a ``resumed``
    one. ``voice`` is None where nothing is spoken aloud and no microphone listens;
    ``script`` gives typed answers; ``given`` are the inputs given, in the aircraft's units,
    and ``worked`` is the sheet worked out for them.
    ``ledger`` is the link to the machines of a crew: it then stores the events.
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
        self._engineer = Engineer(sheet, worked, given)
        self._program = program
        self._style = program.style
        self._screen = screen
        self._voice = voice
        self._speaks = speaks
        self._stays = stays
        self._people = people
        self._script = script
        self._logbook = logbook
        self._ledger = ledger
        self._overdue: set[str] = set()
        self._to: dict[int, Say] = {}
        self._run = run
        self._state: State = initial_state(program)
        self._number = 0
        clock_type: type[FastClock] | type[RealClock] = FastClock if fast else RealClock
        self.clock: Clock = clock_type(self._on_timer, events[-1].at if resumed else 0)
        self._waiting: deque[tuple[Event, Future[None] | None]] = deque()
        self._pumping = False
        self._window: Listen | None = None
        self._silence = False
        self._phase = ""
        self._talking = False
        self._begun = False
        self._input_ended = False
        self._was_over = False
        self._finish: Finish | None = None
        self._over = asyncio.Event()
        self._trace = Trace()
        self._delivery = Delivery(
            screen,
            voice if speaks else None,
            self.clock,
            self._trace,
            make_ready=self._make_ready,
            explain=self._explain,
            said=self.said,
            after=self._delivered,
            hears=ledger.hears if ledger is not None else lambda _: True,
        )
        self._instruments = Instruments(self.post, self._follow, self.clock.set_timer)
        self._awaited = ""
        screen.on_key = self.key
        screen.on_text = self.hear_text
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
        return self._finish is not None and not self._to

    async def fly(self) -> int:
        """Run to the end; 0 when complete, 1 when items are open."""
        utterer = asyncio.create_task(self._delivery.run())
        self._begun = True
        if self._resumed:
            # What a crew has ordered while this flight was being put together belongs to it.
            events = self._events if self._ledger is None else self._ledger.events
            unstored = self._replay(events)
            if self._ledger is None or self._ledger.orders:
                if unstored:
                    self._change(unstored)
                self.post(Resumed(self.clock.now()))
            elif self._was_over:
                self._finish = Finish(self._state.complete, self._state.left_open)
                self._over.set()
            else:
                self._catch_up()
            if self._ledger is not None:
                self._ledger.begun()
        else:
            self.post(self._events[0])
        if self._people and self._people != self._state.crew:
            self.post(CrewChanged(self.clock.now(), self._people, together=True))
        screen = asyncio.create_task(self._screen.run())
        over = asyncio.create_task(self._over.wait())
        try:
            await asyncio.wait({screen, over, utterer}, return_when=asyncio.FIRST_COMPLETED)
            if self._finish is None and self._ledger is None:
                self.post(Paused(self.clock.now()))
            if utterer.done():
                await utterer
            self._screen.stop()
            await screen
        finally:
            utterer.cancel()
            over.cancel()
            if self._logbook is not None and self._run is not None and self._finish is not None:
                how = "complete" if self._finish.complete else "open"
                await asyncio.wrap_future(self._logbook.finish(self._run, how))
        return 0 if self._finish is not None and self._finish.complete else 1

    def _replay(self, events: Sequence[Event]) -> dict[str, float | str]:
        """Step through the stored events; gives the inputs whose new figures were not stored.

        An answer that gives an input and the figures that come of it are two events: where
        the run stopped between them, the sheet has still to be worked out again.
        """
        unstored: dict[str, float | str] = {}
        for event in events:
            if isinstance(event, FiguresChanged):
                unstored.clear()
            self._state, effects = step(self._state, event)
            unstored.update((e.name, e.value) for e in effects if isinstance(e, SetInput))
            self._window = next((e for e in effects if isinstance(e, Listen)), self._window)
            self._number += 1
        if not self._state.listening:
            self._window = None
        if self._ledger is not None:
            for event in reversed(events):
                if isinstance(event, RunStarted | FiguresChanged):
                    self._engineer.take(dict(event.given))
                    break
        self._was_over = self._state.finished
        return unstored

    def interrupt(self) -> None:
        """The program was told to stop: note it and end; the run can be resumed."""
        if self._finish is None and self._ledger is None:
            self.post(Paused(self.clock.now()))
        self._over.set()

    def post(self, event: Event) -> None:
        """Take an event in: step, store, and carry out its effects; in a crew, have it
        ordered first."""
        if self._ledger is not None:
            self._ledger.propose(event)
            return
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
        if self._window is not None and self._state.listening:
            self._make_ready(self._window)
        if self._state.prompt:
            self.announce(self._state.prompt)

    def rewind(self, events: Sequence[Event]) -> None:
        """The crew's run is these events, none of the others."""
        self._delivery.hush()
        self._forget_said()
        if self._voice is not None and self._window is not None:
            self._voice.close(self._window.window)
        self._window = None
        self._state = initial_state(self._program)
        self._finish = None
        self._replay(events)
        self._show()

    def _forget_said(self) -> None:
        """Nobody tells any more when what has been said until now was spoken."""
        for utterance in self._to:
            self._delivery.ended(utterance)
        self._to.clear()

    def take_order(self) -> None:
        """This machine orders the crew's events from now on, and runs the timers."""
        for name in sorted(self._overdue):
            self.post(TimerFired(self.clock.now(), name))
        self._overdue.clear()
        for utterance, say in tuple(self._to.items()):
            untold = self._ledger is not None and self._ledger.tells_the_end(say)
            if untold and not self._delivery.waits_for(utterance):
                self.post(Said(self.clock.now(), utterance, False))

    def unheard(self, member: str) -> None:
        """Who was to hear something is not there: nobody waits for its end."""
        for utterance, say in tuple(self._to.items()):
            if member in say.to:
                self.post(Said(self.clock.now(), utterance, False))

    def note_in_logbook(self, work: Callable[[Connection], None]) -> Future[None] | None:
        """Have some other work done in the logbook."""
        if self._logbook is None:
            return None
        return self._logbook.write(work)

    def announce(self, text: str, trouble: bool = False) -> None:
        """Say and show something that is no event of the run: the link's state."""
        self._delivery.announce(text, trouble)

    def note(self, text: str) -> None:
        """Show something that is no event of the run."""
        self._screen.note(text, "advice")

    def listen_anew(self) -> None:
        """What can be said has changed though the question has not."""
        if self._window is not None and self._voice is not None:
            self._voice.listen(self._with_phrases(self._window))

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
        if self._ledger is None or self._ledger.orders or self.fed:
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
        if self._ledger is not None:
            view = replace(view, link=self._ledger.status)
        self._screen.show(view)

    def key(self, action: KeyAction, argument: str = "", argument2: str = "") -> None:
        """A key or a button; ``set`` gives an input a new value (``argument2`` as written),
        ``why`` shows the working of the figure ``argument``, or of the current item's."""
        if action == "set":
            try:
                self._change(self._engineer.read(argument, argument2))
            except RunnerError as error:
                self._screen.trouble(str(error))
            return
        if action in ("continue_alone", "take_over"):
            if self._ledger is None or not self._ledger.spoken_for_us(f"link:{action}"):
                self._screen.trouble(f"{action.replace('_', ' ')}: makes no sense now")
            return
        if action == "why" and argument:
            self._explain(argument)
            return
        if self._unasked and action in ANSWERS:
            self._screen.trouble(UNASKED)
            return
        self.post(Keyed(self.clock.now(), action, argument, argument2, whose(self._state)))

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

    def _follow(self, changes: Mapping[str, float]) -> None:
        self._change(changes, followed=True)

    def hear_text(self, text: str) -> None:
        """An answer typed, or read from a script, judged like one that was heard."""
        member, text = by_name(self._state, text)
        began = self.clock.now()
        if not self.fed:
            self.clock.spend(MILLISECONDS_A_WORD * len(text.split()))
        window = self._with_phrases(self._window or Listen(0, ()))
        proposals = propose_text(text, window, self._style)
        verdict = judge(proposals, window)
        if self._for_the_link(verdict):
            return
        if self._window is None:
            self._screen.trouble("nothing is being asked now")
            return
        if self._unasked:
            self._screen.trouble(UNASKED)
            return
        now = self.clock.now()
        shown = self._instruments.for_item(self._state)
        self._post_heard(
            Heard(now, window.window, began, now, tuple(proposals), verdict, shown, member)
        )

    def heard(
        self,
        window: int,
        began: float,
        ended: float,
        proposals: Sequence[Proposal],
        verdict: Verdict,
        member: str = "",
    ) -> None:
        """The voice heard an utterance; times are ``time.monotonic()`` seconds.

        ``member`` is whose microphone it was, where several at this machine have one each.
        """
        self._trace.mark("heard", ended=ended, window=window)
        if self._for_the_link(verdict):
            return
        if self._unasked and self._window is not None and window == self._window.window:
            self._screen.trouble(UNASKED)
            return
        now = self.clock.now()
        behind = time.monotonic()
        first, last = (max(0, now - round((behind - t) * 1000)) for t in (began, ended))
        shown = self._instruments.for_item(self._state)
        self._post_heard(Heard(now, window, first, last, tuple(proposals), verdict, shown, member))

    def _post_heard(self, event: Heard) -> None:
        """Take in what was heard, as the words of whom it is asked of where nobody is named."""
        if not event.member:
            event = replace(event, member=whose(self._state, event.verdict.candidate or ""))
        self.post(event)

    def said(self, utterance: int, completed: bool) -> None:
        """The voice has ended an utterance."""
        self._trace.mark("ended", utterance=utterance, completed=completed)
        if self._delivery.ended(utterance):
            say = self._to.get(utterance)
            if self._ledger is None or (say is not None and self._ledger.tells_the_end(say)):
                self.post(Said(self.clock.now(), utterance, completed))
            if self._finish is not None:
                self._end_when_said()

    def input_ended(self) -> None:
        """No answer can come any more: a sound file or a script is at its end."""
        if not self._input_ended:
            self._input_ended = True
            if self._ledger is not None:
                return
            self.post(InputEnded(self.clock.now()))

    def speaking(self, utterance: int) -> None:
        """The first sample of an utterance has gone to the loudspeaker."""
        self._trace.mark("speaking", utterance=utterance)

    def ready(self, capabilities: Mapping[str, object]) -> None:
        """The voice would hear an answer now."""
        self._trace.mark("ready")
        for limit in cast("Sequence[str]", capabilities.get("limits", ())):
            self._screen.note(limit, "advice")

    def button(self, name: str, pressed: bool) -> None:
        """A controller's button; push-to-talk is the voice's own affair."""
        if pressed and name in get_args(KeyAction):
            self.key(cast(KeyAction, name))

    def talk(self) -> None:
        """The talk key, which a terminal sees go down and never up, so it toggles."""
        if self._voice is not None:
            self._talking = not self._talking
            self._voice.push_to_talk(self._talking)

    def _on_timer(self, name: str, at: int) -> None:
        kind, _, rest = name.partition(" ")
        if kind == LOOK:
            self._instruments.look(self._state, at)
            return
        if kind == SAID:
            self._delivery.spoken(int(rest))
            return
        if self._ledger is not None and not self._ledger.orders:
            self._overdue.add(name)
            return
        self.post(TimerFired(at, name))

    def _take(self, event: Event, counts: Future[None] | None) -> None:
        if self._finish is not None and not isinstance(event, Said):
            return
        self._state, effects = step(self._state, event)
        committed = counts
        if isinstance(event, Said):
            self._to.pop(event.utterance, None)
            self._delivery.ended(event.utterance)
        elif isinstance(event, Resumed):
            self._forget_said()
        if self._ledger is None and self._logbook is not None and self._run is not None:
            if self._number:
                committed = self._logbook.append(self._run, self._number, event)
            self._number += 1
        speaks = any(isinstance(effect, Say) for effect in effects)
        for effect in effects:
            self._carry_out(effect, committed, speaks)

    def _carry_out(self, effect: Effect, committed: Future[None] | None, speaks: bool) -> None:
        """Carry out one effect; where its step ``speaks``, the voice is told to do so before
        it makes the next phrases and the next window's grammar ready."""
        match effect:
            case Say() if self._ledger is not None:
                self._to[effect.utterance] = effect
                self._delivery.put(committed, effect)
            case Say() | Tone() | Note() | Explain():
                self._delivery.put(committed, effect)
            case Hush():
                self._hush()
            case Prepare():
                self._in_turn(effect, speaks)
            case Listen():
                self._window = effect
                self._in_turn(effect, speaks)
            case CloseWindow(window):
                if self._window is not None and self._window.window <= window:
                    self._window = None
                if self._voice is not None:
                    self._voice.close(window)
            case SetTimer(timer, after):
                self._silence = False
                self._overdue.discard(timer)
                self.clock.set_timer(timer, after)
            case CancelTimer(timer):
                self._overdue.discard(timer)
                self.clock.cancel_timer(timer)
            case SetInput(name, value):
                if self._ledger is None or self._ledger.orders:
                    self._change({name: value})
            case Finish():
                self._finish = effect
                self._delivery.put(committed, effect)

    def _in_turn(self, effect: Prepare | Listen, speaks: bool) -> None:
        if self._ledger is not None and self._ledger.urged:
            # What is said may wait for who is not heard; to go on alone must be heard now.
            self._make_ready(effect)
            if speaks and isinstance(effect, Listen):
                self._delivery.put(None, effect)
        elif speaks:
            self._delivery.put(None, effect)
        else:
            self._make_ready(effect)

    def _make_ready(self, effect: Prepare | Listen) -> None:
        if self._voice is None:
            return
        if isinstance(effect, Prepare):
            if self._speaks:
                self._voice.prepare(effect.speeches)
        elif effect is self._window:
            self._voice.listen(self._with_phrases(effect))

    @property
    def _unasked(self) -> bool:
        """Whether a crew's question has not been put yet: what is asked waits until it counts.

        Whoever answers then means the question before it.
        """
        return self._ledger is not None and self._delivery.unsaid

    def _with_phrases(self, listen: Listen) -> Listen:
        """The window with what is the link's to hear; only that before the question is put."""
        if self._ledger is None or not self._ledger.phrases:
            return listen
        if self._unasked:
            return Listen(listen.window, self._ledger.phrases)
        return replace(listen, candidates=(*listen.candidates, *self._ledger.phrases))

    def _for_the_link(self, verdict: Verdict) -> bool:
        return (
            self._ledger is not None
            and verdict.decision == "accept"
            and self._ledger.spoken_for_us(verdict.candidate or "")
        )

    def _change(self, changes: Given, followed: bool = False) -> None:
        event, problems = self._engineer.change(changes, self.clock.now(), followed)
        if event is None:
            return
        if self._pumping and self._ledger is None:
            self._waiting.appendleft((event, None))
        else:
            self.post(event)
        for problem in problems:
            self._screen.trouble(problem)

    def _explain(self, figure: str) -> None:
        try:
            lines = self._engineer.why(figure)
        except RunnerError as error:
            self._screen.trouble(str(error))
            return
        for line in lines:
            self._screen.note(line, "figures")

    def _hush(self) -> None:
        now = self.clock.now()
        cut = self._delivery.hush()
        if self._ledger is None:
            self._waiting += ((Said(now, utterance, False), None) for utterance in cut)
            return
        for utterance in cut:
            say = self._to.get(utterance)
            if say is not None and self._ledger.tells_the_end(say):
                self.post(Said(now, utterance, False))

    def _delivered(self) -> None:
        if self._finish is not None:
            self._end_when_said()
        self.feed()

    def _end_when_said(self) -> None:
        said = not self._delivery.busy and not self._delivery.speaking and not self._to
        if said and not self._stays:
            self._over.set()

    def feed(self) -> None:
        """Give the next scripted answer, once everything asked so far has been said."""
        if self._script is None or not self._begun or self._input_ended or self._silence:
            return
        urged = self._ledger is not None and self._ledger.urged
        busy = not urged and (self._delivery.busy or self._delivery.speaking or self._waiting)
        if busy or self._finish is not None:
            return
        if self.fed and self._instruments.answers(self._state):
            return
        if self._awaited and self.fed and not self._has_come(self._awaited):
            return
        self._awaited = ""
        if self._window is None:
            if self.fed:
                return
            if not self.clock.skip_to_timer() and self._script.next_line() is None:
                self._end_of_script()
            return
        line = self._script.next_line()
        if line and line.startswith("(") and line.endswith(")"):
            self._awaited = line[1:-1]
            self.feed()
        elif line is None:
            self._end_of_script()
        elif line:
            self.hear_text(self._with_figures(line))
        else:
            self._silence = self.fed or not self.clock.skip_to_timer()

    def _has_come(self, name: str) -> bool:
        """Whether a moment came or a callout was said that a script waits for."""
        return name in self._state.reached or name in self._state.called_out

    def _with_figures(self, line: str) -> str:
        """A script's line with the figures of now where it names them: <climb_rpm>."""
        figures = self._state.figures
        return re.sub(r"<(\w+)>", lambda m: figures[m[1]].shown if m[1] in figures else m[0], line)

    def _end_of_script(self) -> None:
        if self._script is not None and self._script.ended:
            self.input_ended()
