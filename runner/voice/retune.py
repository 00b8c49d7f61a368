"""Retuning: a sure answer heard in flight becomes a further take, where the pilot agreed.

A take that is not what it is kept as would pull its phrase towards another one, so that the
next wrong answer is accepted more easily, and is kept in its turn. What stops that:

- nothing is kept unless the pilot agreed (``runner voice enrol --retune yes``);
- only phrases that were enrolled, three takes each, and an enrolled take never goes: at
  least half of a phrase's takes are what the pilot recorded;
- only the item's own answer, accepted with both of the matcher's probabilities high;
- it waits until some more answers were accepted; whatever takes it back (*I disagree*,
  *disregard*, *go back*, or the same item asked again, for whatever reason) drops it, and
  forgets it again where it was kept already in this run;
- it must be a good take (``take_checks.fault``) in quiet surroundings;
- it must be far nearer to the *enrolled* takes of its phrase than to those of any other
  phrase that it could have been. What was heard is never what is compared with, so that
  takes cannot lead one another astray.
"""

from __future__ import annotations

import contextlib
import queue
import threading
from collections.abc import Sequence
from dataclasses import dataclass

from runner.engine.effects import Candidate, Listen
from runner.engine.events import Proposal, Verdict
from runner.errors import RunnerError
from runner.phrasing.similar import sounds_alike
from runner.voice.embedding import Embedder
from runner.voice.enrolment import TAKES_EACH
from runner.voice.take_checks import Comparison, fault
from runner.voice.takes import Takes
from runner.voice.text import pattern_of
from runner.voice.utterance import FRAME_BYTES, level

SURE = 0.97
"""Both of the matcher's probabilities must reach this, far above what accepting needs."""

SETTLED = 3
"""Answers accepted after it until an answer counts as not taken back."""

MOST_PENDING = 40
"""Answers that wait to be settled; a long flight in memory is some megabytes at most."""

NEAR = 0.78
"""Nearness to the phrase's enrolled takes, against the nearest other phrase, that a take must
not exceed; chosen by ``tests/bench/takes.py``."""

OTHERS = 24
"""Other phrases that a take is compared with: those of its window, then those most alike."""

QUIET_DB = 25.0
"""How far the loudest frame stands above the quietest: noise has no place among takes."""

TAKE_BACK = frozenset({"control:disagree", "control:disregard", "control:go_back"})


@dataclass(slots=True)
class _Held:
    """An accepted answer: ``number`` is that of the take once it is kept."""

    asked: frozenset[tuple[str, str]]
    phrase: str
    sound: bytes
    beside: tuple[str, ...]
    later: int = 0
    number: int = 0
    dropped: bool = False


