"""What the screens say about a run, in words: each state is a word before it is a weight.

A text is a tuple of pieces, each some characters and a style that any terminal can show
without colour ("bold", "dim", "underline", "italic" or none). ``plain_text`` drops the
styles; nothing is lost by it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from runner.engine.view import FigureView, HeardView, ItemView, ListView, PhaseView, View

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
        for word, wanted in (("critical", item.critical), ("from memory", item.memory))
        if wanted and item.status in ("waiting", "current", "left open", "ask again")
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
        pieces.append(("Abnormal list. ", STRONG))
    pieces.append((list_name(shown), STRONG))
    pieces.append((f", {done} of {len(asked)} done.", NORMAL))
    if view.interrupted:
        verb = "is" if len(view.interrupted) == 1 else "are"
        pieces.append((f" {and_list(view.interrupted)} {verb} waiting underneath.", OPEN))
    return tuple(pieces)


def _phase_names(phases: Sequence[PhaseView], most: int, keep: str) -> str:
    names = [phase.name if keep == "first" else phase.name.lower() for phase in phases]
    if len(names) <= most:
        return and_list(names)
    kept = names[:most] if keep == "first" else names[-most:]
    more = _count(len(names) - most)
    return and_list([*kept, f"{more} more"] if keep == "first" else [f"{more} phases", *kept])


def phases_text(phases: Sequence[PhaseView], width: int) -> Text:
    """Where we are in the flight, as running sentences cut to about ``width`` characters."""
    shortest: Text = ()
    for most in (20, 3, 2, 1, 0):
        shortest = _phases_text(phases, most)
        if len(plain_text(shortest)) <= width:
            break
    return shortest


def _phases_text(phases: Sequence[PhaseView], most: int) -> Text:
    now = [phase for phase in phases if phase.status == "current"]
    done = [phase for phase in phases if phase.status == "done"]
    left = [phase for phase in phases if phase.status == "left open"]
    ahead = [phase for phase in phases if phase.status == "ahead"]
    pieces: list[Piece] = []
    if now:
        pieces += [("Now ", NORMAL), (and_list([p.name.lower() for p in now]), STRONG)]
        pieces += [(". ", NORMAL)]
    if ahead:
        if most == 0:
            pieces.append((f"{_count(len(ahead)).capitalize()} phases ahead. ", NORMAL))
        else:
            names = _phase_names(ahead, most, "first")
            pieces.append((f"{names[0]}{names[1:].lower()} ahead. ", NORMAL))
    if left:
        names = and_list([phase.name for phase in left])
        pieces += [(f"{names} left open", OPEN), (". ", NORMAL)]
    if done:
        if most == 0:
            pieces.append((f"{_count(len(done)).capitalize()} done.", DIM))
        else:
            names = _phase_names(done, most, "last")
            pieces.append((f"{names[0].upper()}{names[1:]} done.", DIM))
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
    """The answer wanted now, in words; empty where none is known or wanted."""
    if view.finished or view.standing_by:
        return ()
    if view.choices:
        return (("Answer ", NORMAL), *choices_text(view.choices))
    item = view.current
    if item is None:
        return ()
    who = f"{sentence(item.who)[:-1]} answers " if item.who else "Answer "
    if item.response:
        return ((who, NORMAL), (item.response, STRONG))
    if view.wants_number:
        return (("Say or type a number", NORMAL),)
    return ()


def heard_text(heard: HeardView | None) -> Text:
    """What was last heard and how it was judged."""
    if heard is None:
        return ()
    if not heard.text:
        return ((sentence(heard.judgement), NORMAL),)
    return (
        ("Heard ", NORMAL),
        (f"“{heard.text}”", STRONG),
        (f": {heard.judgement}" + ("" if heard.judgement.endswith(".") else "."), NORMAL),
    )


def figure_text(figure: FigureView) -> Text:
    """One figure: its value in bold, then what it is."""
    tail = ", changed" if figure.changed else ""
    return ((figure.text, STRONG), (f" {figure.title}", NORMAL), (tail, OPEN))


def figures_text(figures: Iterable[FigureView]) -> Text:
    """Figures as one running sentence."""
    pieces: list[Piece] = []
    for figure in figures:
        if pieces:
            pieces.append((", ", NORMAL))
        pieces += [(f"{figure.title} ", NORMAL), (figure.text, STRONG)]
        if figure.changed:
            pieces.append((" changed", OPEN))
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
