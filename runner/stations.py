"""What a flight needs of those who carry it out: a screen, and a voice to speak and hear with."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Literal, Protocol

from runner.engine.effects import Candidate, Listen, Say
from runner.engine.events import Event, KeyAction
from runner.engine.view import View

Urgency = Literal["routine", "prompt", "urgent"]


class Screen(Protocol):
    """What a flight needs of a screen."""

    on_key: Callable[[KeyAction, str, str], None]
    on_text: Callable[[str], None]
    on_talk: Callable[[], None]
    on_chart: Callable[[int, int, int], tuple[str, ...]]

    async def run(self) -> None: ...
    def show(self, view: View) -> None: ...
    def said(self, text: str) -> None: ...
    def note(self, text: str, kind: str) -> None: ...
    def trouble(self, text: str, anew: bool = False) -> None: ...
    def over(self, text: str) -> None: ...
    def level(self, dbfs: float, state: str) -> None: ...
    def stop(self) -> None: ...


class Ledger(Protocol):
    """What a flight of several people needs of the link between their machines: the list of
    events is kept equal on all of them, and one machine orders it."""

    @property
    def orders(self) -> bool:
        """Whether this machine orders the events: it alone runs the timers and the sheet."""
        ...

    @property
    def events(self) -> Sequence[Event]:
        """The run so far."""
        ...

    @property
    def phrases(self) -> tuple[Candidate, ...]:
        """What can be said now that is the link's affair and no event: *crew code*."""
        ...

    @property
    def urged(self) -> bool:
        """Whether the link waits for one of ``phrases``: *continue alone*, *take over*."""
        ...

    @property
    def status(self) -> str:
        """The state of the link, in one line."""
        ...

    def begun(self) -> None:
        """The flight has taken in ``events`` and takes what is ordered from now on."""
        ...

    def propose(self, event: Event) -> None:
        """Have an event ordered; it comes back through ``Flight.ordered``."""
        ...

    def hears(self, say: Say) -> bool:
        """Whether this machine's person must hear it."""
        ...

    def tells_the_end(self, say: Say) -> bool:
        """Whether it is this machine that tells when it was spoken."""
        ...

    def spoken_for_us(self, candidate: str) -> bool:
        """Act on one of ``phrases``, by its id; False where it cannot be said now."""
        ...


class Voice(Protocol):
    """What a flight needs of a voice to speak and listen with (``runner.voice.client``)."""

    def prepare(self, speeches: Sequence[str]) -> None: ...
    def wake(self) -> None: ...
    def say(self, utterance: int, speech: str, urgency: Urgency = "routine") -> None: ...
    def tone(self, name: str) -> None: ...
    def hush(self) -> None: ...
    def listen(self, listen: Listen) -> None: ...
    def close(self, window: int) -> None: ...
    def push_to_talk(self, pressed: bool) -> None: ...
