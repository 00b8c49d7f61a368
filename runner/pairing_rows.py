"""A crew's run in the logbook: its rows, written in one transaction with the crew's records."""

from __future__ import annotations

import sqlite3
import uuid
from dataclasses import replace
from typing import TYPE_CHECKING

from runner.engine.events import RunStarted
from runner.engine.wire import event_from_json
from runner.logbook.store import insert_event, insert_run

if TYPE_CHECKING:
    from runner.crew.core.messages import Entry
    from runner.crew.crew import Crew
    from runner.crew.journal import Work

_NAMESPACE = uuid.UUID("5b1d6f0c-8f3e-4a57-9c1e-5a2f6d0b7a11")


class Rows:
    """The rows of this machine's run: ``run`` is its number, None until it has begun."""

    def __init__(self, run: int | None) -> None:
        self.run = run

    def add(self, crew: Crew, entry: Entry) -> Work:
        """Write an event's row; with the first one the run begins."""
        event = event_from_json(entry.text)

        def work(connection: sqlite3.Connection) -> None:
            if not isinstance(event, RunStarted):
                if self.run is not None:
                    insert_event(connection, self.run, entry.number, event)
            elif self.run is None:
                self.run = _begin(connection, entry.epoch, event, crew.membership.crew)
                crew.membership = replace(crew.membership, run=self.run)

        return work

    def drop(self, length: int) -> Work:
        """Take the events from number ``length`` on back."""

        def work(connection: sqlite3.Connection) -> None:
            if self.run is not None:
                values = (self.run, length)
                connection.execute("DELETE FROM events WHERE run = ? AND number >= ?", values)

        return work

    def rename(self, epoch: str) -> Work:
        """Name the run after an epoch that no other machine's run has."""

        def work(connection: sqlite3.Connection) -> None:
            values = (_name(epoch), self.run)
            connection.execute("UPDATE runs SET uuid = ? WHERE id = ?", values)

        return work


def _begin(connection: sqlite3.Connection, epoch: str, event: RunStarted, crew: str) -> int:
    """The number of a new run, which has the same name on all machines of the crew."""
    name = _name(epoch)
    if connection.execute("SELECT 1 FROM runs WHERE uuid = ?", (name,)).fetchone():
        # Another machine of the crew keeps its run in the same logbook.
        name = str(uuid.uuid4())
    run = insert_run(connection, name, event)
    connection.execute("UPDATE crews SET run = ? WHERE crew = ?", (run, crew))
    return run


def _name(epoch: str) -> str:
    return str(uuid.uuid5(_NAMESPACE, epoch))
