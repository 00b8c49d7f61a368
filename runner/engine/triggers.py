"""What comes from the flight itself: callouts, moments, readings. None of it is an answer
to a question in words, and none of it can make an item of words done."""

from __future__ import annotations

from runner.checklist.model import Callout, Checklist, Reading
from runner.engine.answers import right
from runner.engine.asking import ask_offer, item_engine
from runner.engine.conditions import applies
from runner.engine.events import FeedChanged, LimitPassed
from runner.engine.lines import figure_line, fill, plain, said
from runner.engine.lists import next_list, open_items
from runner.engine.speaking import Turn, list_name
from runner.engine.state import State
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
        if callout.trigger.how == "changes" or callout.id not in state.called_out
    )


def _last_armed(turn: Turn) -> int:
    run = turn.run
    if run.stack:
        return run.phase
    following = next_list(turn)
    return run.last_phase if following is None else following[0]


def crossed(turn: Turn, callout_id: str) -> None:
    """Say a callout, once; one that is not armed is not said."""
    run = turn.run
    known = turn.program.callouts.get(callout_id)
    if known is None or run.rejected:
        return
    callout, checklist = known
    repeats = callout.trigger.how == "changes"
    if (callout_id in run.called_out and not repeats) or not _armed(turn, checklist):
        return
    run.called_out = run.called_out.union((callout_id,))
    line = fill(turn.program, callout.text, run.figures)
    turn.note(line.text, "done")
    turn.say(line, "urgent" if callout.urgent else "routine")


def _armed(turn: Turn, checklist: Checklist) -> bool:
    phase = turn.program.phase_of.get(checklist.id)
    if phase is None or not applies(checklist, turn.run.figures):
        return False
    return turn.run.armed_from <= phase <= _last_armed(turn)


def moment(turn: Turn, moment_id: str) -> bool:
    """A moment of the flight came: warn of lists it must not find open, offer what it offers."""
    run = turn.run
    known = turn.program.procedures.moments.get(moment_id)
    if known is None:
        return False
    run.reached = run.reached.union((moment_id,))
    turn.note(known.name, "phase")
    _warn(turn, moment_id)
    offered = [c for c in _near(turn) if c.offered_at == moment_id and _may_offer(turn, c)]
    for checklist in offered:
        run.offers = (*run.offers, checklist.id)
    if not offered:
        return True
    waiting = run.asking == "call" or (run.asking == "nothing" and not run.stack)
    if waiting or (offered[0].abnormal and run.asking == "item"):
        first = offered[0] if not waiting else turn.program.lists[run.offers[0]]
        run.offers = tuple([name for name in run.offers if name != first.id])
        turn.hush()
        ask_offer(turn, first.id)
    return True


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
    if event.engine:
        engine = plain(turn.program, str(event.engine))
        line = said(turn.program, "limit_engine", engine=engine, what=what, value=value)
    else:
        line = said(turn.program, "limit", what=what, value=value)
    turn.note(line.text, "done")
    turn.say(line, "urgent")


def feed_changed(turn: Turn, event: FeedChanged) -> None:
    """Say that the readings were lost, or are back; a simulator that stands still is noted."""
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


def _may_offer(turn: Turn, checklist: Checklist) -> bool:
    run = turn.run
    if checklist.id in run.offers or (run.asking == "offer" and run.subject == checklist.id):
        return False
    begun = any(r.list == checklist.id for r in run.lists.values())
    if not checklist.abnormal and begun:
        return False
    if any(run.lists[frame.key].list == checklist.id for frame in run.stack):
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
