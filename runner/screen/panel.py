"""The base of every part of the full screen: draws its part of the view, and only that."""

from __future__ import annotations

from textual.content import Content
from textual.geometry import Size
from textual.widget import Widget

from runner.engine.view import View
from runner.screen.wording import Text

_HELD = "\ue000"
"""One private character stands for a no-break space, where Textual would break a line."""


def wrapped(text: Text, width: int, *, indent: int = 0, hang: int = 0) -> list[Content]:
    """``text`` in lines of at most ``width`` cells; ``hang`` more cells from the second on."""
    if not any(characters for characters, _ in text):
        return []
    held = [(characters.replace("\N{NO-BREAK SPACE}", _HELD), style) for characters, style in text]
    lines = Content.assemble(*held).wrap(max(4, width - indent - hang))
    return [
        Content.assemble(
            " " * (indent if number == 0 else indent + hang),
            Content(line.plain.replace(_HELD, " "), list(line.spans)),
        )
        for number, line in enumerate(lines)
    ]


class Panel(Widget):
    """A part of the screen, as lines of text as wide as it is given.

    ``part`` names what of the view is shown here; the panel is drawn again only when
    that has changed.
    """

    can_focus = False
    keeps_height = False
    """True where the height comes from the screen's layout, not from the lines."""

    hides_empty = False
    """True where a panel with nothing to show takes no row; ``covered`` hides it, too."""
    covered = False

    def __init__(self, view: View, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.view = view
        if self.hides_empty:
            self.display = False

    def part(self, view: View) -> object:
        """The part of the view that is shown here: plain frozen data."""
        raise NotImplementedError

    def lines(self, width: int) -> list[Content]:
        """The part as lines of at most ``width`` cells."""
        raise NotImplementedError

    def show(self, view: View) -> None:
        """Draw ``view`` if the part of it shown here has changed."""
        changed = self.part(view) != self.part(self.view)
        self.view = view
        if changed:
            self.redraw()

    def redraw(self) -> None:
        """Draw the panel again, with as much height as it now needs."""
        if self.hides_empty:
            self.display = not self.covered and bool(self.lines(80))
        if self.is_attached:
            self.refresh(layout=not self.keeps_height)

    def get_content_height(
        self,
        container: Size,  # noqa: ARG002
        viewport: Size,  # noqa: ARG002
        width: int,
    ) -> int:
        """As many rows as there are lines."""
        return len(self.lines(width)) if width else 0

    def render(self) -> Content:
        """The lines, one under another."""
        return Content("\n").join(self.lines(self.content_size.width))
