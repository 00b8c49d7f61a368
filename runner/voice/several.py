"""Several microphones for one run, each somebody's: one process speaks, and each hears its own.

Who sit side by side are heard by each other's microphones too. So of what two of them heard at
the same time only what came to its microphone loudest is taken, as that person's.
"""

from __future__ import annotations

import asyncio
import time
from collections import deque
from collections.abc import Callable, Mapping, Sequence
from functools import partial

from runner.engine.effects import Listen
from runner.engine.events import Proposal, Verdict
from runner.voice.client import Urgency, VoiceProcess

LOUDER = 3.0
"""dB by which somebody else's microphone has to be louder for the words to be that person's.
A headset's microphone hears its own wearer 10 dB and more above the next one (from memory)."""

REMEMBERED_SECONDS = 20.0
"""How long levels are kept; no utterance is longer."""


def _nothing(*_: object) -> None:
    """What an unset callback does."""


class Voices:
    """The voice processes of people at one machine, used as ``VoiceProcess`` is by one.

    ``processes`` go by the name of whose microphone they hear; the first speaks for all.
    ``on_heard`` is given that name as one more argument.
    """

    def __init__(self, processes: Mapping[str, VoiceProcess]) -> None:
        self._all = dict(processes)
        self._first, *self._others = self._all.values()
        self._levels: dict[str, deque[tuple[float, float]]] = {n: deque() for n in self._all}
        self._ready: dict[str, dict[str, object]] = {}
        self._speaking: set[int] = set()
        self._opening: asyncio.TimerHandle | None = None
        self.on_said: Callable[[int, bool], None] = _nothing
        self.on_heard: Callable[..., None] = _nothing
        self.on_level: Callable[[float, str], None] = _nothing
        self.on_trouble: Callable[[str], None] = _nothing
        self.on_ready: Callable[[dict[str, object]], None] = _nothing
        self.on_button: Callable[[str, bool], None] = _nothing
        self.on_input_ended: Callable[[], None] = _nothing
        self.on_speaking: Callable[[int], None] = _nothing
        for name, process in self._all.items():
            process.on_heard = partial(self._heard, name)
            process.on_level = partial(self._level, name)
            process.on_trouble = partial(self._trouble, name)
            process.on_ready = partial(self._one_ready, name)
        self._first.on_said = self._said
        self._first.on_button = lambda name, pressed: self.on_button(name, pressed)
        self._first.on_speaking = lambda utterance: self.on_speaking(utterance)

    async def start(self) -> None:
        """Start them all and return at once."""
        for process in self._all.values():
            await process.start()

    async def wait_ready(self, timeout: float = 20.0) -> dict[str, object]:
        """Wait until each would be heard; gives the first one's capabilities.

        Raises ``RunnerError`` as soon as one of them does.
        """
        found = await asyncio.gather(*(one.wait_ready(timeout) for one in self._all.values()))
        return found[0]

    async def stop(self) -> None:
        """End them all."""
        if self._opening is not None:
            self._opening.cancel()
        await asyncio.gather(*(one.stop() for one in self._all.values()))

    def prepare(self, speeches: Sequence[str]) -> None:
        """See ``VoiceProcess``."""
        self._first.prepare(speeches)

    def wake(self) -> None:
        """See ``VoiceProcess``."""
        self._first.wake()

    def say(self, utterance: int, speech: str, urgency: Urgency = "routine") -> None:
        """Speak; without headsets all microphones are shut meanwhile."""
        if not self._first.settings.headset:
            # Whoever speaks shuts its own microphone; the others do not know when.
            self._speaking.add(utterance)
            if self._opening is not None:
                self._opening.cancel()
            self._shut_others(True)
        self._first.say(utterance, speech, urgency)

    def tone(self, name: str) -> None:
        """See ``VoiceProcess``."""
        self._first.tone(name)

    def hush(self) -> None:
        """See ``VoiceProcess``."""
        self._first.hush()

    def listen(self, listen: Listen) -> None:
        """Open a window at every microphone: whose answer it is, is not for ears to decide."""
        for process in self._all.values():
            process.listen(listen)

    def close(self, window: int) -> None:
        """Close a window at every microphone."""
        for process in self._all.values():
            process.close(window)

    def push_to_talk(self, pressed: bool) -> None:
        """Open or shut every microphone."""
        for process in self._all.values():
            process.push_to_talk(pressed)

    def _shut_others(self, shut: bool) -> None:
        for process in self._others:
            process.mute(shut)

    def _said(self, utterance: int, completed: bool) -> None:
        if utterance in self._speaking:
            self._speaking.discard(utterance)
            if not self._speaking:
                tail = self._first.settings.tail_ms / 1000
                loop = asyncio.get_running_loop()
                self._opening = loop.call_later(tail, self._shut_others, False)
        self.on_said(utterance, completed)

    def _heard(
        self,
        name: str,
        window: int,
        began: float,
        ended: float,
        proposals: tuple[Proposal, ...],
        verdict: Verdict,
    ) -> None:
        own = self._loudest(name, began, ended)
        beside = [self._loudest(other, began, ended) for other in self._all if other != name]
        if own is not None and any(one is not None and one > own + LOUDER for one in beside):
            return
        self.on_heard(window, began, ended, proposals, verdict, name)

    def _loudest(self, name: str, began: float, ended: float) -> float | None:
        """The highest level that a microphone had meanwhile; None where it heard no speech."""
        levels = [dbfs for at, dbfs in self._levels[name] if began <= at <= ended]
        return max(levels, default=None)

    def _level(self, name: str, dbfs: float, state: str) -> None:
        now = time.monotonic()
        levels = self._levels[name]
        if state == "hearing speech":
            levels.append((now, dbfs))
        while levels and levels[0][0] < now - REMEMBERED_SECONDS:
            levels.popleft()
        if state == "hearing speech" or self._all[name] is self._first:
            self.on_level(dbfs, state)

    def _trouble(self, name: str, text: str) -> None:
        self.on_trouble(f"{name}: {text}")

    def _one_ready(self, name: str, capabilities: dict[str, object]) -> None:
        known = len(self._ready) == len(self._all)
        self._ready[name] = capabilities
        if not known and len(self._ready) == len(self._all):
            self.on_ready(capabilities)
