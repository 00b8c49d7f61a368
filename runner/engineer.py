"""The flight engineer of a run: the inputs given so far and the sheet worked out for them.

What comes of a new input is an event; what cannot be worked out, and the working of a figure,
is shown.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from runner.clock import Clock
from runner.engine.events import FiguresChanged
from runner.errors import RunnerError
from runner.figures.given import read_given
from runner.figures.sheet import Sheet, Worked
from runner.stations import Screen

Given = Mapping[str, float | str]


class Engineer:
    """Keeps the sheet; ``given`` are inputs in the aircraft's units, ``worked`` the sheet
    worked out for them. ``changed`` takes in what has changed."""

    def __init__(
        self,
        sheet: Sheet,
        worked: Worked,
        given: Given,
        screen: Screen,
        clock: Clock,
        changed: Callable[[FiguresChanged], None],
    ) -> None:
        self._sheet = sheet
        self._worked = worked
        self._given: dict[str, float | str] = dict(given)
        self._screen = screen
        self._clock = clock
        self._changed = changed

    def set(self, name: str, value: str) -> None:
        """Take an input as it is written, or show what is wrong with it."""
        try:
            self.change(read_given(self._sheet.aircraft, [f"{name}={value}"]))
        except RunnerError as error:
            self._screen.trouble(str(error))

    def follow(self, changes: Given) -> None:
        """Take inputs that followed the readings; where they change no figure it is no event."""
        self._work_out(changes, followed=True)

    def change(self, changes: Given) -> None:
        """Work the sheet out again for these inputs, and show what cannot be worked out now."""
        self._work_out(changes, followed=False)

    def _work_out(self, changes: Given, followed: bool) -> None:
        at = self._clock.now()
        given = self._given | dict(changes)
        before = self._worked
        self._worked = self._sheet.change(before, changes)
        self._given = given
        figures = self._worked.figures
        if followed and before.figures == figures:
            return
        changed = tuple(f for name, f in figures.items() if before.figures.get(name) != f)
        gone = tuple(name for name in before.figures if name not in figures)
        reason = ", ".join(
            f"{name} {figures[name].shown_with_unit}" for name in changes if name in figures
        )
        problems = tuple(
            problem
            for name, problem in self._worked.problems.items()
            if before.problems.get(name) != problem
        )
        inputs = tuple(sorted(given.items()))
        self._changed(FiguresChanged(at, changed, gone, reason, inputs, followed))
        for problem in problems:
            self._screen.trouble(problem)

    def take(self, given: Given) -> None:
        """Another machine of the crew has worked the sheet out for these inputs."""
        if dict(given) != self._given:
            self._given = dict(given)
            self._worked = self._sheet.work_out(self._given)

    def explain(self, figure: str) -> None:
        """Show the working of a figure."""
        try:
            lines = self._worked.why(figure)
        except RunnerError as error:
            self._screen.trouble(str(error))
            return
        for line in lines:
            self._screen.note(line, "figures")

    def chart(self, number: int, width: int, height: int) -> tuple[str, ...]:
        """One of the aircraft's pictures with today's point, as lines of text.

        ``number`` counts through all of them and begins again; the lines are at most
        ``width`` characters long and about ``height`` in number.
        """
        from runner.plot.diagram import diagrams_of
        from runner.plot.text import diagram_lines

        craft = self._sheet.aircraft
        try:
            drawn = [
                diagram
                for picture in craft.pictures.values()
                for diagram in diagrams_of(self._sheet, self._worked, picture)
            ]
            if not drawn:
                return (f"{craft.name} has no pictures.",)
            return tuple(diagram_lines(drawn[number % len(drawn)], width, max(8, height - 6)))
        except RunnerError as error:
            return (str(error),)
