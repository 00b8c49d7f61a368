"""Lines (``runner.logbook.lines``) into a logbook.

What is sound is kept and the rest is left out: a run or a drill comes in whole or not at
all, each in a transaction of its own, so that an import that was broken off can be begun
again. What the logbook has already is left as it is; a run or a drill that has gone on since
gets what is new of it. Of a card the newer state stays.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from typing import Any

from runner.engine.events import Event, RunStarted, Snapshot
from runner.engine.wire import event_from_json
from runner.errors import RunnerError
from runner.logbook import drills
from runner.logbook.exporting import ANSWER
from runner.logbook.lines import FORMAT, BadLine, Record, read_line
from runner.logbook.replaying import of_these_rules, replay
from runner.logbook.store import insert_event, insert_run

FINISHED = ("", "complete", "open")
"""How a run can have ended; "" for one that has not."""

LARGEST = 2**53
"""Whole numbers in a line are less than this."""


@dataclass(slots=True)
class Imported:
    """What came of an import: counts, and a line for all that was left out."""

    runs: int = 0
    drills: int = 0
    cards: int = 0
    known: int = 0
    left_out: list[str] = field(default_factory=list)


@dataclass(slots=True)
class _Group:
    """A run or a drill with the lines that belong to it."""

    line: int
    head: Record
    name: str
    wanted: int
    parts: list[Record] = field(default_factory=list)

    def describe(self) -> str:
        return f"the {self.head['is']} of {self.head['started']}"


class Import:
    """An import under way: ``take`` each line in turn, then ``end``.

    Raises RunnerError at once where the first line is none of an exported logbook's, and
    sqlite3.Error where the logbook cannot be written.
    """

    def __init__(self, connection: sqlite3.Connection, file: str) -> None:
        self.result = Imported()
        self._connection = connection
        self._file = file
        self._line = 0
        self._files: dict[str, tuple[str, str]] = {}
        self._group: _Group | None = None
        self._orphans = False
        """A head line was bad: what belongs to it is left out with it, without a word."""
        self._over = False

    def take(self, text: str) -> None:
        """Take the next line in."""
        self._line += 1
        try:
            record = read_line(text)
            if self._line == 1:
                self._begin(record)
            elif self._over:
                raise BadLine("after the last line of the exported logbook")
            else:
                self._record(record)
        except BadLine as bad:
            if self._line == 1:
                raise RunnerError(
                    f"{self._file}:1: {bad}; give a file that runner logbook export wrote; "
                    "nothing was imported"
                ) from bad
            self._bad(str(bad))

    def end(self) -> Imported:
        """All lines have been taken."""
        if not self._line:
            raise RunnerError(
                f"{self._file}: is empty; give a file that runner logbook export wrote"
            )
        self._close()
        if not self._over:
            self._leave_out(self._line, "the file ends early: its last line is missing")
        return self.result

    def _begin(self, record: Record) -> None:
        if record["is"] != "logbook":
            raise BadLine("not the first line of an exported logbook")
        if record.get("format") != FORMAT:
            raise BadLine(
                f"written by another Runner (format {record.get('format')}, this one knows "
                f"{FORMAT})"
            )

    def _bad(self, why: str) -> None:
        group, self._group = self._group, None
        self._orphans = True
        self._leave_out(self._line, why + (f"; {group.describe()} is left out" if group else ""))

    def _leave_out(self, line: int, why: str) -> None:
        self.result.left_out.append(f"{self._file}:{line}: {why}")

    def _record(self, record: Record) -> None:
        kind = record["is"]
        if kind in ("event", "answer"):
            self._part(record, "run" if kind == "event" else "drill")
            return
        self._close()
        self._orphans = False
        match kind:
            case "file":
                self._keep_file(record)
            case "run":
                self._group = _group(self._line, record, "run", "events")
                _must(record, "procedures", str)
                _must(record, "aircraft", str)
                if record.get("finished") not in FINISHED:
                    self._group = None
                    raise BadLine("a run that ended in no known way")
            case "drill":
                self._group = _group(self._line, record, "drill", "answers")
                _must(record, "kind", str)
                _whole(record, "length")
                _whole(record, "ended", most=1)
            case "card":
                self._card(record)
            case "end":
                self._over = True
                if record.get("lines") != self._line - 1:
                    self._leave_out(
                        self._line,
                        f"{record.get('lines')} lines were exported and {self._line - 1} are here",
                    )
            case _:
                raise BadLine(f"no line of a logbook is a {kind}")

    def _part(self, record: Record, owner: str) -> None:
        group = self._group
        if group is None or group.head["is"] != owner or record.get(owner) != group.name:
            if not self._orphans:
                self._close()
                raise BadLine(f"belongs to no {owner} of this file")
            return
        if record.get("number") != len(group.parts) + (owner == "drill"):
            raise BadLine("out of its order, or one before it is missing")
        group.parts.append(record)

    def _keep_file(self, record: Record) -> None:
        import hashlib

        text, sha256 = _must(record, "text", str), _must(record, "sha256", str)
        _must(record, "name", str)
        if hashlib.sha256(text.encode()).hexdigest() != sha256:
            raise BadLine("a file whose text is not what its hash says")
        self._files[sha256] = (record["name"], text)

    def _close(self) -> None:
        """The run or the drill that was being read is at its end: keep it."""
        group, self._group = self._group, None
        if group is None:
            return
        if len(group.parts) != group.wanted:
            what = "events" if group.head["is"] == "run" else "answers"
            self._leave_out(
                group.line,
                f"{group.describe()} was exported with {group.wanted} {what} and has "
                f"{len(group.parts)} here; it is left out",
            )
            return
        keep = self._keep_run if group.head["is"] == "run" else self._keep_drill
        try:
            in_transaction(self._connection, lambda: keep(group))
        except (RunnerError, BadLine) as error:
            self._leave_out(group.line, f"{group.describe()}: {error}; it is left out")

    def _keep_run(self, group: _Group) -> None:
        connection = self._connection
        events = self._events(group)
        first = events[0]
        assert isinstance(first, RunStarted)
        row = connection.execute(
            "SELECT id, finished FROM runs WHERE uuid = ?", (group.name,)
        ).fetchone()
        if row is None:
            run, known = insert_run(connection, group.name, first), 1
            self.result.runs += 1
        else:
            run = row[0]
            known = self._agrees(run, group)
            if known >= len(events) and (row[1] or not group.head["finished"]):
                self.result.known += 1
                return
            self.result.runs += 1
        for number in range(known, len(events)):
            insert_event(connection, run, number, events[number])
        if group.head["finished"]:
            connection.execute(
                "UPDATE runs SET finished = ? WHERE id = ? AND finished = ''",
                (group.head["finished"], run),
            )

    def _agrees(self, run: int, group: _Group) -> int:
        """How many events of the run are stored; BadLine where they are others."""
        stored = self._connection.execute(
            "SELECT event FROM events WHERE run = ? ORDER BY number", (run,)
        ).fetchall()
        for (text,), part in zip(stored, group.parts, strict=False):
            if json.loads(text) != part["event"]:
                raise BadLine("this logbook has the same run with other events")
        return len(stored)

    def _events(self, group: _Group) -> list[Event]:
        events: list[Event] = []
        for part in group.parts:
            if not isinstance(part.get("event"), dict):
                raise BadLine(f"event {part['number']} is none")
            _whole(part["event"], "at")
            events.append(event_from_json(json.dumps(part["event"])))
        if not events or not isinstance(events[0], RunStarted):
            raise BadLine("it has no beginning")
        first = events[0]
        made_of = (first.wall_clock, first.procedures.name, first.aircraft.name)
        if made_of != tuple(group.head[name] for name in ("started", "procedures", "aircraft")):
            raise BadLine("it is of other files than its first event says")
        events[0] = replace(
            first,
            procedures=self._whole_file(first.procedures),
            aircraft=self._whole_file(first.aircraft),
            voice=self._whole_file(first.voice),
        )
        if of_these_rules(events):
            replay(events)
        return events

    def _whole_file(self, snapshot: Snapshot) -> Snapshot:
        if snapshot.sha256 in self._files:
            return replace(snapshot, text=self._files[snapshot.sha256][1])
        row = self._connection.execute(
            "SELECT text FROM contents WHERE sha256 = ?", (snapshot.sha256,)
        ).fetchone()
        if row is None:
            raise BadLine(f"the text of {snapshot.name} is neither here nor in the logbook")
        return replace(snapshot, text=row[0])

    def _keep_drill(self, group: _Group) -> None:
        connection = self._connection
        answers = [_answer(part) for part in group.parts]
        row = connection.execute(
            "SELECT id, ended FROM drills WHERE uuid = ?", (group.name,)
        ).fetchone()
        if row is None:
            head = group.head
            drill = connection.execute(
                "INSERT INTO drills (uuid, kind, length, started, ended) VALUES (?, ?, ?, ?, ?)",
                (group.name, head["kind"], head["length"], head["started"], head["ended"]),
            ).lastrowid
            known = 0
        else:
            drill = row[0]
            stored = connection.execute(
                f"SELECT {', '.join(ANSWER)} FROM drill_answers WHERE drill = ? ORDER BY number",
                (drill,),
            ).fetchall()
            if any(a != b for a, b in zip(stored, answers, strict=False)):
                raise BadLine("this logbook has the same drill with other answers")
            known = len(stored)
            if known >= len(answers) and (row[1] or not group.head["ended"]):
                self.result.known += 1
                return
            if group.head["ended"]:
                connection.execute("UPDATE drills SET ended = 1 WHERE id = ?", (drill,))
        connection.executemany(
            f"INSERT INTO drill_answers (drill, {', '.join(ANSWER)}) "
            "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
            [(drill, *answer) for answer in answers[known:]],
        )
        self.result.drills += 1

    def _card(self, record: Record) -> None:
        card, kind = _must(record, "card", str), _must(record, "kind", str)
        changed = record.get("changed")
        if isinstance(changed, bool) or not isinstance(changed, int | float):
            raise BadLine("a card that was changed at no time")
        try:
            at = datetime.fromtimestamp(changed, UTC)
            put = replace(drills.known(card, kind, _must(record, "state", str), at), at=at)
        except (ValueError, TypeError, OverflowError, OSError):
            raise BadLine("a card whose state cannot be read") from None

        def keep() -> None:
            row = self._connection.execute(
                "SELECT changed FROM cards WHERE card = ?", (card,)
            ).fetchone()
            if row is not None and row[0] >= changed:
                self.result.known += 1
                return
            drills.put(self._connection, put)
            self.result.cards += 1

        in_transaction(self._connection, keep)


def import_lines(connection: sqlite3.Connection, lines: Iterable[str], file: str) -> Imported:
    """Import all these lines."""
    work = Import(connection, file)
    for line in lines:
        work.take(line)
    return work.end()


def in_transaction(connection: sqlite3.Connection, work: Callable[[], None]) -> None:
    """Do the work whole or not at all."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        work()
    except BaseException:
        connection.execute("ROLLBACK")
        raise
    connection.execute("COMMIT")


