"""A run's events replayed, to see when each thing was asked, and what was answered.

The engine says all that matters: its states tell which question was open and which item
is done. Nothing is worked out here that the engine decides.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from runner.checklist.model import Readback, Spoken
from runner.debrief.record import Happening, Held, ItemRecord, ListRecord, Record, Try
from runner.debrief.targets import Seen, held_of
from runner.engine.conditions import applies
from runner.engine.effects import Effect, Say
from runner.engine.events import (
    Crossed,
    Event,
    FeedChanged,
    FiguresChanged,
    Heard,
    Keyed,
    LimitPassed,
    MomentReached,
    Paused,
    Resumed,
    RunStarted,
    Said,
    TimerFired,
)
from runner.engine.lines import ItemLines, item_lines, values_of
from runner.engine.looking import look
from runner.engine.program import Program, program_of
from runner.engine.speaking import SILENCE, list_name
from runner.engine.state import Asking, ItemRun, State
from runner.engine.step import initial_state, step

Key = tuple[str, str]
"""A list's key and an item's id."""

FEED = {
    "lost": "readings lost",
    "back": "readings back",
    "paused": "simulator paused",
    "running": "simulator running on",
}


@dataclass(slots=True)
class _Asked:
    """The question that is open: of which item, since when, and in which utterance."""

    key: Key
    since: int
    utterance: int
    ended: bool


@dataclass(slots=True)
class _Replay:
    program: Program
    seen: Seen
    asked: _Asked | None = None
    open_list: tuple[str, int] | None = None
    spans: dict[str, list[tuple[int, int]]] = field(default_factory=dict)
    tries: dict[Key, list[Try]] = field(default_factory=dict)
    answers: dict[Key, tuple[int, int | None]] = field(default_factory=dict)
    challenges: dict[Key, str] = field(default_factory=dict)
    read_back: list[tuple[int, str, str]] = field(default_factory=list)
    phases: list[tuple[str, int]] = field(default_factory=list)
    happenings: list[Happening] = field(default_factory=list)


def replay(
    events: Sequence[Event],
    program: Program | None = None,
    readings: Iterable[tuple[int, Mapping[str, float]]] = (),
) -> Record:
    """The record of a run. ``program`` saves parsing its files; ``readings`` are those
    stored beside its events.

    Raises FileErrors where the run's files do not parse any more.
    """
    started = events[0]
    assert isinstance(started, RunStarted)
    program = program or program_of(started)
    aircraft = program.procedures.aircraft
    at_work = _Replay(program, Seen(aircraft))
    for at, values in readings:
        at_work.seen.take(at, values)
    state = initial_state(program)
    for event in events:
        before = state
        state, effects = step(state, event)
        _look(at_work, before, state, event, effects)
    _close_list(at_work, state.at)
    figures = [
        (e.at, e.figures if isinstance(e, RunStarted) else e.changed)
        for e in events
        if isinstance(e, RunStarted | FiguresChanged)
    ]
    held: tuple[Held, ...] = held_of(aircraft, at_work.seen, figures, at_work.read_back, state.at)
    return Record(
        started=started.wall_clock,
        procedures=program.procedures.name,
        aircraft=aircraft.name,
        length=state.at,
        finished=state.finished,
        complete=state.complete,
        phases=tuple(at_work.phases),
        lists=tuple(_lists(at_work, state)),
        items=tuple(_items(at_work, state)),
        happenings=tuple(at_work.happenings),
        left_open=state.left_open if state.finished else look(state).open_items,
        held=held,
    )


def _look(
    at_work: _Replay, before: State, state: State, event: Event, effects: tuple[Effect, ...]
) -> None:
    _phase(at_work, before, state)
    _list_on_top(at_work, state)
    if isinstance(event, Said) and at_work.asked is not None:
        asked = at_work.asked
        if not asked.ended and event.utterance == asked.utterance:
            asked.since, asked.ended = event.at, True
    _failed(at_work, before, state, event)
    _answered(at_work, before, state, event)
    _question(at_work, before, state)
    _happened(at_work, before, state, event, effects)
    if isinstance(event, Heard):
        at_work.seen.take(event.at, dict(event.readings))


def _phase(at_work: _Replay, before: State, state: State) -> None:
    phases = at_work.program.procedures.phases
    if phases and (not at_work.phases or before.phase != state.phase):
        at_work.phases.append((phases[state.phase].name, state.at))


def _list_on_top(at_work: _Replay, state: State) -> None:
    top = state.stack[-1].key if state.stack and not state.paused else ""
    if at_work.open_list is not None and at_work.open_list[0] == top:
        return
    _close_list(at_work, state.at)
    if top:
        at_work.open_list = (top, state.at)


def _close_list(at_work: _Replay, at: int) -> None:
    if at_work.open_list is not None:
        key, since = at_work.open_list
        at_work.spans.setdefault(key, []).append((since, at))
    at_work.open_list = None


def _current(state: State, asking: tuple[Asking, ...] = ("item",)) -> Key | None:
    if state.asking not in asking or not state.stack or state.paused:
        return None
    return state.stack[-1].key, state.stack[-1].item


def _question(at_work: _Replay, before: State, state: State) -> None:
    """Note when a question is put; one that is put again after a wrong answer or a silence
    is the same, one put again after something came between is not."""
    key = _current(state)
    if key is None:
        at_work.asked = None
        return
    asked = at_work.asked
    if asked is not None and asked.key == key and _current(before) == key:
        if not asked.ended:
            asked.utterance = state.prompting
        return
    at_work.asked = _Asked(key, state.at, state.prompting, state.prompting == 0)
    at_work.challenges[key] = _lines(at_work, state, key).challenge.text


def _lines(at_work: _Replay, state: State, key: Key) -> ItemLines:
    list_run = state.lists.get(key[0])
    engine = list_run.engine if list_run is not None else None
    values = values_of(at_work.program, state.figures, key[1])
    return item_lines(at_work.program, key[1], engine, values)


def _status(state: State, key: Key) -> ItemRun | None:
    list_run = state.lists.get(key[0])
    return None if list_run is None else list_run.items.get(key[1])


def _failed(at_work: _Replay, before: State, state: State, event: Event) -> None:
    """An answer to the current item, or to its engine's confirmation, that was not taken,
    or a silence."""
    key = _current(before, ("item", "engine confirm"))
    if key is None:
        return
    done = _status(state, key)
    if done is not None and done.status == "done":
        return
    found: Try | None = None
    if isinstance(event, TimerFired) and event.timer == SILENCE:
        found = Try(event.at, "silent")
    elif isinstance(event, Heard) and before.listens_in(event.window):
        found = _unanswered(at_work, before, state, event, key)
    if found is not None:
        at_work.tries.setdefault(key, []).append(found)
        at_work.challenges.setdefault(key, _lines(at_work, before, key).challenge.text)


def _unanswered(
    at_work: _Replay, before: State, state: State, event: Heard, key: Key
) -> Try | None:
    verdict = event.verdict
    wanted = _lines(at_work, before, key).wanted.text
    if before.asking == "engine confirm":
        engine = before.lists[key[0]].engine or at_work.program.items[key[1]].engine
        wanted = f"engine {engine} confirmed"
    text = verdict.text or verdict.candidate or ""
    if verdict.decision == "unclear":
        return Try(event.at, "not clear", text, wanted)
    candidate = verdict.candidate or ""
    if verdict.decision != "accept" or _current(state, (before.asking,)) != key:
        return None
    if candidate.startswith(("wrong:", "option:", "engine:")) or candidate == "number":
        return Try(event.at, "wrong", text, wanted)
    return Try(event.at, "contradicted", text, wanted) if candidate == "answer" else None


def _answered(at_work: _Replay, before: State, state: State, event: Event) -> None:
    """Items that this event made done, and those that it opened again."""
    if state.lists is before.lists:
        return
    for list_key, list_run in state.lists.items():
        old = before.lists.get(list_key)
        if old is list_run:
            continue
        for item, now in list_run.items.items():
            was = None if old is None else old.items.get(item)
            key = (list_key, item)
            if now.status == "done" and (was is None or was.status != "done"):
                at = event.ended if isinstance(event, Heard) else event.at
                asked = at_work.asked
                timed = asked is not None and asked.key == key and now.by in ("voice", "key")
                since = asked.since if asked is not None and asked.ended else at
                at_work.answers[key] = (at, max(0, at - since) if timed else None)
                response = at_work.program.items[item].response
                if isinstance(response, Readback):
                    at_work.read_back.append((at, response.figure, at_work.phases[-1][0]))
        if old is not None and _disagreed(event):
            for item, taken in old.items.items():
                left = list_run.items.get(item)
                if taken.status == "done" and (left is None or left.status != "done"):
                    at_work.tries.setdefault((list_key, item), []).append(
                        Try(event.at, "disagreed", taken.answered)
                    )


def _disagreed(event: Event) -> bool:
    if isinstance(event, Heard):
        return event.verdict.candidate == "control:disagree"
    return isinstance(event, Keyed) and event.action == "disagree"


def _happened(
    at_work: _Replay, before: State, state: State, event: Event, effects: tuple[Effect, ...]
) -> None:
    add = at_work.happenings.append
    said = next((e.text for e in effects if isinstance(e, Say)), "")
    match event:
        case Crossed() if state.called_out != before.called_out or said:
            _callout(at_work, event, said)
        case MomentReached():
            known = at_work.program.procedures.moments.get(event.moment)
            name = known.name if known is not None else event.moment
            add(
                Happening(
                    event.at, "moment", f"{name}, engine {event.engine}" if event.engine else name
                )
            )
            at_work.seen.take(event.at, dict(event.values))
        case LimitPassed():
            limit = at_work.program.procedures.aircraft.limits[event.limit]
            rule = at_work.program.procedures.aircraft.readings.get(limit.reading)
            unit = rule.unit if rule is not None else ""
            add(
                Happening(
                    event.at,
                    "limit",
                    said or limit.said,
                    limit.reading,
                    event.value,
                    event.bound,
                    unit,
                )
            )
        case FeedChanged():
            add(Happening(event.at, "feed", FEED[event.state]))
        case Paused():
            add(Happening(event.at, "stopped", "stopped"))
        case Resumed():
            add(Happening(event.at, "stopped", "taken up again"))
        case FiguresChanged() if event.changed and not event.followed and event.reason:
            add(Happening(event.at, "change", event.reason))
    if len(state.stack) > len(before.stack):
        name, _, argument = state.stack[-1].key.partition(":")
        if before.stack or at_work.program.lists[name].abnormal:
            title = list_name(at_work.program, name, argument).text
            add(Happening(event.at, "interruption", title))
    if state.asking == "standing by" and before.asking != "standing by":
        add(Happening(event.at, "interruption", "standing by"))


def _callout(at_work: _Replay, event: Crossed, said: str) -> None:
    known = at_work.program.callouts.get(event.callout)
    values = dict(event.values)
    level = values.pop("level", None)
    reading, showed, unit = "", None, ""
    if known is not None and known[0].trigger.how in ("rises", "falls"):
        reading = known[0].trigger.subject
        showed = values.get(reading)
        rule = at_work.program.procedures.aircraft.readings.get(reading)
        unit = rule.unit if rule is not None else ""
        at_work.seen.take(event.at, values)
    text = said or event.callout
    at_work.happenings.append(Happening(event.at, "callout", text, reading, showed, level, unit))


def _lists(at_work: _Replay, state: State) -> Iterable[ListRecord]:
    for key, list_run in state.lists.items():
        checklist = at_work.program.lists[list_run.list]
        yield ListRecord(
            key,
            list_name(at_work.program, list_run.list, list_run.argument).text,
            checklist.kind,
            checklist.abnormal,
            list_run.status,
            tuple(at_work.spans.get(key, ())),
        )


def _items(at_work: _Replay, state: State) -> Iterable[ItemRecord]:
    for list_key, list_run in state.lists.items():
        for item in at_work.program.lists[list_run.list].items:
            now = list_run.items.get(item.id)
            if now is not None and (now.by == "spoken" or now.status == "not applicable"):
                continue
            if isinstance(item.response, Spoken):
                continue
            key = (list_key, item.id)
            if now is None and key not in at_work.challenges and not applies(item, state.figures):
                continue
            at, took = at_work.answers.get(key, (None, None))
            status = "waiting" if now is None else now.status
            yield ItemRecord(
                item.id,
                list_key,
                at_work.challenges.get(key) or _lines(at_work, state, key).challenge.text,
                status,
                item.critical,
                now.answered if now is not None else "",
                now.by if now is not None else "",
                at,
                took if status == "done" else None,
                tuple(at_work.tries.get(key, ())),
            )
