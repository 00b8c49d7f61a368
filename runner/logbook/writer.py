"""The one thread of a process that writes the logbook.

What is put into it is committed with ``synchronous=FULL`` before its future is done: what
has been acknowledged survives a killed process and a lost power supply. What arrives while
a commit is under way shares the next one. SQLite lets one process write at a time; others
wait their turn. Where another one keeps the file for longer than a pilot can be kept waiting,
what can wait is put off, in its order, and stored once the file is free.
"""

from __future__ import annotations

import contextlib
import queue
import sqlite3
import threading
from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

T = TypeVar("T")

PATIENCE = 5.0
"""Seconds to wait for another process that is writing, before what can wait is put off."""

AGAIN = 1.0
"""Seconds after which it is tried again to store what was put off."""

LAST_TRIES = 5
"""So often it is tried at the end, ``PATIENCE`` seconds each time."""

_BUSY = {sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED}

LARGEST_BATCH = 256
"""Works that share one commit; another process can write between two."""


@dataclass(frozen=True, slots=True)
class _Work(Generic[T]):
    do: Callable[[sqlite3.Connection], T]
    otherwise: Callable[[], T]
    done: Future[T]
    waits: bool


class Writer:
    """Writes through ``connection``, which only its thread uses, until ``close``.

    ``on_trouble`` is called once, from the thread, with SQLite's reason when the file
    cannot be written any more; from then on each work's ``otherwise`` is done instead, so
    that every future still comes to its end. ``on_busy`` is called once each time that
    another process keeps the file and works are put off.
    """

    def __init__(
        self,
        connection: sqlite3.Connection | None,
        on_trouble: Callable[[str], None],
        on_busy: Callable[[], None] = lambda: None,
    ) -> None:
        self._connection = connection
        self._on_trouble = on_trouble
        self._on_busy = on_busy
        self._late: list[_Work[Any]] = []
        self._queue: queue.SimpleQueue[_Work[Any] | None] = queue.SimpleQueue()
        self._thread = threading.Thread(target=self._write_all, name="logbook", daemon=True)
        self._thread.start()

    def put(
        self,
        do: Callable[[sqlite3.Connection], T],
        otherwise: Callable[[], T],
        waits: bool = True,
    ) -> Future[T]:
        """Have ``do`` done within a transaction; the future gives its result when durable.

        With ``waits`` it may be put off while another process keeps the file: the future
        then gives what ``otherwise`` does, and ``do`` is done later.
        """
        done: Future[T] = Future()
        self._queue.put(_Work(do, otherwise, done, waits))
        return done

    def close(self) -> None:
        """Write what is left, then close the file."""
        self._queue.put(None)
        self._thread.join()
        if self._connection is not None:
            self._connection.close()

    def _write_all(self) -> None:
        open_ = True
        while open_:
            try:
                batch = [self._queue.get(timeout=AGAIN if self._late else None)]
            except queue.Empty:
                self._write([])
                continue
            while batch[-1] is not None and len(batch) < LARGEST_BATCH and not self._queue.empty():
                batch.append(self._queue.get())
            open_ = batch[-1] is not None
            works = [work for work in batch if work is not None]
            if works:
                self._write(works)
        for _ in range(LAST_TRIES):
            if self._late:
                self._write([])
        if self._late:
            self._give_up("another process kept it to the end")

    def _write(self, works: list[_Work[Any]]) -> None:
        try:
            results = self._committed(works)
            if results is None:
                results = [work.otherwise() for work in works]
        except Exception as error:
            # A fault of the program: whoever waits for the future is told, the thread lives
            # on, and what came with it in one commit does not suffer for it.
            if len(works) > 1:
                for work in works:
                    self._write([work])
            elif works:
                works[0].done.set_exception(error)
            return
        for work, result in zip(works, results, strict=True):
            work.done.set_result(result)

    def _committed(self, works: list[_Work[Any]]) -> list[Any] | None:
        """What came of each work, once all are durable; None where they are not."""
        connection = self._connection
        if connection is None:
            return None
        try:
            connection.execute("BEGIN IMMEDIATE")
            for late in self._late:
                late.do(connection)
            results = [work.do(connection) for work in works]
            connection.execute("COMMIT")
        except sqlite3.Error as error:
            with contextlib.suppress(sqlite3.Error):
                if connection.in_transaction:
                    connection.rollback()
            if (getattr(error, "sqlite_errorcode", 0) & 0xFF) in _BUSY:
                self._put_off(works)
            else:
                self._give_up(str(error))
            return None
        except Exception as error:
            connection.rollback()
            if not self._late:
                raise
            # Which of them it was is not known, and none may be stored without those before.
            self._give_up(f"{type(error).__name__}: {error}")
            return None
        self._late.clear()
        return results

    def _put_off(self, works: list[_Work[Any]]) -> None:
        if not self._late:
            self._on_busy()
        self._late += [work for work in works if work.waits]

    def _give_up(self, reason: str) -> None:
        self._late.clear()
        if self._connection is not None:
            with contextlib.suppress(sqlite3.Error):
                self._connection.close()
        self._connection = None
        self._on_trouble(reason)
