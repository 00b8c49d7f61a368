"""Putting the questions: which one is due is decided by the stack of lists alone."""

from __future__ import annotations

from runner.checklist.model import Spoken
from runner.engine.conditions import applies
from runner.engine.lines import EMPTY, Line, fill, item_lines, said
from runner.engine.listening import engine_word
from runner.engine.speaking import Turn, list_name, split_key
from runner.engine.state import ListRun


def pose(turn: Turn, again: bool = False) -> None:
    """Put the question that the list on top is waiting for."""
    stage = turn.run.stack[-1].stage
    if stage == "flow":
        ask_flow(turn, again)
    elif stage == "briefing":
        ask_briefing(turn, again)
    else:
        ask_item(turn, again)


def item_engine(turn: Turn) -> int | None:
    """The engine that the current item is about."""
    engine = turn.item.engine
    return engine if engine is not None else turn.list_run.engine


def ask_item(turn: Turn, again: bool = False, insist: bool = False) -> None:
    """Challenge the current item, after its engine was confirmed where the file wants that.

    ``again``: as a reminder; ``insist``: aloud, whatever the wordiness.
    """
    frame = turn.run.stack[-1]
    list_run = turn.run.lists[frame.key]
    item = turn.program.items[frame.item]
    engine = item.engine if item.engine is not None else list_run.engine
    if item.confirm and engine is not None and frame.confirmed != item.id:
        prompt = said(turn.program, "confirm_engine", engine=engine_line(turn, engine))
        turn.ask("engine confirm", prompt, again=again)
        turn.prepare(turn.lines(item.id, engine).prompt)
        return
    lines = turn.lines(item.id, engine)
    checklist = turn.program.lists[list_run.list]
    wordiness = turn.run.wordiness
    if checklist.kind == "read and do":
        prompt = lines.prompt if wordiness == "full" else lines.prompt_terse
    elif again:
        prompt = lines.still_waiting
    elif turn.status(list_run, item.id).status == "ask again":
        prompt = lines.again
    else:
        prompt = lines.prompt if wordiness == "full" else lines.prompt_terse
    aloud = again or insist or wordiness != "tones" or checklist.abnormal
    turn.ask("item", prompt, aloud=aloud, again=again)
    turn.prepare(following(turn, list_run), lines.still_waiting, lines.first_wrong)


def following(turn: Turn, list_run: ListRun) -> Line:
    """What is said when the current item is answered: the next challenge, or the list's end."""
    checklist = turn.program.lists[list_run.list]
    place = turn.program.place[turn.run.stack[-1].item] + 1
    for item in checklist.items[place:]:
        if (
            item.id not in list_run.items
            and not isinstance(item.response, Spoken)
            and (item.condition is None or applies(item, turn.run.figures))
        ):
            lines = item_lines(turn.program, item.id, list_run.engine, turn.values(item.id))
            return lines.prompt if turn.run.wordiness == "full" else lines.prompt_terse
    return said(turn.program, "list_complete", list=turn.title(list_run))


def engine_line(turn: Turn, engine: int) -> Line:
    """An engine's number."""
    return Line(str(engine), engine_word(turn.program, engine))


def ask_flow(turn: Turn, again: bool = False) -> None:
    """Name the flow; it is done from memory and verified when the pilot says it is done."""
    prompt = said(turn.program, "flow_begins", list=turn.title(turn.list_run))
    turn.ask("flow", prompt, again=again)


def ask_briefing(turn: Turn, again: bool = False) -> None:
    """Speak a briefing's lines; a reminder only names it."""
    title = turn.title(turn.list_run)
    if again:
        turn.ask("briefing", said(turn.program, "still_waiting", challenge=title), again=True)
        return
    for item in turn.checklist.items:
        if isinstance(item.response, Spoken) and applies(item, turn.run.figures):
            turn.lead.append(turn.lines(item.id, turn.list_run.engine).challenge)
    turn.ask("briefing", EMPTY if turn.lead else title)
    turn.run.prompt = title.text


def ask_offer(turn: Turn, key: str, again: bool = False) -> None:
    """Offer a list whose moment has come, with its engine."""
    name, argument = split_key(key)
    checklist = turn.program.lists[name]
    title = list_name(turn.program, name, argument)
    offer = Line(f"{title.text} list?", f"{title.speech} list?")
    if checklist.offer is not None and (argument or not checklist.argument):
        engine = int(argument) if argument else None
        offer = fill(turn.program, checklist.offer, turn.run.figures, engine)
    prompt = said(turn.program, "list_offered", offer=offer)
    turn.ask("offer", prompt, subject=key, again=again)


def ask_call(turn: Turn, list_id: str, again: bool = False) -> None:
    """Name the next list and wait until it is called."""
    title = list_name(turn.program, list_id)
    prompt = said(turn.program, "next_list", list=title)
    turn.ask("call", prompt, subject=list_id, again=again)
    turn.prepare(said(turn.program, "list_begins", list=title))


def ask_which_engine(turn: Turn, list_id: str, again: bool = False) -> None:
    """A list about one engine was called without its number."""
    prompt = said(turn.program, "which_engine", list=list_name(turn.program, list_id))
    turn.ask("which engine", prompt, subject=list_id, again=again)


def ask_again(turn: Turn) -> None:
    """Put the open question once more, as a reminder."""
    run = turn.run
    match run.asking:
        case "offer":
            ask_offer(turn, run.subject, again=True)
        case "call":
            ask_call(turn, run.subject, again=True)
        case "which engine":
            ask_which_engine(turn, run.subject, again=True)
        case "standing by":
            stand_by(turn, again=True)
        case _:
            pose(turn, again=True)


def stand_by(turn: Turn, again: bool = False) -> None:
    """Hold everything until the pilot says to go on; reminders name what is held."""
    run = turn.run
    line = said(turn.program, "standing_by")
    if again and run.stack:
        title = turn.title(turn.list_run)
        line = Line(f"{line.text}, {title.text}", f"{line.speech}, {title.speech}")
    turn.ask("standing by", line, subject=run.subject, again=again)
