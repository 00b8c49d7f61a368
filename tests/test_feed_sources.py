"""Every source of readings, with real sockets, real files and real processes."""

from __future__ import annotations

import asyncio
import json
import math
import socket
import subprocess
import sys
import time
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import pytest

from runner.checklist.load import load_aircraft
from runner.errors import RunnerError
from runner.feed.address import parse_address
from runner.feed.reading import Readings
from runner.feed.record import Recorder
from runner.feed.sockets import Udp
from runner.feed.source import Feed, open_feed
from runner.figures.model import Aircraft


@pytest.fixture(scope="module")
def aircraft() -> Aircraft:
    return load_aircraft("whimbrel-four-aircraft")


class Consumer:
    def __init__(self) -> None:
        self.readings: list[Readings] = []
        self.states: list[str] = []

    @property
    def speeds(self) -> list[float]:
        return [readings.values["airspeed"] for readings in self.readings]

    async def until(self, done: Callable[[Consumer], object], seconds: float = 5.0) -> None:
        async with asyncio.timeout(seconds):
            while not done(self):
                await asyncio.sleep(0.005)


@asynccontextmanager
async def opened(
    url: str, aircraft: Aircraft, **options: Any
) -> AsyncIterator[tuple[Feed, Consumer]]:
    consumer = Consumer()
    feed = open_feed(
        url, None, aircraft, consumer.readings.append, consumer.states.append, **options
    )
    await feed.start()
    try:
        yield feed, consumer
    finally:
        await feed.stop()


def line(speed: float, **more: Any) -> bytes:
    return json.dumps({"airspeed": speed, **more}).encode() + b"\n"


async def test_datagrams_come_in_order_with_the_time_of_their_arrival(aircraft: Aircraft) -> None:
    async with opened("udp://127.0.0.1:0", aircraft) as (feed, consumer):
        began = time.monotonic()
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:
            sender.connect(("127.0.0.1", feed.port))
            for number in range(20):
                sender.send(line(number, seq=number))
            sender.send(b"\xffgarbage")
            sender.send(b"")
        await consumer.until(lambda c: len(c.readings) == 20)
        await asyncio.sleep(0.02)
    assert consumer.speeds == list(range(20))
    assert began <= consumer.readings[0].at <= consumer.readings[-1].at <= time.monotonic()
    assert feed.counts.malformed == 1


async def test_datagrams_come_on_an_event_loop_that_cannot_watch_sockets(
    aircraft: Aircraft, monkeypatch: pytest.MonkeyPatch
) -> None:
    loop = asyncio.get_running_loop()
    genuine = loop.add_reader

    def cannot(descriptor: Any, callback: Any, *args: Any) -> None:
        if getattr(callback, "__func__", None) is Udp._read:
            raise NotImplementedError
        genuine(descriptor, callback, *args)

    monkeypatch.setattr(loop, "add_reader", cannot)
    async with opened("udp://127.0.0.1:0", aircraft) as (feed, consumer):
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:
            for number in range(20):
                sender.sendto(line(number), ("127.0.0.1", feed.port))
        await consumer.until(lambda c: len(c.readings) == 20)
    assert consumer.speeds == list(range(20))


async def test_datagrams_come_over_ipv6(aircraft: Aircraft) -> None:
    if not socket.has_ipv6:
        pytest.skip("this machine has no IPv6")
    try:
        async with opened("udp://[::1]:0", aircraft) as (feed, consumer):
            with socket.socket(socket.AF_INET6, socket.SOCK_DGRAM) as sender:
                sender.sendto(line(98), ("::1", feed.port))
            await consumer.until(lambda c: c.readings)
    except RunnerError:
        pytest.skip("this machine has no IPv6")
    assert consumer.speeds == [98]


async def test_a_stalled_program_gets_the_extremes_and_the_newest(aircraft: Aircraft) -> None:
    async with opened("udp://127.0.0.1:0", aircraft) as (feed, consumer):
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:
            sender.connect(("127.0.0.1", feed.port))
            for number in range(100):
                sender.send(line(200 if number == 41 else number, seq=number))
        await consumer.until(lambda c: c.readings and c.speeds[-1] == 99)
    assert consumer.speeds == [0, 200, 99]
    assert feed.counts.accepted == 100
    assert feed.counts.thinned == 97


async def test_readings_that_stop_are_lost_after_two_seconds_and_come_back(
    aircraft: Aircraft,
) -> None:
    async with opened("udp://127.0.0.1:0", aircraft) as (feed, consumer):
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:
            sender.connect(("127.0.0.1", feed.port))
            sender.send(line(1))
            await consumer.until(lambda c: c.readings)
            await consumer.until(lambda c: c.states)
            lost_after = time.monotonic() - consumer.readings[0].at
            assert feed.lost
            sender.send(line(2))
            sender.send(line(3))
            await consumer.until(lambda c: len(c.readings) == 3)
    assert 2.0 <= lost_after < 2.3
    assert consumer.states == ["readings lost", "readings back"]


