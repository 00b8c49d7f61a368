"""A simple autopilot: it flies the targets that it is told, and knows no other figure.

What it does of its own accord is a pilot's common practice: throttles are brought up together
on the brakes; the nose wheel is lightened before the rotation; the gear goes up at a positive
rate; power is reduced at 400 ft or when take-off power has had its time; flaps come up in
stages at their speeds; power is set, reducing, manifold pressure then RPM, and increasing, RPM
then manifold pressure; an engine that gives no torque is feathered (automatic feathering).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Literal

from runner.simulation.hands import Hands
from runner.simulation.machine import ENGINES

if TYPE_CHECKING:
    from runner.simulation.gauges import Gauges
    from runner.simulation.machine import Machine

Phase = Literal[
    "holding",
    "setting power",
    "rolling",
    "rotating",
    "climbing away",
    "cleaning up",
    "climbing",
    "shifting blowers",
    "levelling",
    "rejecting",
    "stopped",
]

CONTROL_STEPS = 3
"""Steps of the machine for one of the autopilot: 40 a second."""

LIGHTEN, LIGHTENED, ROTATION_PULL = 12.0, 1.0, 0.55
"""Knots before rotation from which the nose is raised by so many degrees to lighten its wheel,
and the elevator, of its travel, with which the rotation begins."""
ROTATION_RATE, ROTATED = 6.0, 10.0
"""Degrees a second and degrees of attitude."""
STAGED, STEADY = 0.6, 25.0
"""Share of the take-off manifold pressure at which the throttles wait until no propeller
changes by more than so many rpm a second."""
GEAR_HEIGHT, GEAR_RATE, GEAR_WAIT = 30.0, 300.0, 1.5
"""Feet, ft/min, and seconds after both that the gear is selected up."""
REDUCTION_HEIGHT, ACCELERATION_HEIGHT = 400.0, 400.0
ACCELERATION, LEAST_CLIMB = 1.0, 120.0
"""kt/s asked for while the flaps come up, as long as it still climbs at so many ft/min, which
are not given away for speed either."""
CLIMB_POWER_WAIT = 8.0
"""Seconds after the flaps are up."""
COWL_FLAPS = {"takeoff": 50.0, "climb": 33.0, "shift": 33.0, "cruise": 0.0}
HOT_HEADS, COOL_HEADS = 435.0, 400.0
"""Cowl flaps in per cent by power, and degF (224 and 204 degC)."""
LOST_TORQUE, FEATHER_SECONDS = 0.4, 0.7
"""Share of the best engine's BMEP below which, for so long, an engine is feathered."""
SHIFT_PRESSURE, SHIFT_RPM = 25.0, 1600.0
"""Throttles and RPM for a shift of the blowers."""


