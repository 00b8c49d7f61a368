"""Control phrases and their keys: the same functions for both."""

from __future__ import annotations

from dataclasses import replace

from runner.checklist.model import Spoken
from runner.engine.answers import By, by_hand, confirmed, keep, right
from runner.engine.asking import ask_call, ask_offer, ask_which_engine, pose, stand_by
from runner.engine.changes import compare_figures
from runner.engine.conditions import applies
from runner.engine.crewing import HANDING, hand_over
from runner.engine.effects import Explain, SetInput
from runner.engine.events import Wordiness
from runner.engine.lines import figure_line, plain, said
from runner.engine.lists import (
    advance,
    after_list,
    begin,
    hand_back,
    keep_list,
    key_of,
    refresh_calls,
    set_item,
    settle,
    with_status,
)
from runner.engine.speaking import Turn, list_name, split_key
from runner.engine.state import Frame, ItemRun

KEPT_BY_DISREGARD = (
    "program",
    "at",
    "figures",
    "changed",
    "window",
    "listening",
    "muted",
    "paused",
    "utterance",
    "speaking",
    "urgent",
    "speed",
    "warnings",
    "still",
    "prompting",
    "timing",
    "heard",
    "last_said",
    "crew",
    "handing",
    "called_out",
    "reached",
)
"""What *disregard* does not undo: what was heard, said, reached or worked out stays so."""


def control(turn: Turn, name: str, by: By) -> bool:
    """Carry out a control; False where it makes no sense now."""
    action = _ACTIONS.get(name)
    if action is not None:
        action(turn)
        return True
    if name in HANDING:
        if not hand_over(turn, name):
            return False
        put_again(turn)
        return True
    asking = turn.run.asking
    if name == "done":
        return _done(turn, by)
    if name == "flow_complete" and asking == "flow":
        _flow_complete(turn)
    elif name == "briefing_complete" and asking == "briefing":
        _briefing_complete(turn, by)
    elif name == "affirm":
        return _affirm(turn, by)
    elif name == "keep":
        return keep(turn, by)
    elif name == "negative":
        return _negative(turn)
    else:
        return False
    return True


def pose_due(turn: Turn) -> None:
    """Put the question that is due when nothing in particular was decided."""
    if turn.run.stack:
        pose(turn)
    else:
        after_list(turn, at_once=False)


def put_again(turn: Turn) -> None:
    """Put the open question once more, as new."""
    run = turn.run
    asking = run.asking
    if asking in ("item", "engine confirm", "flow", "briefing"):
        pose(turn)
    elif asking == "offer":
        ask_offer(turn, run.subject)
    elif asking == "call":
        ask_call(turn, run.subject)
    elif asking == "which engine":
        ask_which_engine(turn, run.subject)
    elif asking == "standing by":
        stand_by(turn)


def _stand_by(turn: Turn) -> None:
    run = turn.run
    if run.asking == "offer":
        run.offers = (run.subject, *run.offers)
    if run.asking != "which engine":
        run.subject = ""
    turn.hush()
    stand_by(turn)


def _resume(turn: Turn) -> None:
    run = turn.run
    turn.hush()
    if run.asking in ("call", "offer"):
        call(turn, *split_key(run.subject))
    elif run.asking == "standing by" and run.subject:
        ask_which_engine(turn, run.subject)
    elif run.asking == "standing by" and run.stack:
        hand_back(turn)
    else:
        pose_due(turn)


def _go_back(turn: Turn) -> None:
    """The item before the current one is open again and asked."""
    turn.hush()
    if not turn.run.stack or turn.run.stack[-1].stage != "items":
        put_again(turn)
        return
    frame = turn.run.stack[-1]
    list_run = turn.list_run
    items = turn.checklist.items
    for place in range(turn.program.place[frame.item] - 1, -1, -1):
        item = items[place]
        status = turn.status(list_run, item.id).status
        if status in ("done", "left open", "ask again") and not isinstance(item.response, Spoken):
            _come_back_to(turn, frame)
            set_item(turn, frame.key, item.id, ItemRun("waiting"))
            turn.set_top(Frame(frame.key, item.id))
            pose(turn)
            return
    turn.say_first("nothing_open")
    pose(turn)


