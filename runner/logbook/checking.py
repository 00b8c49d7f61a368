"""Whether a logbook is sound: the database, its files by their hashes, every run replayed."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime

from runner.errors import RunnerError
from runner.logbook.replaying import of_these_rules, replay
from runner.logbook.store import read_events


@dataclass(slots=True)
class Checked:
    """What was looked at, and one line for each fault."""

    runs: int = 0
    events: int = 0
    replayed: int = 0
    drills: int = 0
    answers: int = 0
    cards: int = 0
    faults: list[str] = field(default_factory=list)


def check(
    connection: sqlite3.Connection, file: str, on_run: Callable[[int, int], None] = lambda *_: None
) -> Checked:
    """Look at all of an open logbook; ``on_run`` is told how many runs of how many are done.

    Raises sqlite3.Error only where not even its tables can be read.
    """
    found = Checked()
    _database(connection, found)
    if found.faults:
        # What SQLite itself cannot follow gives no runs that could be trusted.
        return found
    _files(connection, found)
    runs = connection.execute("SELECT id, finished FROM runs ORDER BY id").fetchall()
    for place, (run, finished) in enumerate(runs, 1):
        _run(connection, file, run, finished, found)
        on_run(place, len(runs))
    _drills(connection, found)
    _cards(connection, found)
    return found


def _database(connection: sqlite3.Connection, found: Checked) -> None:
    for (line,) in connection.execute("PRAGMA integrity_check(20)"):
        if line != "ok":
            found.faults.append(f"the database is damaged: {' '.join(line.split())}")
    for table, row, other, _ in connection.execute("PRAGMA foreign_key_check").fetchmany(20):
        found.faults.append(f"the database is damaged: row {row} of {table} has no {other}")


def _files(connection: sqlite3.Connection, found: Checked) -> None:
    for sha256, text in connection.execute("SELECT sha256, text FROM contents"):
        if hashlib.sha256(text.encode()).hexdigest() != sha256:
            found.faults.append(f"a file's text is not what its hash says: {sha256[:12]}")


def _run(
    connection: sqlite3.Connection, file: str, run: int, finished: str, found: Checked
) -> None:
    found.runs += 1
    try:
        events = read_events(connection, run, file)
        found.events += len(events)
        if not of_these_rules(events):
            return
        state = replay(events)
    except RunnerError as error:
        line = str(error).removeprefix(f"{file}: ").removeprefix(f"run {run} ")
        found.faults.append(f"run {run}: {line}")
        return
    found.replayed += 1
    if finished and not state.finished:
        found.faults.append(f"run {run}: it is noted as finished and its events do not end it")


def _drills(connection: sqlite3.Connection, found: Checked) -> None:
    rows = connection.execute(
        "SELECT d.id, count(a.number), coalesce(max(a.number), 0) FROM drills d "
        "LEFT JOIN drill_answers a ON a.drill = d.id GROUP BY d.id ORDER BY d.id"
    )
    for drill, answers, last in rows:
        found.drills += 1
        found.answers += answers
        if answers != last:
            found.faults.append(f"drill {drill}: it has answers missing")


def _cards(connection: sqlite3.Connection, found: Checked) -> None:
    for card, due, state in connection.execute("SELECT card, due, state FROM cards"):
        found.cards += 1
        try:
            said = json.loads(state).get("due")
            same = due == (None if said is None else datetime.fromisoformat(said).timestamp())
        except (ValueError, TypeError, AttributeError):
            found.faults.append(f"card {card}: what is known of it cannot be read")
            continue
        if not same:
            found.faults.append(f"card {card}: it is noted as due at another time than it is")
