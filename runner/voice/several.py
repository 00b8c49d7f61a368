"""Several microphones for one run, each somebody's: one process speaks, and each hears its own.

Who sit side by side are heard by each other's microphones too. So of what two of them heard at
the same time only what came to its microphone loudest is taken, as that person's.
"""

from __future__ import annotations

import asyncio
from collections import deque
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial

from runner.engine.effects import Listen
from runner.engine.events import Proposal, Verdict
from runner.voice.client import Urgency, VoiceProcess

LOUDER = 3.0
"""dB by which somebody else's microphone has to be louder for the words to be that person's.
A headset's microphone hears its own wearer 10 dB and more above the next one (from memory)."""

WAIT_SECONDS = 0.6
"""How long what was heard waits for a microphone that hears the same: two that stand in one room
end within a tenth of a second of each other, where no process is held up."""

REMEMBERED = 8
"""How many of the last utterances are compared."""


def _nothing(*_: object) -> None:
    """What an unset callback does."""


@dataclass(frozen=True, slots=True)
class _Heard:
    """What somebody's microphone heard from one second to another, and how loud at the most."""

    name: str
    began: float
    ended: float
    dbfs: float
    told: tuple[int, float, float, tuple[Proposal, ...], Verdict]

    def overlaps(self, other: _Heard) -> bool:
        """Whether both were heard at the same time."""
        return self.began < other.ended and other.began < self.ended

    def drowned_by(self, other: _Heard) -> bool:
        """Whether another microphone heard the same, and so much louder that it is not ours."""
        return self.name != other.name and self.overlaps(other) and other.dbfs > self.dbfs + LOUDER


class Voices:
    """The voice processes of people at one machine, used as ``VoiceProcess`` is by one.

    ``processes`` go by the name of whose microphone they hear; the first speaks for all.
    ``on_heard`` is given that name as one more argument.
    """

    def __init__(self, processes: Mapping[str, VoiceProcess]) -> None:
        self._all = dict(processes)
        self._first, *self._others = self._all.values()
        self._hearing: set[str] = set()
        self._waiting: list[_Heard] = []
        self._lately: deque[_Heard] = deque(maxlen=REMEMBERED)
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
        dbfs = self._all[name].heard_dbfs
        heard = _Heard(name, began, ended, dbfs, (window, began, ended, proposals, verdict))
        self._lately.append(heard)
        self._waiting.append(heard)
        self._decide()
        if heard in self._waiting:
            loop = asyncio.get_running_loop()
            loop.call_later(WAIT_SECONDS, self._decide, heard)

    def _decide(self, overdue: _Heard | None = None) -> None:
        """Pass on what was heard and is not somebody else's, once that can be known."""
        for heard in tuple(self._waiting):
            others = [other for other in self._all if other != heard.name]
            if heard is not overdue and any(self._still_hears(other, heard) for other in others):
                continue
            self._waiting.remove(heard)
            if not any(heard.drowned_by(other) for other in self._lately):
                self.on_heard(*heard.told, heard.name)

    def _still_hears(self, name: str, heard: _Heard) -> bool:
        """Whether that microphone hears speech and has not told yet what was said meanwhile."""
        told = any(one.name == name and one.overlaps(heard) for one in self._lately)
        return name in self._hearing and not told

    def _level(self, name: str, dbfs: float, state: str) -> None:
        if state == "hearing speech":
            self._hearing.add(name)
        elif name in self._hearing:
            self._hearing.discard(name)
            # What was heard there has been told by now, or was nothing.
            self._decide()
        if state == "hearing speech" or self._all[name] is self._first:
            self.on_level(dbfs, state)

    def _trouble(self, name: str, text: str) -> None:
        self.on_trouble(f"{name}: {text}")

    def _one_ready(self, name: str, capabilities: dict[str, object]) -> None:
        known = len(self._ready) == len(self._all)
        self._ready[name] = capabilities
        if not known and len(self._ready) == len(self._all):
            self.on_ready(capabilities)
