"""Checks over a whole procedures file: what calls for its lists, and the rejected take-off."""

from __future__ import annotations

from collections.abc import Iterable

from runner.checklist.context import Context
from runner.checklist.model import Checklist, Moment, Procedures, Text, Where
from runner.checklist.text import parse_text, parsed, trial


def cross_check(procedures: Procedures, context: Context) -> None:
    """Note what is wrong between the parts of a procedures file."""
    lists = [c for phase in procedures.phases for c in phase.lists] + list(procedures.abnormal)
    _one_rejected_takeoff(lists, context)
    _calls_differ(lists, procedures.moments.values(), context)


def call_patterns(checklist: Checklist) -> tuple[Text, ...]:
    """What calls for a list: its title, with or without `list` or `checklist`, and its calls."""
    words = " ".join("".join(c if c.isalnum() else " " for c in checklist.title).split())
    if not words:
        return checklist.calls
    return (parse_text(f"{words} (checklist / list)?"), *checklist.calls)


def _one_rejected_takeoff(lists: list[Checklist], context: Context) -> None:
    found = [c for c in lists if c.rejected_takeoff]
    for extra in found[1:]:
        context.problems.error(
            extra.where,
            f"'{found[0].id}' (line {found[0].where.line}) is the rejected take-off list already; "
            "there is one",
        )


def _calls_differ(lists: list[Checklist], moments: Iterable[Moment], context: Context) -> None:
    """No phrase calls for two lists, or for a list and a moment."""
    owners: dict[str, tuple[str, str]] = {}

    def claim(text: Text, what: str, owner: str, where: Where) -> None:
        for phrase in parsed(trial(text)).texts():
            taken = owners.setdefault(phrase, (what, owner))
            if taken != (what, owner):
                context.problems.error(
                    where,
                    f"'{phrase}' calls for the {taken[0]} '{taken[1]}' already; "
                    f"the {what} '{owner}' needs another phrase",
                )
                return

    for checklist in lists:
        for text in call_patterns(checklist):
            claim(text, "list", checklist.id, checklist.where)
    for moment in moments:
        if moment.said is not None:
            claim(moment.said, "moment", moment.id, moment.where)
