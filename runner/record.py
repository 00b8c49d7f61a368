"""A flight's run in the logbook: each event as it comes, and how the run ended."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from concurrent.futures import Future
from sqlite3 import Connection

from runner.engine.events import Event
from runner.logbook.store import Logbook


class Record:
    """The run of that number; ``logbook`` and ``run`` are None where it is not kept."""

    def __init__(self, logbook: Logbook | None, run: int | None) -> None:
        self._logbook = logbook
        self._run = run
        self._count = 0

    def holds(self, events: int) -> None:
        """That many more events of the run are stored already."""
        self._count += events

    def store(self, event: Event) -> Future[None] | None:
        """Store the next event; the future is done when it is durable. The first one is stored
        when the run is begun."""
        if self._logbook is None or self._run is None:
            return None
        number = self._count
        self._count += 1
        return self._logbook.append(self._run, number, event) if number else None

    async def finish(self, complete: bool) -> None:
        """Note how the run ended, and wait until that is durable."""
        if self._logbook is not None and self._run is not None:
            how = "complete" if complete else "open"
            await asyncio.wrap_future(self._logbook.finish(self._run, how))

    def write(self, work: Callable[[Connection], None]) -> None:
        """Have some other work done in the logbook, where there is one."""
        if self._logbook is not None:
            self._logbook.write(work)
