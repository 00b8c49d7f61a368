"""The Whimbrel Four in JSBSim: its model loaded, set on the runway, and stepped."""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from runner.errors import NO_DEVICE, RunnerError
from runner.figures.air import altitude_of_pressure, pressure_altitude, standard_temperature
from runner.simulation.day import Day

STEPS_A_SECOND = 120
ENGINES = 4
PSF_IN_INHG = 70.72619
IDLE = 0.05
"""Throttle for about 850 rpm."""
WARM, WARMING_ANGLE = 150.0, 60.0
"""Cylinder heads in degC when a flight begins, and a blade angle at which they warm slowly."""
SETTLING = 15
"""Seconds on the brakes before a flight's clock starts."""
BRAKING = {"dry": 0.27, "wet": 0.18, "icy": 0.08}
"""Friction of braked wheels; the wheels carry about four fifths of the weight."""

_MODEL = Path(__file__).parent / "model"


class Machine:
    """The aircraft at rest on its runway, engines idling, until it is stepped.

    ``machine[name]`` reads and sets a property of JSBSim. ``strut_height`` is the height of
    the centre of gravity in feet at rest. Raises RunnerError where JSBSim is not installed.
    """

    def __init__(self, day: Day) -> None:
        self.day = day
        self.steps = 0
        self._simulation = _load()
        self._nodes: dict[str, Any] = {}
        self._manager = self._simulation.get_property_manager()
        self._cooling = self["propulsion/engine[0]/cooling-factor"]
        self._place()
        self._set_air()
        self._start_engines()
        for _ in range(SETTLING * STEPS_A_SECOND):
            self._simulation.run()
        self.strut_height = self["position/h-agl-ft"]
        self._altimeter_error = self.pressure_altitude() - day.elevation

    @property
    def seconds(self) -> float:
        """Simulated seconds since the flight began."""
        return self.steps / STEPS_A_SECOND

    def __getitem__(self, name: str) -> float:
        return float(self._node(name).get_double_value())

    def __setitem__(self, name: str, value: float) -> None:
        self._node(name).set_double_value(value)

    def step(self) -> None:
        """One step of a 120th of a second."""
        self._simulation.run()
        self.steps += 1

    def open_cowl_flaps(self, share: float) -> None:
        """Set every engine's cowl flaps, 0 to 1; half open is what the model cools by."""
        for n in range(ENGINES):
            self[f"propulsion/engine[{n}]/cooling-factor"] = self._cooling * (0.6 + 0.8 * share)

    def cut(self, engine: int) -> None:
        """Both magnetos of an engine (1 to 4) off, as when it fails."""
        self._simulation["propulsion/active_engine"] = engine - 1
        self._simulation["propulsion/magneto_cmd"] = 0
        self._simulation["propulsion/active_engine"] = -1

    def pressure_altitude(self) -> float:
        """Pressure altitude in feet."""
        return altitude_of_pressure(self["atmosphere/P-psf"] / PSF_IN_INHG)

    def altitude(self) -> float:
        """What an altimeter on the day's setting shows, in feet."""
        return self.pressure_altitude() - self._altimeter_error

    def temperature(self) -> float:
        """Outside air temperature in degC."""
        return self["atmosphere/T-R"] / 1.8 - 273.15

    def on_wheels(self) -> bool:
        """Whether a main wheel is on the ground."""
        return self["gear/unit[1]/WOW"] > 0.5 or self["gear/unit[2]/WOW"] > 0.5

    def _node(self, name: str) -> Any:
        node = self._nodes.get(name)
        if node is None:
            node = self._nodes[name] = self._manager.get_node(name)
            assert node is not None, name
        return node

    def _place(self) -> None:
        day, simulation = self.day, self._simulation
        simulation.set_dt(1 / STEPS_A_SECOND)
        simulation["ic/terrain-elevation-ft"] = day.elevation
        simulation["ic/h-agl-ft"] = 7.0
        simulation["ic/psi-true-deg"] = day.runway
        for hold, weight in enumerate(day.cargo):
            simulation[f"inertia/pointmass-weight-lbs[{hold}]"] = weight
        simulation["propulsion/tank[0]/contents-lbs"] = day.fuel
        simulation.run_ic()
        for wheel in (1, 2):
            simulation[f"gear/unit[{wheel}]/static_friction_coeff"] = BRAKING[day.surface]
            side = "left" if wheel == 1 else "right"
            simulation[f"fcs/{side}-brake-cmd-norm"] = 1
        simulation["gear/gear-cmd-norm"] = 1
        simulation["gear/gear-pos-norm"] = 1
        simulation["fcs/flap-cmd-norm"] = day.takeoff_flap / 40

    def _set_air(self) -> None:
        """Today's temperature and pressure at the runway, and the wind everywhere."""
        day, simulation = self.day, self._simulation
        warmer = day.temperature - standard_temperature(day.elevation)
        simulation["atmosphere/delta-T"] = warmer * 1.8
        field = pressure_altitude(day.elevation, day.qnh)
        # Air warmer than standard is thinner below the field too, which an altimeter's setting
        # leaves out: the pressure is set where the aircraft stands.
        for _ in range(3):
            simulation.run()
            error = altitude_of_pressure(simulation["atmosphere/P-psf"] / PSF_IN_INHG) - field
            simulation["atmosphere/P-sl-psf"] *= 1 + error * 3.615e-5
        north, east = day.wind_parts(day.wind)
        simulation["atmosphere/wind-north-fps"] = north
        simulation["atmosphere/wind-east-fps"] = east

    def _start_engines(self) -> None:
        simulation = self._simulation
        for n in range(ENGINES):
            simulation[f"propulsion/engine[{n}]/blade-angle"] = WARMING_ANGLE
            simulation[f"fcs/throttle-cmd-norm[{n}]"] = IDLE
        for _ in range(10):
            # Each time JSBSim runs the engines until they are steady, and so warms them.
            simulation["propulsion/set-running"] = -1
            if (simulation["propulsion/engine[0]/cht-degF"] - 32) / 1.8 > WARM:
                break


def _load() -> Any:
    try:
        import jsbsim
    except ImportError as error:
        raise RunnerError(
            "the simulated flight needs JSBSim: pip install 'runner-checklists[flight]'", NO_DEVICE
        ) from error
    with _quiet():
        simulation = jsbsim.FGFDMExec(str(_MODEL))
    simulation.set_debug_level(0)
    simulation.set_aircraft_path("aircraft")
    simulation.set_engine_path("engine")
    simulation.set_systems_path("systems")
    if not simulation.load_model("whimbrel-four"):
        raise RunnerError(f"JSBSim cannot read the flight model in {_MODEL}")
    return simulation


@contextlib.contextmanager
def _quiet() -> Iterator[None]:
    """Keep JSBSim's greeting, written past Python, off the standard output."""
    sys.stdout.flush()
    kept = os.dup(1)
    try:
        with Path(os.devnull).open("wb") as nowhere:
            os.dup2(nowhere.fileno(), 1)
            yield
    finally:
        os.dup2(kept, 1)
        os.close(kept)
