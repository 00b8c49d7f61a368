"""A question before a key that must not be pressed in error."""

from __future__ import annotations

from textual.content import Content

from runner.engine.view import View
from runner.screen.panel import Panel, wrapped
from runner.screen.wording import NORMAL, STRONG


class Question(Panel):
    """One question, answered with y; any other key withdraws it."""

    asked = ""

    def part(self, view: View) -> object:  # noqa: ARG002
        """Nothing of the run."""
        return ()

    def ask(self, question: str) -> None:
        """Put the question; an empty one is no question."""
        self.asked = question
        self.display = bool(question)
        self.redraw()

    def lines(self, width: int) -> list[Content]:
        """The question in bold and how to answer it."""
        if not self.asked:
            return []
        how = "  y yes, any other key no."
        return wrapped(((self.asked, STRONG), (how, NORMAL)), width)
