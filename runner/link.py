"""A flight's end of the link to the other machines of its crew; a flight alone has none.

All that differs between the two is asked here: who runs the timers and works the sheet out,
who tells that something was spoken, who has still to hear it, and what is said to the link.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from runner.clock import Clock
from runner.engine.effects import Listen, Say
from runner.engine.events import Event, Said, TimerFired
from runner.engine.view import View
from runner.stations import Ledger


class Link:
    """What this machine does for its crew. ``ledger`` is None for a flight alone;
    ``waits_for`` tells whether an utterance has not come to its end here."""

    def __init__(
        self, ledger: Ledger | None, clock: Clock, waits_for: Callable[[int], bool]
    ) -> None:
        self._ledger = ledger
        self._clock = clock
        self._waits_for = waits_for
        self._overdue: set[str] = set()
        self._to: dict[int, Say] = {}

    @property
    def alone(self) -> bool:
        """Whether there is no crew at other machines."""
        return self._ledger is None

    @property
    def orders(self) -> bool:
        """Whether this machine runs the timers and works the sheet out; alone, it does."""
        return self._ledger is None or self._ledger.orders

    @property
    def urged(self) -> bool:
        """Whether something is to be said to the link now and cannot wait."""
        return self._ledger is not None and self._ledger.urged

    @property
    def waits(self) -> bool:
        """Whether something was said to a crew of which nobody has told that it was spoken."""
        return bool(self._to)

    def run_so_far(self, stored: Sequence[Event]) -> Sequence[Event]:
        """The events of the run: those ``stored``, in a crew also what was ordered since."""
        return stored if self._ledger is None else self._ledger.events

    def begun(self) -> None:
        """The flight has taken in the run so far and takes what is ordered from now on."""
        if self._ledger is not None:
            self._ledger.begun()

    def proposes(self, event: Event) -> bool:
        """Whether an event has to be ordered by the crew first, which it then is."""
        if self._ledger is None:
            return False
        self._ledger.propose(event)
        return True

    def hears(self, say: Say) -> bool:
        """Whether it is said at this machine."""
        return self._ledger is None or self._ledger.hears(say)

    def shown(self, view: View) -> View:
        """The view with the state of the link."""
        return view if self._ledger is None else replace(view, link=self._ledger.status)

    def with_phrases(self, listen: Listen, unasked: bool) -> Listen:
        """The window with what is the link's to hear; only that while it is ``unasked``."""
        if self._ledger is None or not self._ledger.phrases:
            return listen
        if unasked:
            return Listen(listen.window, self._ledger.phrases)
        return replace(listen, candidates=(*listen.candidates, *self._ledger.phrases))

    def takes(self, candidate: str) -> bool:
        """Whether a candidate, by its id, was said to the link, which has acted on it."""
        return self._ledger is not None and self._ledger.spoken_for_us(candidate)

    def to_be_said(self, say: Say) -> None:
        """This is said to the crew: somebody has to tell when it was spoken."""
        if self._ledger is not None:
            self._to[say.utterance] = say

    def told(self, utterance: int) -> None:
        """It was told that this was spoken."""
        self._to.pop(utterance, None)

    def forget_said(self) -> tuple[int, ...]:
        """Nobody tells any more when these were spoken."""
        forgotten = tuple(self._to)
        self._to.clear()
        return forgotten

    def tells_the_end(self, utterance: int) -> bool:
        """Whether it is this machine that tells when it was spoken; alone, it is."""
        if self._ledger is None:
            return True
        say = self._to.get(utterance)
        return say is not None and self._ledger.tells_the_end(say)

    def keeps(self, timer: str) -> bool:
        """Whether a timer that fired is for another machine to tell; it is kept until then."""
        if not self.orders:
            self._overdue.add(timer)
            return True
        return False

    def timer_is_over(self, timer: str) -> None:
        """The run does not wait for this timer any more."""
        self._overdue.discard(timer)

    def take_order(self) -> None:
        """This machine orders from now on: it tells of the timers that have fired meanwhile, and
        of what nobody else tells the end of."""
        if self._ledger is None:
            return
        for name in sorted(self._overdue):
            self._ledger.propose(TimerFired(self._clock.now(), name))
        self._overdue.clear()
        for utterance in tuple(self._to):
            if self.tells_the_end(utterance) and not self._waits_for(utterance):
                self._ledger.propose(Said(self._clock.now(), utterance, False))

    def unheard(self, member: str) -> None:
        """Who was to hear something is not there: nobody waits for its end."""
        if self._ledger is None:
            return
        for utterance, say in tuple(self._to.items()):
            if member in say.to:
                self._ledger.propose(Said(self._clock.now(), utterance, False))
