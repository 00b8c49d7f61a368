"""A run killed with SIGKILL at any point is taken up again at the right question."""

from __future__ import annotations

import os
import queue
import signal
import subprocess
import threading
import time
from pathlib import Path

import pytest

from flying import ANSWERS, CHALLENGES, WEIGHT, Flown, command, fly


class Killed:
    """A real run whose standard input the test holds, to be killed when the test likes."""

    def __init__(self, logbook: Path, *more: str) -> None:
        self.lines: list[str] = []
        self._news: queue.SimpleQueue[str] = queue.SimpleQueue()
        self.process = subprocess.Popen(
            command(logbook, *more),
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
            env=os.environ | {"PYTHONUNBUFFERED": "1"},
        )
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self._news.put(line.rstrip())

    def type(self, text: str, until: str) -> None:
        """Type an answer and wait until the line that acknowledges it is printed."""
        assert self.process.stdin is not None
        if text:
            self.process.stdin.write(text + "\n")
            self.process.stdin.flush()
        end = time.monotonic() + 20
        while time.monotonic() < end:
            line = self._news.get(timeout=max(0.01, end - time.monotonic()))
            self.lines.append(line)
            if until in line and not line.endswith("not applicable"):
                return
        raise AssertionError(f"{until} was never printed: {self.lines}")

    def kill(self) -> None:
        """As if the machine had stopped the program between two instructions."""
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()
        assert self.process.stdin is not None
        self.process.stdin.close()


def begun(logbook: Path) -> Killed:
    run = Killed(logbook, "--phase", "before-takeoff", "--set", WEIGHT)
    run.type("", "Runner: Before take-off checklist")
    return run


def resumed(logbook: Path, answers: list[str] | tuple[str, ...]) -> Flown:
    return fly(logbook, answers, "--resume")


@pytest.fixture
def logbook(tmp_path: Path) -> Path:
    return tmp_path / "logbook.sqlite3"


@pytest.mark.parametrize("answered", [0, 1, 2, 5, 9, 12, 16])
def test_the_next_challenge_is_the_right_one_and_nothing_acknowledged_is_lost(
    logbook: Path, answered: int
) -> None:
    run = begun(logbook)
    for place in range(answered):
        run.type(ANSWERS[place], f"{CHALLENGES[place]}: ")
    run.kill()
    flown = resumed(logbook, ANSWERS[answered:])
    assert flown.status == 0, flown
    assert flown.said[0].lower().startswith(f"resumed at {CHALLENGES[answered].lower()}")
    assert flown.said[0].endswith(CHALLENGES[answered])
    for challenge in CHALLENGES[:answered]:
        assert not any(line.startswith(f"{challenge}: ") for line in flown.lines)
    assert flown.said[-1].startswith("Before take-off complete")


def test_killed_after_a_wrong_answer_the_same_item_is_asked(logbook: Path) -> None:
    run = begun(logbook)
    for place in range(5):
        run.type(ANSWERS[place], f"{CHALLENGES[place]}: ")
    run.type("high blower", "Blowers: heard high blower")
    run.kill()
    flown = resumed(logbook, ANSWERS[5:])
    assert flown.said[0].endswith("Blowers")
    assert flown.status == 0


def test_killed_while_standing_by_it_stands_by(logbook: Path) -> None:
    run = begun(logbook)
    run.type(ANSWERS[0], "Runway surface: ")
    run.type("stand by", "Runner: standing by")
    run.kill()
    flown = resumed(logbook, ["continue the checklist", *ANSWERS[1:]])
    assert "tanding by" in flown.said[0]
    assert flown.status == 0


def test_killed_in_an_abnormal_list_it_goes_on_there_and_then_hands_back(logbook: Path) -> None:
    run = begun(logbook)
    run.type(ANSWERS[0], "Runway surface: ")
    run.type("engine fire number three", "Runner: Engine fire, engine 3")
    run.kill()
    flown = resumed(logbook, ["number three"])
    assert "engine 3" in flown.said[0]
    assert any(line.startswith("Throttle, engine 3") or "engine 3" in line for line in flown.lines)


def test_an_input_changed_before_the_kill_stays_changed(logbook: Path) -> None:
    run = begun(logbook)
    run.type("wet runway", "Runway surface: ")
    run.kill()
    flown = resumed(logbook, ANSWERS[1:])
    assert any("decision speed 90 kt" in line or "Decision speed" in line for line in flown.lines)
    with_wet = fly(
        logbook.with_name("other.sqlite3"),
        ["wet runway", *ANSWERS[1:]],
        *("--phase", "before-takeoff", "--set", WEIGHT),
    )
    wrongs = [line for line in with_wet.lines if "heard 92 kt" in line]
    assert wrongs == [line for line in flown.lines if "heard 92 kt" in line]


def test_a_run_that_came_to_its_end_is_not_resumed(logbook: Path) -> None:
    assert fly(logbook, ANSWERS, "--phase", "before-takeoff", "--set", WEIGHT).status == 0
    assert resumed(logbook, []).status == 2
