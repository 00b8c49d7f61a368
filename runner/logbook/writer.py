"""The one thread of a process that writes the logbook.

What is put into it is committed with ``synchronous=FULL`` before its future is done: what
has been acknowledged survives a killed process and a lost power supply. What arrives while
a commit is under way shares the next one. SQLite lets one process write at a time; others
wait their turn.
"""

from __future__ import annotations

import queue
import sqlite3
import threading
from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

T = TypeVar("T")

PATIENCE = 30.0
"""Seconds to wait for another process that is writing."""

LARGEST_BATCH = 256
"""Works that share one commit; another process can write between two."""


@dataclass(frozen=True, slots=True)
class _Work(Generic[T]):
    do: Callable[[sqlite3.Connection], T]
    otherwise: Callable[[], T]
    done: Future[T]


class Writer:
    """Writes through ``connection``, which only its thread uses, until ``close``.

    ``on_trouble`` is called once, from the thread, with SQLite's reason when the file
    cannot be written any more; from then on each work's ``otherwise`` is done instead, so
    that every future still comes to its end.
    """

    def __init__(
        self, connection: sqlite3.Connection | None, on_trouble: Callable[[str], None]
    ) -> None:
        self._connection = connection
        self._on_trouble = on_trouble
        self._queue: queue.SimpleQueue[_Work[Any] | None] = queue.SimpleQueue()
        self._thread = threading.Thread(target=self._write_all, name="logbook", daemon=True)
        self._thread.start()

    def put(self, do: Callable[[sqlite3.Connection], T], otherwise: Callable[[], T]) -> Future[T]:
        """Have ``do`` done within a transaction; the future gives its result when durable."""
        done: Future[T] = Future()
        self._queue.put(_Work(do, otherwise, done))
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
            batch = [self._queue.get()]
            while batch[-1] is not None and len(batch) < LARGEST_BATCH and not self._queue.empty():
                batch.append(self._queue.get())
            open_ = batch[-1] is not None
            works = [work for work in batch if work is not None]
            if works:
                self._write(works)

    def _write(self, works: list[_Work[Any]]) -> None:
        try:
            results = self._committed(works)
            if results is None:
                results = [work.otherwise() for work in works]
        except Exception as error:
            # A fault of the program: whoever waits for the future is told, the thread lives on.
            for work in works:
                work.done.set_exception(error)
            return
        for work, result in zip(works, results, strict=True):
            work.done.set_result(result)

    def _committed(self, works: list[_Work[Any]]) -> list[Any] | None:
        connection = self._connection
        if connection is None:
            return None
        try:
            connection.execute("BEGIN IMMEDIATE")
            results = [work.do(connection) for work in works]
            connection.execute("COMMIT")
            return results
        except sqlite3.Error as error:
            try:
                if connection.in_transaction:
                    connection.rollback()
                connection.close()
            except sqlite3.Error:
                pass
            self._connection = None
            self._on_trouble(str(error))
            return None
        except Exception:
            connection.rollback()
            raise
