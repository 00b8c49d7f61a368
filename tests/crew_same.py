"""What must hold of a run that two people flew, however bad the network: asked of logbooks."""

from __future__ import annotations

import re
import sqlite3
from contextlib import closing

from crew_processes import Machine
from flying import CHALLENGES
from runner.engine.events import Heard, RunStarted
from runner.engine.program import program_of
from runner.engine.state import State
from runner.engine.step import initial_state, step
from runner.engine.wire import event_from_json, event_to_json
from runner.logbook.store import read_events


def runs(machine: Machine) -> dict[str, list[str]]:
    """The events of each run in a logbook that is whole, by the run's name."""
    with closing(sqlite3.connect(machine.logbook)) as book:
        assert book.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        found = {}
        for run, name in book.execute("SELECT id, uuid FROM runs ORDER BY id").fetchall():
            lines = [event_to_json(event) for event in read_events(book, run, machine.name)]
            rows = book.execute("SELECT event FROM events WHERE run = ? ORDER BY number", (run,))
            # The files of the first event stand in a table of their own.
            assert [row[0] for row in rows][1:] == lines[1:]
            found[name] = lines
    return found


def answered(lines: list[str]) -> list[str]:
    """The challenges done by an answer that somebody gave, in the order of the run's events."""
    events = [event_from_json(line) for line in lines]
    assert isinstance(events[0], RunStarted)
    state = initial_state(program_of(events[0]))
    found = []
    for event in events:
        before = _done(state)
        state = step(state, event)[0]
        if isinstance(event, Heard):
            found += sorted(_done(state) - before)
    return found


def said_done(machine: Machine) -> list[str]:
    """The challenges whose answers a machine has said to be done, each as often as it said so."""
    names = "|".join(re.escape(challenge) for challenge in CHALLENGES)
    done = (re.fullmatch(f"({names}): (?!not applicable|heard ).+", line) for line in machine.lines)
    return [found[1] for found in done if found is not None]


def flown_alike(anna: Machine, ben: Machine) -> list[str]:
    """The one run that both logbooks hold, byte for byte; every item answered once, none that
    was told to either person lost."""
    hers, his = runs(anna), runs(ben)
    assert hers == his and len(hers) == 1
    (events,) = hers.values()
    assert answered(events) == list(CHALLENGES)
    for machine in (anna, ben):
        assert said_done(machine) == list(CHALLENGES), machine.name
    return events


def _done(state: State) -> set[str]:
    if state.program is None:
        return set()
    names = {
        (checklist.id, item.id): item.challenge.source
        for checklist in state.program.lists.values()
        for item in checklist.items
    }
    return {
        names[run.list, item]
        for run in state.lists.values()
        for item, item_run in run.items.items()
        if item_run.status == "done"
    }
