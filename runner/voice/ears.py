"""From frames of sound to verdicts: gate, recognisers, judge and end of utterance together.

Knows no device and no clock: every frame brings the second at which it was heard.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol, runtime_checkable

from runner.engine.effects import Listen
from runner.engine.events import Proposal, Verdict
from runner.voice.embedding import NOISY_BELOW, clearness, to_samples
from runner.voice.endpoint import FIRST_LOOK, silence_needed
from runner.voice.judge import Around, judge
from runner.voice.recogniser import Recogniser
from runner.voice.text import NUMBER, role_of
from runner.voice.utterance import FRAME_SECONDS, PRE_ROLL_FRAMES, Gate

BACKGROUND_FRAMES = 100
"""Frames without speech that are kept: what the cockpit sounds like."""

REPEATED_WITHIN = 20.0
"""Seconds within which something said again is compared with what was said before."""

MADE_FOR = ("numbers", "matcher")
"""Recognisers that are made for some windows alone; the others hear in all the rest."""


@runtime_checkable
class HearsNoise(Protocol):
    """A recogniser that allows for the noise of the moment."""

    def surroundings(self, noise: bytes) -> None:
        """What was heard lately while nobody spoke, 16-bit mono at 16 kHz."""


@runtime_checkable
class TellsApart(Protocol):
    """A recogniser that can tell one answer of an item from the others."""

    def between(self, samples: bytes, text: str, candidate: str, listen: Listen) -> Proposal | None:
        """Which of them it was."""


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
        self._background: deque[bytes] = deque(maxlen=BACKGROUND_FRAMES)
        self._proposals: dict[int, tuple[Proposal, ...]] = {}
        self._verdict = Verdict("reject")
        self._last: Outcome | None = None
        self._noisy = False
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
            self._background.append(frame)
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
                    if isinstance(recogniser, HearsNoise):
                        recogniser.surroundings(self._quiet_moments())
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
        if beat.silence < silence_needed(self._verdict, self._said_in, self._noisy):
            return None
        return self._over(None)

    def _quiet_moments(self) -> bytes:
        """What was heard before the utterance that has just begun."""
        before = list(self._background)[:-PRE_ROLL_FRAMES]
        self._background.clear()
        self._background.extend(before)
        return b"".join(before)

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
        self._proposals.pop(len(self._recognisers), None)
        listen = self._said_in
        if listen is None:
            return
        for number, recogniser in enumerate(self._recognisers):
            if final and not recogniser.capabilities.streaming:
                continue
            recogniser.prepare(listen)
            self._proposals[number] = recogniser.propose(final)
        proposals = [p for each in self._proposals.values() for p in each]
        noisy = clearness(to_samples(bytes(self._sound))) < NOISY_BELOW
        self._noisy = noisy
        around = Around(noisy, self._before(listen))
        self._verdict = judge(proposals, listen, around)
        if noisy and self._verdict.decision == "accept":
            witness = self._witness(self._verdict, listen)
            if witness is not None:
                self._proposals[len(self._recognisers)] = (witness,)
                self._verdict = judge([*proposals, witness], listen, around)

    def _witness(self, verdict: Verdict, listen: Listen) -> Proposal | None:
        """What is held against an item's answer in words: see rule 9 of the judge."""
        chosen = verdict.candidate or ""
        words = role_of(chosen, listen) in ("answer", "competitor") and chosen != NUMBER
        every = (one for each in self._proposals.values() for one in each)
        text = next((one.text for one in every if one.candidate == chosen), verdict.text)
        able = next((one for one in self._all if isinstance(one, TellsApart)), None)
        if not words or able is None or able in self._recognisers:
            return None
        return able.between(bytes(self._sound), text, chosen, listen)

    def _before(self, listen: Listen) -> tuple[Proposal, ...]:
        """What was proposed last, if that was for the same answers and not long ago."""
        last = self._last
        if last is None or last.verdict.decision != "unclear" or last.listen is None:
            return ()
        same = (last.listen.candidates, last.listen.number) == (listen.candidates, listen.number)
        soon = self._began - last.ended <= REPEATED_WITHIN
        return last.proposals if same and soon else ()

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
        self._last = Outcome(
            listen.window, self._began, self._ended, proposals, verdict, listen, sound
        )
        return self._last
