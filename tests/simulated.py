"""Simulated flights of the shipped aircraft, flown once for all who ask about them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from runner.checklist.load import find_file, load_aircraft
from runner.figures.given import read_given
from runner.figures.sheet import Sheet, Worked
from runner.simulation.flight import Failure, SimulatedFlight

AIRCRAFT = load_aircraft(find_file("whimbrel-four-aircraft", ("checklists",)))
SHEET = Sheet(AIRCRAFT)
DISPLACEMENT = 2690.0
ENGINES = (1, 2, 3, 4)
RATE = 20
"""Records a second that are kept."""

DAYS = {
    "the file's own day": "",
    "heavy, hot and high": "gross_weight=85000lb airfield_elevation=3500ft "
    "outside_temperature=30degC wind_speed=0kt",
    "light and cold": "gross_weight=62000lb outside_temperature=-5degC qnh=30.40inHg",
    "dry power, flaps ten": "gross_weight=70000lb takeoff_power=dry takeoff_flap=ten",
}


@dataclass(frozen=True)
class Flown:
    """A flight, its records in order, the feet rolled at each, and its sheet before the start."""

    flight: SimulatedFlight
    records: tuple[dict[str, float], ...]
    rolled: tuple[float, ...]
    worked: Worked

    def when(self, what: str) -> float:
        """The simulated second at which something happened."""
        return next(one.sim_seconds for one in self.flight.events if one.what == what)

    def at(self, seconds: float) -> dict[str, float]:
        """The first record at that second or after."""
        return next(one for one in self.records if one["sim_seconds"] >= seconds)

    def between(self, begin: float, end: float) -> list[dict[str, float]]:
        """The records of a span of seconds."""
        return [one for one in self.records if begin <= one["sim_seconds"] <= end]

    def figure(self, name: str) -> float:
        """A figure of the sheet."""
        return float(self.worked.figures[name].value)

    def bmep(self, engine: int) -> float:
        """BMEP in psi worked back from JSBSim's own horsepower and RPM, at the end."""
        node = f"propulsion/engine[{engine - 1}]/"
        power = self.flight.property(node + "power-hp")
        return power * 792000 / (DISPLACEMENT * self.flight.property(node + "engine-rpm"))


def given(pairs: str) -> dict[str, float | str]:
    """Inputs as they are typed."""
    return dict(read_given(AIRCRAFT, pairs.split()))


@cache
def fly(
    pairs: str = "",
    seconds: float = 480,
    failure: Failure | None = None,
    reject: float | None = None,
    seed: int = 0,
) -> Flown:
    """A flight of so many seconds, or until it has stopped after a rejected take-off."""
    inputs = given(pairs)
    flight = SimulatedFlight(AIRCRAFT, inputs, hold=1.0, failure=failure, reject=reject, seed=seed)
    records, rolled = [flight.record()], [0.0]
    while flight.sim_seconds < seconds and flight.phase != "stopped":
        flight.advance(1 / RATE)
        records.append(flight.record())
        rolled.append(rolled[-1] + flight.property("velocities/vg-fps") / RATE)
    return Flown(flight, tuple(records), tuple(rolled), SHEET.work_out(inputs))
