"""Several Runner processes on one logbook at once lose nothing and wait for each other."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path

from driven import Driven
from flying import ANSWERS, CHALLENGES, WEIGHT, fly
from killing import heard, sound
from runner.engine.events import Heard
from runner.logbook.opening import reading
from runner.logbook.store import read_events
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
