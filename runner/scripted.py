"""The answers of a script, given one after another where a pilot would speak."""

from __future__ import annotations

import re
from collections.abc import Callable

from runner.clock import Clock
from runner.engine.state import State
from runner.voice.script import Script


class Scripted:
    """Where a script has come to. ``say`` takes what it says next; ``ended`` is called when it
    has nothing more to say."""

    def __init__(
        self, script: Script, clock: Clock, say: Callable[[str], None], ended: Callable[[], None]
    ) -> None:
        self._script = script
        self._clock = clock
        self._say = say
        self._ended = ended
        self._silence = False
        self._awaited = ""

    def silence_is_over(self) -> None:
        """Something was asked anew: what the script says next is its answer."""
        self._silence = False

    def go_on(self, state: State, asked: bool, fed: bool) -> None:
        """Give the next answer, where something is ``asked``; otherwise let time go on.

        Where a simulator is ``fed`` its clock goes on by itself, and a line in round brackets
        waits for what it names.
        """
        if self._silence:
            return
        if self._awaited and fed and not _has_come(state, self._awaited):
            return
        self._awaited = ""
        if not asked:
            if not fed and not self._clock.skip_to_timer() and self._script.next_line() is None:
                self._end()
            return
        line = self._script.next_line()
        if line and line.startswith("(") and line.endswith(")"):
            self._awaited = line[1:-1]
            self.go_on(state, asked, fed)
        elif line is None:
            self._end()
        elif line:
            self._say(_with_figures(state, line))
        else:
            self._silence = fed or not self._clock.skip_to_timer()

    def _end(self) -> None:
        if self._script.ended:
            self._ended()


def _has_come(state: State, name: str) -> bool:
    """Whether a moment came or a callout was said that a script waits for."""
    return name in state.reached or name in state.called_out


def _with_figures(state: State, line: str) -> str:
    """A script's line with the figures of now where it names them: <climb_rpm>."""
    figures = state.figures
    return re.sub(r"<(\w+)>", lambda m: figures[m[1]].shown if m[1] in figures else m[0], line)
