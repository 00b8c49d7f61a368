"""The lists that can be called, found by typing a part of their names."""

from __future__ import annotations

from textual.content import Content

from runner.engine.view import View
from runner.screen.calling import Call, CallableList, matching, split_argument
from runner.screen.panel import Panel, wrapped
from runner.screen.wording import DIM, NORMAL, STRONG


class ListsMenu(Panel):
    """The lists that fit what was typed; the chosen one in bold, with the word "call"."""

    keeps_height = True
    typed = ""
    chosen = 0

    def part(self, view: View) -> object:
        """The lists."""
        return view.callable_lists

    def search(self, typed: str) -> None:
        """Show only the lists that fit ``typed``."""
        self.typed, self.chosen = typed, 0
        self.redraw()

    def look(self, rows: int) -> None:
        """Choose the list so many rows further on."""
        last = max(0, len(self._fits()) - 1)
        self.chosen = max(0, min(last, self.chosen + rows))
        self.redraw()

    def _fits(self) -> tuple[CallableList, ...]:
        return matching(self.view.callable_lists, self.typed)

    def call(self) -> Call | None:
        """The chosen list with the engine number typed, if any list fits."""
        fits = self._fits()
        if not fits:
            return None
        id_, title, _ = fits[min(self.chosen, len(fits) - 1)]
        return Call(id_, title, split_argument(self.typed)[1])

    def lines(self, width: int) -> list[Content]:
        """A line a list, the chosen one in view."""
        fits = self._fits()
        if not fits:
            return [Content("No list is called that.")]
        argument = split_argument(self.typed)[1]
        height = max(2, self.content_size.height - 1)
        rows: list[Content] = []
        for number, (_, title, abnormal) in enumerate(fits):
            chosen = number == self.chosen
            name = f"{title}, engine {argument}" if argument and abnormal else title
            tail = ", abnormal" if abnormal else ""
            ending = ", Enter calls it" if chosen else ""
            text = (f"{name}{tail}{ending}", STRONG if chosen else NORMAL)
            rows += wrapped((text,), width)[:1]
        top = max(0, min(self.chosen - height // 2, len(rows) - height))
        help_line = "Type a part of the name, and an engine’s number behind it. Esc closes."
        return [Content.styled(help_line, DIM), *rows[top : top + height]]
