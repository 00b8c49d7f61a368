"""The line to type in: an answer, an input's new value, or the name of a list."""

from __future__ import annotations

from collections.abc import Callable
from typing import ClassVar, Literal

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal
from textual.widgets import Input, Static

Purpose = Literal["type", "set", "lists"]

LABELS: dict[Purpose, str] = {
    "type": "Answer: ",
    "set": "Set name=value: ",
    "lists": "Call the list: ",
}


class Line(Input):
    """One line of input that leaves the arrows to what is chosen above it."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "app.close", "Close"),
        Binding("up", "app.press('earlier')", "Up"),
        Binding("down", "app.press('further')", "Down"),
    ]


class Entry(Horizontal):
    """The line with its label; mounted only while somebody types."""

    def __init__(self, purpose: Purpose, text: str, done: Callable[[str], None]) -> None:
        super().__init__(id="entry")
        self.purpose: Purpose = purpose
        self._text = text
        self._done = done

    def compose(self) -> ComposeResult:
        """A label and the line."""
        yield Static(LABELS[self.purpose], id="entry-label")
        yield Line(self._text, id="entry-line", compact=True, select_on_focus=False)

    def on_mount(self) -> None:
        """Type at once."""
        self.query_one(Line).focus()

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Hand over what was typed."""
        event.stop()
        self._done(event.value.strip())
