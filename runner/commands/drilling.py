"""A drill carried out: the session's effects to screen, voice and logbook, what comes of them
back as events.

What is said because of an answer waits until the answer is durable, and nothing else does.
"""

from __future__ import annotations

import asyncio
from collections.abc import Mapping, Sequence
from concurrent.futures import Future

from runner.clock import Clock, FastClock, RealClock, moments
from runner.delivery import MILLISECONDS_A_WORD, Delivery
from runner.engine.effects import (
    CancelTimer,
    CloseWindow,
    Finish,
    Hush,
    Listen,
    Note,
    Prepare,
    Say,
    SetTimer,
    Tone,
)
from runner.engine.events import (
    Event,
    Heard,
    InputEnded,
    KeyAction,
    Keyed,
    Paused,
    Proposal,
    Said,
    TimerFired,
    Verdict,
)
from runner.phrasing.style import VoiceStyle
from runner.practice.grading import Graded
from runner.practice.session import Action, Drill
from runner.practice.store import Store
from runner.stations import Screen, Voice
from runner.trace import Trace
from runner.voice.judge import judge
from runner.voice.script import Script
from runner.voice.text import propose_text


class Drilling:
    """One drill under way.

    ``voice`` is None where nothing is spoken aloud and no microphone listens; ``script``
    gives typed answers. With ``stays`` the screen shows the end until the pilot closes it.
    """

    def __init__(
        self,
        drill: Drill,
        *,
        style: VoiceStyle,
        screen: Screen,
        store: Store,
        number: int,
        voice: Voice | None = None,
        speaks: bool = False,
        script: Script | None = None,
        fast: bool = False,
        stays: bool = False,
    ) -> None:
        self._drill = drill
        self._style = style
        self._screen = screen
        self._store = store
        self._number = number
        self._voice = voice
        self._speaks = speaks
        self._script = script
        self._stays = stays
        clock_type: type[FastClock] | type[RealClock] = FastClock if fast else RealClock
        self.clock: Clock = clock_type(self._on_timer)
        self._delivery = Delivery(
            screen,
            voice if speaks else None,
            self.clock,
            Trace(),
            make_ready=self._make_ready,
            explain=lambda _: None,
            said=self.said,
            after=self._delivered,
        )
        self._waiting: list[Event] = []
        self._pumping = False
        self._window: Listen | None = None
        self._silence = False
        self._begun = False
        self._talking = False
        self._over = asyncio.Event()
        screen.on_key = self.key
        screen.on_text = self.hear_text
        screen.on_chart = lambda *_: ("A drill has no pictures.",)

    async def run(self) -> int:
        """Drill to the end; 0 where the session came to its end, 1 where it was stopped."""
        utterer = asyncio.create_task(self._delivery.run())
        self._begun = True
        self._carry_out(self._drill.begin(self.clock.now()))
        self._screen.show(self._drill.view())
        screen = asyncio.create_task(self._screen.run())
        over = asyncio.create_task(self._over.wait())
        try:
            await asyncio.wait({screen, over, utterer}, return_when=asyncio.FIRST_COMPLETED)
            if not self._drill.finished:
                self.post(Paused(self.clock.now()))
            if utterer.done():
                await utterer
            self._screen.stop()
            await screen
        finally:
            utterer.cancel()
            over.cancel()
            ended = self._store.drill_end(self._number)
            if isinstance(ended, Future):
                await asyncio.wrap_future(ended)
        return 0 if self._drill.complete else 1

    def interrupt(self) -> None:
        """The program was told to stop."""
        if not self._drill.finished:
            self.post(Paused(self.clock.now()))
        self._over.set()

    def post(self, event: Event) -> None:
        """Take an event in and carry out what comes of it."""
        self._waiting.append(event)
        if self._pumping:
            return
        self._pumping = True
        try:
            while self._waiting:
                self._carry_out(self._drill.take(self._waiting.pop(0)))
        finally:
            self._pumping = False
        self._screen.show(self._drill.view())
        asyncio.get_running_loop().call_soon(self.feed)

    def key(self, action: KeyAction, argument: str = "", argument2: str = "") -> None:
        """A key or a button. After the end any key that ends closes the screen."""
        if action == "end" and self._drill.finished:
            self._over.set()
        self.post(Keyed(self.clock.now(), action, argument, argument2))

    def hear_text(self, text: str) -> None:
        """An answer typed, or read from a script, judged like one that was heard."""
        window = self._window
        if window is None:
            self._screen.trouble("nothing is being asked now")
            return
        began = self.clock.now()
        self.clock.spend(MILLISECONDS_A_WORD * len(text.split()))
        proposals = propose_text(text, window, self._style)
        verdict = judge(proposals, window)
        self._heard(window.window, began, self.clock.now(), proposals, verdict)

    def heard(
        self,
        window: int,
        began: float,
        ended: float,
        proposals: Sequence[Proposal],
        verdict: Verdict,
    ) -> None:
        """The voice heard an utterance; times are ``time.monotonic()`` seconds."""
        first, last = moments(self.clock, began, ended)
        self._heard(window, first, last, proposals, verdict)

    def _heard(
        self, window: int, began: int, ended: int, proposals: Sequence[Proposal], verdict: Verdict
    ) -> None:
        self.post(Heard(self.clock.now(), window, began, ended, tuple(proposals), verdict))

    def said(self, utterance: int, completed: bool) -> None:
        """The voice has ended an utterance."""
        if self._delivery.ended(utterance):
            self.post(Said(self.clock.now(), utterance, completed))
            self._end_when_said()

    def input_ended(self) -> None:
        """No answer can come any more: a script or a sound file is at its end."""
        if not self._drill.finished:
            self.post(InputEnded(self.clock.now()))

    def ready(self, capabilities: Mapping[str, object]) -> None:
        """The voice would hear an answer now."""
        limits = capabilities.get("limits", ())
        for limit in limits if isinstance(limits, list | tuple) else ():
            self._screen.note(str(limit), "advice")

    def talk(self) -> None:
        """The talk key, which toggles."""
        if self._voice is not None:
            self._talking = not self._talking
            self._voice.push_to_talk(self._talking)

    def _on_timer(self, name: str, at: int) -> None:
        self.post(TimerFired(at, name))

    def _carry_out(self, actions: Sequence[Action]) -> None:
        committed: Future[None] | None = None
        for action in actions:
            match action:
                case Graded():
                    committed = self._keep(action)
                case Say() | Tone() | Note() | Prepare() | Finish():
                    self._delivery.put(committed, action)
                case Hush():
                    self._hush()
                case Listen():
                    self._window = action
                    self._delivery.put(None, action)
                case CloseWindow(window):
                    if self._window is not None and self._window.window <= window:
                        self._window = None
                    if self._voice is not None:
                        self._voice.close(window)
                case SetTimer(timer, after):
                    self._silence = False
                    self.clock.set_timer(timer, after)
                case CancelTimer(timer):
                    self.clock.cancel_timer(timer)

    def _keep(self, graded: Graded) -> Future[None]:
        return self._store.drill_answer(
            self._number,
            graded.card,
            graded.kind,
            graded.rating,
            graded.right,
            graded.answer_ms,
            graded.at,
            graded.heard,
            graded.progress.to_json(),
        )

    def _hush(self) -> None:
        now = self.clock.now()
        self._waiting += (Said(now, utterance, False) for utterance in self._delivery.hush())

    def _make_ready(self, effect: Prepare | Listen) -> None:
        if self._voice is None:
            return
        if isinstance(effect, Prepare):
            if self._speaks:
                self._voice.prepare(effect.speeches)
        elif effect is self._window:
            self._voice.listen(effect)

    def _delivered(self) -> None:
        self._end_when_said()
        self.feed()

    def _busy(self) -> bool:
        return bool(self._delivery.busy or self._delivery.speaking or self._waiting)

    def _end_when_said(self) -> None:
        if self._drill.finished and not self._stays and not self._busy():
            self._over.set()

    def feed(self) -> None:
        """Give the next scripted answer, once everything asked so far has been said."""
        if self._script is None or not self._begun or self._silence or self._drill.finished:
            return
        if self._busy():
            return
        if self._window is None:
            self.clock.skip_to_timer()
            return
        line = self._script.next_line()
        if line is None:
            if self._script.ended:
                self.input_ended()
        elif line:
            self.hear_text(line)
        else:
            self._silence = not self.clock.skip_to_timer()
