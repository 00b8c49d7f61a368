"""Readings recorded beside a run, laid on its time by the values it was judged on."""

from __future__ import annotations

import json
import subprocess
import sys
from itertools import pairwise
from pathlib import Path

import pytest

from runner.debrief.readings import EVERY_MS, recorded
from runner.engine.events import Crossed, Event, MomentReached
from runner.errors import RunnerError

AHEAD_MS = 7300
"""The recording began so long before the run did."""


def recording(folder: Path) -> Path:
    """A minute of readings, fifty a second: the speed grows, the gear goes up once."""
    file = folder / "feed.jsonl"
    lines = [json.dumps({"runner feed": 1, "aircraft": "Sandpiper Two"}), "not JSON", "[1]"]
    lines += [
        json.dumps({"at": n / 50, "airspeed": n / 30, "gear_position": int(n < 2000)})
        for n in range(3000)
    ]
    file.write_text("\n".join(lines) + "\n")
    return file


EVENTS: tuple[Event, ...] = (
    Crossed(20_000 - AHEAD_MS, "rotate", (("airspeed", 1000 / 30), ("level", 33.0))),
    MomentReached(45_000 - AHEAD_MS, "gear_up", (("gear_position", 0.0),)),
)


def test_readings_stand_at_the_time_of_the_run(tmp_path: Path) -> None:
    found = recorded(recording(tmp_path), EVENTS)
    assert found[0][0] == -AHEAD_MS
    times = [at for at, _ in found]
    assert times == sorted(times)
    assert min(b - a for a, b in pairwise(times)) >= EVERY_MS
    at, values = next(one for one in found if one[0] >= 12_700)
    assert values["airspeed"] == pytest.approx((at + AHEAD_MS) / 1000 * 50 / 30)


def test_what_stands_in_many_lines_tells_no_time(tmp_path: Path) -> None:
    with pytest.raises(RunnerError, match="it is of another run"):
        recorded(recording(tmp_path), EVENTS[1:])


def test_readings_of_another_run_are_refused(tmp_path: Path) -> None:
    other = (Crossed(20_000, "rotate", (("airspeed", 33.1234),)),)
    with pytest.raises(RunnerError, match="it is of another run"):
        recorded(recording(tmp_path), other)


@pytest.mark.slow
def test_a_simulated_climb_is_held_against_its_targets(tmp_path: Path) -> None:
    """JSBSim flies it (https://jsbsim.sourceforge.net); its recording is held to the targets
    that were read back in the flight."""
    from test_fly_feed import fly, normal

    fly(tmp_path, normal())
    command = [sys.executable, "-m", "runner", "debrief", "--json", "-", "--readings"]
    done = subprocess.run(
        [*command, str(tmp_path / "feed.jsonl"), "--logbook", str(tmp_path / "logbook.sqlite3")],
        capture_output=True,
        text=True,
        check=True,
    )
    held = {one["title"]: one for one in json.loads(done.stdout)["record"]["held"]}
    climb = held["climb manifold pressure"]
    assert climb["phase"] == "After take-off"
    assert [engine for engine, _ in climb["seen"]] == [1, 2, 3, 4]
    for _, points in climb["seen"]:
        assert abs(points[-1][1] - climb["target"][-1][1]) < 1.0
