"""What the autopilot is told, as a pilot is told it: speeds, powers, a height and a blower."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from runner.errors import RunnerError

if TYPE_CHECKING:
    from runner.figures.sheet import Worked

REQUIRED = (
    "takeoff_manifold_pressure",
    "takeoff_rpm",
    "takeoff_power_time",
    "decision_speed",
    "rotate_speed",
    "safety_speed",
    "flaps_up_speed",
    "climb_speed",
    "meto_manifold_pressure",
    "meto_rpm",
    "climb_manifold_pressure",
    "climb_rpm",
    "cruise_manifold_pressure",
    "cruise_rpm",
    "cruise_altitude",
)
OPTIONAL = ("flaps_ten_speed", "blower", "brake_release", "climb_power", "reject")
"""Those not said on every flight: flaps ten has no speed where it is the take-off flap;
``blower`` is 0 for low and 1 for high; ``brake_release`` and ``climb_power`` of 1 are the words
to begin the take-off and to set climb power, and ``reject`` of 1 is that to stop."""

NAMES = (*REQUIRED, *OPTIONAL)
BLOWERS = {"low": 0.0, "high": 1.0}


def targets_of(worked: Worked) -> dict[str, float]:
    """The targets of a sheet, rounded as they are said.

    Raises RunnerError with the sheet's own reason where one cannot be worked out.
    """
    told: dict[str, float] = {}
    for name in (*REQUIRED, "flaps_ten_speed"):
        figure = worked.figures.get(name)
        if figure is not None:
            told[name] = float(figure.value)
        elif name in REQUIRED:
            reason = worked.problems.get(name, "the aircraft file has no such figure")
            raise RunnerError(f"the flight cannot be flown without {name}: {reason}")
    told["blower"] = BLOWERS[str(worked.values.get("blower", "low"))]
    return told


def check_target(name: str, value: float) -> None:
    """Raise RunnerError where there is no such target or its value cannot be."""
    if name not in NAMES:
        raise RunnerError(f"there is no target {name}; there are {', '.join(NAMES)}")
    if not 0 <= value <= 60000:
        raise RunnerError(f"{name} must be 0 to 60000, not {value:g}")


def told_from(pairs: Mapping[str, float]) -> dict[str, float]:
    """The targets of pairs, each checked."""
    for name, value in pairs.items():
        check_target(name, value)
    return dict(pairs)
