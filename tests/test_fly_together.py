"""Two people at one machine, taking turns: each question is put to one of them by name."""

from __future__ import annotations

import json
import sqlite3
import subprocess
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from flying import ANSWERS, CHALLENGES, WEIGHT, Flown, command, fly
from runner.commands.people import Seat, members_of
from runner.engine.events import Member
from runner.errors import RunnerError

PAIR = ("--here", "Anna", "--here", "Ben")
LIST = ("--phase", "before-takeoff", "--set", WEIGHT)
BENS = CHALLENGES[4:14]
"""What the flight engineer answers, which Ben is as well."""


def flown(folder: Path, answers: list[str], *more: str) -> Flown:
    return fly(folder / "logbook.sqlite3", answers, *LIST, *PAIR, *more)


def heard(folder: Path) -> list[dict[str, Any]]:
    with closing(sqlite3.connect(folder / "logbook.sqlite3")) as book:
        rows = book.execute("SELECT event FROM events ORDER BY run, number")
        events = [json.loads(row[0]) for row in rows]
    return [event for event in events if event["is"] == "Heard"]


def both_answer(answers: tuple[str, ...]) -> list[str]:
    """The answers with that of the item which needs both given twice."""
    return [*answers[:4], answers[3], *answers[4:]]


def test_who_is_to_answer_is_called_by_name_and_what_is_said_is_theirs(tmp_path: Path) -> None:
    run = flown(tmp_path, both_answer(ANSWERS))
    assert run.status == 0
    called = [line for line in run.said if line.startswith(("Anna, ", "Ben, "))]
    assert called == ["Anna, Runway surface", "Ben, Mixtures", "Anna, Decision speed"]
    named = [event["member"] for event in heard(tmp_path)]
    assert named == ["Anna"] * 4 + ["Ben"] * 11 + ["Anna"] * 3
    assert any("pilot monitoring too" in line for line in run.said)
    assert "Ben: pilot monitoring, flight engineer" in run.lines


def test_one_of_two_is_refused_what_the_other_has_to_answer(tmp_path: Path) -> None:
    answers = ["Ben: dry runway", f"Anna: {ANSWERS[0]}", *both_answer(ANSWERS)[1:]]
    run = flown(tmp_path, answers)
    assert run.status == 0
    assert "pilot flying answers. Runway surface" in run.said
    first, second, *_ = heard(tmp_path)
    assert (first["member"], second["member"]) == ("Ben", "Anna")


def test_the_same_person_twice_is_not_both(tmp_path: Path) -> None:
    said = [*ANSWERS[:3], "Ben: full and free", "Ben: full and free", "Anna: full and free"]
    run = flown(tmp_path, [*said, *ANSWERS[4:]])
    assert run.status == 0
    twice = [line for line in run.said if "too. Flight controls" in line]
    assert len(twice) == 2


def test_control_is_handed_over_from_who_flies_to_the_other(tmp_path: Path) -> None:
    said = [ANSWERS[0], "you have control", "I have control", *both_answer(ANSWERS)[1:]]
    run = flown(tmp_path, said)
    assert run.status == 0
    assert any("Ben has control" in line for line in run.said)
    answered = heard(tmp_path)
    assert answered[1]["member"] == "Anna" and answered[2]["member"] == "Ben"
    assert answered[3]["member"] == "Ben", "the captain's items are now Ben's"


def test_a_run_of_two_goes_on_as_one_of_two(tmp_path: Path) -> None:
    begun = command(tmp_path / "logbook.sqlite3", *LIST, *PAIR)
    with subprocess.Popen(
        begun, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, bufsize=1
    ) as process:
        assert process.stdin is not None and process.stdout is not None
        process.stdin.write(f"{ANSWERS[0]}\n")
        process.stdin.flush()
        for line in process.stdout:
            if line.startswith("Runner: Trim"):
                break
            if line.startswith("Runner: Flaps"):
                process.stdin.write(f"{ANSWERS[1]}\n")
                process.stdin.flush()
        process.kill()
    rest = fly(tmp_path / "logbook.sqlite3", both_answer(ANSWERS)[2:], "--resume")
    assert rest.status == 0
    assert any(line == "Ben, Mixtures" for line in rest.said)
    assert {event["member"] for event in heard(tmp_path)} == {"Anna", "Ben"}


@pytest.mark.parametrize(
    ("given", "told"),
    [
        (["--here", "Anna"], "one alone needs no name"),
        (["--here", "Anna", "--here", "Anna"], "two of that name"),
        (["--here", "Anna", "--here", "Be:n"], "no colon"),
        (["--here", "Anna=left", "--here", "Ben"], "Ben=MICROPHONE"),
        (["--here", "Anna=left", "--here", "Ben=right"], "with --listen text:-"),
        ([*PAIR, "--here", "Eve", "--here", "Dan"], "this aircraft has 3 roles"),
    ],
)
def test_what_is_no_crew_is_told_in_one_line(tmp_path: Path, given: list[str], told: str) -> None:
    run = fly(tmp_path / "logbook.sqlite3", [], *LIST, *given)
    assert run.status == 2
    assert told in run.errors and len(run.errors.splitlines()) == 1


def test_each_has_a_role_and_who_is_last_all_that_are_left() -> None:
    roles = ("pilot flying", "pilot monitoring", "flight engineer")
    seats = tuple(Seat(name, "") for name in ("Anna", "Ben", "Eve"))
    assert members_of(seats[:2], roles) == (Member("Anna", roles[:1]), Member("Ben", roles[1:]))
    assert members_of(seats, roles) == tuple(
        Member(seat.name, (role,)) for seat, role in zip(seats, roles, strict=True)
    )
    with pytest.raises(RunnerError, match="1 role: pilot"):
        members_of(seats[:2], ("pilot",))
