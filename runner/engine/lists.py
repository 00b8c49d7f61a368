"""Lists and phases: what is begun, what comes next, what a list's end says, the run's end."""

from __future__ import annotations

from typing import Literal

from runner.checklist.model import Checklist, Choice, Enter, Item, Spoken
from runner.engine.asking import ask_call, ask_offer, pose
from runner.engine.conditions import applies
from runner.engine.effects import Finish, SetInput
from runner.engine.lines import Line, listed, plain, said
from runner.engine.speaking import Turn, list_name
from runner.engine.state import Frame, ItemRun, ListRun

SETTLED = ("done", "not applicable")


def key_of(list_id: str, argument: str) -> str:
    """A list's key among those begun: ``engine-fire:3``."""
    return f"{list_id}:{argument}" if argument else list_id


def keep_list(turn: Turn, list_run: ListRun) -> None:
    """Replace the run of a list."""
    turn.run.lists = {**turn.run.lists, list_run.key: list_run}


def with_item(list_run: ListRun, item: str, item_run: ItemRun, last: str) -> ListRun:
    """A list's run with one item changed."""
    return ListRun(
        list_run.key,
        list_run.list,
        list_run.argument,
        list_run.status,
        {**list_run.items, item: item_run},
        last,
        list_run.once_more,
    )


def with_status(list_run: ListRun, status: Literal["open", "complete", "not complete"]) -> ListRun:
    """A list's run, opened or closed; what is left open may be asked once more."""
    return ListRun(
        list_run.key, list_run.list, list_run.argument, status, list_run.items, list_run.last
    )


def settle(
    turn: Turn, answered: str, by: Literal["voice", "key", "feed", "spoken"], say: str = ""
) -> None:
    """The current item is done; ``say`` is how the record puts it."""
    frame = turn.run.stack[-1]
    list_run = turn.run.lists[frame.key]
    item = turn.program.items[frame.item]
    done = ItemRun("done", answered, used_now(turn, item), by)
    keep_list(turn, with_item(list_run, item.id, done, item.id))
    turn.run.last_done = (frame.key, item.id)
    challenge = turn.lines(item.id, list_run.engine).challenge
    turn.note(say or f"{challenge.text}: {answered}", "done")


def used_now(turn: Turn, item: Item) -> tuple[tuple[str, str], ...]:
    """The values said of the figures that an item uses; an input that it keeps is its own."""
    if not item.used:
        return ()
    own = ""
    if isinstance(item.response, Choice):
        own = item.response.keep
    elif isinstance(item.response, Enter):
        own = item.response.input
    figures = turn.run.figures
    return tuple(
        [
            (name, figures[name].shown if name in figures else "")
            for name in sorted(item.used)
            if name != own and name != "engine"
        ]
    )


def set_item(turn: Turn, key: str, item: str, item_run: ItemRun) -> None:
    """Change what became of an item, wherever it stands."""
    list_run = turn.run.lists[key]
    keep_list(turn, with_item(list_run, item, item_run, list_run.last))


def advance(turn: Turn) -> None:
    """The current item is settled: put the next question."""
    run = turn.run
    while True:
        if run.reopened:
            reopen(turn)
        list_run = turn.list_run
        item = _next_item(turn, list_run)
        if item is None:
            end_list(turn)
            return
        if not applies(item, run.figures):
            set_item(turn, list_run.key, item.id, ItemRun("not applicable"))
            lines = turn.lines(item.id, list_run.engine)
            turn.note(f"{lines.challenge.text}: not applicable", "judged")
            continue
        run.stack = (*run.stack[:-1], Frame(list_run.key, item.id))
        if isinstance(item.response, Spoken):
            turn.lead.append(turn.lines(item.id, list_run.engine).challenge)
            settle(turn, "", "spoken", turn.lead[-1].text)
            continue
        pose(turn)
        return


