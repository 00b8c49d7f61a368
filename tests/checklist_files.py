"""A small aircraft, procedures and voice, invented, with one of everything in them."""

from __future__ import annotations

from runner.checklist.load import load_aircraft_text, load_procedures_text, load_voice_text
from runner.checklist.model import Procedures
from runner.checklist.problems import FileErrors

AIRCRAFT = """\
runner: 1
aircraft: Sandpiper Two
about: Invented, for simulation and training only, not for flight.
roles: captain, first officer
engines: 2
inputs:
  gross_weight:
    title: gross weight
    unit: lb
    range: 20000 to 30000
    default: 25000
    kind: weight
    ask: Gross weight?
  runway_surface:
    choices: dry, wet
    default: dry
  outside_temperature:
    unit: degC
    range: -40 degC to 122 degF
    default: 15
    kind: temperature
  carburettor_temperature:
    unit: degC
    range: -40 to 60
    from: outside_temperature + 5 degC
  pressure_altitude:
    unit: ft
    range: -1000 to 20000
    default: 500
constants:
  displacement: 1830 in^3
  floor_speed:
    title: floor
    value: 80 kt
tables:
  rotate_by_weight:
    title: rotation speed by weight
    source: invented
    by: gross_weight in lb, next row up
    gives: kt
    rows:
      20000: 84
      25000: 90
      30000: 97
  speeds:
    source: invented
    by: gross_weight in lb, next row up
    columns: reference_speed in kt, wetness
    rows:
      20000: 90 1
      30000: 100, -
  chart:
    source: invented
    by:
      - pressure_altitude in ft, linear
      - carburettor_temperature in degC, linear
    across: -40 0 60
    gives: inHg
    rows:
      -1000: 40 42 44
      20000: 38 39 40
  blowers:
    source: invented
    by:
      - surface, exact
      - pressure_altitude in ft, linear
      - steps, exact
    across: [1, 2]
    gives: number
    blocks:
      dry:
        -1000: 1 2
        20000: 3 4
      wet:
        -1000: 5 6
        20000: 7 8
figures:
  rotate_speed:
    title: rotation speed
    from: rotate_by_weight(gross_weight)
    unit: kt
    round: up to 1
    kind: speed
    at least: floor_speed
    at most: 120 kt
  climb_pressure:
    from: chart(pressure_altitude, carburettor_temperature)
    unit: inHg
    round: down to 0.5
    kind: manifold_pressure
  wet_extra:
    from: blowers(runway_surface, pressure_altitude, 1)
    round: to nearest 0.25
    decimals: 3
    if: runway_surface == wet
  surface_word:
    from: wet if runway_surface == wet else dry
readings:
  airspeed:
    title: airspeed
    unit: kt
    kind: speed
  gear_position:
    title: gear
  oil_pressure:
    unit: psi
    each engine: yes
    decimals: 1
limits:
  - reading: oil_pressure
    at least: 50 psi
    at most: 100 psi
    said: oil pressure
"""

