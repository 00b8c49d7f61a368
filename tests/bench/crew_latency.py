"""How long after an answer on one machine the next challenge begins on the other.

Two ``runner crew`` processes over a relay that holds each message back by the way's delay.
The clock runs from writing the line of text that is the answer until the line ``Runner: ...``
with the next challenge has been read from the other process. The person thinks for a third
of a second or more before answering, so that nothing is left under way from the challenge.
"""

from __future__ import annotations

import contextlib
import random
import re
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from crew_network import Network
from crew_people import broker, mosquitto
from crew_processes import Machine, code_of
from crew_relay import Faults
from flying import ANSWERS, CHALLENGES, WEIGHT
from test_crew_flight import BOTH, ENGINEERS


class Timed(Machine):
    """A machine whose lines carry the moment at which they were read."""

    def __init__(self, *arguments: object) -> None:
        self.times: list[float] = []
        super().__init__(*arguments)  # type: ignore[arg-type]

    def _read(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self.times.append(time.monotonic())
            self.lines.append(line.rstrip("\n"))
            self._new.put(line)
        self._new.put(None)

    def challenged_at(self, challenge: str, since: int, seconds: float = 20.0) -> float:
        """When the challenge was read, in a line from number ``since`` on."""
        pattern = f"Runner: (.*[.] )?{challenge}"
        self.wait_for(pattern, seconds, since)
        at = next(n for n in range(since, len(self.lines)) if re.search(pattern, self.lines[n]))
        return self.times[at]


def flight(folder: Path, delay: float, through: int, chance: random.Random) -> dict[str, list]:
    """Fly one list; the seconds of each answer by the way it took."""
    took: dict[str, list[float]] = {"to who orders": [], "from who orders": []}
    machines: list[Machine] = []
    with Network() as network:
        where = ("open", "--phase", "before-takeoff", "--set", WEIGHT)
        if through:
            ways = [network.stream(through, Faults(delay=delay / 2)).port for _ in range(2)]
            near, far = [("--through", f"mqtt://127.0.0.1:{port}") for port in ways]
        else:
            near = ("--port", "0", "--address", "127.0.0.1")
        try:
            anna = Timed(folder, "Anna", *where, *near)
            machines.append(anna)
            code, port = code_of(anna)
            if not through:
                far = (f"127.0.0.1:{network.messages(port, Faults(delay=delay)).port}",)
            ben = Timed(folder, "Ben", "join", "--code", code, *far)
            machines.append(ben)
            ben.wait_for("Ben: pilot monitoring", 30)
            for at, (challenge, answer) in enumerate(zip(CHALLENGES, ANSWERS, strict=True)):
                for machine in (anna, ben):
                    machine.wait_for(f"Runner: (.*[.] )?{challenge}$")
                time.sleep(0.33 + chance.random() * 0.4)
                who, other = (ben, anna) if challenge in ENGINEERS else (anna, ben)
                if challenge == BOTH:
                    ben.says(answer)
                    anna.wait_for("pilot flying too")
                    time.sleep(0.5)
                since = len(other.lines)
                began = time.monotonic()
                who.says(answer)
                if at + 1 < len(CHALLENGES):
                    way = "to who orders" if who is ben else "from who orders"
                    took[way].append(other.challenged_at(CHALLENGES[at + 1], since) - began)
            for machine in (anna, ben):
                machine.end()
        finally:
            for machine in machines:
                machine.stop()
    return took


def measure(flights: int, delay: float = 0.05, far: bool = False) -> None:
    """Fly so many lists and print the median and the 99th percentile of each way."""
    all_took: dict[str, list[float]] = {}
    chance = random.Random(flights)
    with contextlib.ExitStack() as stack:
        through = 0
        if far:
            if mosquitto() is None:
                raise SystemExit("no Mosquitto on this machine")
            folder = stack.enter_context(tempfile.TemporaryDirectory())
            through = stack.enter_context(broker(Path(folder)))
        for _ in range(flights):
            with tempfile.TemporaryDirectory() as folder:
                for way, some in flight(Path(folder), delay, through, chance).items():
                    all_took.setdefault(way, []).extend(some)
    road = "through a broker" if far else "over WebSocket"
    both = [seconds for some in all_took.values() for seconds in some]
    for way, found in (*all_took.items(), ("both", both)):
        took = sorted(found)
        p50, p99 = (took[int(len(took) * share)] * 1000 for share in (0.5, 0.99))
        own = delay * 1000
        print(
            f"answer to challenge {road}, {own:.0f} ms one way, {way}: {len(took)} answers, "
            f"median {p50:.0f} ms ({p50 - own:.0f} above the way), 99th percentile {p99:.0f} ms, "
            f"longest {took[-1] * 1000:.0f} ms",
            flush=True,
        )
