"""What a flight is given: the load, the air, the wind and the runway, in the model's units."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from runner.errors import RunnerError

if TYPE_CHECKING:
    from runner.figures.sheet import Worked

HOLDS = ("cargo_forward", "cargo_centre", "cargo_aft")
FLAP_DEGREES = {"ten": 10.0, "twenty": 20.0}


@dataclass(frozen=True, slots=True)
class Day:
    """Weights in pounds, elevation in feet, pressure in inHg, degC, degrees and knots."""

    cargo: tuple[float, float, float]
    fuel: float
    elevation: float
    qnh: float
    temperature: float
    carburettor_rise: float
    runway: float
    wind_from: float
    wind: float
    gust: float
    surface: str
    takeoff_flap: float

    def wind_parts(self, speed: float) -> tuple[float, float]:
        """Where the wind blows to at a speed in knots: north and east, ft/s."""
        towards = math.radians(self.wind_from + 180)
        feet = speed * 1.687810
        return feet * math.cos(towards), feet * math.sin(towards)


def day_of(worked: Worked) -> Day:
    """The day of a sheet. Raises RunnerError where a weight cannot be loaded."""
    values = worked.values
    missing = [name for name in _NEEDED if name not in values]
    if missing:
        raise RunnerError(
            f"{worked.aircraft.name} cannot be flown without {missing[0]}: "
            f"{worked.problems.get(missing[0], 'the aircraft file has no such input')}"
        )
    outside = _number(values, "outside_temperature")
    return Day(
        cargo=_cargo(values),
        fuel=_number(values, "fuel_on_board"),
        elevation=_number(values, "airfield_elevation"),
        qnh=_number(values, "qnh"),
        temperature=outside,
        carburettor_rise=_number(values, "carburettor_temperature") - outside,
        runway=_number(values, "runway_direction"),
        wind_from=_number(values, "wind_direction"),
        wind=_number(values, "wind_speed"),
        gust=_number(values, "wind_gust"),
        surface=str(values["runway_surface"]),
        takeoff_flap=FLAP_DEGREES[str(values["takeoff_flap"])],
    )


_NEEDED = (
    *HOLDS,
    "gross_weight",
    "basic_weight",
    "fuel_on_board",
    "airfield_elevation",
    "qnh",
    "outside_temperature",
    "carburettor_temperature",
    "runway_direction",
    "wind_direction",
    "wind_speed",
    "wind_gust",
    "runway_surface",
    "takeoff_flap",
)


def _number(values: Mapping[str, float | str], name: str) -> float:
    return float(values[name])


def _cargo(values: Mapping[str, float | str]) -> tuple[float, float, float]:
    """The holds' weights; a gross weight that is not the load's is loaded in their proportion."""
    holds = [_number(values, name) for name in HOLDS]
    wanted = (
        _number(values, "gross_weight")
        - _number(values, "basic_weight")
        - _number(values, "fuel_on_board")
    )
    if wanted < 0:
        raise RunnerError(
            f"a gross weight of {_number(values, 'gross_weight'):.0f} lb is less than the empty "
            f"aircraft and its fuel: give {_number(values, 'gross_weight') - wanted:.0f} lb or "
            "more, or less fuel_on_board"
        )
    whole = sum(holds)
    shares = [hold / whole if whole else 1 / 3 for hold in holds]
    return (wanted * shares[0], wanted * shares[1], wanted * shares[2])