PROCEDURES = """\
runner: 1
procedures: Sandpiper Two, circuits
about: Invented, for simulation and training only.
aircraft: sandpiper-aircraft.yaml
voice: cockpit
scenario: |
  Round and round.
moments:
  takeoff_power_set:
    name: take-off power set
    said: (take off)? power set
    when: airspeed > 40 kt and oil_pressure_all > 50 psi
  gear_up:
    said: gear coming up
phases:
  - phase: before-takeoff
    name: Before take-off
    figures: rotate_speed, gross_weight
    wordiness: full
    lists:
      - list: before-takeoff
        title: Before take-off
        kind: challenge and response
        calls: line up list
        start: at once
        before: takeoff_power_set
        if: gross_weight > 20500 lb
        challenger: first officer
        responder: captain
        items:
          - challenge: Flaps
            response: ten / (flaps)? ten set
            not: [up, twenty / full]
            id: flaps
            short: Flap
            who: first officer
            if: runway_surface == dry
            critical: yes
            ask again: no
            note: Ten for <rotate_speed>.
          - challenge: Rotate
            readback: rotate_speed
            tolerance: 1 kt
            shown: <rotate_speed> knots
          - challenge: Runway surface
            choose:
              dry: dry
              wet: wet / damp
            keep: runway_surface
          - challenge: Gross weight
            enter: gross_weight
          - challenge: Gear
            reading: gear_position == 0
            response: up
            not: down
          - challenge: Speed alive
            reading: airspeed > rotate_speed / 2
          - challenge: Magnetos, engine <engine>
            response: both on <engine>
            not: off <engine>
            short: Magnetos <engine>
            note: Engine <engine> only.
            if: oil_pressure_<engine> > 50 psi
            each engine: yes
          - challenge: Weight <gross_weight>
            response: <gross_weight> set
      - list: departure-briefing
        title: Departure briefing
        kind: briefing
        items:
          - say: Rotate at <rotate_speed>, surface <surface_word>.
      - list: takeoff-roll
        title: Take-off roll
        kind: callouts
        callouts:
          - call: Rotate
            when: airspeed rises to rotate_speed
            urgent: yes
          - call: Slow
            when: airspeed falls to 90 mph
            id: slow-down
          - call: Power
            when: 2 min after takeoff_power_set
          - call: Climb pressure <climb_pressure>
            when: climb_pressure changes by 0.5 inHg
          - call: Oil
            when: oil_pressure_any rises to 100 psi
      - list: after-takeoff
        kind: flow
        start: on call
        offered at: gear_up
        offer: Gear up, after take-off list?
        items:
          - challenge: Landing lights
          - same as: before-takeoff.magnetos-engine
            id: magnetos
            who: captain
          - same as: before-takeoff.flaps
            if: runway_surface == wet
          - same as: after-takeoff.magnetos
            id: again
abnormal:
  - list: engine-fire
    title: Engine fire
    kind: read and do
    argument: engine
    calls: [engine <engine> fire, fire on engine <engine>]
    items:
      - challenge: Throttle <engine>
        response: closed
        memory: yes
      - challenge: Feather <engine>
        response: feathered
        confirm: engine
      - challenge: Fuel
        response: off
  - list: rejected-takeoff
    title: Rejected take-off
    kind: challenge and response
    rejected takeoff: yes
    items:
      - challenge: Throttles
        response: closed
        critical: yes
"""

VOICE = """\
runner: 1
voice: plain
language: en
numbers: icao
rate: 170
synthesiser voice: en-gb
long form: checklist
control:
  say_again: say again / repeat
  stand_by: stand by
phrases:
  list_complete: <list> is complete
  muted: microphone off
synonyms:
  set: [is set, set now]
  on: selected on
pronunciations:
  METO: meeto
"""

MARK = "¦"
"""Stands in an edited file where the error is to be found."""


def edited(text: str, old: str, new: str) -> tuple[str, str]:
    """The text with ``old`` replaced, without the mark, and the mark's `line:column`."""
    assert text.count(old) >= 1, f"not in the file: {old}"
    text = text.replace(old, new, 1)
    before, _, after = text.partition(MARK)
    lines = before.split("\n")
    return before + after, f"{len(lines)}:{len(lines[-1]) + 1}"


def load(procedures: str = PROCEDURES, aircraft: str = AIRCRAFT) -> Procedures:
    """Procedures from texts."""
    return load_procedures_text(procedures, "p.yaml", aircraft, "a.yaml")


def errors_of(kind: str, text: str) -> list[str]:
    """The lines that a file of that kind gives, none where it is good."""
    try:
        if kind == "procedures":
            load(text)
        elif kind == "aircraft":
            load_aircraft_text(text, "a.yaml")
        else:
            load_voice_text(text, "v.yaml")
    except FileErrors as errors:
        return str(errors).split("\n")
    return []
