"""What the screens say about a run, in words: each state is a word before it is a weight.

A text is a tuple of pieces, each some characters and a style that any terminal can show
without colour ("bold", "dim", "underline", "italic" or none). ``plain_text`` drops the
styles; nothing is lost by it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from runner.engine.view import (
    FigureView,
    HeardView,
    ItemView,
    ListView,
    MemberView,
    PhaseView,
    View,
)

Piece = tuple[str, str]
Text = tuple[Piece, ...]

DIM = "dim"
STRONG = "bold"
OPEN = "underline"
NORMAL = ""

ITEM_STYLE = {
    "waiting": NORMAL,
    "current": STRONG,
    "done": DIM,
    "left open": OPEN,
    "not applicable": DIM,
    "ask again": OPEN,
}


def plain_text(text: Text) -> str:
    """The characters of a text without their styles."""
    return "".join(piece for piece, _ in text)


def sentence(text: str) -> str:
    """``text`` with a capital first letter and a full stop, unless it ends with a mark."""
    text = text.strip()
    if not text:
        return ""
    first = text[0].upper() + text[1:]
    return first if first[-1] in ".?!:" else first + "."


def and_list(names: Sequence[str]) -> str:
    """Names as one phrase: "a", "a and b", "a, b and c"."""
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"


def _count(number: int) -> str:
    words = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
    return words[number] if number < len(words) else str(number)


def list_name(shown: ListView) -> str:
    """A list's title with its argument: "Engine fire, engine 3"."""
    return f"{shown.title}, {shown.argument}" if shown.argument else shown.title


def item_text(item: ItemView) -> Text:
    """One item as a sentence that ends with its state, unless it simply waits."""
    style = ITEM_STYLE[item.status]
    head = f"{item.challenge}: {item.response}" if item.response else item.challenge
    state = {
        "waiting": "",
        "current": "now",
        "done": "done",
        "left open": "left open",
        "not applicable": "not applicable",
        "ask again": "to be asked again",
    }[item.status]
    if item.status == "done" and item.answered and item.answered.lower() != item.response.lower():
        state = f"done, answered {item.answered}"
    marks = [
        word
        for word, wanted in (
            ("critical", item.critical and item.status in ("current", "left open")),
            ("from memory", item.memory and item.status in ("waiting", "current")),
        )
        if wanted
    ]
    tail = ", ".join([*([state] if state else []), *marks])
    if not tail:
        return ((head, style),)
    if item.status in ("left open", "ask again"):
        return ((head, style), (f", {tail}", NORMAL))
    return ((f"{head}, {tail}", style),)


def list_lead(view: View) -> Text:
    """Which list is being run, how far it is, and what waits underneath it."""
    shown = view.list
    if shown is None:
        return ()
    asked = [item for item in shown.items if item.status != "not applicable"]
    done = sum(item.status == "done" for item in asked)
    pieces: list[Piece] = []
    if shown.abnormal:
        pieces += [("Abnormal", STRONG), (": ", NORMAL)]
    pieces.append((f"{list_name(shown)}, {done} of {len(asked)} done.", NORMAL))
    if view.interrupted:
        waiting = f"{'; '.join(view.interrupted)}."
        pieces += [(" ", NORMAL), ("Waiting underneath", OPEN), (f": {waiting}", NORMAL)]
    return tuple(pieces)


def phases_text(phases: Sequence[PhaseView], width: int) -> Text:
    """Where we are in the flight, as sentences of at most ``width`` characters if possible."""
    text: Text = ()
    for ahead, behind in ((20, 20), (4, 2), (3, 1), (2, 1), (2, 0), (1, 0), (0, 0)):
        text = _phases_text(phases, ahead, behind)
        if len(plain_text(text)) <= width:
            break
    return text


def _phases_text(phases: Sequence[PhaseView], most_ahead: int, most_behind: int) -> Text:
    now = [phase for phase in phases if phase.status == "current"]
    left = [phase.name for phase in phases if phase.status == "left open"]
    ahead = [phase.name.lower() for phase in phases if phase.status == "ahead"]
    behind = [phase.name.lower() for phase in phases if phase.status == "done"]
    pieces: list[Piece] = []
    if now:
        number = phases.index(now[0]) + 1
        pieces += [("Now ", NORMAL), (and_list([phase.name.lower() for phase in now]), STRONG)]
        place = f", phase {number} of {len(phases)}" if len(phases) > 1 else ""
        pieces.append((f"{place}. ", NORMAL))
    if left:
        pieces += [(f"{and_list(left)} left open", OPEN), (". ", NORMAL)]
    if ahead and most_ahead:
        more = len(ahead) - most_ahead
        names = [*ahead[:most_ahead], f"{_count(more)} more"] if more > 0 else ahead
        pieces.append((f"Then {and_list(names)}. ", NORMAL))
    if behind and not ahead and not now and not left:
        pieces.append(("All phases done.", NORMAL))
    elif behind and most_behind:
        more = len(behind) - most_behind
        names = [*behind[-most_behind:], f"{_count(more)} before"] if more > 0 else behind
        pieces.append((sentence(f"{and_list(names)} done"), DIM))
    return tuple(pieces)


def callable_text(view: View) -> Text:
    """The lists that can be called, normal ones first, in two sentences."""
    normal = [title for _, title, abnormal in view.callable_lists if not abnormal]
    abnormal = [title for _, title, abnormal in view.callable_lists if abnormal]
    pieces: list[Piece] = []
    if normal:
        pieces.append((f"Lists that can be called: {and_list([t.lower() for t in normal])}. ", DIM))
    if abnormal:
        pieces.append((f"Abnormal: {and_list([title.lower() for title in abnormal])}.", DIM))
    return tuple(pieces)


