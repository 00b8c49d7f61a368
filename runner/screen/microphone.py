"""The microphone's state and level, in words."""

from __future__ import annotations

from textual.content import Content
from textual.geometry import Size

from runner.engine.view import View
from runner.screen.panel import Panel
from runner.screen.wording import DIM, NORMAL, STRONG, microphone_words


class Microphone(Panel):
    """One line at the right; drawn again only when its words change."""

    words = "Keys only"

    def part(self, view: View) -> object:
        """Whether Runner is muted; the rest comes through ``level``."""
        return view.muted

    def level(self, dbfs: float, state: str) -> None:
        """Take a new level (dB below full scale) and state."""
        words = microphone_words(dbfs, state)
        if words != self.words:
            self.words = words
            self.redraw()

    def get_content_width(
        self,
        container: Size,  # noqa: ARG002
        viewport: Size,  # noqa: ARG002
    ) -> int:
        """As wide as the words."""
        return self.lines(0)[0].cell_length

    def lines(self, width: int) -> list[Content]:  # noqa: ARG002
        """The words, with "muted" before them while Runner is muted."""
        words = (self.words, NORMAL if "hearing" in self.words else DIM)
        if self.view.muted:
            return [Content.assemble(("Muted. ", STRONG), words)]
        return [Content.assemble(words)]