async def test_a_program_that_stands_still_does_not_take_readings_for_lost(
    aircraft: Aircraft,
) -> None:
    async with opened("udp://127.0.0.1:0", aircraft) as (feed, consumer):
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:
            sender.connect(("127.0.0.1", feed.port))
            sender.send(line(1))
            await consumer.until(lambda c: c.readings)
            sender.send(line(2))
            time.sleep(2.2)
            await consumer.until(lambda c: len(c.readings) == 2)
            await asyncio.sleep(0.1)
    assert consumer.states == []


async def test_a_server_is_connected_to_again_when_it_comes_back(aircraft: Aircraft) -> None:
    speeds = iter([[1, 2], [3, 4]])

    async def serve(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        del reader
        for speed in next(speeds):
            # The clock begins anew with each connection.
            writer.write(line(speed, time=10.0 - speed, seq=0))
        writer.write(b'{"airspeed": 5')
        await writer.drain()
        writer.close()

    server = await asyncio.start_server(serve, "127.0.0.1", 0)
    port = server.sockets[0].getsockname()[1]
    async with opened(f"tcp://127.0.0.1:{port}", aircraft) as (feed, consumer):
        await consumer.until(lambda c: len(c.readings) == 2)
        assert consumer.speeds == [1, 3]
        await asyncio.sleep(0.05)
        assert feed.trouble == "the other side closed the connection"
    server.close()
    assert feed.counts.malformed == 2


async def test_a_server_that_is_not_there_yet_is_waited_for(aircraft: Aircraft) -> None:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    async with opened(f"tcp://127.0.0.1:{port}", aircraft) as (feed, consumer):
        await asyncio.sleep(0.1)
        assert "refused" in feed.trouble.lower() or "connect" in feed.trouble.lower()

        async def serve(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
            del reader
            writer.write(line(98))

        server = await asyncio.start_server(serve, "127.0.0.1", port)
        await consumer.until(lambda c: c.readings)
        assert feed.trouble == ""
        server.close()


async def test_whoever_connects_last_is_listened_to(aircraft: Aircraft) -> None:
    async with opened("tcp-listen://127.0.0.1:0", aircraft) as (feed, consumer):
        _, first = await asyncio.open_connection("127.0.0.1", feed.port)
        first.write(line(1, time=500))
        await consumer.until(lambda c: len(c.readings) == 1)
        reader, second = await asyncio.open_connection("127.0.0.1", feed.port)
        second.write(b"airspeed,altitude\n2,300\n")
        await consumer.until(lambda c: len(c.readings) == 2)
        second.write(b"3,3")
        await asyncio.sleep(0.02)
        second.write(b"10\n" + b"x" * 200_000 + b"\n4,320\n")
        await consumer.until(lambda c: len(c.readings) == 4)
        first.close()
    assert consumer.speeds == [1, 2, 3, 4]
    assert consumer.readings[2].values["altitude"] == 310
    assert feed.counts.malformed == 1
    async with asyncio.timeout(2):
        assert await reader.read() == b""


async def test_a_port_in_use_is_one_clear_line(aircraft: Aircraft) -> None:
    for kind, sort in (("udp", socket.SOCK_DGRAM), ("tcp-listen", socket.SOCK_STREAM)):
        with socket.socket(socket.AF_INET, sort) as taken:
            taken.bind(("127.0.0.1", 0))
            if sort == socket.SOCK_STREAM:
                taken.listen()
            port = taken.getsockname()[1]
            with pytest.raises(RunnerError, match=f"{kind}://127.0.0.1:{port}: the port cannot"):
                async with opened(f"{kind}://127.0.0.1:{port}", aircraft):
                    pass


@pytest.mark.parametrize(
    ("url", "reason"),
    [
        ("udp://0.0.0.0:49000", "is not this machine"),
        ("tcp://192.0.2.1:49000", "with --feed-open only"),
        ("tcp-listen://[::]:49000", "is not this machine"),
        ("tcp://localhost.example:1", "is not this machine"),
        ("udp://127.0.0.1", "write host and port, as udp://127.0.0.1:49000"),
        ("udp://127.0.0.1:99999", "write host and port"),
        ("udp://127.0.0.1:49000/x", "write host and port"),
        ("udp://[::1:5", "write host and port"),
        ("http://127.0.0.1:80", "readings do not come by http"),
        ("no-such-thing", "there is no such file or source"),
        ("flight.jsonl?speed=0", "speed=4"),
        ("flight.jsonl?speed=nan", "speed=4"),
        ("flight.jsonl?fast=1", "speed=4"),
        ("no-such-flight.jsonl", "cannot be read: No such file"),
        ("sim?port=5", "'port' is not an option"),
        ("sim?--x=5", "is not an option"),
    ],
)
async def test_a_source_that_cannot_be_is_one_clear_line(
    aircraft: Aircraft, url: str, reason: str
) -> None:
    with pytest.raises(RunnerError) as caught:
        async with opened(url, aircraft):
            pass
    assert reason in str(caught.value)
    assert "\n" not in str(caught.value)


def test_another_machine_is_listened_to_when_that_is_asked_for() -> None:
    assert parse_address("udp://0.0.0.0:49000", anywhere=True).host == "0.0.0.0"
    assert parse_address("udp://:49000").host == "127.0.0.1"


def write_flight(path: Path, aircraft: Aircraft, seconds: float = 1.0) -> None:
    recorder = Recorder(path, aircraft.name)
    for number in range(int(seconds * 50) + 1):
        values = {"airspeed": number / 3, "manifold_pressure_4": 58.0}
        recorder.write(Readings(7000 + number / 50, values, 40 + number / 50, False, 1.0))
    recorder.stop()


async def test_a_recording_is_played_in_real_time(aircraft: Aircraft, tmp_path: Path) -> None:
    write_flight(tmp_path / "flight.jsonl", aircraft)
    async with opened(str(tmp_path / "flight.jsonl"), aircraft) as (feed, consumer):
        async with asyncio.timeout(5):
            await feed.ended()
    assert consumer.speeds == pytest.approx([n / 3 for n in range(51)], rel=1e-6)
    assert consumer.readings[-1].at - consumer.readings[0].at == pytest.approx(1.0, abs=0.15)
    assert consumer.readings[-1].sim_seconds == 41
    assert consumer.readings[-1].values["manifold_pressure_4"] == 58
    assert (feed.counts.malformed, feed.counts.unnamed) == (0, 0)


async def test_a_recording_is_played_faster(aircraft: Aircraft, tmp_path: Path) -> None:
    write_flight(tmp_path / "flight.jsonl", aircraft, seconds=8)
    async with opened(f"{tmp_path}/flight.jsonl?speed=4", aircraft) as (feed, consumer):
        async with asyncio.timeout(10):
            await feed.ended()
    took = consumer.readings[-1].at - consumer.readings[0].at
    assert took == pytest.approx(2.0, abs=0.2)
    assert feed.rate == pytest.approx(4.0, rel=0.15)


async def test_a_recording_is_played_by_its_own_clock(aircraft: Aircraft, tmp_path: Path) -> None:
    write_flight(tmp_path / "flight.jsonl", aircraft, seconds=100)
    began = time.monotonic()
    async with opened(f"{tmp_path}/flight.jsonl", aircraft, stamped=True) as (feed, consumer):
        await feed.ended()
    assert [readings.at for readings in consumer.readings[::50]] == [40 + n for n in range(101)]
    assert time.monotonic() - began < 20
    assert consumer.states == []


async def test_a_csv_file_is_played_by_its_time_column(aircraft: Aircraft, tmp_path: Path) -> None:
    file = tmp_path / "flight.csv"
    file.write_text("time,airspeed\n10.0,1\n10.3,2\nbad\n10.6,3")
    async with opened(str(file), aircraft) as (feed, consumer):
        async with asyncio.timeout(5):
            await feed.ended()
    assert consumer.speeds == [1, 2, 3]
    assert consumer.readings[2].at - consumer.readings[0].at == pytest.approx(0.6, abs=0.1)
    assert feed.counts.malformed == 1


async def test_what_a_feed_records_plays_back_the_same(aircraft: Aircraft, tmp_path: Path) -> None:
    file = tmp_path / "kept.jsonl"
    async with opened("udp://127.0.0.1:0", aircraft, record=str(file)) as (feed, live):
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:
            for number in range(10):
                data = line(90 + math.sin(number), rpm_2=2300, seq=number, paused=number == 9)
                sender.sendto(data, ("127.0.0.1", feed.port))
                await asyncio.sleep(0.01)
        await live.until(lambda c: len(c.readings) == 10)
    async with opened(str(file), aircraft) as (feed, played):
        async with asyncio.timeout(5):
            await feed.ended()
    assert [r.values for r in played.readings] == [
        pytest.approx(r.values, rel=1e-6) for r in live.readings
    ]
    assert [r.paused for r in played.readings] == [r.paused for r in live.readings]
    assert played.states == live.states == ["paused"]


async def test_a_recording_does_not_replace_a_file(aircraft: Aircraft, tmp_path: Path) -> None:
    file = tmp_path / "kept.jsonl"
    file.write_text("mine")
    with pytest.raises(RunnerError, match=r"kept\.jsonl: there is such a file already"):
        open_feed("-", None, aircraft, print, print, record=str(file))
    assert file.read_text() == "mine"


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
def test_a_full_disk_ends_the_recording_and_nothing_else(
    aircraft: Aircraft, tmp_path: Path
) -> None:
    recorder = Recorder(tmp_path / "flight.jsonl", aircraft.name)
    with Path("/dev/full").open("w", encoding="utf-8") as full:
        assert recorder._file is not None
        recorder._file.close()
        recorder._file = full
        for number in range(20_000):
            recorder.write(Readings(number / 50, {"airspeed": 98.0}))
        recorder.stop()
    assert "the recording of readings has ended: No space left" in recorder.trouble


PROGRAM = """
import asyncio, sys
from runner.checklist.load import load_aircraft
from runner.feed.source import open_feed

async def main():
    got = []
    aircraft = load_aircraft("whimbrel-four-aircraft")
    feed = open_feed("-", None, aircraft, got.append, print)
    await feed.start()
    await feed.ended()
    await feed.stop()
    print(len(got), got[-1].values["airspeed"], feed.counts.malformed, feed.counts.late)

asyncio.run(main())
"""


def test_standard_input_of_a_real_process_is_a_source() -> None:
    lines = b"".join(line(number, seq=number) for number in range(30))
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM],
        input=lines + b"\xff\n" + line(77, seq=5) + line(99, seq=31).strip(),
        capture_output=True,
        timeout=60,
        check=True,
    )
    assert done.stdout.decode().split() == ["31", "99.0", "1", "1"]