def choices_text(choices: Sequence[str]) -> Text:
    """The answers of a choice item, each behind its number key."""
    pieces: list[Piece] = []
    for number, choice in enumerate(choices, start=1):
        if pieces:
            pieces.append(("   ", NORMAL))
        pieces += [(f"{number} ", NORMAL), (choice, STRONG)]
    return tuple(pieces)


def answer_text(view: View) -> Text:
    """What is wanted now, in words: an answer, a yes or no, a number, or the way to go on."""
    if view.finished:
        return ()
    if view.standing_by:
        return (("Standing by. ", STRONG), ("Say “continue” or press c.", NORMAL))
    match view.activity:
        case "offering":
            return (("Answer ", NORMAL), ("yes", STRONG), (" or ", NORMAL), ("no", STRONG))
        case "asking which engine":
            return (("Say or press the ", NORMAL), ("engine’s number", STRONG))
        case "confirming the engine":
            yes_or_no = (("yes", STRONG), (" or ", NORMAL), ("no", STRONG))
            return (("Answer ", NORMAL), *yes_or_no, (", or the right engine", NORMAL))
        case "waiting for a list to be called":
            return (("Say its name or press y to begin it; press l for others.", NORMAL),)
        case "waiting for the flow":
            return (("Do it from memory, then say “flow complete” or press space.", NORMAL),)
        case "briefing":
            return (("Then say “briefing complete” or press space.", NORMAL),)
        case "paused":
            return (("Paused", STRONG),)
    return _item_answer(view)


def asks_item(view: View) -> bool:
    """Whether the answer wanted is the current item's own."""
    return not (view.finished or view.standing_by) and view.activity in ("", "asking")


def does_item(view: View) -> bool:
    """Whether the current item is read out and done, not answered."""
    return view.list is not None and view.list.kind == "read and do"


def _item_answer(view: View) -> Text:
    if view.choices:
        return (("Choose ", NORMAL), *choices_text(view.choices))
    item = view.current
    if item is None:
        return ()
    if item.response and does_item(view):
        return (("Do ", NORMAL), (item.response, STRONG), (", then say “done”", NORMAL))
    if item.response:
        return ((f"{who_answers(view)} ", NORMAL), (item.response, STRONG))
    if view.wants_number:
        return (("Say or type a number", NORMAL),)
    return ()


def who_answers(view: View) -> str:
    """Who gives the answer, and how: "Flight engineer answers"."""
    who = view.current.who if view.current is not None else ""
    if not who:
        return "Choose" if view.choices else "Answer"
    return f"{sentence(who)[:-1]} {'chooses' if view.choices else 'answers'}"


def challenge_words(view: View) -> str:
    """What is asked now; where nothing is, what the run waits for."""
    if view.finished:
        if view.complete:
            return "Complete"
        count = len(view.open_items)
        return "1 item left open" if count == 1 else f"{count} items left open"
    if view.current is not None and asks_item(view) and does_item(view):
        return view.current.challenge
    if view.prompt:
        return view.prompt[:1].upper() + view.prompt[1:]
    if view.current is not None:
        return view.current.challenge
    if view.activity.startswith("waiting"):
        return "Waiting"
    return view.activity[:1].upper() + view.activity[1:]


def heard_text(heard: HeardView | None) -> Text:
    """What was last heard and how it was judged."""
    if heard is None:
        return ()
    if not heard.text:
        return ((sentence(heard.judgement), NORMAL),)
    return (
        (f"{heard.member}: " if heard.member else "Heard ", NORMAL),
        (f"“{heard.text}”", STRONG),
        (f": {heard.judgement}" + ("" if heard.judgement.endswith(".") else "."), NORMAL),
    )


def crew_text(crew: Iterable[MemberView], link: str) -> Text:
    """Who is aboard, who answers now in bold, and how the link stands."""
    pieces: list[Piece] = []
    for member in crew:
        if pieces:
            pieces.append(("; ", NORMAL))
        pieces += [
            (member.name, STRONG if member.answers else NORMAL),
            (", " + (" and ".join(member.roles) or "observer"), NORMAL),
            (", answers" if member.answers else "", STRONG),
        ]
    if link:
        pieces.append((f"{'. ' if pieces else ''}{link}.", NORMAL))
    return tuple(pieces)


def _kept_together(value: str) -> str:
    """A value that no line break parts from its unit."""
    return value.replace(" ", "\N{NO-BREAK SPACE}")


def figures_text(figures: Iterable[FigureView]) -> Text:
    """Figures as one running sentence."""
    pieces: list[Piece] = []
    for figure in figures:
        if pieces:
            pieces.append((", ", NORMAL))
        pieces += [(f"{figure.title} ", NORMAL), (_kept_together(figure.text), STRONG)]
        if figure.changed:
            pieces += [(" ", NORMAL), ("changed", OPEN)]
    return (*pieces, (".", NORMAL)) if pieces else ()


def loudness(dbfs: float) -> str:
    """A speech level, in dB below full scale, as a word."""
    if dbfs > -3:
        return "too loud"
    if dbfs > -35:
        return "good level"
    return "faint" if dbfs > -55 else "very faint"


def microphone_words(dbfs: float, state: str) -> str:
    """The microphone's state and, while somebody speaks, the level in a word."""
    match state:
        case "open":
            return "Microphone open"
        case "hearing speech":
            return f"Microphone open, hearing speech, {loudness(dbfs)}"
        case "shut":
            return "Microphone shut while Runner speaks"
        case "no microphone":
            return "No microphone, keys only"
    return sentence(state)[:-1]
