"""How long it takes to load procedures of 2,000 items; run by hand, prints medians.

    python tests/bench/loading.py

Goal: 0.5 s or less for the file itself. Loads are measured in processes of their own, from
before the first import of the loader to the loaded procedures.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

RUNS = 7
ITEMS = 2000
ITEMS_A_LIST = 20
GOAL = 0.5

AIRCRAFT = """\
runner: 1
aircraft: Bench Four
roles: captain, first officer
engines: 4
inputs:
  gross_weight: {unit: lb, range: 50000 to 90000, default: 70000, kind: weight}
  flap: {choices: [ten, twenty], default: ten}
  pressure_altitude: {unit: ft, range: -2000 to 20000, default: 300, kind: altitude}
tables:
  rotate_by_weight:
    source: invented
    by: gross_weight in lb, next row up
    gives: kt
    rows: {50000: 88, 70000: 98, 90000: 110}
figures:
  rotate_speed: {from: rotate_by_weight(gross_weight), unit: kt, round: up to 1, kind: speed}
readings:
  airspeed: {unit: kt, kind: speed}
  oil_pressure: {unit: psi, each engine: yes}
"""


def item(number: int) -> str:
    """One item; the ten kinds of them come in turn."""
    head = f"          - challenge: Item {number}\n            "
    kinds = (
        f"response: state {number} (is)? set / all {number} set\n            not: not set / off",
        "readback: rotate_speed\n            tolerance: 1 kt",
        f"response: both on / switches {number} on\n            not: [both off, one off]",
        "response: <rotate_speed> set\n            critical: yes",
        "choose: {ten: ten degrees, twenty: twenty degrees}\n            keep: flap",
        "enter: gross_weight",
        "reading: airspeed > 40 kt\n            response: alive",
        "response: closed\n            if: pressure_altitude < 10000 ft and flap == ten",
        "response: low / low blower\n            not: high / high blower\n            note: Both.",
        "response: four green / all in the green\n            who: captain",
    )
    return head + kinds[number % len(kinds)] + "\n"


def procedures() -> str:
    """A procedures file of ``ITEMS`` items in lists of ``ITEMS_A_LIST``."""
    parts = ["runner: 1\nprocedures: Bench\naircraft: aircraft.yaml\nphases:\n"]
    for number in range(ITEMS):
        if number % (10 * ITEMS_A_LIST) == 0:
            parts.append(f"  - phase: phase-{number}\n    lists:\n")
        if number % ITEMS_A_LIST == 0:
            parts.append(
                f"      - list: list-{number}\n        title: List number {number}\n"
                "        kind: challenge and response\n        items:\n"
            )
        parts.append(item(number))
    return "".join(parts)


CHILD = """
import sys, time
began = time.perf_counter()
if sys.argv[2] == "cached":
    from runner.checklist.cache import load_procedures_cached as load
else:
    from runner.checklist.load import load_procedures as load
if sys.argv[2] == "units ready":
    from runner.figures.units import convert
    convert(1.0, "kt", "mph")
    began = time.perf_counter()
made = load(sys.argv[1])
print(time.perf_counter() - began, sum(len(c.items) for c in made.lists.values()))
"""


def median(path: Path, how: str, environment: dict[str, str]) -> float:
    """The median time of a load, in seconds."""
    times = []
    for _ in range(RUNS):
        child = [sys.executable, "-c", CHILD, str(path), how]
        printed = subprocess.run(
            child, env=environment, capture_output=True, text=True, check=True
        ).stdout.split()
        assert int(printed[1]) == ITEMS
        times.append(float(printed[0]))
    return statistics.median(times)


def main() -> None:
    """Print one line a way of loading."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "procedures.yaml"
        path.write_text(procedures())
        (Path(folder) / "aircraft.yaml").write_text(AIRCRAFT)
        environment = {**os.environ, "XDG_CACHE_HOME": folder, "LOCALAPPDATA": folder}
        size = f"{ITEMS:,} items, {path.stat().st_size:,} bytes"
        print(f"{size}; medians of {RUNS}; goal {GOAL} s")
        for how in ("from the file", "units ready", "cached"):
            print(f"{how:>14}: {median(path, how, environment):.3f} s")


if __name__ == "__main__":
    main()