def _group(line: int, record: Record, name: str, count: str) -> _Group:
    import uuid

    try:
        plain = str(uuid.UUID(_must(record, name, str)))
        datetime.fromisoformat(_must(record, "started", str))
    except ValueError:
        raise BadLine(f"a {name} without a name or a time of its own") from None
    if plain != record[name]:
        raise BadLine(f"a {name} without a name of its own")
    return _Group(line, record, plain, _whole(record, count))


def _answer(record: Record) -> tuple[Any, ...]:
    for name in ("card", "kind", "at", "heard"):
        _must(record, name, str)
    try:
        datetime.fromisoformat(record["at"])
    except ValueError:
        raise BadLine("an answer that was given at no time") from None
    _whole(record, "answer_ms")
    _whole(record, "correct", most=1)
    if not _whole(record, "rating", most=4) >= 1:
        raise BadLine("an answer whose rating is not 1 to 4")
    return tuple(record[name] for name in ANSWER)


def _must(record: Record, name: str, kind: type[str]) -> str:
    value = record.get(name)
    if not isinstance(value, kind):
        raise BadLine(f"a {record['is']} without its {name}")
    return value


def _whole(record: Record, name: str, most: int = LARGEST) -> int:
    value = record.get(name)
    if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value <= most:
        raise BadLine(f"{record['is']}: {name} is {value}, not a whole number up to {most}")
    return value
