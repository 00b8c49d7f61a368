"""The current challenge and the answer wanted: what must be seen first."""

from __future__ import annotations

from textual.content import Content

from runner.engine.view import View
from runner.screen.panel import Panel, wrapped
from runner.screen.wording import DIM, NORMAL, OPEN, STRONG, Text, answer_text, list_lead, sentence


def _count_open(number: int) -> str:
    return f"{number} item left open" if number == 1 else f"{number} items left open"


def challenge_text(view: View) -> Text:
    """What is asked now; where nothing is, what the run waits for."""
    if view.finished:
        if view.complete:
            return (("Complete.", STRONG),)
        return ((f"Ended, {_count_open(len(view.open_items))}.", STRONG),)
    if view.prompt:
        return ((view.prompt, DIM if view.standing_by else STRONG),)
    if view.current is not None:
        return ((view.current.challenge, DIM if view.standing_by else STRONG),)
    return ((sentence(view.activity), STRONG),) if view.activity else ()


def below_challenge(view: View) -> Text:
    """The answer wanted; while nothing is asked, how to go on."""
    if view.finished:
        return ()
    if view.standing_by:
        return (("Standing by. ", STRONG), ("Say “continue” or press c.", NORMAL))
    if view.current is None and view.activity.startswith("offering"):
        return (("Answer ", NORMAL), ("yes", STRONG), (" or ", NORMAL), ("no", STRONG))
    if view.current is None and view.activity.startswith("waiting"):
        return (("Say its name, or press l for the lists.", NORMAL),)
    return answer_text(view)


class Challenge(Panel):
    """The list's name, the challenge in bold with room around it, and the answer wanted."""

    def part(self, view: View) -> object:
        """All that decides what is asked and how."""
        shown = (view.list, view.current, view.prompt, view.choices, view.interrupted)
        how = (view.activity, view.standing_by, view.wants_number)
        return shown, how, view.finished, view.complete, view.open_items

    def lines(self, width: int) -> list[Content]:
        """List, challenge, answer, note, with a blank line between."""
        view = self.view
        blocks = [wrapped(list_lead(view), width)] if not view.finished else []
        blocks.append(wrapped(challenge_text(view), width, indent=2))
        blocks.append(wrapped(below_challenge(view), width, indent=2, hang=2))
        if view.finished:
            for item in view.open_items:
                blocks[-1] += wrapped(((item, OPEN),), width, indent=2, hang=2)
        elif view.current is not None and view.current.note and not view.standing_by:
            blocks[-1] += wrapped(((view.current.note, DIM),), width, indent=2)
        lines: list[Content] = []
        for block in blocks:
            if block:
                lines += [Content(""), *block] if lines else block
        return lines
