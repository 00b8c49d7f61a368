"""Hours of flights over a bad line: every callout once, none missed, and memory flat.

Invented readings of the four-engine aircraft go as datagrams over a line that loses, delays,
repeats and damages them and is silent now and then, through the feed's intake, the watch and
the engine. What should have been called is worked out from the datagrams that arrived, by their
numbers alone.
"""

from __future__ import annotations

import gc
import json
import os
import random
import time
from collections import Counter, deque
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from feed_faults import Arrival, Faults
from runner.checklist.model import Callout
from runner.engine.effects import CancelTimer, Effect, Hush, Say, SetTimer
from runner.engine.events import Crossed, Event, FiguresChanged, Said, TimerFired
from runner.engine.state import State, initial_state
from runner.engine.step import step
from runner.engine.triggers import armed_callouts, callout_line
from runner.engine.watch import MILLISECONDS_A_WORD, number
from runner.feed.intake import LOST, Intake
from runner.feed.map import plain_map
from runner.feed.reading import Readings
from runner.figures.sheet import Sheet
from runner.instruments import LOOK, Instruments
from shipped_answers import shipped
from shipped_runs import started

PROCEDURES = shipped()
MAP = plain_map(PROCEDURES.aircraft)
PHASES = ("takeoff", "descent", "landing")

EACH = {
    "manifold_pressure": 40.0,
    "rpm": 2400.0,
    "bmep": 180.0,
    "fuel_pressure": 23.5,
    "oil_pressure": 80.0,
    "oil_temperature": 70.0,
    "cylinder_head_temperature": 190.0,
    "carburettor_air_temperature": 17.0,
    "cowl_flap_position": 50.0,
}
STEADY = {
    "outside_air_temperature": 12.0,
    "vertical_speed": 0.0,
    "gear_position": 1.0,
    "flap_position": 20.0,
    "parking_brake": 0.0,
    "hydraulic_pressure": 2950.0,
} | {f"{name}_{engine}": value for name, value in EACH.items() for engine in range(1, 5)}

COURSES = {
    "takeoff": {"airspeed": (0.0, 140.0), "height": (0.0, 900.0), "altitude": (310.0, 1210.0)},
    "descent": {
        "airspeed": (215.0, 130.0),
        "height": (11_500.0, 400.0),
        "altitude": (11_700.0, 600.0),
    },
    "landing": {"airspeed": (135.0, 20.0), "height": (900.0, 0.0), "altitude": (1100.0, 200.0)},
}
"""What a quantity is at a flight's beginning and at its end."""

NOISE = {"airspeed": 0.2, "height": 1.0, "altitude": 1.0}


def course(phase: str, seconds: float, rate: int, chance: random.Random) -> Iterator[dict]:
    """The readings of one flight: each quantity moves evenly over a part of it, then stays."""
    parts = {
        name: (chance.uniform(0.02, 0.3) * seconds, chance.uniform(0.5, 0.9) * seconds)
        for name in COURSES[phase]
    }
    if phase == "takeoff":
        begins = 0.1 * seconds
        parts["airspeed"] = (begins, begins + 140.0 / chance.uniform(1.5, 4.0))
    for count in range(round(seconds * rate)):
        at = count / rate
        moving = {}
        for name, (first, last) in COURSES[phase].items():
            begins, ends = parts[name]
            share = min(1.0, max(0.0, (at - begins) / (ends - begins)))
            moving[name] = round(first + share * (last - first) + chance.gauss(0, NOISE[name]), 3)
        yield STEADY | moving


