"""The list with its items, as sentences; the current one and what follows stay in view."""

from __future__ import annotations

from textual.content import Content

from runner.engine.view import View
from runner.screen.panel import Panel, wrapped
from runner.screen.wording import DIM, callable_text, item_text


def first_line(current: int, total: int, height: int, moved: int = 0) -> int:
    """The line at the top, so that ``current`` stands in the upper third of ``height``."""
    top = current - height // 3 + moved
    return max(0, min(top, total - height))


class Items(Panel):
    """The items of the list being run, scrolled so that the current one is in view."""

    keeps_height = True
    moved = 0

    def part(self, view: View) -> object:
        """The list and the item asked; without a list, those that can be called."""
        return view.list, view.current, view.callable_lists, view.finished

    def show(self, view: View) -> None:
        """Go back to the current item when another one is asked."""
        if view.current != self.view.current:
            self.moved = 0
        super().show(view)

    def look(self, lines: int) -> None:
        """Look further along the list, or back, by so many lines."""
        self.moved += lines
        self.redraw()

    def lines(self, width: int) -> list[Content]:
        """The lines that fit; words tell how many are out of sight."""
        shown = self.view.list
        if shown is None:
            return [] if self.view.finished else wrapped(callable_text(self.view), min(width, 64))
        every: list[Content] = []
        current = 0
        wanted = self.view.current.id if self.view.current else ""
        for item in shown.items:
            if item.id == wanted or (not wanted and item.status == "current"):
                current = len(every)
            every += wrapped(item_text(item), width, hang=2)
        height = self.content_size.height
        if len(every) <= height:
            return every
        top = first_line(current, len(every), height, self.moved)
        self.moved = top - first_line(current, len(every), height) if self.moved else 0
        seen = every[top : top + height]
        if top > 0 and current > top:
            seen[0] = Content.styled(f"{top + 1} more above", DIM)
        below = len(every) - top - height
        if below > 0 and height > 2:
            seen[-1] = Content.styled(f"{below + 1} more below", DIM)
        return seen
