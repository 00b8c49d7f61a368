"""A run killed with SIGKILL at any point is taken up again at the right question."""

from __future__ import annotations

import os
import queue
import shutil
import signal
import sqlite3
import subprocess
import threading
import time
from contextlib import closing
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


FIRE = (
    "number three",
    "throttle closed",
    "number three",
    "blades have stopped",
    "number three",
    "in cut off",
    "number three",
    "pulled and locked",
    "flaps closed",
    "number three",
    "first bottle gone",
    "light out",
    "selector closed",
    "crossfeed closed",
    "pump stopped",
    "magnetos grounded",
    "field tripped",
    "fluid shut",
    "turning for it",
)
"""The engine-fire list answered rightly, the engine confirmed where it is asked for."""


@pytest.mark.parametrize("answered", [0, 1, 2, 10, 18])
def test_killed_in_an_abnormal_list_it_goes_on_there_and_then_hands_back(
    logbook: Path, answered: int
) -> None:
    run = begun(logbook)
    run.type(ANSWERS[0], "Runway surface: ")
    run.type("engine fire number three", "Runner: Engine fire, engine 3")
    for answer in FIRE[:answered]:
        run.type(answer, "Runner: ")
    run.kill()
    asked = run.lines[-1].rpartition(". ")[2].removeprefix("Runner: ")
    flown = resumed(logbook, [*FIRE[answered:], *ANSWERS[1:]])
    assert flown.said[0].casefold().endswith(asked.casefold())
    assert flown.status == 0, flown
    back = next(i for i, text in enumerate(flown.said) if "Engine fire, engine 3 complete" in text)
    assert "Flaps" in " ".join(flown.said[back : back + 2])
    assert not any(line.startswith("Runway surface: ") for line in flown.lines)
    assert flown.said[-1].startswith("Before take-off complete")


WET_ANSWERS = (*ANSWERS[1:14], "eight seven", *ANSWERS[15:])
"""What is right after *wet runway*: the shipped aircraft's decision speed falls to 87 kt."""


def test_an_input_changed_before_the_kill_stays_changed(logbook: Path) -> None:
    run = begun(logbook)
    run.type("wet runway", "Runway surface: ")
    run.type("", "decision speed now 87 kt")
    run.kill()
    flown = resumed(logbook, WET_ANSWERS)
    assert flown.status == 0, flown
    assert "Decision speed: 87 kt" in flown.lines


def test_an_answer_whose_figures_were_not_stored_any_more_still_changes_them(
    logbook: Path,
) -> None:
    run = begun(logbook)
    run.type("wet runway", "Runway surface: ")
    run.type("", "decision speed now 87 kt")
    run.kill()
    with closing(sqlite3.connect(logbook)) as book, book:
        book.execute(
            "DELETE FROM events WHERE number >= "
            "(SELECT min(number) FROM events WHERE event LIKE '%\"FiguresChanged\"%')"
        )
    flown = resumed(logbook, WET_ANSWERS)
    assert any("resumed at" in said and "wet runway" in said for said in flown.said[:2])
    assert "Decision speed: 87 kt" in flown.lines
    assert flown.status == 0, flown


@pytest.mark.skipif(shutil.which("strace") is None, reason="strace is not installed")
def test_killed_at_any_write_of_the_log_nothing_acknowledged_is_lost(tmp_path: Path) -> None:
    calm = tmp_path / "calm.sqlite3"
    begun(calm).kill()
    whole = resumed_traced(calm, [])
    assert whole.status == 0, whole
    writes = whole.errors.count("pwrite64(")
    assert writes > 2 * len(ANSWERS)
    acknowledged = set()
    for place in range(2, writes, max(1, writes // 9)):
        logbook = tmp_path / f"{place}.sqlite3"
        begun(logbook).kill()
        killed = resumed_traced(logbook, ["-e", f"inject=pwrite64:signal=KILL:when={place}"])
        if killed.status == 0:
            # Events that came together share a write, so this run had fewer of them.
            continue
        done = [c for c in CHALLENGES if answered(c, killed)]
        acknowledged.add(len(done))
        tried = logbook.with_suffix(".tried")
        for file in tmp_path.glob(f"{logbook.name}*"):
            shutil.copy(file, tmp_path / file.name.replace(logbook.name, tried.name))
        seen = resumed(tried, [])
        if seen.status == 0:
            # The last answer was stored; that the run was over was not.
            continue
        if "no unfinished run" in seen.errors:
            # All was stored but what a debrief keeps of the run.
            assert len(done) == len(ANSWERS)
            continue
        asked = seen.said[0].removeprefix("resumed at ").partition(".")[0]
        at = CHALLENGES.index(asked)
        assert list(CHALLENGES[: len(done)]) == done and len(done) <= at, (done, asked)
        rest = resumed(logbook, ANSWERS[at:])
        assert rest.status == 0, (place, rest)
    assert len(acknowledged) > 4


def resumed_traced(logbook: Path, more: list[str]) -> Flown:
    """The list taken up and answered rightly; ``errors`` are the writes of its log."""
    trace = logbook.with_suffix(".trace")
    run = subprocess.run(
        [
            *("strace", "-f", "-o", str(trace), "-P", f"{logbook}-wal"),
            *("-e", "trace=pwrite64", *more, *command(logbook, "--resume")),
        ],
        input="".join(f"{answer}\n" for answer in ANSWERS).encode(),
        capture_output=True,
        timeout=120,
        env=os.environ | {"PYTHONUNBUFFERED": "1"},
        check=False,
    )
    if b"ptrace" in run.stderr:
        pytest.skip("this machine lets nobody trace")
    return Flown(run.returncode, run.stdout.decode().splitlines(), trace.read_text())


def answered(challenge: str, flown: Flown) -> bool:
    """Whether a run printed that this challenge was answered rightly."""
    unanswered = ("not applicable", f"{challenge}: heard ")
    return any(
        line.startswith(f"{challenge}: ") and not any(no in line for no in unanswered)
        for line in flown.lines
    )


def test_a_run_that_came_to_its_end_is_not_resumed(logbook: Path) -> None:
    assert fly(logbook, ANSWERS, "--phase", "before-takeoff", "--set", WEIGHT).status == 0
    assert resumed(logbook, []).status == 2


def test_a_run_stopped_after_its_last_answer_says_that_it_was_over(tmp_path: Path) -> None:
    logbook = tmp_path / "logbook.sqlite3"
    flown = fly(logbook, ANSWERS, "--phase", "before-takeoff", "--set", WEIGHT)
    assert flown.status == 0
    # What a loss of power between the last event and the note of the end leaves behind.
    with closing(sqlite3.connect(logbook)) as store, store:
        store.execute("UPDATE runs SET finished = ''")
    again = fly(logbook, [], "--resume")
    assert again.status == 0
    assert "This run had come to its end already; start a new one: runner fly" in again.lines
    nothing = fly(logbook, [], "--resume")
    assert nothing.status == 2 and "no unfinished run" in nothing.errors


def test_a_run_of_other_rules_is_not_taken_up_wrongly(tmp_path: Path) -> None:
    logbook = tmp_path / "logbook.sqlite3"
    fly(logbook, ANSWERS[:3], "--phase", "before-takeoff", "--set", WEIGHT)
    with closing(sqlite3.connect(logbook)) as store, store:
        store.execute("UPDATE runs SET finished = ''")
        store.execute(
            "UPDATE events SET event = json_set(event, '$.rules', 1) WHERE kind = 'RunStarted'"
        )
    again = fly(logbook, [], "--resume")
    assert again.status == 2 and "stepped differently" in again.errors
    assert again.errors.count("\n") == 1
