"""Several Runner processes on one logbook at once lose nothing and wait for each other."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path

import pytest

from driven import Driven
from flying import ANSWERS, CHALLENGES, WEIGHT, fly
from killing import heard, sound
from logbook_content import flown
from runner.engine.events import Heard
from runner.errors import RunnerError
from runner.logbook.opening import reading
from runner.logbook.store import Logbook, read_events
from runner.phrasing.normal import normalise
from shipped_answers import figures, flight_answers, shipped

QUESTIONS = 60


def start(logbook: Path, answers: Path, *arguments: str) -> subprocess.Popen[bytes]:
    """A run or a drill that goes as fast as it can."""
    return subprocess.Popen(
        [
            *(sys.executable, "-m", "runner", *arguments, "--screen", "plain"),
            *("--speak", "none", "--listen", f"text:{answers}", "--clock", "fast"),
            *("--logbook", str(logbook)),
        ],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        env=os.environ | {"PYTHONUNBUFFERED": "1"},
    )


def test_two_that_fly_and_one_that_drills_from_the_logbooks_first_moment(tmp_path: Path) -> None:
    logbook = tmp_path / "logbook.sqlite3"
    procedures = shipped()
    said = list(flight_answers(procedures, figures(procedures)))
    flight, drill = tmp_path / "flight.txt", tmp_path / "drill.txt"
    flight.write_text("\n".join(said) + "\n")
    drill.write_text("tell me\n" * QUESTIONS)
    # None of them finds the file there: all three make it at once.
    processes = [
        start(logbook, flight, "fly"),
        start(logbook, flight, "fly"),
        start(logbook, drill, "drill", "--kind", "response", "--questions", str(QUESTIONS)),
    ]
    printed = [process.communicate(timeout=120)[0].decode() for process in processes]
    assert [process.returncode for process in processes] == [0, 0, 0], printed
    assert not any("Trouble" in text for text in printed)
    sound(logbook)
    with closing(reading(logbook)) as connection:
        runs = connection.execute("SELECT id, finished FROM runs").fetchall()
        assert [finished for _, finished in runs] == ["complete", "complete"]
        for run, _ in runs:
            events = read_events(connection, run, str(logbook))
            assert heard(events) == [normalise(answer) for answer in said]
        count = "SELECT count(*), count(DISTINCT card) FROM drill_answers"
        assert connection.execute(count).fetchone() == (QUESTIONS, QUESTIONS)
        assert connection.execute("SELECT count(*) FROM cards").fetchone() == (QUESTIONS,)


def test_a_run_that_is_being_flown_is_not_taken_up_by_another(tmp_path: Path) -> None:
    logbook = tmp_path / "logbook.sqlite3"
    run = Driven(logbook, "fly", "--phase", "before-takeoff", "--set", WEIGHT)
    run.type("", "Runner: Before take-off checklist")
    run.type(ANSWERS[0], f"{CHALLENGES[0]}: ")
    other = fly(logbook, [], "--resume")
    assert other.status == 2 and "no unfinished run" in other.errors
    for place in range(1, len(ANSWERS)):
        run.type(ANSWERS[place], f"{CHALLENGES[place]}: ")
    assert run.end() == 0
    assert not any(line.startswith("Trouble") for line in run.lines)
    sound(logbook)


def test_each_takes_up_a_run_of_its_own(tmp_path: Path) -> None:
    logbook = tmp_path / "logbook.sqlite3"
    for answered in (2, 4):
        run = Driven(logbook, "fly", "--phase", "before-takeoff", "--set", WEIGHT)
        run.type("", "Runner: Before take-off checklist")
        for place in range(answered):
            run.type(ANSWERS[place], f"{CHALLENGES[place]}: ")
        run.kill()
    both = []
    for answered in (4, 2):
        both.append(Driven(logbook, "fly", "--resume"))
        both[-1].type("", f"Runner: resumed at {CHALLENGES[answered]}")
    for place in range(2, len(ANSWERS)):
        for run, answered in zip(both, (4, 2), strict=True):
            if place >= answered:
                run.type(ANSWERS[place], f"{CHALLENGES[place]}: ")
    assert [run.end() for run in both] == [0, 0]
    sound(logbook)
    with closing(reading(logbook)) as connection:
        for run in (1, 2):
            events = read_events(connection, run, str(logbook))
            assert sum(isinstance(event, Heard) for event in events) == len(ANSWERS)


def test_a_run_waits_for_another_process_that_writes_and_loses_nothing(tmp_path: Path) -> None:
    logbook = tmp_path / "logbook.sqlite3"
    run = Driven(logbook, "fly", "--phase", "before-takeoff", "--set", WEIGHT)
    run.type("", "Runner: Before take-off checklist")
    with closing(sqlite3.connect(logbook, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        assert run.process.stdin is not None
        run.process.stdin.write(f"{ANSWERS[0]}\n")
        run.process.stdin.flush()
        time.sleep(1.5)
        # What has not been stored is not acknowledged.
        assert len([line for line in run.so_far() if line.startswith("Runner: ")]) == 1
        assert other.execute("SELECT count(*) FROM events WHERE kind = 'Heard'").fetchone() == (0,)
        other.execute("ROLLBACK")
    run.type("", f"Runner: {CHALLENGES[1]}")
    run.kill()
    sound(logbook)
    with closing(reading(logbook)) as connection:
        events = read_events(connection, 1, str(logbook))
    assert heard(events) == [normalise(ANSWERS[0])]
    assert not any(line.startswith("Trouble") for line in run.lines)


def held_by_another(logbook: Path) -> sqlite3.Connection:
    other = sqlite3.connect(logbook, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    return other


def test_what_cannot_wait_any_longer_is_put_off_and_stored_when_the_logbook_is_free(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("runner.logbook.opening.PATIENCE", 0.1)
    events = flown(answers=6)
    told: list[str] = []
    book = Logbook(tmp_path / "book.sqlite3")
    book.on_trouble = told.append
    run = book.begin(events[0])
    with closing(held_by_another(book.path)) as other:
        for number in (1, 2, 3):
            book.append(run, number, events[number]).result(10)
        book.card_put("a", "response", "{}").result(10)
        assert book.cards() == {"a": "{}"}
        assert book.events(run) == events[:1]
        with pytest.raises(RunnerError, match="another process keeps it"):
            book.begin(events[0])
        other.execute("ROLLBACK")
    for number in (4, 5, 6):
        book.append(run, number, events[number]).result(10)
    assert book.events(run) == events[:7]
    assert len(told) == 1 and "stored as soon as the logbook is free" in told[0]
    book.close()
    again = Logbook(book.path)
    assert again.cards() == {"a": "{}"} and len(again.runs()) == 1
    again.close()
    sound(book.path)


def test_what_was_put_off_is_stored_also_where_nothing_more_comes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("runner.logbook.opening.PATIENCE", 0.1)
    events = flown()
    book = Logbook(tmp_path / "book.sqlite3")
    run = book.begin(events[0])
    with closing(held_by_another(book.path)) as other:
        book.append(run, 1, events[1]).result(10)
        other.execute("ROLLBACK")
    end = time.monotonic() + 10
    while book.events(run) != events[:2] and time.monotonic() < end:
        time.sleep(0.05)
    assert book.events(run) == events[:2]
    with closing(held_by_another(book.path)) as other:
        book.append(run, 2, events[2]).result(10)
        other.execute("ROLLBACK")
    book.close()
    again = Logbook(book.path)
    assert again.events(run) == events[:3]
    again.close()


def test_a_logbook_that_is_kept_to_the_end_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("runner.logbook.opening.PATIENCE", 0.05)
    events = flown()
    told: list[str] = []
    book = Logbook(tmp_path / "book.sqlite3")
    book.on_trouble = told.append
    run = book.begin(events[0])
    with closing(held_by_another(book.path)):
        book.append(run, 1, events[1]).result(10)
        book.close()
    assert len(told) == 2 and "kept it to the end" in told[1]


def test_a_work_that_fails_takes_none_of_its_company_with_it(tmp_path: Path) -> None:
    events = flown()
    book = Logbook(tmp_path / "book.sqlite3")
    run = book.begin(events[0])
    slow = book.write(lambda _: time.sleep(0.2))
    first = book.append(run, 1, events[1])
    bad = book.write(lambda _: [][0])
    second = book.append(run, 2, events[2])
    slow.result(10), first.result(10), second.result(10)
    with pytest.raises(IndexError):
        bad.result(10)
    assert book.events(run) == events[:3]
    book.close()