def _next_item(turn: Turn, list_run: ListRun) -> Item | None:
    checklist = turn.program.lists[list_run.list]
    items = list_run.items
    waiting: Item | None = None
    for item in checklist.items:
        item_run = items.get(item.id)
        if item_run is None:
            if waiting is None:
                waiting = item
        elif item_run.status == "ask again":
            return item
        elif item_run.status == "waiting" and waiting is None:
            waiting = item
    if waiting is not None:
        return waiting
    once_more = list_run.once_more
    if once_more is None:
        once_more = tuple(
            [i.id for i in checklist.items if (r := items.get(i.id)) and r.status == "left open"]
        )
    for place, name in enumerate(once_more):
        if items[name].status == "left open":
            keep_list(
                turn,
                ListRun(
                    list_run.key,
                    list_run.list,
                    list_run.argument,
                    list_run.status,
                    items,
                    list_run.last,
                    once_more[place + 1 :],
                ),
            )
            return turn.program.items[name]
    return None


def reopen(turn: Turn) -> None:
    """Run a list again that was complete and has items to be asked again."""
    run = turn.run
    key, run.reopened = run.reopened[0], run.reopened[1:]
    keep_list(turn, with_status(run.lists[key], "open"))
    run.stack = (*run.stack, Frame(key))


def begin(turn: Turn, list_id: str, argument: str = "", announce: bool = True) -> None:
    """Begin a list, or go on with one that was left with items open; it interrupts others.

    ``announce`` false where its name has just been said.
    """
    run = turn.run
    program = turn.program
    checklist = program.lists[list_id]
    phase = program.phase_of.get(list_id)
    if phase is not None and not run.stack:
        if phase > run.phase:
            name_skipped(turn, phase)
            enter_phase(turn, phase)
        run.armed_from = max(run.armed_from, phase)
    key = key_of(list_id, argument)
    known = run.lists.get(key)
    fresh = known is None or not known.items or not open_items(turn, known)
    list_run = ListRun(key, list_id, argument) if fresh else with_status(run.lists[key], "open")
    keep_list(turn, list_run)
    run.reopened = tuple([k for k in run.reopened if k != key])
    run.offers = tuple([k for k in run.offers if k not in (key, list_id)])
    run.declined = tuple([k for k in run.declined if k != list_id])
    stage: Literal["flow", "briefing", "items"] = "items"
    if fresh and checklist.kind == "flow":
        stage = "flow"
    elif fresh and checklist.kind == "briefing":
        stage = "briefing"
    run.stack = (*[f for f in run.stack if f.key != key], Frame(key, "", stage))
    refresh_calls(turn)
    title = turn.title(list_run)
    turn.note(f"{title.text}: begun" if fresh else f"{title.text}: taken up again", "list")
    if stage == "flow":
        pose(turn)
        return
    if announce and (run.wordiness != "tones" or checklist.abnormal):
        turn.say_first("list_begins", list=title)
    if stage == "briefing":
        pose(turn)
        return
    if checklist.abnormal and fresh:
        _memory_items(turn, checklist, list_run)
    advance(turn)


def _memory_items(turn: Turn, checklist: Checklist, list_run: ListRun) -> None:
    """Memory items are called as one block, then verified one by one."""
    for item in checklist.items:
        if item.memory and applies(item, turn.run.figures):
            lines = turn.lines(item.id, list_run.engine)
            turn.lead.append(
                Line(
                    f"{lines.challenge.text}, {lines.wanted.text}".rstrip(", "),
                    f"{lines.challenge.speech}, {lines.wanted.speech}".rstrip(", "),
                )
            )


def open_items(turn: Turn, list_run: ListRun) -> list[str]:
    """The items of a list that apply and are not done, in order."""
    items = list_run.items
    return [
        item.id
        for item in turn.program.lists[list_run.list].items
        if ((r := items.get(item.id)) is None or r.status not in SETTLED)
        and applies(item, turn.run.figures)
    ]