class Autopilot:
    """Flies ``machine``. ``told`` holds the targets; ``happened`` takes what comes about."""

    def __init__(
        self,
        machine: Machine,
        gauges: Gauges,
        told: dict[str, float],
        happened: Callable[[str], None],
        reject_at: float | None = None,
        seed: int = 0,
    ) -> None:
        self._machine, self._gauges, self._told = machine, gauges, told
        self._happened = happened
        self.reject_at = reject_at
        """Airspeed in knots at which the take-off is rejected."""
        self._dt = CONTROL_STEPS / 120
        self._hands = Hands(machine, self._dt, seed)
        self.phase: Phase = "holding"
        self._since = 0.0
        self._power = "idle"
        self._power_set_at: float | None = None
        self._positive_at: float | None = None
        self._flaps_up_at: float | None = None
        self._aim = 0.0
        self._blower = 0.0
        self._cowl_flaps, self._hot = 50.0, False
        self._rpm_before = 0.0
        self._settled = 0.0
        self._staged = False
        self._turning = [0.0] * ENGINES
        self._torque_lost = [0.0] * ENGINES
        self._passed: set[str] = set()

    def step(self) -> None:
        """One control step."""
        self._hands.sense()
        self._watch_torque()
        self._cool()
        self._marks()
        _STEPS[self.phase](self)

    def _enter(self, phase: Phase) -> None:
        self.phase = phase
        self._since = self._machine.seconds

    def _in_phase(self) -> float:
        return self._machine.seconds - self._since

    def _once(self, what: str) -> bool:
        """Report ``what`` the first time; True then."""
        if what in self._passed:
            return False
        self._passed.add(what)
        self._happened(what)
        return True

    def _airspeed(self) -> float:
        return self._machine["velocities/vc-kts"]

    def _height(self) -> float:
        return self._machine["position/h-agl-ft"] - self._machine.strut_height

    def _marks(self) -> None:
        if self.phase == "rolling" and self._airspeed() >= self._told["decision_speed"]:
            self._once("decision speed")
        if self.phase in ("rolling", "rotating") and self._airspeed() >= self._told["rotate_speed"]:
            self._once("rotation speed")

    def _watch_torque(self) -> None:
        """Automatic feathering: armed from power set on the roll until the flaps are up."""
        hands = self._hands
        if self._power_set_at is None or self.phase in ("rejecting", "stopped"):
            return
        shown = [self._gauges.bmep(n) for n in range(ENGINES)]
        for n in range(ENGINES):
            if not hands.live[n] or max(shown) < 80:
                continue
            low = shown[n] < LOST_TORQUE * max(shown)
            self._torque_lost[n] = self._torque_lost[n] + self._dt if low else 0.0
            if self._torque_lost[n] > FEATHER_SECONDS:
                hands.live[n] = False
                hands.close_throttle(n)
                self._machine[f"fcs/feathered[{n}]"] = 1
                self._machine[f"fcs/cut-off[{n}]"] = 1
                self._gauges.fuel_off[n] = True
                self._happened(f"engine {n + 1} feathered")

    def _set(self, rating: str, now: str = "") -> bool:
        """Hold a rating's power in the order of its setting; whether it is set."""
        told, hands = self._told, self._hands
        pressure, rpm = told[f"{rating}_manifold_pressure"], told[f"{rating}_rpm"]
        if self._power != rating:
            self._power, self._rpm_before = rating, self._machine["fcs/rpm-cmd[0]"]
        if rpm > self._rpm_before:
            hands.set_rpm(rpm)
            reached = hands.set_power(pressure)
        else:
            reached = hands.set_power(pressure)
            if reached:
                self._rpm_before = rpm
                hands.set_rpm(rpm)
            elif self._rpm_before == rpm:
                hands.set_rpm(rpm)
        done = reached and abs(self._machine["fcs/rpm-cmd[0]"] - rpm) < 1
        if done and now:
            self._once(now)
        return done

    def _cool(self) -> None:
        """Cowl flaps half for take-off, a third for the climb, closed in the cruise.

        They are opened when a head is hot, until none is.
        """
        heads = max(self._machine[f"propulsion/engine[{n}]/cht-degF"] for n in range(ENGINES))
        if heads > HOT_HEADS:
            self._hot = True
        elif heads < COOL_HEADS:
            self._hot = False
        opening = 100.0 if self._hot else COWL_FLAPS.get(self._power, COWL_FLAPS["takeoff"])
        if opening != self._cowl_flaps:
            self._cowl_flaps = opening
            self._gauges.set_cowl_flaps(opening)

    def _hold(self) -> None:
        self._hands.brake(1)
        self._hands.pull(0.0)
        self._hands.hold_line()
        if self._told.get("brake_release", 0) >= 1:
            self._enter("setting power")
            self._happened("setting take-off power")

    def _set_power(self) -> None:
        hands, machine = self._hands, self._machine
        hands.hold_line()
        hands.set_rpm(self._told["takeoff_rpm"])
        slipping = machine["velocities/vg-fps"] > 2
        wanted = self._told["takeoff_manifold_pressure"]
        turning = [machine[f"propulsion/engine[{n}]/engine-rpm"] for n in range(ENGINES)]
        changes = [
            abs(now - before) / self._dt for now, before in zip(turning, self._turning, strict=True)
        ]
        self._turning = turning
        reached = hands.set_power(wanted if self._staged else STAGED * wanted)
        if not reached or max(changes) > STEADY:
            self._settled = machine.seconds
        elif not self._staged and machine.seconds - self._settled > 0.5:
            self._staged, self._settled = True, machine.seconds
        done = self._staged and machine.seconds - self._settled > 1.0
        if (slipping or done) and self._gauges.parking_brake:
            # Brakes that no longer hold it are let go; the power comes up on the roll.
            hands.brake(0)
            self._gauges.parking_brake = False
            self._happened("brakes released")
        if done:
            self._power_set_at = machine.seconds
            self._enter("rolling")
            self._happened("take-off power set")

    def _roll(self) -> None:
        hands, speed = self._hands, self._airspeed()
        self._set("takeoff")
        hands.hold_line()
        reject = self._told.get("reject", 0) >= 1
        if reject or (self.reject_at is not None and speed >= self.reject_at):
            self._enter("rejecting")
            self._happened("rejected")
            return
        rotate = self._told["rotate_speed"]
        if speed < rotate - LIGHTEN:
            hands.pull(0.0)
            self._aim = self._machine["attitude/theta-deg"] + LIGHTENED
        else:
            hands.pitch = self._aim
            hands.hold_pitch(agile=True)
        if speed >= rotate:
            hands.pitch = self._machine["attitude/theta-deg"] + 1
            hands.pull(ROTATION_PULL)
            self._enter("rotating")

    def _rotate(self) -> None:
        hands = self._hands
        self._set("takeoff")
        hands.pitch = min(hands.pitch + ROTATION_RATE * self._dt, ROTATED)
        hands.hold_pitch(agile=True)
        if self._machine.on_wheels():
            hands.hold_line()
            return
        self._once("lift-off")
        hands.hold_heading()
        if self._in_phase() > 2.0 and self._height() > 10:
            self._enter("climbing away")

    def _climb_away(self) -> None:
        hands, machine = self._hands, self._machine
        self._clean_gear()
        self._reduce()
        hands.hold_heading()
        hands.hold_speed(self._told["safety_speed"], 0, 13, LEAST_CLIMB)
        if self._height() >= ACCELERATION_HEIGHT:
            self._aim = max(machine["velocities/vc-kts"], self._told["safety_speed"])
            self._enter("cleaning up")
            self._happened("accelerating")

    def _clean_gear(self) -> None:
        machine = self._machine
        positive = machine["velocities/h-dot-fps"] * 60 > GEAR_RATE
        if self._positive_at is None and positive and self._height() > GEAR_HEIGHT:
            self._positive_at = machine.seconds
            self._happened("positive rate")
        if self._positive_at is not None and machine.seconds - self._positive_at > GEAR_WAIT:
            machine["gear/gear-cmd-norm"] = 0
        if machine["gear/gear-pos-norm"] < 0.001:
            self._once("gear up")

    def _reduce(self) -> None:
        """Take-off power, and METO power when it has had its time or the height is reached."""
        assert self._power_set_at is not None
        limit = self._machine.seconds - self._power_set_at >= self._told["takeoff_power_time"] * 60
        gear_up = self._machine["gear/gear-pos-norm"] < 0.001
        if self._power == "meto" or limit or (self._height() > REDUCTION_HEIGHT and gear_up):
            self._set("meto", "METO power set")
        else:
            self._set("takeoff")

    def _clean_up(self) -> None:
        machine, hands, told = self._machine, self._hands, self._told
        self._clean_gear()
        climbing = machine["velocities/h-dot-fps"] * 60 > LEAST_CLIMB
        behind = self._aim - self._airspeed() > 4
        if climbing and not behind:
            self._aim = min(self._aim + ACCELERATION * self._dt, told["climb_speed"])
        hands.hold_heading()
        hands.hold_speed(self._aim, -2, 13, LEAST_CLIMB)
        speed, flap = self._airspeed(), machine["fcs/flap-cmd-norm"] * 40
        if flap > 15 and speed >= told.get("flaps_ten_speed", told["flaps_up_speed"]):
            machine["fcs/flap-cmd-norm"] = 10 / 40
            self._happened("flaps ten")
        elif 0 < flap <= 15 and speed >= told["flaps_up_speed"]:
            machine["fcs/flap-cmd-norm"] = 0
            self._happened("flaps up selected")
        if machine["fcs/flap-pos-deg"] < 0.01 and self._flaps_up_at is None:
            self._flaps_up_at = machine.seconds
            self._happened("flaps up")
        up = self._flaps_up_at is not None and machine.seconds - self._flaps_up_at
        if up and (up > CLIMB_POWER_WAIT or told.get("climb_power", 0) >= 1):
            self._set("climb", "climb power set")
        else:
            self._reduce()
        if "climb power set" in self._passed and speed > told["climb_speed"] - 2:
            self._enter("climbing")
            self._happened("climbing")

    def _climb(self) -> None:
        told, hands = self._told, self._hands
        self._set("climb")
        hands.hold_heading()
        hands.hold_speed(told["climb_speed"], -4, 12)
        if told.get("blower", 0) != self._blower:
            self._enter("shifting blowers")
            self._happened("shifting blowers")
        self._level_off()

    def _level_off(self) -> None:
        climb = self._machine["velocities/h-dot-fps"] * 60
        if self._told["cruise_altitude"] - self._machine.altitude() < max(30.0, climb / 6):
            self._enter("levelling")
            self._happened("levelling")

    def _shift(self) -> None:
        """Throttles back, RPM down, the blowers shifted, and climb power again."""
        machine, hands = self._machine, self._hands
        hands.hold_heading()
        hands.hold_speed(self._told["climb_speed"], -4, 12)
        self._power = "shift"
        hands.set_power(SHIFT_PRESSURE)
        if machine["propulsion/engine[0]/map-inhg"] > SHIFT_PRESSURE + 1:
            return
        hands.set_rpm(SHIFT_RPM)
        if machine["propulsion/engine[0]/engine-rpm"] < SHIFT_RPM + 40:
            self._blower = self._told["blower"]
            for n in range(ENGINES):
                machine[f"propulsion/engine[{n}]/boost-speed"] = self._blower
            self._happened("blowers high" if self._blower else "blowers low")
            self._enter("climbing")

    def _level(self) -> None:
        hands = self._hands
        hands.hold_heading()
        hands.hold_altitude(self._told["cruise_altitude"])
        if self._in_phase() > 60:
            self._set("cruise", "cruise power set")
        else:
            self._set("climb")

    def _reject(self) -> None:
        hands, machine = self._hands, self._machine
        speed = machine["velocities/vg-fps"] / 1.68781
        hands.hold_line()
        hands.pull(0.0)
        hands.brake(1.0 if self._in_phase() > 0.7 else 0.0)
        reverse = self._in_phase() > 0.5 and speed > 50
        for n in range(ENGINES):
            hands.close_throttle(n)
            machine[f"fcs/reversed[{n}]"] = float(reverse)
        if speed < 0.5:
            self._enter("stopped")
            self._happened("stopped")

    def _stand(self) -> None:
        self._hands.hold_line()
        self._hands.brake(1.0)
        self._gauges.parking_brake |= self._in_phase() > 5


_STEPS: dict[Phase, Callable[[Autopilot], None]] = {
    "holding": Autopilot._hold,
    "setting power": Autopilot._set_power,
    "rolling": Autopilot._roll,
    "rotating": Autopilot._rotate,
    "climbing away": Autopilot._climb_away,
    "cleaning up": Autopilot._clean_up,
    "climbing": Autopilot._climb,
    "shifting blowers": Autopilot._shift,
    "levelling": Autopilot._level,
    "rejecting": Autopilot._reject,
    "stopped": Autopilot._stand,
}
