"""Steps a second of the engine on the events of a whole flight: median.

    python tests/bench/engine.py

The shipped flight is flown once by a pilot that answers every question, wrongly one time in
eight, stands by, calls an abnormal list and changes the weight; then the events that came
of it, ends of utterances and timers among them, are stepped through again and again.
"""

from __future__ import annotations

import hashlib
import random
import statistics
import time
from collections import Counter, deque
from pathlib import Path

from runner.checklist.load import load_procedures, load_voice
from runner.engine.effects import Effect, Finish, Listen, Say, SetInput, SetTimer
from runner.engine.events import (
    Event,
    FiguresChanged,
    Heard,
    Keyed,
    RunStarted,
    Said,
    Snapshot,
    TimerFired,
    Verdict,
)
from runner.engine.program import Program
from runner.engine.state import State
from runner.engine.step import initial_state, step
from runner.figures.sheet import Sheet

GOAL = 50_000


class Pilot:
    """Flies a whole run and remembers its events."""

    def __init__(self) -> None:
        self.procedures = load_procedures("whimbrel-four")
        style = load_voice("cockpit")
        self.sheet = Sheet(self.procedures.aircraft)
        self.worked = self.sheet.work_out({})
        snapshots = [
            Snapshot(Path(name).name, hashlib.sha256(name.encode()).hexdigest(), "")
            for name in (self.procedures.file, self.procedures.aircraft_file, "cockpit")
        ]
        hashes = (snapshots[0].sha256, snapshots[1].sha256, snapshots[2].sha256)
        self.program = Program(self.procedures, style, hashes)
        self.state: State = initial_state(self.program)
        self.events: list[Event] = []
        self.coming: deque[Event] = deque()
        self.window: Listen | None = None
        self.finished = False
        self.at = 0
        self.chance = random.Random(7)
        figures = tuple(self.worked.figures.values())
        self.give(RunStarted(0, *snapshots, figures=figures))

    def give(self, event: Event) -> None:
        """One event and what its effects bring about, in the order in which it comes."""
        self.coming.append(event)
        if len(self.coming) > 1:
            return
        while self.coming:
            self.events.append(self.coming[0])
            self.state, effects = step(self.state, self.coming[0])
            for effect in effects:
                self._carry_out(effect)
            self.coming.popleft()

    def _carry_out(self, effect: Effect) -> None:
        match effect:
            case Listen():
                self.window = effect
            case Say(utterance=utterance):
                self.at += 900
                self.give(Said(self.at, utterance, True))
            case SetTimer(timer=timer) if self.chance.random() < 0.1:
                self.at += 6000
                self.give(TimerFired(self.at, timer))
            case SetInput(name=name, value=value):
                before = self.worked
                self.worked = self.sheet.change(before, {name: value})
                changed = tuple(
                    f for n, f in self.worked.figures.items() if before.figures.get(n) != f
                )
                self.give(FiguresChanged(self.at, changed))
            case Finish():
                self.finished = True

    def answer(self) -> None:
        """Answer what is asked, rightly or not."""
        self.at += 700
        window = self.window
        asking = self.state.asking
        if window is None or not self.state.listening:
            self.give(Keyed(self.at, "resume"))
            return
        ids = [c.id for c in window.candidates]
        wrong = self.chance.random() < 0.125
        if asking == "item" and wrong and "wrong:0" in ids:
            said = Verdict("accept", "wrong:0", None, "wrong")
        elif asking == "item" and wrong:
            said = Verdict("unclear", None, None, "something")
        elif asking == "item" and "answer" in ids:
            said = Verdict("accept", "answer", None, "right")
        elif asking == "item" and ids and ids[0].startswith("option:"):
            said = Verdict("accept", ids[0], None, "this one")
        elif asking in ("engine confirm", "which engine"):
            said = Verdict("accept", "engine:3", 3.0, "three")
        else:
            self.give(Keyed(self.at, "done"))
            return
        self.give(Heard(self.at, window.window, self.at - 500, self.at - 90, (), said))


def fly() -> tuple[Program, list[Event]]:
    """The events of a whole flight."""
    pilot = Pilot()
    for turn in range(3000):
        if pilot.finished:
            break
        if turn in (40, 140):
            window = pilot.state.window
            fire = Verdict("accept", "call:engine-fire:3", None, "engine fire number three")
            pilot.give(Heard(pilot.at, window, pilot.at, pilot.at, (), fire))
        if turn % 60 == 30:
            pilot.give(Keyed(pilot.at, "stand_by"))
            pilot.give(Keyed(pilot.at, "resume"))
        pilot.answer()
    return pilot.program, pilot.events


def main() -> None:
    """Print the median."""
    program, events = fly()
    kinds = Counter(type(event).__name__ for event in events)
    print(f"{len(events)} events: " + ", ".join(f"{n} {k}" for k, n in kinds.most_common()))
    rates: list[float] = []
    for _ in range(9):
        state = initial_state(program)
        began = time.process_time()
        for event in events:
            state, _ = step(state, event)
        rates.append(len(events) / (time.process_time() - began))
    median = statistics.median(rates)
    print(f"{median:,.0f} steps a processor second, median of {len(rates)} (goal {GOAL:,})")
    print(f"finished: {state.finished}")


if __name__ == "__main__":
    main()