def test_standard_input_may_be_a_file_and_may_be_long(tmp_path: Path) -> None:
    file = tmp_path / "lines.jsonl"
    file.write_bytes(b"".join(line(number, seq=number) for number in range(100_000)))
    with file.open("rb") as lines:
        done = subprocess.run(
            [sys.executable, "-c", PROGRAM],
            stdin=lines,
            capture_output=True,
            timeout=60,
            check=True,
        )
    assert done.stdout.decode().split()[1:] == ["99999.0", "0", "0"]


async def test_nothing_is_called_back_after_the_feed_is_stopped(aircraft: Aircraft) -> None:
    async with opened("udp://127.0.0.1:0", aircraft) as (feed, consumer):
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:
            sender.sendto(line(1), ("127.0.0.1", feed.port))
    await asyncio.sleep(0.05)
    assert consumer.readings == []
    assert consumer.states == []


async def test_the_simulated_flight_sends_datagrams_in_real_time(aircraft: Aircraft) -> None:
    pytest.importorskip("jsbsim")
    async with opened("sim?hold=0", aircraft) as (feed, consumer):
        await consumer.until(lambda c: len(c.readings) > 100, seconds=20)
        assert feed.port > 0
    assert consumer.readings[-1].values.keys() >= {"airspeed", "manifold_pressure_4"}
    assert feed.rate == pytest.approx(1.0, rel=0.2)
    assert feed.counts.unnamed == feed.counts.malformed == 0
    assert feed.trouble == ""


