"""How long after an answer on one machine the next challenge begins on the other.

Two ``runner crew`` processes over a relay that holds each message back by the way's delay.
The clock runs from writing the line of text that is the answer until the line ``Runner: ...``
with the next challenge has been read from the other process; with sound, until the first
sample of the challenge has gone to the loudspeaker of whoever is to answer it. The person
thinks for a third of a second or more before answering, so that nothing is left under way
from the challenge.
"""

from __future__ import annotations

import contextlib
import json
import random
import re
import sys
import tempfile
import time
from collections import defaultdict
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from crew_network import Network
from crew_people import broker, mosquitto
from crew_processes import Machine, code_of
from crew_relay import Faults
from flying import ANSWERS, CHALLENGES, WEIGHT
from sound import SoundSystem, why_not
from test_crew_flight import BOTH, ENGINEERS

OPEN = ("open", "--phase", "before-takeoff", "--set", WEIGHT)


class Timed(Machine):
    """A machine whose lines carry the moment at which they were read; with a ``sound`` system
    it speaks, and its trace tells when."""

    def __init__(self, folder: Path, name: str, *arguments: str, sound: SoundSystem | None) -> None:
        self.times: list[float] = []
        self._trace = folder / f"{name}.trace"
        environment = {"RUNNER_TRACE": str(self._trace)}
        if sound is not None:
            environment |= sound.environment
        super().__init__(
            folder,
            name,
            *arguments,
            speak="none" if sound is None else "speaker",
            environment=environment,
        )

    def _read(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self.times.append(time.monotonic())
            self.lines.append(line.rstrip("\n"))
            self._new.put(line)
        self._new.put(None)

    def challenged_at(self, challenge: str, since: int) -> float:
        """When the challenge was read, in a line from number ``since`` on."""
        pattern = f"Runner: (.*[.] )?{challenge}$"
        self.wait_for(pattern, since=since)
        at = next(n for n in range(since, len(self.lines)) if re.search(pattern, self.lines[n]))
        return self.times[at]

    def sounded_at(self, challenge: str, what: str, seconds: float = 10.0) -> float:
        """When the challenge began to be spoken (``speaking``) or had been (``ended``)."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            lines = [json.loads(line) for line in self._trace.read_text().splitlines()]
            numbers = {
                line["utterance"]
                for line in lines
                if line["what"] == "said" and line["text"].endswith(challenge)
            }
            times = [
                line["monotonic"]
                for line in lines
                if line["what"] == what and line["utterance"] in numbers
            ]
            if times:
                return float(times[-1])
            time.sleep(0.02)
        raise AssertionError(f"{self.name}: {challenge} was never {what}")


def two(
    folder: Path, delay: float, through: int, network: Network, sound: SoundSystem | None
) -> tuple[Timed, Timed]:
    """Anna and Ben, with half of the delay on each line where there are two."""
    if through:
        ports = [network.stream(through, Faults(delay=delay / 2)).port for _ in range(2)]
        ways = [("--through", f"mqtt://127.0.0.1:{port}") for port in ports]
        anna = Timed(folder, "Anna", *OPEN, *ways[0], sound=sound)
        way = ways[1]
        code, _ = code_of(anna)
    else:
        here = ("--port", "0", "--address", "127.0.0.1")
        anna = Timed(folder, "Anna", *OPEN, *here, sound=sound)
        code, port = code_of(anna)
        way = (f"127.0.0.1:{network.messages(port, Faults(delay=delay)).port}",)
    return anna, Timed(folder, "Ben", "join", *way, "--code", code, sound=sound)


def flight(
    folder: Path, delay: float, through: int, chance: random.Random, sound: SoundSystem | None
) -> dict[str, list[float]]:
    """Fly one list; the seconds of each answer by the way it took."""
    took: dict[str, list[float]] = defaultdict(list)
    with Network() as network:
        anna, ben = two(folder, delay, through, network, sound)
        try:
            ben.wait_for("Ben: pilot monitoring", 30)
            for at, (challenge, answer) in enumerate(zip(CHALLENGES, ANSWERS, strict=True)):
                for machine in (anna, ben):
                    machine.wait_for(f"Runner: (.*[.] )?{challenge}$")
                who, other = (ben, anna) if challenge in ENGINEERS else (anna, ben)
                if sound is not None:
                    who.sounded_at(challenge, "ended")
                time.sleep(0.33 + chance.random() * 0.4)
                if challenge == BOTH:
                    ben.says(answer)
                    anna.wait_for("pilot flying too")
                    time.sleep(0.5 if sound is None else 4.0)
                since = len(other.lines)
                began = time.monotonic()
                who.says(answer)
                if at + 1 == len(CHALLENGES):
                    break
                following = CHALLENGES[at + 1]
                way = "to who orders" if who is ben else "from who orders"
                took[way].append(other.challenged_at(following, since) - began)
                if sound is not None:
                    asks = ben if following in ENGINEERS else anna
                    where = "there" if asks is other else "here"
                    first = asks.sounded_at(following, "speaking")
                    took[f"first sample {where}, {way}"].append(first - began)
            for machine in (anna, ben):
                machine.end()
        finally:
            for machine in (anna, ben):
                machine.stop()
    return took


def measure(flights: int, delay: float = 0.05, far: bool = False, sounds: bool = False) -> None:
    """Fly so many lists and print the median and the 99th percentile of each way."""
    all_took: dict[str, list[float]] = defaultdict(list)
    chance = random.Random(flights)
    with contextlib.ExitStack() as stack:
        through, sound = 0, None
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        if far:
            if mosquitto() is None:
                raise SystemExit("no Mosquitto on this machine")
            through = stack.enter_context(broker(folder))
        if sounds:
            if why := why_not():
                raise SystemExit(why)
            sound = SoundSystem(folder / "sound")
            stack.callback(sound.stop)
        for number in range(flights):
            place = folder / f"{number}"
            place.mkdir()
            for way, some in flight(place, delay, through, chance, sound).items():
                all_took[way] += some
    all_took["either"] = all_took["to who orders"] + all_took["from who orders"]
    road = "through a broker" if far else "over WebSocket"
    for way, found in all_took.items():
        took = sorted(found)
        p50, p99 = (took[int(len(took) * share)] * 1000 for share in (0.5, 0.99))
        own = delay * 1000
        print(
            f"answer to challenge {road}, {own:.0f} ms one way, {way}: {len(took)} answers, "
            f"median {p50:.0f} ms ({p50 - own:.0f} above the way), 99th percentile {p99:.0f} ms, "
            f"longest {took[-1] * 1000:.0f} ms",
            flush=True,
        )