class Run:
    """One run of the engine with its instruments, and a voice that takes its time."""

    def __init__(self, phase: str) -> None:
        event, program = started(PROCEDURES, phase)
        self.program = program
        self.state: State = initial_state(program)
        self.said: Counter[str] = Counter()
        self.at = 0
        self._instruments = Instruments(self.post, self._follow, self._set_timer)
        self._sheet = Sheet(PROCEDURES.aircraft)
        self._worked = self._sheet.work_out({})
        self._waiting: deque[Event] = deque()
        self._timers: dict[str, int] = {}
        self._spoken: deque[tuple[int, int]] = deque()
        self.post(event)
        self.armed: tuple[Callout, ...] = armed_callouts(self.state)

    def read(self, at: int, values: Mapping[str, float]) -> None:
        """Readings at that millisecond."""
        self.time(at)
        self._instruments.read(self.state, self.at, values)

    def changed(self, state: str) -> None:
        """The feed was lost or is back."""
        self._instruments.changed(state, self.at)

    def time(self, at: int) -> None:
        """Time goes on to that millisecond."""
        self.at = max(self.at, at)
        while self._spoken and self._spoken[0][0] <= self.at:
            self.post(Said(self.at, self._spoken.popleft()[1], True))
        for name in [name for name, due in self._timers.items() if due <= self.at]:
            if self._timers.pop(name, None) is None:
                continue
            if name == LOOK:
                self._instruments.look(self.state, self.at)
            else:
                self.post(TimerFired(self.at, name))

    def post(self, event: Event) -> None:
        """Take an event in, with all that comes of it."""
        self._waiting.append(event)
        if len(self._waiting) > 1:
            return
        while self._waiting:
            first = self._waiting[0]
            self.state, effects = step(self.state, first)
            self._count(first, effects)
            for effect in effects:
                self._carry_out(effect)
            self._waiting.popleft()
        self._instruments.look(self.state, self.at)

    def _count(self, event: Event, effects: tuple[Effect, ...]) -> None:
        if not isinstance(event, Crossed):
            return
        spoken = " ".join(e.text for e in effects if isinstance(e, Say)).lower()
        for name in (event.callout, *event.also):
            callout, _ = self.program.callouts[name]
            words = callout_line(self.program, callout, self.state.figures).text
            if words.lower() in spoken:
                self.said[name] += 1

    def _carry_out(self, effect: Effect) -> None:
        match effect:
            case Say():
                begins = max(self.at, self._spoken[-1][0] if self._spoken else 0)
                length = MILLISECONDS_A_WORD * len(effect.speech.split())
                self._spoken.append((begins + length, effect.utterance))
            case Hush():
                cut, self._spoken = self._spoken, deque()
                for _, utterance in cut:
                    self.post(Said(self.at, utterance, False))
            case SetTimer(timer, after):
                self._set_timer(timer, after)
            case CancelTimer(timer):
                self._timers.pop(timer, None)

    def _set_timer(self, name: str, after: int) -> None:
        self._timers[name] = self.at + after

    def _follow(self, changes: Mapping[str, float]) -> None:
        before = self._worked.figures
        self._worked = self._sheet.change(self._worked, changes)
        after = self._worked.figures
        changed = tuple(figure for name, figure in after.items() if before.get(name) != figure)
        gone = tuple(name for name in before if name not in after)
        if changed or gone:
            self.post(FiguresChanged(self.at, changed, gone, followed=True))