def end_list(turn: Turn) -> None:
    """Say how the list on top ended, and hand back to what it interrupted."""
    run = turn.run
    list_run = turn.list_run
    title = turn.title(list_run)
    left = open_items(turn, list_run)
    critical = any(turn.program.items[i].critical for i in left)
    status: Literal["complete", "not complete"] = "not complete" if critical else "complete"
    keep_list(turn, with_status(list_run, status))
    run.stack = run.stack[:-1]
    refresh_calls(turn)
    if run.wordiness == "tones":
        turn.tone("attention" if left else "complete")
    if critical or left or run.wordiness != "tones":
        turn.say_first("list_not_complete" if critical else "list_complete", list=title)
    if left:
        _name_left_open(turn, list_run, left)
    turn.note(f"{title.text}: {status}", "list")
    if run.stack:
        hand_back(turn)
    else:
        after_list(turn, at_once=not critical)


def _name_left_open(turn: Turn, list_run: ListRun, left: list[str]) -> None:
    names = [turn.lines(i, list_run.engine).challenge for i in left]
    turn.say_first("left_open", items=listed(names))
    turn.note("left open: " + ", ".join(n.text for n in names), "list")


def hand_back(turn: Turn) -> None:
    """Go on with the list on top where it was interrupted: last item done, then the current."""
    frame = turn.run.stack[-1]
    turn.say_first("resuming", list=turn.title(turn.list_run))
    say_last_done(turn)
    if frame.stage == "items" and _no_longer_asked(turn, frame):
        advance(turn)
    else:
        pose(turn)


def _no_longer_asked(turn: Turn, frame: Frame) -> bool:
    """An interrupted list may have been run by name meanwhile, or not have begun to ask."""
    item_run = turn.run.lists[frame.key].items.get(frame.item)
    return not frame.item or (item_run is not None and item_run.status in SETTLED)


def say_last_done(turn: Turn) -> None:
    """Read the last completed item of the list on top again."""
    list_run = turn.list_run
    done = list_run.items.get(list_run.last)
    if done is not None and done.status == "done" and done.answered:
        lines = turn.lines(list_run.last, list_run.engine)
        answer = plain(turn.program, done.answered)
        turn.say_first("last_done", challenge=lines.challenge, answer=answer)


def after_list(turn: Turn, at_once: bool = True) -> None:
    """No list is being run: what was reopened, what is offered, what is next, or the end."""
    run = turn.run
    if run.reopened:
        reopen(turn)
        advance(turn)
        return
    if run.offers:
        offer, run.offers = run.offers[0], run.offers[1:]
        ask_offer(turn, offer)
        return
    following = next_list(turn)
    if following is None:
        finish(turn)
        return
    phase, checklist = following
    if phase > run.phase:
        name_skipped(turn, phase)
        if phase - 1 > run.phase:
            enter_phase(turn, phase - 1)
            refresh_calls(turn)
    elif at_once and checklist.start == "at once" and not checklist.offered_at:
        begin(turn, checklist.id)
        return
    ask_call(turn, checklist.id)


def next_list(turn: Turn) -> tuple[int, Checklist] | None:
    """The first list of this run, from this phase on, that is still to be run."""
    run = turn.run
    for number in range(run.phase, run.last_phase + 1):
        for checklist in turn.program.procedures.phases[number].lists:
            if (
                checklist.kind != "callouts"
                and checklist.id not in run.lists
                and checklist.id not in run.declined
                and applies(checklist, run.figures)
            ):
                return number, checklist
    return None


def start(turn: Turn) -> None:
    """Begin the first list of the run at once, however it starts later on; where the run's first
    phase has callouts alone, they come before it."""
    following = next_list(turn)
    phase = turn.run.phase
    if following is None:
        finish(turn)
    elif following[0] > phase and any(c.callouts for c in _lists_of(turn, phase)):
        ask_call(turn, following[1].id)
    else:
        begin(turn, following[1].id)


