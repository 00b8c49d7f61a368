"""A flow verified: the list is run by the engine itself, as in flight, within a drill.

The engine counts its utterances and windows from one; here they go on from the drill's own,
so that what comes back is told apart. Its end is no end of the drill's.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from runner.checklist.model import Phase
from runner.engine.effects import CloseWindow, Effect, Explain, Finish, Listen, Say, SetInput
from runner.engine.events import Event, FiguresChanged, Heard, RunStarted, Said, Snapshot
from runner.engine.looking import look
from runner.engine.program import Program
from runner.engine.state import State
from runner.engine.step import initial_state, step
from runner.engine.view import View
from runner.errors import RunnerError
from runner.figures.sheet import Sheet

_NAME = "verification"


class Verification:
    """One list under way. ``mistakes`` counts the answers that were asked again."""

    def __init__(
        self,
        program: Program,
        list_id: str,
        sheet: Sheet,
        given: Mapping[str, float | str],
        utterance: int,
        window: int,
    ) -> None:
        checklist = replace(
            program.lists[list_id],
            kind="challenge and response",
            start="at once",
            offered_at="",
            gate="",
            argument="",
            condition=None,
        )
        phase = Phase(_NAME, checklist.where, checklist.title, (checklist,))
        procedures = replace(program.procedures, phases=(phase,), abnormal=())
        self._program = Program(procedures, program.style, (_NAME, _NAME, _NAME))
        self._sheet = sheet
        self._worked = sheet.work_out(given)
        self._state: State = initial_state(self._program)
        self.mistakes = 0
        self.over = False
        self.utterance = utterance
        self.window = window
        self._first_utterance = utterance
        self._first_window = window

    def begin(self, at: int) -> list[Effect]:
        """The list begins."""
        snapshot = Snapshot(_NAME, _NAME, "")
        figures = tuple(self._worked.figures.values())
        return self._step(RunStarted(at, snapshot, snapshot, snapshot, figures))

    def take(self, event: Event) -> list[Effect]:
        """An event of the drill's, as the engine takes it."""
        match event:
            case Said():
                event = replace(event, utterance=event.utterance - self._first_utterance)
            case Heard():
                event = replace(event, window=event.window - self._first_window)
        effects = self._step(event)
        heard = self._state.heard
        if isinstance(event, Heard) and heard is not None and heard.judgement == "asked again":
            self.mistakes += 1
        return effects

    def view(self) -> View:
        """What a screen shows meanwhile."""
        return look(self._state)

    def _step(self, event: Event) -> list[Effect]:
        self._state, effects = step(self._state, event)
        found: list[Effect] = []
        for effect in effects:
            match effect:
                case Say():
                    self.utterance = self._first_utterance + effect.utterance
                    found.append(replace(effect, utterance=self.utterance))
                case Listen():
                    self.window = self._first_window + effect.window
                    found.append(replace(effect, window=self.window))
                case CloseWindow():
                    found.append(CloseWindow(self._first_window + effect.window))
                case SetInput(name, value):
                    found += self._set(event.at, name, value)
                case Finish():
                    self.over = True
                case Explain():
                    pass
                case _:
                    found.append(effect)
        return found

    def _set(self, at: int, name: str, value: float | str) -> list[Effect]:
        before = self._worked.figures
        try:
            self._worked = self._sheet.change(self._worked, {name: value})
        except RunnerError:
            return []
        after = self._worked.figures
        changed = tuple(figure for one, figure in after.items() if before.get(one) != figure)
        gone = tuple(one for one in before if one not in after)
        return self._step(FiguresChanged(at, changed, gone))
