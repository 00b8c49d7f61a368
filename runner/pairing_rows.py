"""A crew's run in the logbook: its rows, written in one transaction with the crew's records."""

from __future__ import annotations

import sqlite3
import uuid

from runner.engine.events import RunStarted
from runner.logbook.store import insert_run

_NAMESPACE = uuid.UUID("5b1d6f0c-8f3e-4a57-9c1e-5a2f6d0b7a11")


def begin_run(connection: sqlite3.Connection, epoch: str, event: RunStarted, crew: str) -> int:
    """The number of a new run, which has the same name on all machines of the crew."""
    name = _name(epoch)
    if connection.execute("SELECT 1 FROM runs WHERE uuid = ?", (name,)).fetchone():
        # Another machine of the crew keeps its run in the same logbook.
        name = str(uuid.uuid4())
    run = insert_run(connection, name, event)
    connection.execute("UPDATE crews SET run = ? WHERE crew = ?", (run, crew))
    return run


def drop_events(connection: sqlite3.Connection, run: int | None, length: int) -> None:
    """Take the events from number ``length`` on back, where the run has begun."""
    connection.execute("DELETE FROM events WHERE run = ? AND number >= ?", (run, length))


def rename(connection: sqlite3.Connection, run: int, epoch: str) -> None:
    """Name the run after an epoch that no other machine's run has."""
    connection.execute("UPDATE runs SET uuid = ? WHERE id = ?", (_name(epoch), run))


def _name(epoch: str) -> str:
    return str(uuid.uuid5(_NAMESPACE, epoch))
