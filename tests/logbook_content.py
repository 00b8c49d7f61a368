"""A logbook with something in it, and the command line on it, for the tests of logbooks."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from engine_runs import Crew, started
from runner.cli import main
from runner.engine.events import Event
from runner.logbook.store import Logbook
from runner.practice.reworking import rework

NOON = datetime(2026, 5, 3, 12, tzinfo=UTC)


def flown(day: int = 3, answers: int = 3) -> list[Event]:
    """The events of a run that was flown on that day of May and stopped."""
    crew = Crew(replace(started(), wall_clock=f"2026-05-{day:02}T12:00:00+00:00"))
    for _ in range(answers):
        crew.hears("answer")
    return list(crew.events)


def store(book: Logbook, events: list[Event], finished: str = "") -> int:
    """Store a run as it came; its number."""
    run = book.begin(events[0])  # type: ignore[arg-type]
    for number, event in enumerate(events[1:], 1):
        book.append(run, number, event).result(10)
    if finished:
        book.finish(run, finished).result(10)
    return run


def drilled(book: Logbook, day: int, cards: dict[str, int], heard: str = "low") -> int:
    """Store a drill of that day of May in which these cards got these ratings."""
    at = NOON + timedelta(days=day - 3)
    drill = book.drill_begin("response", len(cards), at)
    for number, (card, rating) in enumerate(cards.items(), 1):
        when = at + timedelta(seconds=number)
        with book.reading() as stored:
            before = stored.execute(
                "SELECT rating, correct, answer_ms, at FROM drill_answers WHERE card = ? "
                "ORDER BY at",
                (card,),
            ).fetchall()
        answers = [(r, bool(c), ms, w) for r, c, ms, w in before]
        state = rework([*answers, (rating, rating > 1, 1500, when.isoformat())])
        book.drill_answer(
            drill, card, "response", rating, rating > 1, 1500, when, heard, state
        ).result(10)
    book.drill_end(drill).result(10)
    return drill


def filled(path: Path) -> Path:
    """A logbook of two runs and two drills."""
    book = Logbook(path)
    store(book, flown(3))
    store(book, flown(4, answers=5))
    drilled(book, 3, {"f/response/flaps": 3, "f/response/blowers": 1})
    drilled(book, 5, {"f/response/flaps": 3, "f/response/trim": 2}, heard="petrel seven")
    book.close()
    return path


class Told:
    """What a command printed."""

    def __init__(self, status: int, out: str, errors: str) -> None:
        self.status = status
        self.out = out.splitlines()
        self.errors = errors.splitlines()


def logbook(capsys: pytest.CaptureFixture[str], *arguments: str | Path) -> Told:
    """``runner logbook`` with these arguments, in this process."""
    status = main(["logbook", *map(str, arguments)])
    captured = capsys.readouterr()
    return Told(status, captured.out, captured.err)


def export(capsys: pytest.CaptureFixture[str], book: Path) -> list[str]:
    """The lines of an export."""
    file = book.with_suffix(".jsonl")
    told = logbook(capsys, "export", file, "--logbook", book, "--force")
    assert told.status == 0, told.errors
    return file.read_text("utf-8").splitlines()


def of_kind(lines: list[str], kind: str) -> list[int]:
    """The places of the lines that are of that kind."""
    return [n for n, line in enumerate(lines) if json.loads(line)["is"] == kind]
