"""The simulated flight as a program: real datagrams on loopback, real pipes, real clocks."""

from __future__ import annotations

import json
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from itertools import pairwise

import pytest

from simulated import AIRCRAFT, ENGINES

PROGRAM = (sys.executable, "-m", "runner.simulation")


@pytest.fixture
def port() -> Iterator[socket.socket]:
    """A UDP socket of this machine that waits up to five seconds for a datagram."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as listening:
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 1 << 22)
        listening.bind(("127.0.0.1", 0))
        listening.settimeout(5)
        yield listening


def received(listening: socket.socket, count: int) -> list[dict[str, float]]:
    return [json.loads(listening.recv(65535)) for _ in range(count)]


def started(listening: socket.socket, *options: str) -> subprocess.Popen[bytes]:
    number = str(listening.getsockname()[1])
    return subprocess.Popen(
        [*PROGRAM, "--port", number, *options], stdin=subprocess.PIPE, stderr=subprocess.PIPE
    )


def test_datagrams_come_fifty_times_a_second_with_the_aircraft_s_own_names(
    port: socket.socket,
) -> None:
    with started(port, "--hold", "0") as program:
        try:
            received(port, 10)
            begun = time.monotonic()
            records = received(port, 100)
            spent = time.monotonic() - begun
        finally:
            program.terminate()
    assert spent == pytest.approx(2.0, abs=0.3)
    times = [one["time"] for one in records]
    # Steps are of a 120th of a second.
    gaps = [after - before for before, after in pairwise(times)]
    assert all(0.016 < gap < 0.026 for gap in gaps)
    assert [one["seq"] for one in records] == list(range(11, 111))
    names = {"seq", "time"}
    for name, rule in AIRCRAFT.readings.items():
        names |= {f"{name}_{n}" for n in ENGINES} if rule.each_engine else {name}
    assert set(records[0]) == names


def test_it_begins_when_told_and_ends_with_its_listener(port: socket.socket) -> None:
    with started(port, "--hold", "told") as program:
        try:
            assert program.stdin is not None
            before = received(port, 60)
            program.stdin.write(b"brake_release 1\nnonsense\nstall_speed 80\n")
            program.stdin.flush()
            after = received(port, 100)
            program.stdin.close()
            assert program.wait(5) == 0
            assert program.stderr is not None
            told = program.stderr.read().decode()
        finally:
            program.kill()
    assert all(one["manifold_pressure_1"] < 12 for one in before)
    assert after[-1]["manifold_pressure_1"] > before[-1]["manifold_pressure_1"] + 1
    assert "not 'NAME VALUE': nonsense" in told
    assert "there is no target stall_speed" in told
    assert "Traceback" not in told


def test_lines_go_to_standard_output_as_fast_as_they_are_worked_out() -> None:
    begun = time.monotonic()
    options = ("--fast", "--hold", "0", "--seconds", "60", "--reject", "--log")
    done = subprocess.run(
        [*PROGRAM, *options], capture_output=True, check=True, stdin=subprocess.DEVNULL
    )
    assert time.monotonic() - begun < 30
    lines = done.stdout.splitlines()
    assert len(lines) == 3000
    records = [json.loads(line) for line in lines]
    assert records[-1]["time"] == pytest.approx(60, abs=0.01)
    fastest = max(one["airspeed"] for one in records)
    # Five knots below a decision speed of 92.
    assert 86.5 < fastest < 91
    assert "rejected" in done.stderr.decode()


def test_an_engine_fails_where_it_is_asked_to() -> None:
    options = ("--fast", "--hold", "0", "--seconds", "70", "--fail-engine", "3@V1", "--log")
    weight = ("--set", "gross_weight=70000lb,wind_speed=0kt")
    done = subprocess.run(
        [*PROGRAM, *options, *weight], capture_output=True, check=True, stdin=subprocess.DEVNULL
    )
    assert "engine 3 failed" in done.stderr.decode()
    last = json.loads(done.stdout.splitlines()[-1])
    assert last["bmep_3"] == 0 and last["bmep_2"] > 150


@pytest.mark.parametrize(
    ("options", "reason"),
    [
        (("--fail-engine", "three"), "write 3@V1"),
        (("--fail-engine", "7@V1"), "no engine 7"),
        (("--reject", "fast"), "a speed in knots"),
        (("--hold", "-3x"), "write seconds, or 'told'"),
        (("--rate", "500"), "--rate must be 1 to 120"),
        (("--port", "70000"), "--port must be 1 to 65535"),
        (("--set", "gross_weight=10lb"), "gross"),
        (("--aircraft", "no-such-aircraft"), "no-such-aircraft"),
    ],
)
def test_wrong_options_are_one_line(options: tuple[str, ...], reason: str) -> None:
    done = subprocess.run(
        [*PROGRAM, "--fast", "--seconds", "1", *(f"{options[0]}={options[1]}",)],
        capture_output=True,
        stdin=subprocess.DEVNULL,
    )
    assert done.returncode == 2
    told = done.stderr.decode().strip()
    assert reason in told and "\n" not in told