class Retuner:
    """Follows one run. Call it from one thread; checking and writing are done in another.

    ``takes`` are the pilot's; without their agreement it does nothing.
    """

    def __init__(self, takes: Takes, embedder: Embedder | None = None) -> None:
        self._takes = takes
        self._agreed = takes.retuned
        self._comparison = Comparison(takes.enrolled, embedder)
        self._held: list[_Held] = []
        self._ripe: queue.SimpleQueue[_Held | None] = queue.SimpleQueue()
        self._lock = threading.Lock()
        self._thread: threading.Thread | None = None

    def opened(self, listen: Listen) -> None:
        """A window opens: an item that is asked again takes its last answer back."""
        asked = _asked(listen)
        for held in self._held:
            if asked and held.asked == asked:
                self._drop(held)

    def heard(
        self, proposals: Sequence[Proposal], verdict: Verdict, listen: Listen, sound: bytes
    ) -> None:
        """An utterance was judged. ``sound`` is 16-bit mono at 16 kHz, the whole of it."""
        if not self._agreed or verdict.decision != "accept":
            return
        if verdict.candidate in TAKE_BACK:
            for held in self._held[-1:]:
                self._drop(held)
            return
        role = next((c.role for c in listen.candidates if c.id == verdict.candidate), "")
        if role not in ("answer", "competitor"):
            return
        for held in self._held:
            held.later += 1
            if held.later == SETTLED and not held.dropped:
                self._settle(held)
        phrase = _sure(proposals, verdict)
        if role == "answer" and phrase and len(self._takes.enrolled(phrase)) >= TAKES_EACH:
            self._held.append(_Held(_asked(listen), phrase, sound, self._beside(phrase, listen)))
            del self._held[:-MOST_PENDING]

    def wait(self, seconds: float) -> bool:
        """Wait until what is settled is checked; whether it is. For whoever wants to know."""
        if self._thread is None:
            return True
        self._ripe.put(None)
        self._thread.join(seconds)
        done = not self._thread.is_alive()
        self._thread = None if done else self._thread
        return done

    def close(self) -> None:
        """Nothing more is kept; what is not settled by now is forgotten."""
        self._held.clear()
        while not self._ripe.empty():
            with contextlib.suppress(queue.Empty):
                self._ripe.get_nowait()
        self.wait(1.0)

    def _drop(self, held: _Held) -> None:
        with self._lock:
            held.dropped = True
            held.sound = b""
            number, held.number = held.number, 0
        if number:
            with contextlib.suppress(OSError):
                self._takes.forget_heard(held.phrase, number)

    def _settle(self, held: _Held) -> None:
        self._ripe.put(held)
        if self._thread is None:
            self._thread = threading.Thread(target=self._work, daemon=True)
            self._thread.start()

    def _work(self) -> None:
        while (held := self._ripe.get()) is not None:
            with self._lock:
                sound = held.sound
            if not sound or not self._good(held.phrase, sound, held.beside):
                continue
            # A run goes on where a take cannot be written.
            with self._lock, contextlib.suppress(RunnerError, OSError):
                if not held.dropped:
                    held.number = self._takes.keep_heard(held.phrase, sound)
                held.sound = b""

    def _good(self, phrase: str, sound: bytes, beside: tuple[str, ...]) -> bool:
        if fault(sound, phrase) or not is_quiet(sound):
            return False
        return self._comparison.nearness(sound, phrase, beside) <= NEAR

    def _beside(self, phrase: str, listen: Listen) -> tuple[str, ...]:
        """Enrolled phrases that it could have been: of this window first, then by their sound.

        Other ways of giving the same answer are none of them: they may be as near as they like.
        """
        enrolled = [other for other in self._takes.phrases() if other != phrase]
        same, different = set[str](), set[str]()
        for candidate in listen.candidates:
            texts = _texts(candidate)
            (same if phrase in texts else different).update(texts)
        window = [other for other in enrolled if other in different - same]
        rest = [other for other in enrolled if other not in same | different]
        rest.sort(key=lambda other: -sounds_alike(other, phrase))
        return (*window, *rest[: max(0, OTHERS - len(window))])


def is_quiet(sound: bytes) -> bool:
    """Whether the loudest moment of an utterance stands clear of what is around it."""
    places = range(0, len(sound) - FRAME_BYTES + 1, FRAME_BYTES)
    levels = sorted(level(sound[at : at + FRAME_BYTES]) for at in places)
    return bool(levels) and levels[-1] - levels[len(levels) // 10] >= QUIET_DB


def _sure(proposals: Sequence[Proposal], verdict: Verdict) -> str:
    """The phrase that was said, where the matcher is sure of it; else nothing."""
    for proposal in proposals:
        if proposal.recogniser == "matcher":
            right = proposal.candidate == verdict.candidate
            sure = min(proposal.confidence, proposal.margin) >= SURE
            return proposal.text if right and sure else ""
    return ""


def _asked(listen: Listen) -> frozenset[tuple[str, str]]:
    """What an item is known by: its answers, right and wrong."""
    wanted = ("answer", "competitor")
    return frozenset((c.id, c.pattern) for c in listen.candidates if c.role in wanted)


def _texts(candidate: Candidate) -> tuple[str, ...]:
    return pattern_of(candidate.pattern).texts(60)