def _come_back_to(turn: Turn, frame: Frame) -> None:
    """An item left open that was being asked again waits to be asked, now that another is."""
    if frame.item and turn.status(turn.run.lists[frame.key], frame.item).status == "left open":
        set_item(turn, frame.key, frame.item, ItemRun("waiting"))


def _later(turn: Turn) -> None:
    """Leave the current item open; a flow, a briefing or an offer waits."""
    run = turn.run
    turn.hush()
    if run.asking in ("item", "engine confirm"):
        frame = run.stack[-1]
        set_item(turn, frame.key, frame.item, ItemRun("left open"))
        challenge = turn.lines(frame.item, turn.list_run.engine).challenge
        turn.say_first("later", challenge=challenge)
        turn.note(f"{challenge.text}: left open", "judged")
        advance(turn)
    elif run.asking in ("flow", "briefing"):
        _stand_by(turn)
    elif run.asking == "offer":
        pose_due(turn)
    else:
        put_again(turn)


def _disagree(turn: Turn) -> None:
    """The item completed last was not right: it is open again and asked."""
    run = turn.run
    turn.hush()
    key, item = run.last_done
    list_run = run.lists.get(key)
    if list_run is None:
        turn.say_first("nothing_open")
        pose_due(turn)
        return
    run.last_done = ("", "")
    for frame in run.stack:
        if frame.key == key:
            _come_back_to(turn, frame)
    set_item(turn, key, item, ItemRun("waiting"))
    keep_list(turn, with_status(run.lists[key], "open"))
    run.stack = (*[f for f in run.stack if f.key != key], Frame(key, item))
    refresh_calls(turn)
    challenge = turn.lines(item, list_run.engine).challenge
    turn.say_first("reopened", challenge=challenge)
    turn.note(f"{challenge.text}: open again", "judged")
    pose(turn)


def _disregard(turn: Turn) -> None:
    """Forget the last answer or control: everything stands as before it."""
    run = turn.run
    turn.hush()
    before = run.undo
    if before is None:
        turn.say_first("nothing_open")
        pose_due(turn)
        return
    for name, value in run.undo_inputs:
        if value is not None:
            turn.effects.append(SetInput(name, value))
    kept = {name: run.__dict__[name] for name in KEPT_BY_DISREGARD}
    run.__dict__.update(before.__dict__)
    run.__dict__.update(kept)
    run.undo = None
    run.undo_inputs = ()
    compare_figures(turn)
    turn.say_first("disregarded")
    turn.note("disregarded", "judged")
    put_again(turn)


def reject(turn: Turn) -> None:
    """Stop every callout and the lists being run; bring the rejected take-off list."""
    run = turn.run
    turn.stop_timer()
    turn.silence()
    run.rejected = True
    run.offers = ()
    run.stack = ()
    refresh_calls(turn)
    name = turn.program.rejected_takeoff
    if not name:
        turn.note("rejected: no list for it", "judged")
        stand_by(turn)
        return
    title = list_name(turn.program, name)
    turn.say(said(turn.program, "rejected", list=title), "urgent")
    turn.note(f"rejected, {title.text}", "judged")
    call(turn, name, "", announce=False)


def _mute(turn: Turn) -> None:
    run = turn.run
    if run.muted:
        return
    run.muted = True
    turn.close()
    turn.say(said(turn.program, "muted"))


def unmute(turn: Turn) -> None:
    """Listen again; only a key can ask for it."""
    run = turn.run
    if not run.muted:
        return
    run.muted = False
    turn.say(said(turn.program, "unmuted"))
    turn.open()


def _why(turn: Turn) -> None:
    """Say the figures of the current item, and have their working shown."""
    run = turn.run
    turn.hush()
    if run.asking == "item":
        for name in sorted(turn.item.used):
            figure = run.figures.get(name)
            if figure is None:
                continue
            title = plain(turn.program, figure.title or name.replace("_", " "))
            value = figure_line(turn.program, figure)
            turn.say_first("last_done", challenge=title, answer=value)
            turn.effects.append(Explain(name))
    put_again(turn)


def _full(turn: Turn) -> None:
    _speak(turn, "full")


def _terse(turn: Turn) -> None:
    _speak(turn, "terse")


def _tones(turn: Turn) -> None:
    _speak(turn, "tones")


def _speak(turn: Turn, wordiness: Wordiness) -> None:
    run = turn.run
    run.wordiness = run.usual = wordiness
    turn.note(f"speaking: {wordiness}")
    turn.hush()
    put_again(turn)


