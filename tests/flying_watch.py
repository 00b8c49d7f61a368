"""Engine and watch flown over a list of readings, with a voice that takes its time.

The voice says one thing after the other, urgent ones first, as the real one does; there is no
sound, no feed and no clock but the readings' own milliseconds.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from runner.engine.effects import Effect, Hush, Say, SetInput
from runner.engine.events import (
    Crossed,
    Event,
    FiguresChanged,
    Heard,
    LimitPassed,
    MomentReached,
    RunStarted,
    Said,
    Verdict,
)
from runner.engine.program import Program
from runner.engine.state import State, initial_state
from runner.engine.step import step
from runner.engine.watch import MILLISECONDS_A_WORD, Memory, next_look, watch, watched_of
from runner.figures.sheet import Sheet

Series = Iterable[tuple[int, Mapping[str, float]]]


@dataclass(frozen=True)
class Spoken:
    """One utterance as it was heard: from when to when, and whether to its end."""

    text: str
    began: int
    ended: int
    completed: bool


@dataclass
class _Saying:
    say: Say
    began: int
    length: int


class FlyingWatch:
    """A run with its watch; ``spoken`` is what was heard, ``events`` all that happened."""

    def __init__(self, first: RunStarted, program: Program) -> None:
        self.state: State = initial_state(program)
        self.memory = Memory()
        self.events: list[Event] = []
        self.spoken: list[Spoken] = []
        self.at = 0
        self._current: _Saying | None = None
        self._waiting: list[Say] = []
        self._sheet = Sheet(program.procedures.aircraft)
        self._worked = self._sheet.work_out({})
        self._coming: deque[Event] = deque()
        self.give(first)

    def give(self, event: Event) -> None:
        """One event, and what its effects do to the voice; what comes of it comes after it."""
        self._coming.append(event)
        if len(self._coming) > 1:
            return
        while self._coming:
            self.state, effects = step(self.state, self._coming[0])
            self.events.append(self._coming[0])
            for effect in effects:
                self._carry_out(effect)
            self._coming.popleft()

    def fly(self, series: Series) -> FlyingWatch:
        """Readings, in the order in which they arrive."""
        for at, values in series:
            self._go_on(at)
            watched = watched_of(self.state)
            if watched is not None:
                self.memory, events = watch(self.memory, watched, at, values)
                for event in events:
                    self.give(event)
        return self

    def wait(self, milliseconds: int) -> FlyingWatch:
        """Time passes and nothing is read."""
        self._go_on(self.at + milliseconds)
        return self

    def hears(
        self,
        candidate: str,
        value: float | None = None,
        readings: Mapping[str, float] | None = None,
    ) -> FlyingWatch:
        """The pilot says what the judge takes as this candidate."""
        shown = tuple(sorted((readings or {}).items()))
        verdict = Verdict("accept", candidate, value, candidate)
        self.give(Heard(self.at, self.state.window, self.at, self.at, (), verdict, shown))
        return self

    def change(self, followed: bool = False, **given: float | str) -> FlyingWatch:
        """Inputs are given, and the sheet is worked out again."""
        before = self._worked.figures
        self._worked = self._sheet.change(self._worked, given)
        after = self._worked.figures
        changed = tuple(f for name, f in after.items() if before.get(name) != f)
        gone = tuple(name for name in before if name not in after)
        self.give(FiguresChanged(self.at, changed, gone, followed=followed))
        return self

    @property
    def called(self) -> list[str]:
        """The callouts in the order in which they were called, without their list."""
        names = [n for e in self.events if isinstance(e, Crossed) for n in (e.callout, *e.also)]
        return [name.partition(".")[2] for name in names]

    @property
    def limits(self) -> list[LimitPassed]:
        """The limits that were passed."""
        return [event for event in self.events if isinstance(event, LimitPassed)]

    @property
    def moments(self) -> list[tuple[str, int]]:
        """The moments that came, with their engine."""
        return [(e.moment, e.engine) for e in self.events if isinstance(e, MomentReached)]

    @property
    def texts(self) -> list[str]:
        """What was heard to its end."""
        return [one.text for one in self.spoken if one.completed]

    def said(self, text: str) -> Spoken:
        """The one utterance of that text that was heard to its end."""
        (found,) = (one for one in self.spoken if one.completed and one.text == text)
        return found

    def _go_on(self, until: int) -> None:
        while True:
            watched = watched_of(self.state)
            due = next_look(self.memory, watched) if watched is not None else None
            ends = self._current.began + self._current.length if self._current else None
            first = min((t for t in (due, ends) if t is not None), default=until + 1)
            if first > until:
                break
            self.at = max(self.at, first)
            if first == ends:
                self._end(True)
            elif watched is not None:
                before = self.memory
                self.memory, events = watch(self.memory, watched, self.at, None)
                for event in events:
                    self.give(event)
                if not events and self.memory == before:
                    break
        self.at = max(self.at, until)

    def _carry_out(self, effect: Effect) -> None:
        if isinstance(effect, Say):
            self._queue(effect)
        elif isinstance(effect, Hush):
            waiting, self._waiting = self._waiting, []
            if self._current is not None:
                self._end(False)
            for say in waiting:
                self.give(Said(self.at, say.utterance, False))
        elif isinstance(effect, SetInput):
            self.change(**{effect.name: effect.value})

    def _queue(self, say: Say) -> None:
        rank = say.urgency != "urgent"
        place = len(self._waiting)
        while place and (self._waiting[place - 1].urgency != "urgent") > rank:
            place -= 1
        self._waiting.insert(place, say)
        if self._current is None:
            self._begin()

    def _begin(self) -> None:
        if self._waiting:
            say = self._waiting.pop(0)
            length = MILLISECONDS_A_WORD * len(say.speech.split())
            self._current = _Saying(say, self.at, length)

    def _end(self, completed: bool) -> None:
        saying, self._current = self._current, None
        assert saying is not None
        self.spoken.append(Spoken(saying.say.text, saying.began, self.at, completed))
        if completed:
            self._begin()
        self.give(Said(self.at, saying.say.utterance, completed))
