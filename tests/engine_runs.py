"""Runs for the tests of the engine: an invented aircraft and its lists, and a pilot.

``Crew`` keeps the state, gives events as a driver would, and remembers every effect.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from functools import lru_cache
from typing import TypeVar

from runner.checklist.load import load_procedures_text, load_voice_text
from runner.engine.effects import Effect, Finish, Listen, Note, Say, SetInput, SetTimer
from runner.engine.events import (
    Event,
    FiguresChanged,
    Heard,
    KeyAction,
    Keyed,
    MomentReached,
    RunStarted,
    Said,
    Snapshot,
    TimerFired,
    Verdict,
    Wordiness,
)
from runner.engine.looking import look
from runner.engine.program import Program
from runner.engine.state import State
from runner.engine.step import initial_state, step
from runner.engine.view import View
from runner.figures.figure import Figure

AIRCRAFT = """\
runner: 1
aircraft: Plover Four
about: Invented, for simulation and training only, not for flight.
roles: captain, first officer
engines: 4
inputs:
  gross_weight:
    title: gross weight
    unit: lb
    range: 52000 to 91500
    kind: weight
  runway_surface:
    title: runway surface
    choices: dry, wet
  flap_setting:
    choices: ten, full_flap
constants:
  ground_speed: 10 kt
figures:
  rotate_speed:
    title: rotate speed
    from: 60 kt + gross_weight / 2000 lb * 1 kt
    unit: kt
    round: up to 1
    kind: speed
  stop_speed:
    title: stop speed
    from: rotate_speed - 4 kt if runway_surface == wet else rotate_speed
    unit: kt
    round: down to 1
    kind: speed
readings:
  gear_position:
    title: gear position
  airspeed:
    unit: kt
    kind: speed
  oil_pressure:
    unit: psi
    each engine: yes
"""

PROCEDURES = """\
runner: 1
procedures: Plover Four, tests
about: Invented, for simulation and training only.
aircraft: plover.yaml
moments:
  power_set:
    name: take-off power set
    said: power set
  flaps_up:
    name: flaps up
    said: flaps (are)? up
  fire_bell:
    name: fire bell
    when: oil_pressure_any > 100 psi
phases:
  - phase: preparation
    name: Preparation
    figures: rotate_speed
    lists:
      - list: cockpit
        title: Cockpit
        kind: challenge and response
        challenger: first officer
        responder: captain
        items:
          - challenge: Brakes
            response: set
            critical: yes
          - challenge: Blowers, all four
            short: Blowers
            response: low / both low
            not: high / both high
          - challenge: Radar
            response: standby
          - challenge: Rotate
            readback: rotate_speed
            tolerance: 1 kt
          - challenge: Runway surface
            choose:
              dry: dry
              wet: wet / damp
            keep: runway_surface
          - challenge: Gross weight
            enter: gross_weight
          - challenge: Flap
            enter: flap_setting
          - challenge: Wipers
            response: on
            if: runway_surface == wet
          - say: Rotate at <rotate_speed> knots.
          - challenge: Gear
            reading: gear_position == 1
            response: down
      - list: briefing
        title: Departure briefing
        kind: briefing
        items:
          - say: Rotate at <rotate_speed>.
          - say: Stop speed <stop_speed>.
      - list: scan
        title: Scan
        kind: flow
        start: on call
        items:
          - challenge: Lights
            response: on
          - challenge: Pumps
            response: on
  - phase: takeoff
    name: Take-off
    lists:
      - list: before-takeoff
        title: Before take-off
        kind: challenge and response
        calls: line up list
        before: power_set
        items:
          - challenge: Stop speed
            readback: stop_speed
          - challenge: Cowl flaps
            response: half open
            critical: yes
      - list: roll
        title: Take-off roll
        kind: callouts
        callouts:
          - call: Rotate
            when: airspeed rises to rotate_speed
            urgent: yes
          - call: Stop speed <stop_speed>
            when: stop_speed changes by 1 kt
          - call: Two minutes
            when: 2 min after power_set
      - list: after-takeoff
        title: After take-off
        kind: challenge and response
        offered at: flaps_up
        offer: Flaps up, after take-off list?
        items:
          - challenge: Gear lever
            response: neutral
  - phase: cruise
    name: Cruise
    wordiness: terse
    lists:
      - list: cruise
        title: Cruise
        kind: challenge and response
        items:
          - challenge: Mixtures, all engines
            short: Mixtures
            response: lean
