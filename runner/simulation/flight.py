"""A simulated flight that can be advanced, read and talked to, without a clock of its own."""

from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from runner.errors import RunnerError
from runner.simulation.autopilot import CONTROL_STEPS, Autopilot, Phase
from runner.simulation.day import day_of
from runner.simulation.gauges import Gauges
from runner.simulation.machine import ENGINES, STEPS_A_SECOND, Machine
from runner.simulation.targets import BLOWERS, check_target, targets_of

if TYPE_CHECKING:
    from runner.figures.model import Aircraft

RETOLD_EVERY = 500.0
"""Feet of pressure altitude after which the engineer tells the climb's power again."""
GUST_SECONDS = 4.0


@dataclass(frozen=True, slots=True)
class Failure:
    """An engine (1 to 4) that fails on reaching an airspeed in knots or a height in feet.

    At V1 where both are None.
    """

    engine: int
    speed: float | None = None
    height: float | None = None

    def __post_init__(self) -> None:
        if not 1 <= self.engine <= ENGINES:
            raise RunnerError(f"there is no engine {self.engine}; there are 1 to {ENGINES}")


@dataclass(frozen=True, slots=True)
class Happening:
    """What came about in the flight, and when, in simulated seconds."""

    sim_seconds: float
    what: str


class SimulatedFlight:
    """The Whimbrel Four from the brakes to its cruise, for the inputs ``given``.

    ``hold`` are the seconds on the brakes before take-off power is set; None waits until
    ``brake_release`` is told. With ``engineer`` the power of the climb is told from the
    aircraft's charts as the altitude changes; else only ``tell`` changes a target. ``reject``
    is the airspeed in knots at which the take-off is rejected. The same ``seed`` gives the
    same flight. Raises RunnerError where the sheet has no figures to fly by or JSBSim is not
    installed.
    """

    def __init__(
        self,
        aircraft: Aircraft,
        given: Mapping[str, float | str],
        *,
        hold: float | None = 5.0,
        failure: Failure | None = None,
        reject: float | None = None,
        seed: int = 0,
        engineer: bool = True,
    ) -> None:
        from runner.figures.sheet import Sheet

        self._sheet = Sheet(aircraft)
        self._worked = self._sheet.work_out(given)
        self.told = targets_of(self._worked)
        """What the autopilot has been told, by name."""
        self._machine = Machine(day_of(self._worked))
        self._gauges = Gauges(self._machine, float(self._worked.values["displacement"]))
        self.events: list[Happening] = []
        """What has happened so far, in order."""
        self._autopilot = Autopilot(
            self._machine, self._gauges, self.told, self._happened, reject, seed
        )
        self._hold, self._failure, self._engineer = hold, failure, engineer
        self._told_at = self._machine.pressure_altitude()
        self._chance = random.Random(seed)
        self._gust = 0.0
        self._until = 0.0

    @property
    def sim_seconds(self) -> float:
        """Simulated seconds since the flight began."""
        return self._machine.seconds

    @property
    def flown(self) -> float:
        """Seconds that it has been advanced by: ``sim_seconds`` and less than a step."""
        return self._until

    @property
    def phase(self) -> Phase:
        """What the autopilot is doing."""
        return self._autopilot.phase

    def advance(self, seconds: float) -> None:
        """Fly on for so many simulated seconds; what is left of a 120th is flown next time."""
        self._until += seconds
        steps = int(self._until * STEPS_A_SECOND + 1e-6)
        while self._machine.steps < steps:
            if self._machine.steps % CONTROL_STEPS == 0:
                self._before_control()
                self._autopilot.step()
            self._machine.step()

    def record(self) -> dict[str, float]:
        """Every reading of the aircraft file now, engines as ``_1`` to ``_4``.

        In the aircraft's units, with ``sim_seconds`` beside them.
        """
        return self._gauges.read()

    def property(self, name: str) -> float:
        """A quantity of JSBSim's own by its name there, as ``aero/alpha-deg``."""
        return self._machine[name]

    def tell(self, name: str, value: float) -> None:
        """Give the autopilot a target, in the aircraft's unit. RunnerError where it has none."""
        check_target(name, value)
        self.told[name] = value

    def reject_at(self, speed: float) -> None:
        """Reject the take-off on reaching an airspeed in knots."""
        self._autopilot.reject_at = speed

    def _before_control(self) -> None:
        if self._hold is not None and self._machine.seconds >= self._hold:
            self._hold = None
            self.told["brake_release"] = 1
        if self._failure is not None:
            self._fail(self._failure)
        if self._machine.day.gust > self._machine.day.wind:
            self._blow()
        if self._engineer and self.phase in ("cleaning up", "climbing"):
            self._tell_climb()

    def _fail(self, failure: Failure) -> None:
        machine = self._machine
        if failure.height is not None:
            due = machine["position/h-agl-ft"] - machine.strut_height >= failure.height
        else:
            speed = self.told["decision_speed"] if failure.speed is None else failure.speed
            due = machine["velocities/vc-kts"] >= speed
        if due and self.phase not in ("holding", "setting power"):
            machine.cut(failure.engine)
            self._happened(f"engine {failure.engine} failed")
            self._failure = None

    def _blow(self) -> None:
        """Gusts: the wind's speed wanders about its mean, a few seconds at a time."""
        day = self._machine.day
        share = CONTROL_STEPS / STEPS_A_SECOND / GUST_SECONDS
        spread = (day.gust - day.wind) / 2
        self._gust += -self._gust * share + spread * (2 * share) ** 0.5 * self._chance.gauss(0, 1)
        north, east = day.wind_parts(day.wind + self._gust)
        self._machine["atmosphere/wind-north-fps"] = north
        self._machine["atmosphere/wind-east-fps"] = east

    def _tell_climb(self) -> None:
        altitude = self._machine.pressure_altitude()
        if abs(altitude - self._told_at) < RETOLD_EVERY:
            return
        self._told_at = altitude
        outside = self._machine.temperature()
        now = self._sheet.change(
            self._worked,
            {
                "pressure_altitude": altitude,
                "outside_temperature": outside,
                "carburettor_temperature": outside + self._machine.day.carburettor_rise,
            },
        )
        for name in ("climb_manifold_pressure", "climb_rpm"):
            figure = now.figures.get(name)
            if figure is not None:
                self.told[name] = float(figure.value)
        self.told["blower"] = BLOWERS[str(now.values["blower"])]

    def _happened(self, what: str) -> None:
        self.events.append(Happening(round(self._machine.seconds, 3), what))
