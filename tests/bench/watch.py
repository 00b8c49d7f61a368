"""What the watch costs for one set of readings, in processor time, and what it remembers.

    python tests/bench/watch.py

The shipped four-engine aircraft with all its readings, limits, moments and the callouts of the
take-off; an even acceleration, at 50 and at 2,000 readings a second.
"""

from __future__ import annotations

import statistics
import sys
import time
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from runner.engine.events import Crossed
from runner.engine.state import initial_state
from runner.engine.step import step
from runner.engine.watch import Memory, watch, watched_of
from shipped_answers import shipped
from shipped_runs import started

RATES = (50, 2_000)
SECONDS = 40
KNOTS_A_SECOND = 3.0
BUDGET_MS = {50: 20.0, 2_000: 0.5}
"""The time between two sets of readings."""


def readings(seconds: float) -> dict[str, float]:
    """Everything that the simulator shows so long after the brakes were let go."""
    values = {
        "airspeed": KNOTS_A_SECOND * seconds,
        "altitude": 310.0,
        "height": 0.0,
        "vertical_speed": 0.0,
        "outside_air_temperature": 12.0,
        "gear_position": 1.0,
        "flap_position": 20.0,
        "parking_brake": 0.0,
        "hydraulic_pressure": 2950.0,
    }
    each = {
        "manifold_pressure": 51.0,
        "rpm": 2650.0,
        "bmep": 205.0,
        "fuel_pressure": 23.5,
        "oil_pressure": 80.0,
        "oil_temperature": 70.0,
        "cylinder_head_temperature": 190.0,
        "carburettor_air_temperature": 17.0,
        "cowl_flap_position": 50.0,
    }
    for number in range(1, 5):
        values |= {f"{name}_{number}": value for name, value in each.items()}
    return values


def remembered(memory: Memory) -> int:
    """How many values the memory holds."""
    several = (memory.values, memory.near, memory.falses, memory.trues, memory.told, memory.limits)
    points = sum(len(track.points) for track in memory.tracks.values())
    return points + sum(len(some) for some in several)


def main() -> None:
    """Print what one set of readings costs at each rate."""
    event, program = started(shipped(), phase="takeoff")
    state, _ = step(initial_state(program), event)
    watched = watched_of(state)
    assert watched is not None
    print(
        f"{len(readings(0))} readings, {len(watched.callouts)} callouts, "
        f"{len(watched.moments)} moments, {len(watched.aircraft.limits)} limits"
    )
    for rate in RATES:
        series = [(n * 1000 // rate, readings(n / rate)) for n in range(SECONDS * rate)]
        spent, called, now, memory = [], 0, watched, Memory()
        kept = 0
        for n, (at, values) in enumerate(series):
            if n == 5 * rate:
                kept = remembered(memory)
            began = time.process_time()
            memory, events = watch(memory, now, at, values)
            spent.append((time.process_time() - began) * 1000)
            said = {e.callout for e in events if isinstance(e, Crossed)}
            if said:
                called += len(said)
                left = tuple(c for c in now.callouts if c.id not in said)
                now = replace(now, callouts=left)
        timed = sorted(spent[5 * rate :])
        print(
            f"{rate:5} a second: median {statistics.median(timed):.3f} ms, "
            f"99th percentile {timed[int(len(timed) * 0.99)]:.3f} ms, worst {timed[-1]:.3f} ms "
            f"of {BUDGET_MS[rate]} ms; {called} called; {kept} values remembered after "
            f"5 s, {remembered(memory)} after {SECONDS} s"
        )


if __name__ == "__main__":
    main()
