"""What the page shows of a run, in words: a view told in parts that can be sent one by one.

A part is plain data for JSON. Where words have a weight, a part is a list of pieces as in
``runner.screen.wording``, each some characters and "bold", "dim", "underline" or nothing.
The page sets pieces as text and decides no words of its own about the run.
"""

from __future__ import annotations

from collections.abc import Mapping

from runner.engine.view import HeardView, ItemView, MemberView, View
from runner.screen.wording import (
    NORMAL,
    OPEN,
    STRONG,
    Text,
    and_list,
    asks_item,
    callable_text,
    challenge_words,
    does_item,
    item_text,
    list_lead,
    phases_text,
    sentence,
)

PHASES_WIDTH = 120
"""Characters that the phases of the flight may take, about three lines of a telephone."""

Parts = Mapping[str, object]


def parts_of(view: View) -> Parts:
    """All that the page shows of ``view``, part by part."""
    return {
        "title": _title(view),
        "phases": phases_text(view.phases, PHASES_WIDTH),
        "lead": () if view.finished else list_lead(view),
        "asked": challenge_words(view),
        "wanted": wanted(view),
        "who": who_is_to_answer(view),
        "remark": view.current.note if view.current is not None and asks_item(view) else "",
        "heard": heard(view.heard),
        "items": _items(view),
        "figures": [[figure.title, figure.text, figure.changed] for figure in view.figures],
        "next": sentence(view.next_list) if view.next_list and not view.finished else "",
        "crew": [member(one) for one in view.crew],
        "crewlink": f"Link between the machines: {view.link}." if view.link else "",
        "microphone": microphone(view),
        "finished": view.finished,
    }


def question_of(view: View) -> object:
    """What a key pressed on the page would be about: it changes when something else is asked."""
    shown = (view.list.id, view.list.argument) if view.list is not None else None
    item = view.current.id if view.current is not None else ""
    return shown, item, view.prompt, view.activity, view.standing_by, view.finished


def _title(view: View) -> str:
    if view.procedures.startswith(view.aircraft):
        return view.procedures
    return ", ".join(name for name in (view.aircraft, view.procedures) if name)


def wanted(view: View) -> Text:
    """The answer wanted, or the way to go on, without the keys of any keyboard."""
    if view.finished:
        return ((sentence("; ".join(view.open_items)), OPEN),) if view.open_items else ()
    if view.standing_by:
        return (("Standing by. ", STRONG), ("Say “continue”.", NORMAL))
    yes_or_no: Text = (("Answer ", NORMAL), ("yes", STRONG), (" or ", NORMAL), ("no", STRONG))
    match view.activity:
        case "offering":
            return yes_or_no
        case "asking which engine":
            return (("Say the ", NORMAL), ("engine’s number", STRONG))
        case "confirming the engine":
            return (*yes_or_no, (", or the right engine", NORMAL))
        case "waiting for a list to be called":
            return (("Say its name to begin it.", NORMAL),)
        case "waiting for the flow":
            return (("Do it from memory, then say “flow complete”.", NORMAL),)
        case "briefing":
            return (("Then say “briefing complete”.", NORMAL),)
        case "paused":
            return (("Paused", STRONG),)
    critical: Text = ((", critical", NORMAL),) if view.current and view.current.critical else ()
    answer = _item_wanted(view, view.current)
    return (*answer, *critical) if answer else ()


def _item_wanted(view: View, item: ItemView | None) -> Text:
    if view.choices:
        return (("Choose ", NORMAL), (_or_list(view.choices), STRONG))
    if item is not None and item.response and does_item(view):
        return (("Do ", NORMAL), (item.response, STRONG), (", then say “done”", NORMAL))
    if item is not None and item.response:
        return (("Answer ", NORMAL), (item.response, STRONG))
    return (("Say the number", NORMAL),) if view.wants_number else ()


def _or_list(names: tuple[str, ...]) -> str:
    return f"{', '.join(names[:-1])} or {names[-1]}" if len(names) > 1 else "".join(names)


def who_is_to_answer(view: View) -> Text:
    """Whose the question is, by name where a crew flies, else by role."""
    role = view.role_wanted or (view.current.who if view.current is not None else "")
    if view.finished or view.standing_by or view.activity == "paused":
        return ()
    names = [one.name for one in view.crew if one.answers]
    if names:
        told = f", {role}" if role else ""
        return (("To answer: ", NORMAL), (and_list(names), STRONG), (f"{told}.", NORMAL))
    if not role or not (asks_item(view) or view.role_wanted):
        return ()
    missing = "; nobody here has this role" if view.crew else ""
    return (("To answer: ", NORMAL), (role, STRONG), (f"{missing}.", NORMAL))


def heard(last: HeardView | None) -> Text:
    """What was last heard, from whom, and how it was judged."""
    if last is None:
        return ()
    lead = f"Heard from {last.member}" if last.member else "Heard"
    if not last.text:
        told = f"{last.member}: {last.judgement}" if last.member else last.judgement
        return ((sentence(told), NORMAL),)
    return (
        (f"{lead} ", NORMAL),
        (f"“{last.text}”", STRONG),
        (f": {sentence(last.judgement)[:1].lower()}{sentence(last.judgement)[1:]}", NORMAL),
    )


def member(one: MemberView) -> Text:
    """One of the crew with their roles; bold while the question is theirs."""
    roles = and_list(one.roles) if one.roles else "observer"
    if one.answers:
        return ((f"{one.name}, {roles}: to answer", STRONG),)
    return ((f"{one.name}, {roles}", NORMAL),)


def microphone(view: View) -> str:
    """Whether Runner listens and speaks, where either is worth a word."""
    told = [
        word
        for word, so in (
            ("Listening.", view.listening),
            ("Muted: Runner does not speak.", view.muted),
        )
        if so
    ]
    return " ".join(told)


def _items(view: View) -> list[list[object]]:
    """Items as [pieces, whether it is the one asked]; without a list, those to be called."""
    if view.list is None:
        told = callable_text(view)
        return [] if view.finished or not told else [[told, False]]
    current = view.current.id if view.current is not None else ""
    return [
        [item_text(item), item.id == current or (not current and item.status == "current")]
        for item in view.list.items
    ]