async def test_the_simulated_flight_goes_as_fast_as_it_is_taken_and_is_told_targets(
    aircraft: Aircraft,
) -> None:
    pytest.importorskip("jsbsim")
    taken = 0
    released_at = 0.0

    async def settle() -> None:
        nonlocal taken, released_at
        taken += 1
        if taken == 100:
            released_at = consumer.readings[-1].at
            feed.tell("brake_release", 1)
        await asyncio.sleep(0.02 if taken < 110 else 0)

    url = "sim?hold=told&seconds=40"
    async with opened(url, aircraft, stamped=True, settle=settle) as (feed, consumer):
        async with asyncio.timeout(60):
            await feed.ended()
    assert taken == len(consumer.readings) == 2000
    assert [r.sim_seconds for r in consumer.readings] == [r.at for r in consumer.readings]
    assert consumer.readings[-1].at == pytest.approx(40.0, abs=0.02)
    # The flight is a few records ahead of its listener, not a second.
    before = consumer.readings[99].values["manifold_pressure_1"]
    assert all(r.values["manifold_pressure_1"] < before + 0.5 for r in consumer.readings[:100])
    rises = next(r.at for r in consumer.readings if r.values["manifold_pressure_1"] > before + 0.5)
    assert 0 < rises - released_at < 1.0
    assert consumer.states == []


async def test_a_simulated_flight_that_cannot_fly_says_why(aircraft: Aircraft) -> None:
    async with opened("sim?rate=9999", aircraft) as (feed, _):
        async with asyncio.timeout(20):
            await feed.ended()
        assert feed.trouble.startswith("the simulated flight has ended: --rate must be 1 to")
