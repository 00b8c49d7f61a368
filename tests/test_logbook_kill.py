"""Killed with SIGKILL at random moments, a logbook loses nothing that was acknowledged.

Acknowledged is what was printed: what Runner said of an answer and what it noted of it.
Each process is killed before it comes to its end and the next one takes its run up, until
the flight is flown; a drill is killed too, and the next one begins where it left the cards.
"""

from __future__ import annotations

import json
import random
import re
import sqlite3
from collections import Counter
from contextlib import closing
from pathlib import Path

import pytest

from killing import heard, missing, run_and_kill, sound, stored
from runner.engine.events import Heard
from runner.phrasing.normal import normalise
from shipped_answers import figures, flight_answers, shipped

PROCEDURES = shipped()
ANSWERS = list(flight_answers(PROCEDURES, figures(PROCEDURES)))
"""The whole shipped flight, answered rightly."""

HEARD = [normalise(answer) for answer in ANSWERS]

LINES_A_RUN = 100
LINES_A_DRILL = 30


def fly_and_kill(folder: Path, kills: int, draw: random.Random) -> tuple[int, int, set[int]]:
    """Kill runs; gives how many were killed, how many flights came to their end, and at how
    many answers they were killed."""
    logbook = folder / "logbook.sqlite3"
    killed = flights = 0
    where: set[int] = set()
    while killed < kills:
        before = stored(logbook)
        resumes = before is not None and before[0] == ""
        answered = sum(isinstance(event, Heard) for event in before[1]) if resumes else 0
        command = ["fly", "--resume"] if resumes else ["fly"]
        ended = run_and_kill(command, ANSWERS[answered:], folder, draw, LINES_A_RUN, logbook)
        killed += ended.status is None
        sound(logbook)
        after = stored(logbook)
        if after is None:
            assert ended.said == [], "said before the run was stored"
            continue
        if resumes:
            assert after[1][: len(before[1])] == before[1]
        elif ended.said:
            assert before is None or after[1][0] != before[1][0]
        if ended.said:
            assert missing(ended.lines, after[1]) == []
        said = heard(after[1])
        assert said == HEARD[: len(said)]
        where.add(len(said))
        if after[0]:
            assert after[0] == "complete"
            assert said == HEARD
            flights += 1
    return killed, flights, where


def drill_and_kill(folder: Path, kills: int, draw: random.Random) -> int:
    """Kill drills; gives how many answers are stored in the end."""
    logbook = folder / "logbook.sqlite3"
    killed = 0
    deck: set[int] = set()
    while killed < kills:
        before = drilled(logbook)
        command = ["drill", "--kind", "response", "--questions", "60", "--seed", str(killed)]
        typed = [draw.choice(("tell me", "set", "on", "low", "checked")) for _ in range(90)]
        ended = run_and_kill(command, typed, folder, draw, LINES_A_DRILL, logbook)
        killed += ended.status is None
        sound(logbook)
        after = drilled(logbook)
        judged = [said for said in ended.said if re.match(r"right|it is|expected", said)]
        assert after.total() - before.total() >= len(judged), (ended.lines, after)
        # An answer and what became of its card are stored in one piece.
        assert after == asked(logbook)
        for said in ended.said[:1]:
            new = re.match(r"Drill\. \d+ due, (\d+) new", said)
            assert new is not None
            deck.add(int(new[1]) + len(before))
        # What was learned is known to the next drill, and what was not is new to it.
        assert len(deck) <= 1
    return drilled(logbook).total()


def drilled(logbook: Path) -> Counter[str]:
    """How often each card was answered, by the answers."""
    if not logbook.exists():
        return Counter()
    with closing(sqlite3.connect(logbook)) as connection:
        if not connection.execute("PRAGMA user_version").fetchone()[0]:
            return Counter()
        return Counter(card for (card,) in connection.execute("SELECT card FROM drill_answers"))


def asked(logbook: Path) -> Counter[str]:
    """How often each card was answered, by what is known of it."""
    if not logbook.exists():
        return Counter()
    with closing(sqlite3.connect(logbook)) as connection:
        if not connection.execute("PRAGMA user_version").fetchone()[0]:
            return Counter()
        rows = connection.execute("SELECT card, state FROM cards").fetchall()
    return Counter({card: json.loads(state)["asked"] for card, state in rows})


def test_runs_killed_at_a_few_random_moments_lose_nothing(tmp_path: Path) -> None:
    killed, _, where = fly_and_kill(tmp_path, 8, random.Random(11))
    assert killed == 8 and len(where) > 3


def test_drills_killed_at_a_few_random_moments_lose_nothing(tmp_path: Path) -> None:
    assert drill_and_kill(tmp_path, 5, random.Random(12)) > 5


@pytest.mark.slow
def test_runs_killed_at_two_hundred_random_moments_lose_nothing(tmp_path: Path) -> None:
    killed, flights, where = fly_and_kill(tmp_path, 200, random.Random())
    print(f"{killed} kills, {flights} flights to their end, after {len(where)} different answers")
    assert flights >= 3 and len(where) > 60


@pytest.mark.slow
def test_drills_killed_at_a_hundred_random_moments_lose_nothing(tmp_path: Path) -> None:
    answers = drill_and_kill(tmp_path, 100, random.Random())
    print(f"100 kills, {answers} answers stored")
    assert answers > 200
