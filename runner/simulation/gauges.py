"""What the gauges show: JSBSim's quantities as readings of the Whimbrel Four's aircraft file.

What JSBSim's engine does not know follows a stated rule, and is listed in ``BY_RULE``: the air
at the carburettor is a fixed rise above the outside air; a pump holds its pressure while its
engine turns and loses it in a few seconds after; the hydraulic pressure sags while gear or
flaps move. BMEP is worked back from JSBSim's horsepower and RPM.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from runner.figures.engine_power import bmep
from runner.simulation.machine import ENGINES

if TYPE_CHECKING:
    from runner.simulation.machine import Machine

BY_RULE = frozenset(
    ("carburettor_air_temperature", "fuel_pressure", "hydraulic_pressure", "cowl_flap_position")
)
"""Readings that no equation of JSBSim's stands behind."""

FUEL_PRESSURE, HYDRAULIC_PRESSURE, HYDRAULIC_SAG = 23.5, 2950.0, 450.0
PUMP_SECONDS = 3.0
DRIVEN_RPM = 500.0


class Gauges:
    """The gauges of one flight. ``displacement`` in in^3 is the aircraft file's."""

    def __init__(self, machine: Machine, displacement: float) -> None:
        self._machine = machine
        self._displacement = displacement
        self._at = machine.seconds
        self._fuel_pressure = [FUEL_PRESSURE] * ENGINES
        self._hydraulic = HYDRAULIC_PRESSURE
        self._moving = (machine["gear/gear-pos-norm"], machine["fcs/flap-pos-deg"])
        self.parking_brake = True
        self._cowl_flaps = 50.0
        self.fuel_off = [False] * ENGINES
        """Engines whose fuel the crew has shut off."""

    def set_cowl_flaps(self, opening: float) -> None:
        """Open every engine's cowl flaps by so many per cent."""
        self._cowl_flaps = opening
        self._machine.open_cowl_flaps(opening / 100)

    def bmep(self, n: int) -> float:
        """BMEP in psi of an engine (0 to 3); a driven engine shows none."""
        machine, engine = self._machine, f"propulsion/engine[{n}]/"
        turning = machine[engine + "engine-rpm"]
        return bmep(max(0.0, machine[engine + "power-hp"]), max(1.0, turning), self._displacement)

    def read(self) -> dict[str, float]:
        """Every reading by its name in the aircraft file, and ``sim_seconds``."""
        machine = self._machine
        self._settle()
        outside = machine.temperature()
        shown = {
            "sim_seconds": round(machine.seconds, 4),
            "airspeed": max(0.0, machine["velocities/vc-kts"]),
            "altitude": machine.altitude(),
            "height": max(0.0, machine["position/h-agl-ft"] - machine.strut_height),
            "vertical_speed": machine["velocities/h-dot-fps"] * 60,
            "outside_air_temperature": outside,
            "gear_position": machine["gear/gear-pos-norm"],
            "flap_position": machine["fcs/flap-pos-deg"],
            "parking_brake": float(self.parking_brake),
            "hydraulic_pressure": self._hydraulic,
        }
        for n in range(ENGINES):
            engine, number = f"propulsion/engine[{n}]/", n + 1
            shown[f"manifold_pressure_{number}"] = machine[engine + "map-inhg"]
            shown[f"rpm_{number}"] = machine[engine + "engine-rpm"]
            shown[f"bmep_{number}"] = self.bmep(n)
            shown[f"fuel_pressure_{number}"] = self._fuel_pressure[n]
            shown[f"oil_pressure_{number}"] = machine[engine + "oil-pressure-psi"]
            shown[f"oil_temperature_{number}"] = _celsius(machine[engine + "oil-temperature-degF"])
            shown[f"cylinder_head_temperature_{number}"] = _celsius(machine[engine + "cht-degF"])
            shown[f"carburettor_air_temperature_{number}"] = outside + machine.day.carburettor_rise
            shown[f"cowl_flap_position_{number}"] = self._cowl_flaps
        return {name: round(value, 4) for name, value in shown.items()}

    def _settle(self) -> None:
        """Let the pumps' pressures follow, over the time since they were last read."""
        machine = self._machine
        share = 1 - math.exp(-(machine.seconds - self._at) / PUMP_SECONDS)
        self._at = machine.seconds
        driven = 0
        for n in range(ENGINES):
            turns = machine[f"propulsion/engine[{n}]/engine-rpm"] > DRIVEN_RPM
            driven += turns
            wanted = FUEL_PRESSURE if turns and not self.fuel_off[n] else 0.0
            self._fuel_pressure[n] += (wanted - self._fuel_pressure[n]) * share
        moving = (machine["gear/gear-pos-norm"], machine["fcs/flap-pos-deg"])
        wanted = HYDRAULIC_PRESSURE if driven else 0.0
        if moving != self._moving:
            wanted -= HYDRAULIC_SAG
        self._moving = moving
        self._hydraulic += (max(0.0, wanted) - self._hydraulic) * share


def _celsius(fahrenheit: float) -> float:
    return (fahrenheit - 32) / 1.8
