"""A disk that is full or read-only: one line says so, and the run or the drill goes on.

The disks are real file systems of a few kilobytes, mounted where the tests may mount; a
disk that fills up under way is also a limit on the size of files, which needs no rights.
"""

from __future__ import annotations

import resource
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from driven import Driven
from flying import ANSWERS, CHALLENGES, WEIGHT, Flown, fly
from killing import sound

DRILL = ("--kind", "response", "--list", "walk-round", "--questions", "3", "--seed", "7")


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of half a megabyte."""
    folder = tmp_path / "disk"
    folder.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=512k", "none", str(folder)],
        capture_output=True,
        check=False,
    )
    if mounted.returncode:
        pytest.skip(f"no file system can be mounted here: {mounted.stderr.decode().strip()}")
    yield folder
    subprocess.run(["umount", "-l", str(folder)], check=False)


def fill(folder: Path) -> Path:
    """Write until the disk is full."""
    file = folder / "filling"
    with file.open("wb", buffering=0) as out:
        for size in (4096, 1):
            try:
                while True:
                    out.write(b"x" * size)
            except OSError:
                continue
    return file


def read_only(folder: Path) -> None:
    subprocess.run(["mount", "-o", "remount,ro", str(folder)], check=True)


def drill(logbook: Path, answers: list[str]) -> Flown:
    """A drill on typed answers."""
    done = subprocess.run(
        [
            *(sys.executable, "-m", "runner", "drill", "--screen", "plain", "--speak", "none"),
            *("--listen", "text:-", "--clock", "fast", *DRILL, "--logbook", str(logbook)),
        ],
        input="".join(f"{answer}\n" for answer in answers).encode(),
        capture_output=True,
        timeout=60,
        check=False,
    )
    return Flown(done.returncode, done.stdout.decode().splitlines(), done.stderr.decode())


def troubles(lines: list[str]) -> list[str]:
    return [line for line in lines if line.startswith("Trouble: ")]


def begun(logbook: Path, answered: int) -> Driven:
    """A run under way of which so many answers are acknowledged."""
    run = Driven(logbook, "fly", "--phase", "before-takeoff", "--set", WEIGHT)
    run.type("", "Runner: Before take-off checklist")
    for place in range(answered):
        run.type(ANSWERS[place], f"{CHALLENGES[place]}: ")
    return run


def goes_on(run: Driven, logbook: Path, answered: int) -> None:
    """The rest is answered; the trouble is told once, and the run comes to its end."""
    for place in range(answered, len(ANSWERS)):
        run.type(ANSWERS[place], f"{CHALLENGES[place]}: ")
    assert run.end() == 0
    told = troubles(run.lines)
    assert len(told) == 1, told
    assert str(logbook) in told[0] and "the run goes on in memory" in told[0]
    assert run.said[-1].startswith("Before take-off complete")


def taken_up(logbook: Path, answered: int) -> None:
    """What was acknowledged before the disk was full is there: the run is resumed after it."""
    sound(logbook)
    flown = fly(logbook, ANSWERS[answered:], "--resume")
    assert flown.status == 0, flown
    assert flown.said[0].lower().startswith(f"resumed at {CHALLENGES[answered].lower()}")


def test_a_disk_that_fills_up_in_a_run_is_told_and_what_was_said_before_is_kept(
    disk: Path,
) -> None:
    logbook = disk / "logbook.sqlite3"
    run = begun(logbook, 5)
    filling = fill(disk)
    goes_on(run, logbook, 5)
    filling.unlink()
    taken_up(logbook, 5)


def test_a_file_that_may_not_grow_is_told_and_what_was_said_before_is_kept(
    tmp_path: Path,
) -> None:
    logbook = tmp_path / "logbook.sqlite3"
    run = begun(logbook, 5)
    size = logbook.with_name(f"{logbook.name}-wal").stat().st_size
    resource.prlimit(run.process.pid, resource.RLIMIT_FSIZE, (size, size))
    goes_on(run, logbook, 5)
    taken_up(logbook, 5)


@pytest.mark.parametrize("used", [False, True])
def test_a_disk_that_is_full_before_the_beginning_is_told_and_all_goes_on(
    disk: Path, monkeypatch: pytest.MonkeyPatch, used: bool
) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(disk))
    logbook = disk / "runner" / "logbook.sqlite3"
    if used:
        assert drill(logbook, ["in place", "tell me", "tell me"]).status == 0
    filling = fill(disk)
    flown = own_run(ANSWERS)
    assert flown.status == 0, flown
    told = troubles(flown.lines)
    assert len(told) == 1 and "cannot be written" in told[0] and "memory" in told[0]
    drilled = drill(logbook, ["in place", "tell me", "tell me"])
    told = troubles(drilled.lines)
    assert drilled.status == 0, drilled
    assert len(told) == 1 and "cannot be written" in told[0] and "not kept" in told[0]
    filling.unlink()
    sound(logbook)
    assert f"{9 if used else 12} new" in drill(logbook, []).said[0]


def test_a_read_only_disk_is_told_and_the_run_and_the_drill_go_on(
    disk: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(disk))
    logbook = disk / "runner" / "logbook.sqlite3"
    begun(logbook, 3).kill()
    assert drill(logbook, ["in place", "tell me", "tell me"]).status == 0
    sound(logbook)
    read_only(disk)
    flown = own_run(ANSWERS)
    assert flown.status == 0, flown
    told = troubles(flown.lines)
    assert len(told) == 1 and "this run is kept in memory" in told[0]
    drilled = drill(logbook, ["in place", "tell me", "tell me"])
    told = troubles(drilled.lines)
    assert drilled.status == 0 and len(told) == 1
    assert "not kept" in told[0]
    resumed = fly(logbook, (), "--resume")
    # Where SQLite can still read the run it goes on in memory, else it is refused.
    told = troubles(resumed.lines) + resumed.errors.splitlines()
    assert len(told) == 1 and "cannot be written" in told[0]
    assert resumed.status == 2 or resumed.said[0].startswith(f"resumed at {CHALLENGES[3]}")
    for command in ("list", "check"):
        done = subprocess.run(
            [sys.executable, "-m", "runner", "logbook", command, "--logbook", str(logbook)],
            capture_output=True,
            check=False,
            timeout=60,
        )
        assert done.returncode == 0, done.stderr
    subprocess.run(["mount", "-o", "remount,rw", str(disk)], check=True)
    taken_up(logbook, 3)


def own_run(answers: tuple[str, ...]) -> Flown:
    """A run on the user's own logbook, none being named."""
    done = subprocess.run(
        [
            *(sys.executable, "-m", "runner", "fly", "--screen", "plain", "--speak", "none"),
            *("--listen", "text:-", "--phase", "before-takeoff", "--set", WEIGHT),
        ],
        input="".join(f"{answer}\n" for answer in answers).encode(),
        capture_output=True,
        timeout=60,
        check=False,
    )
    return Flown(done.returncode, done.stdout.decode().splitlines(), done.stderr.decode())


def test_a_drill_whose_disk_fills_up_goes_on_and_keeps_what_came_before(disk: Path) -> None:
    logbook = disk / "logbook.sqlite3"
    drilling = Driven(logbook, "drill", *DRILL)
    drilling.type("", "Runner: Drill.")
    drilling.type("tell me", "Runner: it is")
    filling = fill(disk)
    drilling.type("tell me", "Runner: it is")
    drilling.type("tell me", "Runner: it is")
    assert drilling.end() == 0
    told = troubles(drilling.lines)
    assert len(told) == 1 and "the drill goes on in memory" in told[0]
    filling.unlink()
    sound(logbook)
    assert "11 new" in drill(logbook, []).said[0]