def _lists_of(turn: Turn, phase: int) -> tuple[Checklist, ...]:
    return turn.program.procedures.phases[phase].lists


def enter_phase(turn: Turn, number: int) -> None:
    """The flight is in another phase."""
    run = turn.run
    phase = turn.program.procedures.phases[number]
    run.phase = number
    run.wordiness = phase.wordiness or run.usual
    run.changed = ()
    run.reopened = ()
    turn.note(phase.name, "phase")


def never_run(turn: Turn, first: int, last: int) -> list[str]:
    """Lists of the phases from ``first`` to ``last`` that apply and were never begun."""
    run = turn.run
    return [
        checklist.id
        for phase in turn.program.procedures.phases[first : last + 1]
        for checklist in phase.lists
        if checklist.kind != "callouts"
        and checklist.id not in run.lists
        and applies(checklist, run.figures)
    ]


def name_skipped(turn: Turn, until: int) -> None:
    """Name the lists that were never run in the phases that end now, each once."""
    run = turn.run
    skipped = [i for i in never_run(turn, run.phase, until - 1) if i not in run.named]
    if skipped:
        run.named = run.named.union(skipped)
        names = [list_name(turn.program, i) for i in skipped]
        turn.say_first("left_open", items=listed(names))
        turn.note("never run: " + ", ".join(n.text for n in names), "list")


def refresh_calls(turn: Turn) -> None:
    """Work out which lists may be called by name: those of this phase and the next that are
    not complete, those left open, and every abnormal list."""
    run = turn.run
    procedures = turn.program.procedures
    active = run.stack[-1].key if run.stack else ""
    near = procedures.phases[run.phase : min(run.phase + 2, run.last_phase + 1)]
    found: dict[str, None] = {}
    for phase in near:
        for checklist in phase.lists:
            known = run.lists.get(checklist.id)
            if checklist.kind != "callouts" and (known is None or known.status != "complete"):
                found[checklist.id] = None
    for list_run in run.lists.values():
        if list_run.status != "complete":
            found[list_run.list] = None
    for checklist in procedures.abnormal:
        found[checklist.id] = None
    found.pop(active, None)
    run.calls = tuple(found)


def everything_open(turn: Turn) -> tuple[str, ...]:
    """Names of all items that are open and of all lists never run, for the run's end."""
    run = turn.run
    names: list[str] = []
    for list_run in run.lists.values():
        for item in open_items(turn, list_run):
            names.append(turn.lines(item, list_run.engine).challenge.text)
    for list_id in never_run(turn, run.first_phase, run.last_phase):
        names.append(turn.program.lists[list_id].title)
    return tuple(names)


def finish(turn: Turn) -> None:
    """Every list of the run was dealt with: say so and end."""
    run = turn.run
    left = everything_open(turn)
    skipped = [i for i in never_run(turn, run.first_phase, run.last_phase) if i not in run.named]
    if skipped:
        turn.say_first("left_open", items=listed([list_name(turn.program, i) for i in skipped]))
    if not left:
        turn.lead.append(said(turn.program, "run_complete"))
    turn.say_lead()
    end_run(turn, complete=not left, left=left)


def end_run(turn: Turn, complete: bool, left: tuple[str, ...]) -> None:
    """Nothing is asked or heard any more."""
    run = turn.run
    turn.stop_timer()
    turn.close()
    run.asking = "nothing"
    run.prompt = ""
    run.finished = True
    run.complete = complete
    run.left_open = left
    turn.effects.append(Finish(complete, left))


def set_input(turn: Turn, name: str, value: float | str) -> None:
    """Give an input of the aircraft; what was known before can be brought back."""
    run = turn.run
    before = run.figures.get(name)
    run.undo_inputs = (*run.undo_inputs, (name, None if before is None else before.value))
    turn.effects.append(SetInput(name, value))
