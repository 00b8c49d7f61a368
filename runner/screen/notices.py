"""Quiet lines: what does not work, said once, and what the flight engineer notes."""

from __future__ import annotations

from textual.content import Content

from runner.engine.view import View
from runner.screen.panel import Panel, wrapped
from runner.screen.wording import DIM, NORMAL, sentence

LINES = 2


class Notices(Panel):
    """The newest trouble, else the newest notes; a key press clears a trouble, as its end does,
    and the next item the notes."""

    hides_empty = True
    trouble = ""
    newest: tuple[str, ...] = ()
    said = ""

    def part(self, view: View) -> object:
        """The item asked, because a note belongs to its item."""
        return view.current.id if view.current else ""

    def show(self, view: View) -> None:
        """Forget the note when the run goes on to another item."""
        if self.part(view) != self.part(self.view):
            self.newest = ()
        super().show(view)

    def put(self, text: str, *, trouble: bool = False) -> None:
        """Show ``text`` until it is cleared."""
        if trouble:
            self.trouble = text
        else:
            self.newest = (*self.newest, text)[-LINES:]
        self.redraw()

    def say(self, text: str) -> None:
        """Runner says ``text``: a note that it holds is not shown as well."""
        self.said = text
        if self.newest:
            self.redraw()

    def over(self, text: str) -> None:
        """Forget that trouble, if it is the one that is shown."""
        if text == self.trouble:
            self.clear()

    def clear(self) -> None:
        """Forget the trouble: somebody has seen it."""
        if self.trouble:
            self.trouble = ""
            self.redraw()

    def lines(self, width: int) -> list[Content]:
        """At most ``LINES`` lines."""
        if self.trouble:
            return wrapped(((sentence(self.trouble), NORMAL),), width)[:LINES]
        said = self.said.lower()
        notes = [note for note in self.newest if note.lower() not in said]
        rows = [row for note in notes for row in wrapped(((sentence(note), DIM),), width)]
        return rows[-LINES:]
