"""The flight engineer of a run: the inputs given so far and the sheet worked out for them."""

from __future__ import annotations

from collections.abc import Mapping

from runner.engine.events import FiguresChanged
from runner.errors import RunnerError
from runner.figures.given import read_given
from runner.figures.sheet import Sheet, Worked

Given = Mapping[str, float | str]


class Engineer:
    """Keeps the sheet; ``given`` are inputs in the aircraft's units, ``worked`` the sheet
    worked out for them."""

    def __init__(self, sheet: Sheet, worked: Worked, given: Given) -> None:
        self._sheet = sheet
        self._worked = worked
        self._given: dict[str, float | str] = dict(given)

    def read(self, name: str, value: str) -> Given:
        """An input as it is written. Raises ``RunnerError``."""
        return read_given(self._sheet.aircraft, [f"{name}={value}"])

    def change(
        self, changes: Given, at: int, followed: bool = False
    ) -> tuple[FiguresChanged | None, tuple[str, ...]]:
        """Work the sheet out again: what changed at ``at``, and what cannot be worked out now.

        Inputs that ``followed`` the readings and change no figure are no event.
        """
        given = self._given | dict(changes)
        before = self._worked
        self._worked = self._sheet.change(before, changes)
        self._given = given
        if followed and before.figures == self._worked.figures:
            return None, ()
        figures = self._worked.figures
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
        return FiguresChanged(at, changed, gone, reason, inputs, followed), problems

    def take(self, given: Given) -> None:
        """Another machine of the crew has worked the sheet out for these inputs."""
        if dict(given) != self._given:
            self._given = dict(given)
            self._worked = self._sheet.work_out(self._given)

    def why(self, figure: str) -> tuple[str, ...]:
        """The working of a figure, as lines. Raises ``RunnerError``."""
        return self._worked.why(figure)

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
