"""The autopilot's hands and feet: pitch, bank, heading, wheels, brakes and throttles.

Ordinary loops of attitude and rate (proportional, with an integral where a steady error would
stay), tuned by flying the model. They know no figure of the aircraft: what to hold is told.
"""

from __future__ import annotations

import math
import random
from typing import TYPE_CHECKING

from runner.simulation.machine import ENGINES, IDLE

if TYPE_CHECKING:
    from runner.simulation.machine import Machine

LEVER_RATE, FINE_RATE, FINE_FROM, COARSE = 0.12, 0.028, 24.0, 3.0
"""Fastest that the throttles are moved, of their travel in a second: up to a manifold pressure in
inHg, and above it, where the propellers have to follow, unless it is too high by so many inHg."""


def clamp(value: float, low: float, high: float) -> float:
    """``value`` kept between ``low`` and ``high``."""
    return min(max(value, low), high)


class Hands:
    """Moves the controls of ``machine``; each method is called once a control step."""

    def __init__(self, machine: Machine, dt: float, seed: int) -> None:
        self._machine = machine
        self._dt = dt
        chance = random.Random(seed)
        # No four levers are rigged alike.
        self._stiffness = [chance.uniform(0.9, 1.1) for _ in range(ENGINES)]
        self._throttle = [IDLE] * ENGINES
        self._elevator = 0.0
        self._aileron = 0.0
        self._rudder = 0.0
        self.pitch = machine["attitude/theta-deg"]
        """Pitch attitude to hold, in degrees."""
        self._last_speed = machine["velocities/vc-kts"]
        self._gain = 0.0
        heading = math.radians(machine.day.runway)
        self._axis = (math.cos(heading), math.sin(heading))
        self._off_line = 0.0
        self.live = [True] * ENGINES
        """Engines whose throttles are moved."""

    @property
    def gain_of_speed(self) -> float:
        """How fast the airspeed grows, smoothed, in knots a second."""
        return self._gain

    def sense(self) -> None:
        """Take notice of the speed's growth and of the way off the runway's line."""
        machine = self._machine
        speed = machine["velocities/vc-kts"]
        grown = (speed - self._last_speed) / self._dt
        self._last_speed = speed
        self._gain += (grown - self._gain) * min(1.0, self._dt / 0.6)
        north, east = machine["velocities/v-north-fps"], machine["velocities/v-east-fps"]
        self._off_line += (east * self._axis[0] - north * self._axis[1]) * self._dt

    def hold_pitch(self, agile: bool = False) -> None:
        """Elevator for the pitch attitude ``pitch``; ``agile`` for the rotation."""
        machine, dt = self._machine, self._dt
        error = self.pitch - machine["attitude/theta-deg"]
        rate = math.degrees(machine["velocities/q-rad_sec"])
        softer = clamp((110 / max(60.0, machine["velocities/vc-kts"])) ** 2, 0.25, 1.6)
        self._elevator = clamp(
            self._elevator + (0.03 if not agile else 0.10) * error * dt * softer, -1, 1
        )
        wanted = self._elevator + softer * (0.085 * error - 0.05 * rate)
        machine["fcs/elevator-cmd-norm"] = -clamp(wanted, -1, 1)

    def pull(self, elevator: float) -> None:
        """Hold the elevator still: 0 to 1 is back."""
        self._elevator = elevator
        self._machine["fcs/elevator-cmd-norm"] = -elevator

    def hold_speed(
        self, speed: float, low: float, high: float, least_climb: float | None = None
    ) -> None:
        """Pitch for an airspeed in knots, between two attitudes in degrees.

        The nose is not lowered for speed where it climbs at less than ``least_climb`` ft/min.
        """
        error = self._machine["velocities/vc-kts"] - speed
        rate = clamp(0.10 * error + 0.75 * self._gain, -1.5, 1.5)
        if least_climb is not None:
            climb = self._machine["velocities/h-dot-fps"] * 60
            rate = max(rate, clamp((least_climb - climb) * 0.004, -1.5, 0.5))
        self.pitch = clamp(self.pitch + rate * self._dt, low, high)
        self.hold_pitch()

    def hold_altitude(self, altitude: float) -> None:
        """Pitch for an altitude in feet, levelling off gently."""
        machine = self._machine
        wanted = clamp((altitude - machine.altitude()) * 4, -800, 800)
        climb = machine["velocities/h-dot-fps"] * 60
        rate = clamp((wanted - climb) * 0.0025, -0.8, 0.8)
        self.pitch = clamp(self.pitch + rate * self._dt, -4, 9)
        self.hold_pitch()

    def hold_line(self) -> None:
        """Keep to the runway's line on the wheels, wings level."""
        machine = self._machine
        error = self._heading_error() - clamp(0.15 * self._off_line, -4, 4)
        rate = math.degrees(machine["velocities/r-rad_sec"])
        speed = machine["velocities/vc-kts"]
        self._rudder = clamp(self._rudder + 0.06 * error * self._dt, -0.8, 0.8)
        rudder = clamp(self._rudder + 0.09 * error - 0.10 * rate, -1, 1)
        machine["fcs/rudder-cmd-norm"] = -rudder
        machine["fcs/steer-cmd-norm"] = clamp(
            (0.10 * error - 0.06 * rate) * clamp(40 / max(speed, 15.0), 0.1, 1.5), -1, 1
        )
        self._bank(0.0)

    def hold_heading(self) -> None:
        """Keep the runway's heading in the air, the slip taken out by the rudder."""
        machine = self._machine
        slip = math.degrees(machine["aero/beta-rad"])
        yaw = math.degrees(machine["velocities/r-rad_sec"])
        self._rudder = clamp(self._rudder + 0.06 * slip * self._dt, -0.95, 0.95)
        machine["fcs/rudder-cmd-norm"] = -clamp(self._rudder + 0.05 * slip - 0.06 * yaw, -1, 1)
        machine["fcs/steer-cmd-norm"] = 0
        self._bank(clamp(0.9 * self._heading_error(), -12, 12))

    def set_power(self, pressure: float) -> bool:
        """Move the throttles towards a manifold pressure in inHg, each by its own gauge.

        Gives whether every engine alive shows it within 0.3 inHg, or its throttle is open.
        """
        machine, reached = self._machine, True
        for n in range(ENGINES):
            if not self.live[n]:
                continue
            short = pressure - machine[f"propulsion/engine[{n}]/map-inhg"]
            shown = pressure - short
            coarse = shown < FINE_FROM or short < -COARSE
            fastest = LEVER_RATE if coarse else FINE_RATE
            speed = clamp(0.030 * short * self._stiffness[n], -fastest, fastest)
            self._lever(n, self._throttle[n] + speed * self._dt)
            reached &= abs(short) < 0.3 or (short > 0 and self._throttle[n] >= 1)
        return reached

    def close_throttle(self, n: int, to: float = IDLE) -> None:
        """Bring one throttle (0 to 3) back at once."""
        self._lever(n, to)

    def set_rpm(self, rpm: float) -> None:
        """Move the propeller levers towards an RPM, 150 rpm in a second."""
        machine = self._machine
        for n in range(ENGINES):
            held = machine[f"fcs/rpm-cmd[{n}]"]
            machine[f"fcs/rpm-cmd[{n}]"] = held + clamp(rpm - held, -150 * self._dt, 150 * self._dt)

    def brake(self, share: float) -> None:
        """Both brakes, 0 to 1."""
        self._machine["fcs/left-brake-cmd-norm"] = share
        self._machine["fcs/right-brake-cmd-norm"] = share

    def _lever(self, n: int, to: float) -> None:
        self._throttle[n] = clamp(to, 0.0, 1.0)
        self._machine[f"fcs/throttle-cmd-norm[{n}]"] = self._throttle[n]

    def _heading_error(self) -> float:
        """Degrees to turn to the right onto the runway's heading."""
        error = self._machine.day.runway - self._machine["attitude/psi-deg"]
        return (error + 180) % 360 - 180

    def _bank(self, degrees: float) -> None:
        machine = self._machine
        error = degrees - machine["attitude/phi-deg"]
        rate = math.degrees(machine["velocities/p-rad_sec"])
        self._aileron = clamp(self._aileron + 0.01 * error * self._dt, -0.5, 0.5)
        machine["fcs/aileron-cmd-norm"] = clamp(self._aileron + 0.045 * error - 0.035 * rate, -1, 1)
