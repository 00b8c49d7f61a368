"""What a feed costs: datagram in to callback, share of a core, and memory.

    python tests/bench/feed.py [SECONDS]

A sender in a process of its own sends the shipped aircraft's readings, four engines, over
UDP on this machine, each with the time at which it was sent: first 50 a second, then 2,000
(each for SECONDS, 60 by default). Then the same 2,000 with a consumer that takes 0.3 ms for
each record, and with a program that stands still for half a second every five. Last, the
decoding and converting alone.
"""

from __future__ import annotations

import asyncio
import gc
import json
import math
import os
import statistics
import subprocess
import sys
import time
from pathlib import Path

from runner.checklist.load import load_aircraft
from runner.feed.intake import Intake
from runner.feed.map import plain_map
from runner.feed.reading import Readings
from runner.feed.source import open_feed
from runner.figures.model import Aircraft

SENDER = """
import json, math, socket, sys, time
names, port, rate, seconds = json.loads(sys.argv[1]), *map(float, sys.argv[2:5])
sender = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
sender.connect(("127.0.0.1", int(port)))
begun = time.monotonic()
for number in range(int(rate * seconds)):
    wait = begun + number / rate - time.monotonic()
    if wait > 0:
        time.sleep(wait)
    record = {name: round(100 + 50 * math.sin(number / 500 + n), 4) for n, name in enumerate(names)}
    record["seq"] = number
    record["time"] = time.monotonic()
    try:
        sender.send(json.dumps(record).encode())
    except ConnectionRefusedError:
        pass
"""


def memory() -> int:
    """Resident kilobytes of this process; 0 where the system does not say."""
    statm = Path("/proc/self/statm")
    if not statm.exists():
        return 0
    return int(statm.read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE") // 1024


def names(aircraft: Aircraft) -> list[str]:
    """The names of every reading, one an engine."""
    return list(plain_map(aircraft).entries)


async def run(
    aircraft: Aircraft, rate: int, seconds: float, *, takes: float = 0.0, stall: bool = False
) -> None:
    """One feed for so long, and what it cost."""
    delays: list[float] = []
    count = 0

    def take(readings: Readings) -> None:
        nonlocal count
        count += 1
        assert readings.sim_seconds is not None
        # Every tenth is enough at high rates, so that the list itself is no growth to speak of.
        if rate < 100 or count % 10 == 0:
            delays.append(time.monotonic() - readings.sim_seconds)
        if takes:
            until = time.monotonic() + takes
            while time.monotonic() < until:
                pass

    states: list[str] = []
    feed = open_feed("udp://127.0.0.1:0", None, aircraft, take, states.append)
    await feed.start()
    arguments = [json.dumps(names(aircraft)), str(feed.port), str(rate), str(seconds)]
    sender = subprocess.Popen([sys.executable, "-c", SENDER, *arguments])
    await asyncio.sleep(1.0)
    gc.collect()
    before, cpu, began = memory(), time.process_time(), time.monotonic()
    late = 0.0
    while sender.poll() is None:
        asleep = time.monotonic()
        await asyncio.sleep(0.1)
        late = max(late, time.monotonic() - asleep - 0.1)
        if stall and int(time.monotonic() - began) % 5 == 4:
            time.sleep(0.5)
            await asyncio.sleep(1.0)
    spent = (time.process_time() - cpu) / (time.monotonic() - began)
    gc.collect()
    after = memory()
    await feed.stop()
    delays.sort()
    counts = feed.counts
    print(
        f"{rate} Hz for {seconds:g} s"
        + (f", consumer takes {takes * 1000:g} ms" if takes else "")
        + (", stalled 0.5 s every 5 s" if stall else "")
        + f": delay median {statistics.median(delays) * 1000:.2f} ms, "
        f"99th percentile {delays[math.ceil(len(delays) * 0.99) - 1] * 1000:.2f} ms, "
        f"most {delays[-1] * 1000:.1f} ms; {spent:.1%} of a core; "
        f"memory {before} to {after} kB; sent {int(rate * seconds)}, accepted {counts.accepted}, "
        f"passed on {count}, thinned {counts.thinned}; others waited at most {late * 1000:.1f} ms"
        + (f"; {states}" if states else "")
    )


def alone(aircraft: Aircraft, number: int = 20_000) -> None:
    """Decoding and converting without a socket."""
    feed_map = plain_map(aircraft)
    data = [
        json.dumps(
            {name: round(math.sin(n + k) * 1000, 4) for k, name in enumerate(names(aircraft))}
            | {"seq": n, "time": n / 2000}
        ).encode()
        for n in range(number)
    ]
    intake = Intake(feed_map, lambda _: None, lambda _: None)
    decoder = feed_map.decoder()
    began = time.process_time()
    for n, datagram in enumerate(data):
        intake.receive([datagram], n / 2000, decoder)
    each = (time.process_time() - began) / number
    print(
        f"decoding and converting {len(feed_map.entries)} readings ({len(data[0])} bytes): "
        f"{each * 1e6:.1f} us a record, {each * 2000:.1%} of a core at 2,000 Hz"
    )


def main() -> None:
    """Print everything."""
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 60.0
    aircraft = load_aircraft("whimbrel-four-aircraft")
    asyncio.run(run(aircraft, 50, seconds))
    asyncio.run(run(aircraft, 2000, seconds))
    asyncio.run(run(aircraft, 2000, min(seconds, 15.0), takes=0.0003))
    asyncio.run(run(aircraft, 2000, min(seconds, 15.0), stall=True))
    alone(aircraft)


if __name__ == "__main__":
    main()
