"""Every key and what it does, at the foot of the screen."""

from __future__ import annotations

from collections.abc import Mapping

from textual.content import Content

from runner.engine.view import View
from runner.screen.keys import KEYS, NEXT_WORDING, Key
from runner.screen.panel import Panel
from runner.screen.wording import DIM, NORMAL, STRONG


def key_label(key: Key, view: View) -> str:
    """What a key does now."""
    if key.does == "mute":
        return "unmute" if view.muted else "mute"
    if key.does == "wording":
        return NEXT_WORDING.get(view.wordiness, "full")
    return key.label


class Legend(Panel):
    """All keys in as few lines as they need; no key is parted from its word.

    ``words`` are what keys are called where not all of them do something.
    """

    words: Mapping[str, str] | None = None

    def part(self, view: View) -> object:
        """What changes a key's word."""
        return view.muted, view.wordiness, len(view.choices)

    def _label(self, key: Key) -> str:
        if self.words is None or key.does == "mute":
            return key_label(key, self.view)
        return self.words[key.does]

    def lines(self, width: int) -> list[Content]:
        """The keys in the order of the table, two spaces between."""
        hints: list[tuple[str, str]] = []
        keys = ""
        for key in KEYS:
            if self.words is not None and key.does not in self.words:
                continue
            keys += key.shown
            if key.label:
                hints.append((keys, self._label(key)))
                keys = ""
        if self.view.choices:
            hints.insert(0, (f"1–{len(self.view.choices)}", "choose"))
        lines: list[list[tuple[str, str]]] = [[]]
        used = 0
        for shown, label in hints:
            needed = len(shown) + 1 + len(label)
            if lines[-1] and used + 2 + needed > width:
                lines.append([])
                used = 0
            if lines[-1]:
                lines[-1].append(("  ", NORMAL))
                used += 2
            lines[-1] += [(shown, STRONG), (f" {label}", DIM)]
            used += needed
        return [Content.assemble(*line) for line in lines]
