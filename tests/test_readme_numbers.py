"""The figures that the README shows are those that the program works out."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from runner.checklist.load import find_file, load_aircraft
from runner.figures.given import read_given
from runner.figures.sheet import Sheet

README = (Path(__file__).parent.parent / "README.md").read_text()
AIRCRAFT = load_aircraft(find_file("whimbrel-four-aircraft", ("checklists",)))
SHEET = Sheet(AIRCRAFT)

LOADS = {
    "light": "cargo_forward=1500lb cargo_centre=2500lb cargo_aft=1400lb fuel_on_board=8000lb",
    "usual": "",
    "heavy": "cargo_forward=5600lb cargo_centre=8400lb cargo_aft=5000lb fuel_on_board=20000lb",
}
DAYS = {
    "cold": "outside_temperature=-20degC dew_point=-24degC qnh=30.40inHg",
    "usual": "",
    "hot": "outside_temperature=35degC dew_point=21degC qnh=29.60inHg",
}
SHOWN = (
    "gross_weight",
    "decision_speed",
    "rotate_speed",
    "safety_speed",
    "takeoff_manifold_pressure",
    "climb_manifold_pressure",
    "centre_of_gravity",
    "runway_margin",
    "engine_out_gradient",
)


@pytest.mark.parametrize("day", DAYS)
@pytest.mark.parametrize("load", LOADS)
def test_the_table_of_loads_and_days(load: str, day: str) -> None:
    (row,) = re.findall(rf"^\| {load} \| {day} \| (.*) \|$", README, re.MULTILINE)
    worked = SHEET.work_out(read_given(AIRCRAFT, f"{LOADS[load]} {DAYS[day]}".split()))
    assert row.split(" | ") == [worked.figures[name].shown for name in SHOWN]


@pytest.mark.parametrize("name", ["rotate_speed", "climb_manifold_pressure"])
def test_the_working(name: str) -> None:
    lines = SHEET.work_out({}).why(name)
    assert lines[0] in README
    shown = [line for line in lines if "row" in line or "rounded" in line or " x 0." in line]
    needed = [line for line in shown if "table" not in line and "full_throttle" not in line]
    assert len(needed) >= 2
    for line in needed:
        assert line in README, line
