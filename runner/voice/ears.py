"""From frames of sound to verdicts: gate, recognisers, judge and end of utterance together.

Knows no device and no clock: every frame brings the second at which it was heard.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from runner.engine.effects import Listen
from runner.engine.events import Proposal, Verdict
from runner.voice.endpoint import FIRST_LOOK, silence_needed
from runner.voice.judge import judge
from runner.voice.recogniser import Recogniser
from runner.voice.utterance import FRAME_SECONDS, Gate

MADE_FOR = ("numbers", "matcher")
"""Recognisers that are made for some windows alone; the others hear in all the rest."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """An utterance and the verdict on it; ``began`` and ``ended`` are those of the speech."""

    window: int
    began: float
    ended: float
    proposals: tuple[Proposal, ...]
    verdict: Verdict
    listen: Listen | None = None
    sound: bytes = b""
    """The window it was said in, and the utterance's samples."""


class Ears:
    """Hears utterances in listening windows. An utterance belongs to the window it began in."""

    def __init__(self, recognisers: Sequence[Recogniser], gate: Gate) -> None:
        self._all = tuple(recognisers)
        self._recognisers: tuple[Recogniser, ...] = self._all
        self._gate = gate
        self._listen: Listen | None = None
        self._said_in: Listen | None = None
        self._began = 0.0
        self._ended = 0.0
        self._looked = False
        self._sound = bytearray()
        self._proposals: dict[int, tuple[Proposal, ...]] = {}
        self._verdict = Verdict("reject")
        self.level = -120.0
        self.hearing = False

    @property
    def listening(self) -> bool:
        """Whether a window is open."""
        return self._listen is not None

    def open(self, listen: Listen) -> None:
        """Open a window, closing any other, and prepare the recognisers for it."""
        self._listen = listen
        for recogniser in self._crew(listen):
            recogniser.prepare(listen)

    def _crew(self, listen: Listen) -> tuple[Recogniser, ...]:
        """Who hears in a window: one that is made for all of it, with those that understand
        free speech; else everybody but those that are made for other windows.

        Numbers have one of their own, the matcher hears words that it has templates of.
        """
        named = {one.capabilities.name: one for one in self._all}
        free = tuple(one for one in self._all if not one.capabilities.closed)
        for name in MADE_FOR:
            one = named.get(name)
            if one is not None and len(named) > 1 and one.fits(listen):
                return (one, *(other for other in free if other is not one))
        rest = tuple(one for one in self._all if one.capabilities.name not in MADE_FOR)
        return rest or self._all

    def close(self, window: int) -> None:
        """Close a window; an utterance that began in it is forgotten."""
        if self._listen is not None and self._listen.window <= window:
            self._listen = None
        if self._said_in is not None and self._said_in.window <= window:
            self.forget()

    def forget(self) -> None:
        """Forget the utterance and the moments before it."""
        self._gate.reset()
        self._said_in = None
        self._proposals = {}
        self.hearing = False

    def take(self, frame: bytes, at: float) -> Outcome | None:
        """One frame that ended at second ``at``; gives the outcome when an utterance is over."""
        beat = self._gate.take(frame)
        self.level = beat.level
        if beat.change == "nothing":
            return None
        if beat.change == "began":
            self.hearing = True
            self._said_in = self._listen
            self._began = at - 3 * FRAME_SECONDS
            self._looked = False
            self._sound.clear()
            if self._said_in is not None:
                self._recognisers = self._crew(self._said_in)
                for recogniser in self._recognisers:
                    recogniser.prepare(self._said_in)
                    recogniser.begin()
        if self._said_in is not None:
            self._sound += beat.samples
            for recogniser in self._recognisers:
                recogniser.feed(beat.samples)
        if beat.silence == 0.0:
            self._looked = False
            self._ended = at
        if beat.change == "too long":
            return self._over(Verdict("reject", reason="it went on for too long"))
        if beat.silence < FIRST_LOOK:
            return None
        if not self._looked:
            self._look(final=False)
        if self._said_in is None:
            self.forget()
            return None
        if beat.silence < silence_needed(self._verdict, self._said_in):
            return None
        return self._over(None)

    def finish(self) -> Outcome | None:
        """The microphone is shut now: decide on what was said so far."""
        if not self.hearing or self._said_in is None:
            self.forget()
            return None
        if not self._looked:
            self._look(final=False)
        return self._over(None)

    def _look(self, final: bool) -> None:
        self._looked = True
        listen = self._said_in
        if listen is None:
            return
        for number, recogniser in enumerate(self._recognisers):
            if final and not recogniser.capabilities.streaming:
                continue
            recogniser.prepare(listen)
            self._proposals[number] = recogniser.propose(final)
        self._verdict = judge([p for each in self._proposals.values() for p in each], listen)

    def _over(self, verdict: Verdict | None) -> Outcome | None:
        listen = self._said_in
        if listen is None:
            self.forget()
            return None
        if verdict is None:
            self._look(final=True)
            verdict = self._verdict
        proposals = tuple(p for each in self._proposals.values() for p in each)
        self.forget()
        if not proposals and verdict.decision == "reject" and not verdict.text:
            return None
        sound = bytes(self._sound)
        return Outcome(listen.window, self._began, self._ended, proposals, verdict, listen, sound)