@dataclass
class Line:
    """The whole time: one intake over all flights, and what came of them."""

    rate: int
    chance: random.Random
    sent: int = 0
    now: float = 0.0
    due: int = 0
    silences: int = 0
    lost: int = 0
    missed: list[str] = field(default_factory=list)
    twice: list[str] = field(default_factory=list)
    uncalled_for: list[str] = field(default_factory=list)
    run: Run | None = None
    began: float = 0.0

    def __post_init__(self) -> None:
        self.intake = Intake(MAP, self._read, self._changed)
        self.intake.start(0.0)
        self._decoder = MAP.decoder()

    def _read(self, readings: Readings) -> None:
        assert self.run is not None
        self.run.read(round((readings.at - self.began) * 1000), readings.values)

    def _changed(self, state: str) -> None:
        assert self.run is not None
        self.lost += state == LOST
        self.run.changed(state)

    def fly(self, phase: str, seconds: float, seed: int) -> None:
        """One flight, and what should have been called in it."""
        self.run, self.began, first = Run(phase), self.now, self.sent
        sent: dict[int, dict[str, float]] = {}
        faults = Faults(seed, silence_every=45.0)
        arrived: list[Arrival] = []
        for arrival in faults.arrivals(self._send(phase, seconds, sent)):
            while self.intake.due() <= arrival.at and not self.intake.lost:
                lost = self.intake.due()
                self.run.time(round((lost - self.began) * 1000))
                self.intake.check(lost)
            self.intake.receive([arrival.data], arrival.at, self._decoder)
            arrived.append(Arrival(arrival.at, first + arrival.number, b"", arrival.intact))
            self.now = max(self.now, arrival.at)
        self.silences += len(faults.silences)
        self._judge(phase, sent, arrived)

    def _send(
        self, phase: str, seconds: float, sent: dict[int, dict[str, float]]
    ) -> Iterator[tuple[float, bytes]]:
        for count, values in enumerate(course(phase, seconds, self.rate, self.chance)):
            at = self.began + count / self.rate
            record = values | {"seq": self.sent, "time": at}
            sent[self.sent] = {name: values[name] for name in NOISE}
            self.sent += 1
            yield at, json.dumps(record).encode()
        self.now = self.began + seconds

    def _judge(self, phase: str, sent: dict[int, dict[str, float]], arrived: list[Arrival]) -> None:
        assert self.run is not None
        newest, seen = -1, []
        for arrival in arrived:
            if arrival.intact and arrival.number > newest:
                newest = arrival.number
                seen.append(sent[newest])
        for callout in self.run.armed:
            trigger = callout.trigger
            if trigger.how not in ("rises", "falls") or callout.condition is not None:
                continue
            level = number(trigger.level, self.run.state.figures, {})
            assert level is not None
            sign = 1 if trigger.how == "rises" else -1
            short = [sign * (level - values[trigger.subject]) for values in seen]
            near = next((n for n, value in enumerate(short) if value > 0), len(short))
            # A single value is not believed, so it takes two.
            beyond = sum(value <= 0 for value in short[near:]) >= 2
            times = self.run.said[callout.id]
            self.due += beyond
            name = f"{phase} at {self.began:.0f} s: {callout.id}"
            if beyond and not times:
                self.missed.append(name)
            if times > 1:
                self.twice.append(name)
            if times and near == len(short):
                self.uncalled_for.append(name)


def resident() -> float:
    """Megabytes of this process; 0 where the system does not say."""
    gc.collect()
    statm = Path("/proc/self/statm")
    if not statm.exists():
        return 0.0
    return int(statm.read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6


def soak(flights: int, seconds: float, rate: int) -> None:
    """Fly so many flights, and hold them against what arrived."""
    line, sizes = Line(rate, random.Random(flights)), []
    began = time.process_time()
    for flight in range(flights):
        line.fly(PHASES[flight % len(PHASES)], seconds, flight + 1)
        sizes.append(resident())
    counts = line.intake.counts
    print(
        f"{flights * seconds / 60:.0f} minutes in {flights} flights at {rate} Hz, "
        f"{time.process_time() - began:.0f} s of a processor: sent {line.sent}, "
        f"accepted {counts.accepted}, malformed {counts.malformed}, late {counts.late}, "
        f"{line.silences} silences, {line.lost} of them told; {line.due} callouts due; resident "
        f"{sizes[0]:.1f}, {sizes[len(sizes) // 3]:.1f}, {sizes[-1]:.1f} MB at the end of the "
        f"first flight, of a third of them and of the last"
    )
    assert counts.malformed > 0 and counts.late > 0 and line.lost > 0
    assert line.due >= 4 * flights
    assert not line.missed
    assert not line.twice
    assert not line.uncalled_for
    assert sizes[-1] - sizes[len(sizes) // 3] < 4.0


def test_over_a_bad_line_every_callout_comes_once() -> None:
    soak(flights=6, seconds=100.0, rate=20)


@pytest.mark.slow
def test_over_three_hours_of_a_bad_line_every_callout_comes_once_and_memory_is_flat() -> None:
    soak(flights=18, seconds=600.0, rate=50)
