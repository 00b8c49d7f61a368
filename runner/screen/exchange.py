"""What was just heard and how it was judged, and what Runner said to it."""

from __future__ import annotations

from textual.content import Content

from runner.engine.view import View
from runner.screen.panel import Panel, wrapped
from runner.screen.wording import NORMAL, Text, heard_text


class Exchange(Panel):
    """The last words of both sides. What Runner said is left out where it is the challenge."""

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
        """One sentence for each side."""
        said: Text = ()
        if self.said and self.said.strip(" .?") != self.view.prompt.strip(" .?"):
            said = ((f"Runner: {self.said}", NORMAL),)
        return wrapped(heard_text(self.view.heard), width) + wrapped(said, width)
