"""The Whimbrel Four's flight model against its aircraft file, and against textbook limits.

"Glauert" is *Airplane Propellers*, in Durand, *Aerodynamic Theory*, volume IV, 1935: an actuator
disc that gives a thrust at a speed cannot take less power than its ideal (from memory).
"""

from __future__ import annotations

import math
import sys
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import pytest

import runner.simulation
from runner.simulation.day import day_of
from runner.simulation.machine import IDLE, STEPS_A_SECOND, Machine
from simulated import DISPLACEMENT, ENGINES, SHEET, given

sys.path.insert(0, str(Path(__file__).parent / "tools"))

import whimbrel_flight as made
from whimbrel_tables import STALL_SPEED_AT_80000_LB, full_throttle, needed

MODEL = Path(runner.simulation.__file__).parent / "model"
SEA_LEVEL_DENSITY = 0.0023769
"""slug/ft3, standard air."""


def tables(file: Path, path: str) -> list[list[list[float]]]:
    """The numbers of a file's tables, row by row."""
    found = ElementTree.parse(file).getroot().iter(path)
    return [
        [[float(cell) for cell in line.split()] for line in (one.text or "").strip().splitlines()]
        for one in found
    ]


def bench(pairs: str = "") -> Machine:
    """The aircraft on its brakes; what its wheels do is of no matter here."""
    return Machine(day_of(SHEET.work_out(given(pairs))))


def run_engines(machine: Machine, throttle: float, rpm: float) -> None:
    """Power for 40 seconds, the aircraft held where it is."""
    for n in range(4):
        machine[f"fcs/rpm-cmd[{n}]"] = rpm
    for step in range(40 * STEPS_A_SECOND):
        opened = min(throttle, IDLE + step / STEPS_A_SECOND * 0.05)
        for n in range(4):
            machine[f"fcs/throttle-cmd-norm[{n}]"] = opened
        machine.step()


class TestAirframe:
    @pytest.mark.parametrize("flap", STALL_SPEED_AT_80000_LB)
    def test_stall_speeds_are_those_that_the_speed_tables_were_made_from(self, flap: str) -> None:
        degrees = {"up": 0, "ten": 10, "twenty": 20, "forty": 40}[flap]
        lift = tables(MODEL / "aircraft" / "whimbrel-four" / "whimbrel-four.xml", "tableData")[0]
        highest = max(row[1 + lift[0].index(degrees)] for row in lift[1:])
        speed = math.sqrt(2 * 80000 / (SEA_LEVEL_DENSITY * 1500 * highest)) / 1.68781
        assert speed == pytest.approx(STALL_SPEED_AT_80000_LB[flap], abs=0.5)

    def test_the_load_s_centre_of_gravity_is_the_sheet_s(self) -> None:
        for pairs in ("", "cargo_aft=6000lb cargo_forward=2200lb"):
            share = (bench(pairs)["inertia/cg-x-in"] - 420) / 160 * 100
            sheet = SHEET.work_out(given(pairs)).figures["centre_of_gravity"].value
            assert share == pytest.approx(float(sheet), abs=0.15)

    def test_it_stands_still_on_its_brakes(self) -> None:
        machine = bench()
        assert machine["velocities/vg-fps"] < 0.05
        assert 1 < machine["attitude/theta-deg"] < 4
        assert abs(machine["attitude/phi-deg"]) < 0.2