abnormal:
  - list: engine-fire
    title: Engine fire
    kind: challenge and response
    argument: engine
    offered at: fire_bell
    calls: [fire on engine <engine>, fire drill]
    items:
      - challenge: Throttle
        response: closed
        memory: yes
      - challenge: Feather engine <engine>
        response: feathered
        confirm: engine
        critical: yes
  - list: generator
    title: Generator failure
    kind: read and do
    items:
      - challenge: Generator
        response: off
      - challenge: Load
        response: reduced
  - list: rejected
    title: Rejected take-off
    kind: challenge and response
    rejected takeoff: yes
    items:
      - challenge: Throttles
        response: closed
"""

VOICE = """\
runner: 1
voice: cockpit
language: en
numbers: cockpit
long form: checklist
control:
  stand_by: stand by
  resume: continue
  done: done
  affirm: affirm / yes
  negative: negative / no
synonyms:
  set: [is set]
"""

WEIGHT = Figure("gross_weight", 74000.0, "lb", 0, "weight", "gross weight")
ROTATE = Figure("rotate_speed", 97.0, "kt", 0, "speed", "rotate speed")
STOP = Figure("stop_speed", 97.0, "kt", 0, "speed", "stop speed")
SURFACE = Figure("runway_surface", "dry", kind="words", title="runway surface")
FLAP = Figure("flap_setting", "ten", kind="words")
FIGURES = (WEIGHT, ROTATE, STOP, SURFACE, FLAP)

E = TypeVar("E", bound=Effect)


def snapshot(name: str, text: str) -> Snapshot:
    """A file as a run's first event carries it."""
    return Snapshot(name, hashlib.sha256(text.encode()).hexdigest(), text)


@lru_cache(maxsize=4)
def program(procedures: str = PROCEDURES, aircraft: str = AIRCRAFT, voice: str = VOICE) -> Program:
    """The parsed program of these texts."""
    hashes = tuple(snapshot("", text).sha256 for text in (procedures, aircraft, voice))
    return Program(
        load_procedures_text(procedures, "tests.yaml", aircraft, "plover.yaml"),
        load_voice_text(voice, "cockpit.yaml"),
        (hashes[0], hashes[1], hashes[2]),
    )


def started(
    phase: str = "",
    from_phase: str = "",
    wordiness: Wordiness = "full",
    figures: tuple[Figure, ...] = FIGURES,
    procedures: str = PROCEDURES,
    aircraft: str = AIRCRAFT,
    voice: str = VOICE,
) -> RunStarted:
    """The first event of a run of these texts."""
    return RunStarted(
        0,
        snapshot("tests.yaml", procedures),
        snapshot("plover.yaml", aircraft),
        snapshot("cockpit.yaml", voice),
        figures,
        phase,
        from_phase,
        wordiness,
    )


def only(items: str, *, kind: str = "challenge and response", extra: str = "") -> str:
    """Procedures of one list, ``test``, with these items (indented by ten)."""
    return f"""\
runner: 1
procedures: One list
about: Invented.
aircraft: plover.yaml
phases:
  - phase: one
    name: One
    figures: rotate_speed
    lists:
      - list: test
        title: Test
        kind: {kind}
        items:
{items}
{extra}
"""


