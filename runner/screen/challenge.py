"""The current challenge and the answer wanted: what must be seen first."""

from __future__ import annotations

from textual.content import Content

from runner.engine.view import View
from runner.screen.letters import letters
from runner.screen.panel import Panel, wrapped
from runner.screen.wording import DIM, NORMAL, OPEN, STRONG, Text, answer_text, list_lead, sentence

INDENT = 2


def challenge_words(view: View) -> str:
    """What is asked now; where nothing is, what the run waits for."""
    if view.finished:
        if view.complete:
            return "Complete"
        count = len(view.open_items)
        return "1 item left open" if count == 1 else f"{count} items left open"
    if view.prompt:
        return view.prompt
    if view.current is not None:
        return view.current.challenge
    if view.activity.startswith("waiting"):
        return "Waiting"
    return view.activity[:1].upper() + view.activity[1:]


def below_challenge(view: View) -> Text:
    """The answer wanted; while nothing is asked, how to go on."""
    if view.finished:
        return ()
    if view.standing_by:
        return (("Standing by. ", STRONG), ("Say “continue” or press c.", NORMAL))
    if view.current is None and view.activity.startswith("offering"):
        return (("Answer ", NORMAL), ("yes", STRONG), (" or ", NORMAL), ("no", STRONG))
    if view.current is None and view.activity.startswith("waiting"):
        lead = sentence(view.activity)
        return ((f"{lead} ", NORMAL), ("Say its name, or press l for the lists.", NORMAL))
    wanted = answer_text(view)
    if wanted and view.current is not None and view.current.critical:
        return (*wanted, ("   critical", NORMAL))
    return wanted


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
        if self.large_lines < 2 or item is None or view.standing_by:
            return []
        numbered = (f"{number} {choice}" for number, choice in enumerate(view.choices, start=1))
        rows = letters(", ".join(numbered) or item.response, width - INDENT, 1)
        if not rows or view.finished:
            return []
        verb = "chooses" if view.choices else "answers"
        lead = f"{sentence(item.who)[:-1]} {verb}" if item.who else "Answer"
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
        for item in view.open_items if view.finished else ():
            below += wrapped(((item, OPEN),), width, indent=INDENT, hang=2)
        if view.current is not None and view.current.note and self.large_lines > 1:
            below += wrapped(((view.current.note, DIM),), width, indent=INDENT)
        blocks.append(below)
        lines: list[Content] = []
        for block in blocks:
            if block:
                lines += [Content(""), *block] if lines else block
        return lines
