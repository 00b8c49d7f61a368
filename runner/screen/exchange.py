"""What was just heard and how it was judged, and what Runner said to it."""

from __future__ import annotations

from textual.content import Content

from runner.engine.view import View
from runner.screen.panel import Panel, wrapped
from runner.screen.wording import NORMAL, Text, heard_text

LINES = 2
"""Rows that Runner's own words may take."""


def without_challenge(said: str, prompt: str) -> str:
    """What Runner said, without the challenge at its end, which is shown large already."""
    bare, asked = said.rstrip(" .?!"), prompt.rstrip(" .?!")
    if asked and bare.lower().endswith(asked.lower()):
        return bare[: len(bare) - len(asked)].rstrip()
    return said


class Exchange(Panel):
    """The last words of both sides. Of Runner's, the challenge itself is left out."""

    hides_empty = True
    said = ""

    def part(self, view: View) -> object:
        """What was heard, what was said, and the challenge it is compared with."""
        return view.heard, view.last_said, view.prompt

    def show(self, view: View) -> None:
        """Take the view's last words for those that were said, unless newer came by ``say``."""
        if view.last_said != self.view.last_said:
            self.said = view.last_said
        super().show(view)

    def say(self, text: str) -> None:
        """Runner begins to say ``text``."""
        if text != self.said:
            self.said = text
            self.redraw()

    def lines(self, width: int) -> list[Content]:
        """What was heard, then what Runner said, cut where it is long."""
        said: Text = ()
        rest = without_challenge(self.said, self.view.prompt)
        if rest:
            said = ((f"Runner: {rest}", NORMAL),)
        rows = wrapped(said, width)
        if len(rows) > LINES:
            rows[LINES - 1 :] = [rows[LINES - 1].truncate(width - 1, ellipsis=False) + "…"]
        return wrapped(heard_text(self.view.heard), width)[:2] + rows
