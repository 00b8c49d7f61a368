"""A logbook, or one run of it, as lines (``runner.logbook.lines``)."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator

from runner.logbook.lines import FORMAT, Record

_RUNS = (
    "SELECT id, uuid, started, procedures, aircraft, finished, procedures_sha256, "
    "aircraft_sha256, voice_sha256 FROM runs"
)


def records(connection: sqlite3.Connection, run: int | None = None) -> Iterator[Record]:
    """What is exported, in order: one run with its files, or everything.

    The connection must be in a transaction, so that all of it is of the same moment.
    """
    count = 0
    for record in _records(connection, run):
        count += 1
        yield record
    yield {"is": "end", "lines": count}


def _records(connection: sqlite3.Connection, run: int | None) -> Iterator[Record]:
    yield {"is": "logbook", "format": FORMAT}
    where, values = ("", ()) if run is None else (" WHERE id = ?", (run,))
    rows = connection.execute(f"{_RUNS}{where} ORDER BY id", values).fetchall()
    yield from _files(connection, {sha256 for row in rows for sha256 in row[6:]})
    for row in rows:
        yield from _run(connection, row[:6])
    if run is None:
        yield from _drills(connection)
        for card, kind, changed, state in connection.execute(
            "SELECT card, kind, changed, state FROM cards ORDER BY card"
        ):
            yield {"is": "card", "card": card, "kind": kind, "changed": changed, "state": state}


def _files(connection: sqlite3.Connection, wanted: set[str]) -> Iterator[Record]:
    rows = connection.execute(
        "SELECT f.sha256, f.kind, f.name, c.text FROM files f JOIN contents c USING (sha256) "
        "ORDER BY f.sha256, f.kind"
    )
    for sha256, kind, name, text in rows:
        if sha256 in wanted:
            yield {"is": "file", "sha256": sha256, "kind": kind, "name": name, "text": text}


def _run(
    connection: sqlite3.Connection, row: tuple[int, str, str, str, str, str]
) -> Iterator[Record]:
    number, name, started, procedures, aircraft, finished = row
    (events,) = connection.execute(
        "SELECT count(*) FROM events WHERE run = ?", (number,)
    ).fetchone()
    yield {
        "is": "run",
        "run": name,
        "started": started,
        "procedures": procedures,
        "aircraft": aircraft,
        "finished": finished,
        "events": events,
    }
    for place, event in connection.execute(
        "SELECT number, event FROM events WHERE run = ? ORDER BY number", (number,)
    ):
        yield {"is": "event", "run": name, "number": place, "event": json.loads(event)}


def _drills(connection: sqlite3.Connection) -> Iterator[Record]:
    rows = connection.execute(
        "SELECT d.id, d.uuid, d.kind, d.length, d.started, d.ended, "
        "(SELECT count(*) FROM drill_answers WHERE drill = d.id) FROM drills d ORDER BY d.id"
    ).fetchall()
    for number, name, kind, length, started, ended, answers in rows:
        yield {
            "is": "drill",
            "drill": name,
            "kind": kind,
            "length": length,
            "started": started,
            "ended": ended,
            "answers": answers,
        }
        for row in connection.execute(
            f"SELECT {', '.join(ANSWER)} FROM drill_answers WHERE drill = ? ORDER BY number",
            (number,),
        ):
            yield {"is": "answer", "drill": name, **dict(zip(ANSWER, row, strict=True))}


ANSWER = ("number", "card", "kind", "rating", "correct", "answer_ms", "at", "heard")
"""The columns of an answer in a drill, and their names in its line."""