_ACTIONS = {
    "say_again": put_again,
    "stand_by": _stand_by,
    "resume": _resume,
    "go_back": _go_back,
    "later": _later,
    "disagree": _disagree,
    "disregard": _disregard,
    "reject": reject,
    "mute": _mute,
    "why": _why,
    "full": _full,
    "terse": _terse,
    "tones": _tones,
}


def _done(turn: Turn, by: By) -> bool:
    """*Done*: by voice in a read and do list, by key wherever something waits to be done."""
    asking = turn.run.asking
    if asking == "item":
        if by == "key":
            return by_hand(turn)
        if turn.checklist.kind != "read and do":
            return False
        item = turn.item
        return bool(turn.lines(item.id, turn.list_run.engine).answer) and by_voice_done(turn)
    if by == "voice":
        return False
    if asking == "flow":
        _flow_complete(turn)
    elif asking == "briefing":
        _briefing_complete(turn, by)
    elif asking in ("call", "standing by"):
        _resume(turn)
    else:
        return _affirm(turn, by)
    return True


def by_voice_done(turn: Turn) -> bool:
    """*Done* said of a read and do item: answered as if its response had been said."""
    right(turn, turn.lines(turn.item.id, turn.list_run.engine).wanted.text, "voice")
    return True


def _flow_complete(turn: Turn) -> None:
    turn.hush()
    turn.set_top(replace(turn.run.stack[-1], stage="items"))
    turn.note(f"{turn.title(turn.list_run).text}: flow complete", "done")
    turn.say_first("flow_verify", list=turn.title(turn.list_run))
    advance(turn)


def _briefing_complete(turn: Turn, by: By) -> None:
    turn.hush()
    key = turn.run.stack[-1].key
    for item in turn.checklist.items:
        if isinstance(item.response, Spoken) and applies(item, turn.run.figures):
            turn.set_top(Frame(key, item.id, "items"))
            lines = turn.lines(item.id, turn.list_run.engine)
            settle(turn, "", by, lines.challenge.text)
    turn.set_top(Frame(key, "", "items"))
    advance(turn)


def _affirm(turn: Turn, by: By) -> bool:
    run = turn.run
    match run.asking:
        case "offer" | "call":
            call(turn, *split_key(run.subject))
        case "engine confirm":
            confirmed(turn)
        case "briefing":
            _briefing_complete(turn, by)
        case _:
            return False
    return True


def _negative(turn: Turn) -> bool:
    run = turn.run
    match run.asking:
        case "offer":
            turn.hush()
            name, argument = split_key(run.subject)
            run.declined = (*run.declined, name)
            turn.note(f"{list_name(turn.program, name, argument).text}: declined", "list")
            pose_due(turn)
        case "which engine":
            turn.hush()
            pose_due(turn)
        case "engine confirm":
            turn.hush()
            ask_which_engine(turn, turn.list_run.list)
        case _:
            return False
    return True


def call(turn: Turn, list_id: str, argument: str, announce: bool = True) -> bool:
    """Begin a list by name, with its engine; ask which where that is not said.

    ``announce`` false where its name has just been said.
    """
    run = turn.run
    checklist = turn.program.lists.get(list_id)
    if checklist is None or checklist.kind == "callouts":
        return False
    engines = turn.program.procedures.aircraft.engines
    if checklist.argument == "engine":
        if not argument and engines == 1:
            argument = "1"
        if not argument:
            turn.hush()
            ask_which_engine(turn, list_id)
            return True
        if not (argument.isdigit() and 1 <= int(argument) <= engines):
            return False
        argument = str(int(argument))
    else:
        argument = ""
    turn.hush()
    if run.stack and run.stack[-1].key == key_of(list_id, argument):
        pose_due(turn)
        return True
    begin(turn, list_id, argument, announce)
    return True


def which_engine(turn: Turn, engine: int) -> bool:
    """The engine of the list that was called, or of the list whose engine was doubted."""
    run = turn.run
    list_id = run.subject
    if run.stack:
        top = turn.list_run
        if top.list == list_id and top.argument != str(engine):
            if top.items:
                keep_list(turn, with_status(top, "not complete"))
            else:
                run.lists = {key: kept for key, kept in run.lists.items() if key != top.key}
            run.stack = run.stack[:-1]
    return call(turn, list_id, str(engine))
