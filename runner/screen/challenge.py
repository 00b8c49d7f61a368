"""The current challenge and the answer wanted: what must be seen first."""

from __future__ import annotations

from textual.content import Content

from runner.engine.view import View
from runner.screen.letters import letters
from runner.screen.panel import Panel, wrapped
from runner.screen.wording import (
    DIM,
    NORMAL,
    OPEN,
    STRONG,
    Text,
    answer_text,
    asks_item,
    challenge_words,
    does_item,
    list_lead,
    who_answers,
)

INDENT = 2
MOST_OPEN = 5
"""So many open items are named at the end of a run; the rest are counted."""


def below_challenge(view: View) -> Text:
    """What is wanted, and whether it is critical; at the end, how to close the screen."""
    if view.finished:
        return (("Press q to close.", NORMAL),)
    wanted = answer_text(view)
    critical = asks_item(view) and view.current is not None and view.current.critical
    return (*wanted, ("   critical", NORMAL)) if wanted and critical else wanted


class Challenge(Panel):
    """The list's name, the challenge large, and the answer wanted.

    ``large_lines`` is how many lines of large letters there is room for. One line's height
    is kept for a challenge that is too long for them, so that nothing jumps. ``bare`` leaves
    out the list's name where there is no room for it.
    """

    large_lines = 1
    bare = False

    def part(self, view: View) -> object:
        """All that decides what is asked and how."""
        shown = (view.list, view.current, view.prompt, view.choices, view.interrupted)
        how = (view.activity, view.standing_by, view.wants_number)
        return shown, how, view.finished, view.complete, view.open_items

    def _large(self, width: int) -> list[Content]:
        words = challenge_words(self.view)
        style = DIM if self.view.standing_by else STRONG
        # Without a list below it there is room for a second line on every screen.
        most = 2 if self.large_lines and self.view.list is None else self.large_lines
        rows = letters(words, width - INDENT, most)
        if rows:
            return [Content.assemble(" " * INDENT, (row, style)) for row in rows]
        plain = wrapped(((words.upper(), style),), width, indent=INDENT)
        return [Content(""), *plain, Content("")] if self.large_lines and len(plain) == 1 else plain

    def _large_answer(self, width: int) -> list[Content]:
        view = self.view
        item = view.current
        if self.large_lines < 2 or item is None or not asks_item(view):
            return []
        numbered = (f"{number} {choice}" for number, choice in enumerate(view.choices, start=1))
        rows = letters(", ".join(numbered) or item.response, width - INDENT, 1)
        if not rows:
            return []
        lead = "Do this, then say “done”" if does_item(view) else who_answers(view)
        text = f"{lead}, critical" if item.critical else lead
        large = [Content.assemble(" " * INDENT, row) for row in rows]
        return [Content(" " * INDENT + text), Content(""), *large, Content("")]

    def lines(self, width: int) -> list[Content]:
        """List, challenge, answer, note, with a blank line between."""
        view = self.view
        blocks: list[list[Content]] = []
        if not view.finished and not self.bare:
            blocks.append(wrapped(list_lead(view), width))
        blocks.append(self._large(width))
        below = self._large_answer(width)
        below = below or wrapped(below_challenge(view), width, indent=INDENT, hang=2)
        if view.finished:
            named = [((item, OPEN),) for item in view.open_items[:MOST_OPEN]]
            if len(view.open_items) > MOST_OPEN:
                named.append(((f"and {len(view.open_items) - MOST_OPEN} more", NORMAL),))
            below = [
                *(row for item in named for row in wrapped(item, width, indent=INDENT, hang=2)),
                *below,
            ]
        if (
            view.current is not None
            and view.current.note
            and asks_item(view)
            and self.large_lines > 1
        ):
            below += wrapped(((view.current.note, DIM),), width, indent=INDENT)
        blocks.append(below)
        lines: list[Content] = []
        for block in blocks:
            if block:
                lines += [Content(""), *block] if lines else block
        return lines
