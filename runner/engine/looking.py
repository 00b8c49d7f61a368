"""``look``: the whole of what a screen shows, worked out from a state."""

from __future__ import annotations

from typing import Literal

from runner.checklist.model import Choice, Enter, Item, Readback
from runner.engine.asking import item_engine
from runner.engine.lines import canonical, pattern_text
from runner.engine.lists import never_run, next_list, open_items
from runner.engine.speaking import Turn, list_name
from runner.engine.state import Asking, ListRun, State
from runner.engine.view import (
    FigureView,
    ItemStatus,
    ItemView,
    ListView,
    MemberView,
    PhaseView,
    View,
)
from runner.figures.figure import Figure

ACTIVITIES: dict[Asking, str] = {
    "nothing": "",
    "item": "asking",
    "engine confirm": "confirming the engine",
    "which engine": "asking which engine",
    "flow": "waiting for the flow",
    "briefing": "briefing",
    "offer": "offering",
    "call": "waiting for a list to be called",
    "standing by": "standing by",
}


def look(state: State) -> View:
    """What a screen shows of a run at this moment."""
    program = state.program
    if program is None or not state.started:
        return View(aircraft="", procedures="", at=state.at)
    procedures = program.procedures
    turn = Turn(state, program)
    on_top = turn.list_run if state.stack else None
    in_item = state.asking in ("item", "engine confirm") and on_top is not None
    shown = None if on_top is None else _list(turn, on_top, active=True)
    current = None
    if shown is not None and state.stack[-1].item:
        current = next((i for i in shown.items if i.id == state.stack[-1].item), None)
    following = None if state.finished else next_list(turn)
    return View(
        aircraft=procedures.aircraft.name,
        procedures=procedures.name,
        phases=_phases(turn),
        phase=procedures.phases[state.phase].id if procedures.phases else "",
        list=shown,
        current=current,
        prompt=state.prompt,
        activity=_activity(state),
        last_said=state.last_said,
        next_list="" if following is None else following[1].title,
        interrupted=_interrupted(turn),
        figures=_figures(turn),
        heard=state.heard,
        choices=_choices(turn) if in_item else (),
        wants_number=_wants_number(turn) if state.asking == "item" else False,
        callable_lists=tuple(
            (name, program.lists[name].title, program.lists[name].abnormal) for name in state.calls
        ),
        standing_by=state.asking == "standing by",
        muted=state.muted,
        wordiness=state.wordiness,
        listening=state.listening,
        open_items=state.left_open if state.finished else _left_open(turn),
        finished=state.finished,
        complete=state.complete,
        at=state.at,
        crew=_crew(turn),
        role_wanted=turn.role_wanted if state.crew else "",
    )


def _crew(turn: Turn) -> tuple[MemberView, ...]:
    asked = turn.addressees
    return tuple(
        [
            MemberView(m.name, m.roles, bool(m.roles) and (not asked or m.name in asked))
            for m in turn.run.crew
        ]
    )


def _activity(state: State) -> str:
    if state.finished:
        return "finished"
    return "paused" if state.paused else ACTIVITIES[state.asking]


def _phases(turn: Turn) -> tuple[PhaseView, ...]:
    run = turn.run
    found = []
    for number, phase in enumerate(turn.program.procedures.phases):
        status: Literal["done", "current", "ahead", "left open"]
        if not run.first_phase <= number <= run.last_phase:
            continue
        if number == run.phase and not run.finished:
            status = "current"
        elif number > run.phase:
            status = "ahead"
        else:
            ids = {checklist.id for checklist in phase.lists}
            left = any(open_items(turn, r) for r in run.lists.values() if r.list in ids)
            status = "left open" if left or never_run(turn, number, number) else "done"
        found.append(PhaseView(phase.id, phase.name, status))
    return tuple(found)


def _list(turn: Turn, list_run: ListRun, active: bool) -> ListView:
    checklist = turn.program.lists[list_run.list]
    current = turn.run.stack[-1].item if active else ""
    return ListView(
        id=checklist.id,
        title=checklist.title,
        kind=checklist.kind,
        items=tuple([_item(turn, list_run, item, item.id == current) for item in checklist.items]),
        argument=f"engine {list_run.argument}" if list_run.argument else "",
        abnormal=checklist.abnormal,
    )


def _item(turn: Turn, list_run: ListRun, item: Item, current: bool) -> ItemView:
    item_run = turn.status(list_run, item.id)
    lines = turn.lines(item.id, list_run.engine)
    status: ItemStatus = "current" if current else item_run.status
    checklist = turn.program.lists[list_run.list]
    return ItemView(
        id=item.id,
        challenge=lines.challenge.text,
        response=lines.wanted.text,
        status=status,
        critical=item.critical,
        memory=item.memory,
        who=item.who or checklist.responder,
        answered=item_run.answered if item_run.status == "done" else "",
        note=lines.note,
    )


def _interrupted(turn: Turn) -> tuple[str, ...]:
    run = turn.run
    names = []
    for frame in run.stack[:-1]:
        list_run = run.lists[frame.key]
        title = list_name(turn.program, list_run.list, list_run.argument).text
        if frame.item:
            title += f", at {turn.lines(frame.item, list_run.engine).challenge.text}"
        names.append(title)
    return tuple(names)


def _figures(turn: Turn) -> tuple[FigureView, ...]:
    """The phase's own figures first, then those of the current list's items."""
    run = turn.run
    phases = turn.program.procedures.phases
    names = dict.fromkeys(phases[run.phase].figures if phases else ())
    if run.stack:
        for item in turn.checklist.items:
            names.update(dict.fromkeys(sorted(item.used)))
    return tuple(
        [
            FigureView(
                name, f.title or name.replace("_", " "), f.shown_with_unit, name in run.changed
            )
            for name in names
            if (f := run.figures.get(name)) is not None
        ]
    )


def _title(figure: Figure) -> str:
    return figure.title or figure.name.replace("_", " ")


def _choices(turn: Turn) -> tuple[str, ...]:
    item = turn.item
    if isinstance(item.response, Choice):
        engine = item_engine(turn)
        return tuple(
            canonical(pattern_text(turn.program, text, turn.run.figures, engine))
            for _, text in item.response.options
        )
    if isinstance(item.response, Enter):
        wanted = turn.program.procedures.aircraft.inputs.get(item.response.input)
        return () if wanted is None else wanted.choices
    return ()


def _wants_number(turn: Turn) -> bool:
    return isinstance(turn.item.response, Readback) or (
        isinstance(turn.item.response, Enter) and not _choices(turn)
    )


def _left_open(turn: Turn) -> tuple[str, ...]:
    """What was left open so far: items of lists that ended, and items set aside."""
    run = turn.run
    active = {frame.key for frame in run.stack}
    names = []
    for list_run in run.lists.values():
        for item in open_items(turn, list_run):
            if list_run.key not in active or turn.status(list_run, item).status == "left open":
                names.append(turn.lines(item, list_run.engine).challenge.text)
    return tuple(names)
