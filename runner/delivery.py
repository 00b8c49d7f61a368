"""What a run has to say and to show, one after another, each after the commit of its event."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from concurrent.futures import Future

from runner.clock import Clock, FastClock
from runner.engine.effects import Effect, Explain, Listen, Note, Prepare, Say, Tone
from runner.stations import Screen, Voice
from runner.trace import Trace

SAID = "said"
"""The timer at whose end an utterance has been spoken, where the simulator's clock runs."""

MILLISECONDS_A_WORD = 365
"""A word spoken at 165 words a minute: what a virtual clock spends on it."""


class Delivery:
    """A queue of effects and whoever carries them out.

    ``voice`` is None where nothing is spoken aloud. ``make_ready`` is given what is to be
    prepared or listened for in its turn, ``explain`` a figure whose working is asked for,
    ``said`` the end of an utterance that a virtual clock has spoken, and ``after`` is called
    when an effect has been carried out; ``hears`` tells whether this machine speaks it.
    """

    def __init__(
        self,
        screen: Screen,
        voice: Voice | None,
        clock: Clock,
        trace: Trace,
        *,
        make_ready: Callable[[Prepare | Listen], None],
        explain: Callable[[str], None],
        said: Callable[[int, bool], None],
        after: Callable[[], None],
        hears: Callable[[Say], bool] = lambda _: True,
    ) -> None:
        self._screen = screen
        self._voice = voice
        self._clock = clock
        self._trace = trace
        self._make_ready = make_ready
        self._explain = explain
        self._said = said
        self._after = after
        self._hears = hears
        self._queue: asyncio.Queue[tuple[Future[None] | None, Effect]] = asyncio.Queue()
        self._carrying_out = False
        self._outstanding: set[int] = set()
        self._unsaid: set[int] = set()
        self._silent_from = 0
        self._spoken: list[int] = []
        self.fed = False
        """Whether the simulator's clock carries the flight on while something is said."""

    @property
    def busy(self) -> bool:
        """Whether anything waits for its turn or is being carried out."""
        return self._carrying_out or not self._queue.empty()

    @property
    def speaking(self) -> bool:
        """Whether an utterance has not come to its end."""
        return bool(self._outstanding)

    def waits_for(self, utterance: int) -> bool:
        """Whether that utterance has not come to its end here."""
        return utterance in self._outstanding

    @property
    def unsaid(self) -> bool:
        """Whether something that is to be said has not begun to be."""
        return bool(self._unsaid)

    def put(self, committed: Future[None] | None, effect: Effect) -> None:
        """Put an effect into the queue; it waits for ``committed``."""
        if isinstance(effect, Say):
            self._outstanding.add(effect.utterance)
            self._unsaid.add(effect.utterance)
        self._queue.put_nowait((committed, effect))

    def announce(self, text: str, trouble: bool) -> None:
        """Show and speak a line that nobody waits for."""
        if trouble:
            self._screen.trouble(text, anew=True)
        else:
            self._screen.said(text)
        if self._voice is not None:
            self._voice.say(0, text, "urgent")

    def ended(self, utterance: int) -> bool:
        """An utterance came to its end; whether it was waited for."""
        if utterance not in self._outstanding:
            return False
        self._outstanding.discard(utterance)
        return True

    def hush(self) -> tuple[int, ...]:
        """Stop speaking; gives the utterances that were not begun or that no device speaks."""
        kept: list[tuple[Future[None] | None, Effect]] = []
        cut: list[int] = []
        while not self._queue.empty():
            entry = self._queue.get_nowait()
            if isinstance(entry[1], Say):
                cut.append(entry[1].utterance)
                self._unsaid.discard(entry[1].utterance)
            else:
                kept.append(entry)
        for entry in kept:
            self._queue.put_nowait(entry)
        for utterance in self._spoken:
            self._clock.cancel_timer(f"{SAID} {utterance}")
            cut.append(utterance)
        self._spoken.clear()
        self._silent_from = 0
        self._outstanding.difference_update(cut)
        if self._voice is not None:
            self._voice.hush()
        return tuple(cut)

    def spoken(self, utterance: int) -> None:
        """The simulator's clock has come to the end of an utterance."""
        self._spoken.remove(utterance)
        self._said(utterance, True)

    async def run(self) -> None:
        """Carry out what comes, until cancelled."""
        while True:
            committed, effect = await self._queue.get()
            self._carrying_out = True
            if self._voice is not None and isinstance(effect, Say):
                self._voice.wake()
            counts = committed is None or await _counts(committed)
            if isinstance(effect, Say):
                self._unsaid.discard(effect.utterance)
            if not counts:
                if isinstance(effect, Say):
                    self._outstanding.discard(effect.utterance)
                self._carrying_out = False
                self._after()
                continue
            match effect:
                case Say():
                    self._speak(effect)
                case Tone(name):
                    if self._voice is not None:
                        self._voice.tone(name)
                case Note(text, kind):
                    self._screen.note(text, kind)
                case Explain(figure):
                    self._explain(figure)
                case Prepare() | Listen():
                    self._make_ready(effect)
            self._carrying_out = False
            self._after()

    def _speak(self, effect: Say) -> None:
        self._screen.said(effect.text)
        self._trace.mark("said", utterance=effect.utterance, text=effect.text)
        if effect.utterance not in self._outstanding:
            return
        if not self._hears(effect):
            self._outstanding.discard(effect.utterance)
            return
        if self._voice is not None:
            self._voice.say(effect.utterance, effect.speech, effect.urgency)
            return
        length = MILLISECONDS_A_WORD * len(effect.speech.split())
        if self.fed and isinstance(self._clock, FastClock):
            start = max(self._silent_from, self._clock.now())
            self._silent_from = start + length
            self._spoken.append(effect.utterance)
            after = self._silent_from - self._clock.now()
            self._clock.set_timer(f"{SAID} {effect.utterance}", after)
            return
        self._clock.spend(length)
        self._said(effect.utterance, True)


async def _counts(committed: Future[None]) -> bool:
    """Wait until an event is durable; False where it was given up meanwhile.

    Raises what kept it from being stored.
    """
    if not committed.done():
        await asyncio.wait([asyncio.wrap_future(committed)])
    if committed.cancelled():
        return False
    committed.result()
    return True