class Crew:
    """A run being flown: gives events, keeps the state and all effects."""

    def __init__(self, first: RunStarted | None = None) -> None:
        first = first or started()
        self.state: State = initial_state(
            program(first.procedures.text, first.aircraft.text, first.voice.text)
        )
        self.events: list[Event] = []
        self.effects: list[Effect] = []
        self.last: tuple[Effect, ...] = ()
        self.at = 0
        self.give(first)

    def give(self, event: Event) -> tuple[Effect, ...]:
        """One event; the effects of it."""
        self.state, self.last = step(self.state, event)
        self.events.append(event)
        self.effects.extend(self.last)
        return self.last

    def now(self) -> int:
        """The time of the next event."""
        self.at += 1000
        return self.at

    def hears(
        self,
        candidate: str,
        value: float | None = None,
        *,
        text: str = "",
        window: int | None = None,
        readings: tuple[tuple[str, float], ...] = (),
    ) -> tuple[Effect, ...]:
        """The pilot says what the judge takes as this candidate."""
        at = self.now()
        window = self.state.window if window is None else window
        verdict = Verdict("accept", candidate, value, text or candidate)
        return self.give(Heard(at, window, at - 500, at - 100, (), verdict, readings))

    def mumbles(self, decision: str = "unclear") -> tuple[Effect, ...]:
        """The pilot says something that is not clear, or not for Runner."""
        at = self.now()
        verdict = Verdict("unclear" if decision == "unclear" else "reject", text="mumble")
        return self.give(Heard(at, self.state.window, at - 500, at - 100, (), verdict))

    def presses(
        self, action: KeyAction, argument: str = "", argument2: str = ""
    ) -> tuple[Effect, ...]:
        """A key."""
        return self.give(Keyed(self.now(), action, argument, argument2))

    def silence(self) -> tuple[Effect, ...]:
        """Everything said ends, then the timer runs out."""
        self.listens()
        return self.give(TimerFired(self.now(), "silence"))

    def listens(self) -> tuple[Effect, ...]:
        """Every utterance ends."""
        given: list[Effect] = []
        for utterance in self.state.speaking:
            given += self.give(Said(self.now(), utterance, True))
        self.last = tuple(given)
        return self.last

    def figures(self, *changed: Figure, gone: tuple[str, ...] = ()) -> tuple[Effect, ...]:
        """The sheet was worked out again."""
        return self.give(FiguresChanged(self.now(), changed, gone))

    def moment(self, name: str) -> tuple[Effect, ...]:
        """A moment comes."""
        return self.give(MomentReached(self.now(), name))

    def keys(self, count: int) -> None:
        """The current questions are dealt with by hand, so many of them."""
        for _ in range(count):
            self.presses("done")

    def to(self, challenge: str) -> Crew:
        """By hand until this is asked."""
        for _ in range(60):
            if self.asked == challenge:
                return self
            self.presses("done")
        raise AssertionError(f"{challenge} is never asked; asked is {self.asked}")

    @property
    def view(self) -> View:
        """What a screen shows."""
        return look(self.state)

    @property
    def asked(self) -> str:
        """The current challenge, or the question that is open."""
        current = self.view.current
        if self.state.asking == "item" and current is not None:
            return current.challenge
        return self.state.asking

    @property
    def says(self) -> str:
        """All that was said because of the last event."""
        return " | ".join(say.text for say in self.of(Say))

    def of(self, kind: type[E]) -> list[E]:
        """The last event's effects of one kind."""
        return [effect for effect in self.last if isinstance(effect, kind)]

    @property
    def notes(self) -> list[str]:
        """The last event's notes."""
        return [note.text for note in self.of(Note)]

    @property
    def inputs(self) -> list[tuple[str, float | str]]:
        """The inputs set by the last event."""
        return [(s.name, s.value) for s in self.of(SetInput)]

    @property
    def wait(self) -> int | None:
        """The timer set by the last event."""
        timers = self.of(SetTimer)
        return timers[-1].after if timers else None

    @property
    def finish(self) -> Finish | None:
        """How the run ended because of the last event."""
        found = self.of(Finish)
        return found[-1] if found else None

    @property
    def window(self) -> Listen:
        """The window that was opened last."""
        return next(e for e in reversed(self.effects) if isinstance(e, Listen))

    def pattern(self, candidate: str) -> str:
        """The pattern of a candidate of the open window, empty where it is none."""
        return next((c.pattern for c in self.window.candidates if c.id == candidate), "")

    def status(self, item: str) -> str:
        """What became of an item."""
        for list_run in self.state.lists.values():
            if item in list_run.items:
                return list_run.items[item].status
        return "waiting"


def replay(events: Sequence[Event], first: State | None = None) -> State:
    """The state after events."""
    state = first or initial_state()
    for event in events:
        state, _ = step(state, event)
    return state
