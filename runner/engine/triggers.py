"""What comes from the flight itself: callouts, moments, readings. None of it is an answer
to a question in words, and none of it can make an item of words done."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache

from runner.checklist.model import Callout, Checklist, Reading, Text
from runner.engine.answers import right
from runner.engine.asking import ask_offer, item_engine
from runner.engine.conditions import applies
from runner.engine.events import FeedChanged, LimitPassed
from runner.engine.lines import Line, figure_line, fill, listed, plain, said
from runner.engine.lists import key_of, next_list, open_items
from runner.engine.program import Program
from runner.engine.speaking import Turn, list_name, split_key
from runner.engine.state import State, freeze
from runner.figures.figure import Figure


def armed_callouts(state: State) -> tuple[Callout, ...]:
    """The callouts that may be said now: what a watch of the readings looks for.

    Those of the phase of the list begun last, of this phase, and of the phase whose list
    is next; each is said once, but for a change of a figure. None after *reject*.
    """
    if state.program is None or state.rejected or state.finished:
        return ()
    turn = Turn(state, state.program)
    return tuple(
        callout
        for phase in state.program.procedures.phases[state.armed_from : _last_armed(turn) + 1]
        for checklist in phase.lists
        if checklist.callouts and applies(checklist, state.figures)
        for callout in checklist.callouts
        if repeats(callout) or callout.id not in state.called_out
    )


def repeats(callout: Callout) -> bool:
    """Whether a callout may be said more than once."""
    return callout.trigger.how == "changes" or callout.again is not None


def calls_to_prepare(turn: Turn, before: State, all_of_them: bool) -> tuple[Line, ...]:
    """The armed callouts as they are said now, those that were not so before."""
    run = turn.run
    same = (
        run.figures is before.figures
        and (run.phase, run.armed_from, run.rejected)
        == (before.phase, before.armed_from, before.rejected)
        and bool(run.stack) == bool(before.stack)
        and (run.stack or run.lists is before.lists)
    )
    if same and not all_of_them:
        return ()
    known = set() if all_of_them else set(_speeches(before))
    return tuple(line for line in _speeches(freeze(run)) if line not in known)


def _speeches(state: State) -> tuple[Line, ...]:
    if state.program is None or not state.started or state.paused:
        return ()
    lines = [callout_line(state.program, c, state.figures) for c in armed_callouts(state)]
    return tuple(dict.fromkeys(lines))


def callout_line(program: Program, callout: Callout, figures: Mapping[str, Figure]) -> Line:
    """What is said of a callout with these figures."""
    names = sorted(callout.text.figures)
    return _filled(program, callout.text, tuple(figures.get(name) for name in names))


@lru_cache(maxsize=1024)
def _filled(program: Program, text: Text, values: tuple[Figure | None, ...]) -> Line:
    return fill(program, text, {figure.name: figure for figure in values if figure is not None})


def _last_armed(turn: Turn) -> int:
    """The last phase whose callouts are armed; an abnormal list in between disarms none."""
    run = turn.run
    if any(run.lists[frame.key].list in turn.program.phase_of for frame in run.stack):
        return run.phase
    following = next_list(turn)
    return run.last_phase if following is None else following[0]


def crossed(turn: Turn, callout_id: str, also: tuple[str, ...] = ()) -> None:
    """Say a callout, once, and others in one breath with it; one that is not armed is not said."""
    run = turn.run
    due = [c for name in (callout_id, *also) if (c := _due(turn, name)) is not None]
    if not due:
        return
    run.called_out = run.called_out.union(callout.id for callout in due)
    lines = [callout_line(turn.program, callout, run.figures) for callout in due]
    for line in lines:
        turn.note(line.text, "done")
    line = lines[0]
    for further in lines[1:]:
        text = further.text[0].lower() + further.text[1:]
        line = Line(f"{line.text}, {text}", f"{line.speech}, {further.speech}")
    if any(_speed_call(turn, callout) for callout in due):
        turn.call_speed(line)
    else:
        turn.say(line, "urgent" if any(callout.urgent for callout in due) else "routine")


def _due(turn: Turn, callout_id: str) -> Callout | None:
    """A callout that may be said now."""
    run = turn.run
    known = turn.program.callouts.get(callout_id)
    if known is None or run.rejected:
        return None
    callout, checklist = known
    if (callout_id in run.called_out and not repeats(callout)) or not _armed(turn, checklist):
        return None
    return callout


def _speed_call(turn: Turn, callout: Callout) -> bool:
    """Whether a callout is one of a speed: said at once, and cut off by nothing."""
    if callout.trigger.how not in ("rises", "falls"):
        return False
    rule = turn.program.procedures.aircraft.readings.get(callout.trigger.subject)
    return rule is not None and rule.kind == "speed"


def _armed(turn: Turn, checklist: Checklist) -> bool:
    phase = turn.program.phase_of.get(checklist.id)
    if phase is None or not applies(checklist, turn.run.figures):
        return False
    return turn.run.armed_from <= phase <= _last_armed(turn)


def moment(turn: Turn, moment_id: str, engine: int = 0) -> bool:
    """A moment of the flight came: warn of lists it must not find open, offer what it offers.

    An abnormal list is offered at once, whatever is asked; the list that was being offered
    is offered after it. One that was called by name before the readings showed its engine's
    trouble is not offered for it.
    """
    run = turn.run
    known = turn.program.procedures.moments.get(moment_id)
    if known is None:
        return False
    name = f"{moment_id} {engine}" if engine else moment_id
    first = name not in run.reached
    run.reached = {moment_id: run.at, name: run.at, **run.reached}
    turn.note(f"{known.name}, engine {engine}" if engine else known.name, "phase")
    _warn(turn, moment_id)
    offered = [
        (checklist, key_of(checklist.id, str(engine) if engine and checklist.argument else ""))
        for checklist in _near(turn)
        if checklist.offered_at == moment_id
    ]
    offered = [
        (checklist, key)
        for checklist, key in offered
        if _may_offer(turn, checklist, key) and not (first and engine and key in run.lists)
    ]
    run.offers = (*run.offers, *(key for _, key in offered))
    abnormal = next((key for checklist, key in offered if checklist.abnormal), "")
    waiting = run.asking == "call" or (run.asking == "nothing" and not run.stack)
    if abnormal and not _offers_abnormal(turn):
        if run.asking == "offer":
            run.offers = (run.subject, *run.offers)
        _offer(turn, abnormal)
    elif offered and waiting:
        _offer(turn, run.offers[0])
    return True


def _offer(turn: Turn, key: str) -> None:
    turn.run.offers = tuple([name for name in turn.run.offers if name != key])
    turn.hush()
    ask_offer(turn, key)


def _offers_abnormal(turn: Turn) -> bool:
    run = turn.run
    return run.asking == "offer" and turn.program.lists[split_key(run.subject)[0]].abnormal


def limit_passed(turn: Turn, event: LimitPassed) -> None:
    """Call a limit that a reading has passed."""
    aircraft = turn.program.procedures.aircraft
    if turn.run.rejected or not 0 <= event.limit < len(aircraft.limits):
        return
    limit = aircraft.limits[event.limit]
    rule = aircraft.readings[limit.reading]
    figure = Figure(rule.name, event.value, rule.unit, rule.decimals, rule.kind)
    what = plain(turn.program, limit.said or f"{rule.title} {event.side}")
    value = figure_line(turn.program, figure)
    engines = [plain(turn.program, str(n)) for n in (event.engine, *event.also) if n]
    if len(engines) > 1 and len(engines) == aircraft.engines:
        line = said(turn.program, "limit_all_engines", what=what, value=value)
    elif len(engines) > 1:
        line = said(turn.program, "limit_engines", engines=listed(engines), what=what, value=value)
    elif engines:
        line = said(turn.program, "limit_engine", engine=engines[0], what=what, value=value)
    else:
        line = said(turn.program, "limit", what=what, value=value)
    turn.note(line.text, "done")
    turn.say(line, "urgent")


def feed_changed(turn: Turn, event: FeedChanged) -> None:
    """Say that the readings were lost, or are back; a simulator that stands still is noted, and
    the time for which it does counts for no callout."""
    run = turn.run
    if event.state == "paused" and run.still is None:
        run.still = run.at
    elif event.state == "running" and run.still is not None:
        stood = run.at - run.still
        run.reached = {name: at + stood for name, at in run.reached.items()}
        run.still = None
    if event.state in ("lost", "back"):
        turn.say(said(turn.program, f"readings_{event.state}"))
        turn.note(f"readings {event.state}", "phase")
    else:
        turn.note(f"the simulator is {event.state}", "phase")


def _warn(turn: Turn, moment_id: str) -> None:
    run = turn.run
    for checklist in _near(turn):
        if checklist.gate != moment_id or turn.program.phase_of.get(checklist.id, 0) > run.phase:
            continue
        runs = [r for r in run.lists.values() if r.list == checklist.id]
        unfinished = [r for r in runs if open_items(turn, r)]
        if unfinished or (not runs and applies(checklist, run.figures) and not checklist.abnormal):
            title = list_name(turn.program, checklist.id)
            line = said(turn.program, "gate", list=title)
            turn.say(line, "urgent")
            turn.note(line.text, "list")


def _near(turn: Turn) -> list[Checklist]:
    """The lists of this phase, of the next list's phase, and the abnormal ones."""
    procedures = turn.program.procedures
    last = max(turn.run.phase, min(turn.run.phase + 1, turn.run.last_phase))
    following = next_list(turn)
    if following is not None:
        last = max(last, following[0])
    near = [c for p in procedures.phases[turn.run.phase : last + 1] for c in p.lists]
    return [*near, *procedures.abnormal]


def _may_offer(turn: Turn, checklist: Checklist, key: str) -> bool:
    run = turn.run
    if key in run.offers or (run.asking == "offer" and run.subject == key):
        return False
    begun = any(r.list == checklist.id for r in run.lists.values())
    if not checklist.abnormal and begun:
        return False
    if any(
        frame.key == key or (key == checklist.id and run.lists[frame.key].list == checklist.id)
        for frame in run.stack
    ):
        return False
    return applies(checklist, run.figures)


def reading_shown(turn: Turn, item_id: str) -> None:
    """The feed shows what the current item waits for."""
    run = turn.run
    if run.asking != "item" or run.stack[-1].item != item_id:
        return
    item = turn.item
    if isinstance(item.response, Reading):
        wanted = turn.lines(item.id, item_engine(turn)).wanted
        right(turn, wanted.text, "feed")