class TestEngine:
    @pytest.mark.parametrize(
        ("pairs", "throttle", "rpm"),
        [
            ("", 0.70, 2250),
            ("", 0.80, 2250),
            ("outside_temperature=35degC", 0.80, 2450),
            ("outside_temperature=-20degC", 0.75, 2250),
            ("airfield_elevation=6000ft runway_length=12000ft", 0.85, 2450),
            ("airfield_elevation=6000ft runway_length=12000ft", 1.0, 2650),
        ],
    )
    def test_bmep_of_a_manifold_pressure_is_that_of_the_charts(
        self, pairs: str, throttle: float, rpm: float
    ) -> None:
        # The charts' rule, solved for BMEP; the carburettor's air is a rule, not JSBSim's. At
        # half of this power and less, JSBSim's pumping loss makes it up to 5 per cent less.
        machine = bench(f"wind_speed=0kt gross_weight=91500lb {pairs}".strip())
        run_engines(machine, throttle, rpm)
        pressure = machine["propulsion/engine[0]/map-inhg"]
        turning = machine["propulsion/engine[0]/engine-rpm"]
        found = machine["propulsion/engine[0]/power-hp"] * 792000 / (DISPLACEMENT * turning)
        altitude = machine.pressure_altitude()
        carburettor = machine.temperature() + 5
        cold = math.sqrt(288.15 / (carburettor + 273.15))
        at_rating = needed("climb", "low", altitude, carburettor)
        expected = 159 + (pressure - at_rating) * made.CHARGE * cold
        assert found == pytest.approx(expected, rel=0.03)

    @pytest.mark.parametrize("elevation", [0, 3000, 6000])
    def test_full_throttle_pressure_is_that_of_the_table(self, elevation: int) -> None:
        machine = bench(f"airfield_elevation={elevation}ft runway_length=12000ft wind_speed=0kt")
        run_engines(machine, 1.0, 2650)
        turning = machine["propulsion/engine[0]/engine-rpm"]
        assert turning == pytest.approx(2650, abs=15)
        expected = full_throttle(turning, "low", machine.pressure_altitude())
        assert machine["propulsion/engine[0]/map-inhg"] == pytest.approx(expected, abs=0.3)

    def test_an_engine_without_spark_gives_nothing_and_the_others_go_on(self) -> None:
        machine = bench()
        machine.cut(3)
        for _ in range(STEPS_A_SECOND):
            machine.step()
        running = [machine[f"propulsion/engine[{n - 1}]/power-hp"] > 0 for n in ENGINES]
        assert running == [True, True, False, True]

    def test_its_files_are_those_that_the_tool_writes(self) -> None:
        assert (MODEL / "engine" / "whimbrel-engine.xml").read_text() == made.engine()
        assert (MODEL / "systems" / "powerplant.xml").read_text() == made.powerplant()


class TestPropeller:
    @pytest.mark.memory
    def test_no_cell_does_better_than_an_actuator_disc(self) -> None:
        # Glauert: the power of a thrust T at a speed V is at least T (V + v), v the induced speed.
        thrusts, powers = tables(MODEL / "engine" / "whimbrel-propeller.xml", "tableData")
        compared = 0
        for thrust_row, power_row in zip(thrusts[1:], powers[1:], strict=True):
            advance = thrust_row[0]
            for thrust, power in zip(thrust_row[1:], power_row[1:], strict=True):
                if thrust <= 0 or advance == 0:
                    continue
                induced = (-advance + math.sqrt(advance**2 + 8 * thrust / math.pi)) / 2
                assert power > thrust * (advance + induced) * 0.99
                compared += 1
        assert compared > 60

    def test_a_cell_worked_out_again_is_the_table_s(self) -> None:
        thrusts, powers = tables(MODEL / "engine" / "whimbrel-propeller.xml", "tableData")
        for angle, advance in ((26, 0.6), (34, 1.2), (-14, 0.8)):
            column = 1 + thrusts[0].index(angle)
            row = next(n for n, one in enumerate(thrusts[1:], 1) if one[0] == advance)
            found = made.coefficients(angle, advance)
            assert found[0] == pytest.approx(thrusts[row][column], abs=6e-5)
            assert found[1] == pytest.approx(powers[row][column], abs=6e-5)

    def test_feathered_it_hardly_drags(self) -> None:
        thrusts, _ = tables(MODEL / "engine" / "whimbrel-propeller.xml", "tableData")
        feathered = [row[-1] for row in thrusts[1:] if 1.0 <= row[0] <= 3.0]
        assert all(abs(thrust) < 0.08 for thrust in feathered)
