"""Print the ``tables:`` section of the Sanderling's aircraft file.

The aircraft is invented; this is how its tables were worked out, kept so that they can be
worked out again. The full-throttle torque of the engine falls with the density ratio as Gagg
and Farrar's rule has it (SAE Transactions 29, 1934; from memory). The propeller has a power
coefficient that falls as the aircraft moves further in each turn, and a thrust coefficient
that is linear in it; the RPM is where engine and propeller agree. Drag is parasitic and
induced. A take-off run, a climb and a cruise follow from these by summing small steps.

Run: ``python tests/tools/sanderling_tables.py``
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Callable, Iterable, Sequence

KNOT = 1852 / 0.3048 / 3600  # ft/s
GRAVITY, SEA_LEVEL_DENSITY = 32.174, 0.0023769  # ft/s2, slug/ft3

MAXIMUM_WEIGHT = 2450.0  # lb
WING_AREA, ASPECT_RATIO, SPAN_EFFICIENCY = 170.0, 7.0, 0.74  # ft2
DRAG_AT_NO_LIFT = {"up": 0.031, "ten": 0.040}
STALL_SPEEDS = {"up": 52.0, "ten": 49.5, "twenty": 47.5, "thirty": 46.0}  # kt at MAXIMUM_WEIGHT

RATED_POWER, RATED_RPM = 156.0, 2700.0  # hp
PROPELLER_DIAMETER, POWER_AT_REST, NO_POWER_AT = 6.25, 0.0580, 1.06
THRUST_OF_POWER, THRUST_OF_ADVANCE = 1.70, -0.054
LEAN_CONSUMPTION, RICH_CONSUMPTION = 0.455, 0.545  # lb/hp/h
FUEL_DENSITY = 6.0  # lb/gal

ROLLING_FRICTION, GROUND_LIFT = 0.03, 0.35
ROTATE, OBSTACLE, REFERENCE, TOUCHDOWN = 1.10, 1.22, 1.30, 1.15  # times the stall speed
BRAKING, APPROACH_SLOPE = 0.24, 0.085

LONGEST_TAKEOFF = 8000  # ft

WEIGHTS = (1500, 1700, 1900, 2100, 2300, 2450)
TEMPERATURES = (-30, -15, 0, 15, 30, 45)
FIELDS = range(-2000, 10001, 2000)
DENSITY_ALTITUDES = range(-8000, 16001, 2000)
CRUISE_RPM = range(2100, 2601, 100)

BALANCE_LIMITS = {1500: (84.0, 95.0), 2000: (84.0, 95.0), 2450: (88.5, 95.0)}
CALIBRATION = {  # calibrated to indicated, kt
    30: (21, 22),
    40: (34, 35),
    50: (47, 48),
    60: (59, 59),
    70: (70, 70),
    80: (81, 80),
    90: (91, 90),
    110: (111, 110),
    130: (132, 131),
    160: (162, 161),
}


def density_ratio(altitude: float, temperature: float | None = None) -> float:
    """Density over that of sea level, standard air where no temperature (degC) is given."""
    delta = (1 - 6.87559e-6 * altitude) ** 5.25588
    kelvin = 288.15 - 0.0019812 * altitude if temperature is None else temperature + 273.15
    return delta * 288.15 / kelvin


def full_throttle_share(sigma: float) -> float:
    """Torque at full throttle over that at sea level."""
    return 1.132 * sigma - 0.132


def power_coefficient(advance: float) -> float:
    """Power coefficient of the propeller at an advance ratio."""
    return POWER_AT_REST * (1 - (advance / NO_POWER_AT) ** 3)


def thrust(speed: float, turns: float, sigma: float) -> float:
    """Thrust in lbf at a true speed in ft/s and turns a second."""
    advance = speed / (turns * PROPELLER_DIAMETER)
    coefficient = THRUST_OF_POWER * power_coefficient(advance) + THRUST_OF_ADVANCE * advance**2
    return coefficient * sigma * SEA_LEVEL_DENSITY * turns**2 * PROPELLER_DIAMETER**4


def propeller_power(speed: float, turns: float, sigma: float) -> float:
    """Horsepower that the propeller takes."""
    coefficient = power_coefficient(speed / (turns * PROPELLER_DIAMETER))
    density = sigma * SEA_LEVEL_DENSITY
    return coefficient * density * turns**3 * PROPELLER_DIAMETER**5 / 550


def engine_power(turns: float, sigma: float) -> float:
    """Horsepower of the engine at full throttle."""
    return RATED_POWER * turns * 60 / RATED_RPM * full_throttle_share(sigma)


def root(function: Callable[[float], float], low: float, high: float) -> float:
    """Where a falling function is 0."""
    for _ in range(80):
        middle = (low + high) / 2
        low, high = (middle, high) if function(middle) > 0 else (low, middle)
    return (low + high) / 2


def full_throttle_turns(speed: float, sigma: float) -> float:
    """Turns a second at full throttle, not above the rated ones."""
    turns = root(lambda n: engine_power(n, sigma) - propeller_power(speed, n, sigma), 15, 80)
    return min(turns, RATED_RPM / 60)


def drag(speed: float, weight: float, sigma: float, flap: str = "up") -> float:
    """Drag in lbf in level flight at a true speed in ft/s."""
    pressure = 0.5 * sigma * SEA_LEVEL_DENSITY * speed**2 * WING_AREA
    lift = weight / pressure
    induced = lift**2 / (math.pi * SPAN_EFFICIENCY * ASPECT_RATIO)
    return pressure * (DRAG_AT_NO_LIFT[flap] + induced)


def excess(speed: float, weight: float, sigma: float, flap: str = "up") -> float:
    """Thrust above drag in lbf at full throttle."""
    turns = full_throttle_turns(speed, sigma)
    return thrust(speed, turns, sigma) - drag(speed, weight, sigma, flap)


def stall_speed(flap: str, weight: float) -> float:
    """Calibrated stall speed in kt."""
    return STALL_SPEEDS[flap] * math.sqrt(weight / MAXIMUM_WEIGHT)


def true_speed(knots: float, sigma: float) -> float:
    """True speed in ft/s of a calibrated one in kt."""
    return knots * KNOT / math.sqrt(sigma)


def takeoff_run(flap: str, weight: float, sigma: float) -> float:
    """Ground run in ft on a level, paved, dry runway without wind."""
    lift_off = true_speed(ROTATE * stall_speed(flap, weight), sigma)
    distance, steps = 0.0, 200
    for step in range(steps):
        speed = lift_off * (step + 0.5) / steps
        pressure = 0.5 * sigma * SEA_LEVEL_DENSITY * speed**2 * WING_AREA
        induced = GROUND_LIFT**2 / (math.pi * SPAN_EFFICIENCY * ASPECT_RATIO) * 0.5
        resistance = pressure * (DRAG_AT_NO_LIFT[flap] + induced)
        resistance += ROLLING_FRICTION * max(0.0, weight - pressure * GROUND_LIFT)
        forward = thrust(speed, full_throttle_turns(speed, sigma), sigma) - resistance
        distance += speed * (lift_off / steps) / (forward * GRAVITY / weight)
    return distance


def takeoff_air_distance(flap: str, weight: float, sigma: float) -> float:
    """Ground covered from lift-off to 50 ft in ft, gaining speed."""
    start = true_speed(ROTATE * stall_speed(flap, weight), sigma)
    end = true_speed(OBSTACLE * stall_speed(flap, weight), sigma)
    energy = 50 + (end**2 - start**2) / (2 * GRAVITY)
    return energy * weight / excess((start + end) / 2, weight, sigma, flap)


def best_speed(weight: float, sigma: float, *, angle: bool) -> float:
    """Calibrated speed in kt of the steepest or the fastest climb; 1.2 x stall at the least."""
    lowest = 1.2 * stall_speed("up", weight)
    speeds = [lowest + 0.1 * step for step in range(600)]
    return max(
        speeds,
        key=lambda kt: (
            excess(true_speed(kt, sigma), weight, sigma) * (1.0 if angle else true_speed(kt, sigma))
        ),
    )


def climb_targets(sigma: float) -> tuple[str, str, str]:
    """Speeds in kt of the fastest and the steepest climb and the RPM of the first."""
    fastest, steepest = (best_speed(MAXIMUM_WEIGHT, sigma, angle=angle) for angle in (False, True))
    rpm = 60 * full_throttle_turns(true_speed(fastest, sigma), sigma)
    return f"{fastest:.1f}", f"{steepest:.1f}", f"{rpm:.0f}"


def climb_rate(weight: float, sigma: float) -> float:
    """Rate of climb in ft/min at full throttle and the fastest climb's speed."""
    speed = true_speed(best_speed(weight, sigma, angle=False), sigma)
    return excess(speed, weight, sigma) / weight * speed * 60


def cruise(rpm: float, sigma: float) -> tuple[float, float] | None:
    """True airspeed in kt and power over the rated one in level flight at MAXIMUM_WEIGHT.

    None where the engine cannot turn so fast there, or level flight is not possible.
    """
    turns = rpm / 60
    slowest = true_speed(1.2 * STALL_SPEEDS["up"], sigma)

    def spare(speed: float) -> float:
        return thrust(speed, turns, sigma) - drag(speed, MAXIMUM_WEIGHT, sigma)

    start = max((slowest + 2.0 * step for step in range(60)), key=spare)
    if spare(start) <= 0:
        return None
    speed = root(spare, start, 400)
    power = propeller_power(speed, turns, sigma)
    if power > engine_power(turns, sigma):
        return None
    return speed / KNOT, power / RATED_POWER


def landing(weight: float, sigma: float) -> tuple[float, float]:
    """Landing run and distance from 50 ft in ft, flaps thirty, level, paved, dry, no wind."""
    stall = stall_speed("thirty", weight)
    over, down = (true_speed(times * stall, sigma) for times in (REFERENCE, TOUCHDOWN))
    run = down**2 / (2 * BRAKING * GRAVITY)
    return run, run + (50 + (over**2 - down**2) / (2 * GRAVITY)) / APPROACH_SLOPE


def up_to(step: float, value: float) -> float:
    """Rounded up to a step."""
    return math.ceil(value / step - 1e-9) * step


def head(name: str, title: str, source: str) -> list[str]:
    """The first lines of a table."""
    folded = textwrap.wrap(f"source: {source}", 94, subsequent_indent="  ")
    return [f"  {name}:", f"    title: {title}", *(f"    {line}" for line in folded)]


def distance(flap: str, weight: float, sigma: float) -> float:
    """Take-off distance to 50 ft in ft; none (infinite) where it hardly climbs."""
    found = takeoff_run(flap, weight, sigma) + takeoff_air_distance(flap, weight, sigma)
    return found if 0 < found <= LONGEST_TAKEOFF else math.inf


def blocks(
    name: str, title: str, flap: str, value: Callable[[str, float, float], float], step: float
) -> list[str]:
    """A table in feet by weight, pressure altitude and temperature."""
    source = (
        f"invented; flaps {flap}, full throttle, level, paved, dry, no wind; thrust less drag and "
        f"friction summed over the run, rounded up; - above {LONGEST_TAKEOFF} ft"
    )
    lines = [*head(name, title, source), "    by:", "      - gross_weight in lb, linear"]
    lines += [
        "      - pressure_altitude in ft, linear",
        "      - outside_temperature in degC, linear",
    ]
    lines += ["    across: " + " ".join(map(str, TEMPERATURES)), "    gives: ft", "    blocks:"]
    for weight in WEIGHTS:
        lines.append(f"      {weight}:")
        for field in FIELDS:
            cells = [value(flap, weight, density_ratio(field, t)) for t in TEMPERATURES]
            texts = ["-" if cell == math.inf else f"{up_to(step, cell):.0f}" for cell in cells]
            shown = (", " if "-" in texts else " ").join(texts)
            lines.append(f"        {field}: {shown}")
    return lines


def grid(
    head_lines: list[str],
    axes: tuple[str, str],
    across: Sequence[int],
    gives: str,
    rows: Iterable[int],
    cell: Callable[[int, int], str],
) -> list[str]:
    """A table of two axes."""
    lines = [*head_lines, "    by:", *(f"      - {axis}, linear" for axis in axes)]
    lines += ["    across: " + " ".join(map(str, across)), f"    gives: {gives}", "    rows:"]
    for row in rows:
        cells = [cell(row, column) for column in across]
        lines.append(f"      {row}: " + (", " if "-" in cells else " ").join(cells))
    return lines


def columns(
    head_lines: list[str], axis: str, names: str, rows: dict[int, Sequence[float]], decimals: int
) -> list[str]:
    """A table of one axis and several columns."""
    lines = [*head_lines, f"    by: {axis}, linear", f"    columns: {names}", "    rows:"]
    return [
        *lines,
        *(f"      {row}: " + " ".join(f"{v:.{decimals}f}" for v in r) for row, r in rows.items()),
    ]


def speeds() -> list[str]:
    """Stall speeds, calibration and climb speeds."""
    lines = columns(
        head(
            "stall_speeds",
            "stall speed, calibrated, wings level, power off",
            "invented; by the square root of weight from 2450 lb",
        ),
        "gross_weight in lb",
        "flaps_up in kt, flaps_ten in kt, flaps_twenty in kt, flaps_thirty in kt",
        {w: [stall_speed(f, w) for f in STALL_SPEEDS] for w in range(1500, 2401, 100)}
        | {2450: [stall_speed(f, 2450) for f in STALL_SPEEDS]},
        1,
    )
    lines += columns(
        head("indicated_speeds", "indicated of calibrated airspeed", "invented"),
        "calibrated_speed in kt",
        "flaps_up in kt, flaps_down in kt",
        dict(CALIBRATION),
        0,
    )
    lines += head(
        "climb_speeds",
        "calibrated speeds of the fastest and the steepest climb at 2450 lb, and RPM",
        "invented; where thrust less drag gives the most height a minute and a mile, full "
        "throttle, flaps up",
    )
    lines += ["    by: density_altitude in ft, linear"]
    lines += ["    columns: rate in kt, angle in kt, rpm in rpm", "    rows:"]
    rows = ((h, climb_targets(density_ratio(h))) for h in DENSITY_ALTITUDES)
    return [*lines, *(f"      {h}: " + " ".join(cells) for h, cells in rows)]


def takeoff() -> list[str]:
    """Take-off runs and distances over 50 ft."""
    lines: list[str] = []
    for flap in ("up", "ten"):
        lines += blocks(
            f"takeoff_runs_flaps_{flap}", f"take-off run, flaps {flap}", flap, takeoff_run, 5
        )
        lines += blocks(
            f"takeoff_distances_flaps_{flap}",
            f"take-off distance to 50 ft, flaps {flap}",
            flap,
            distance,
            5,
        )
    return lines


def in_flight() -> list[str]:
    """Climb, cruise and fuel flow."""
    lines = grid(
        head(
            "climb_rates",
            "rate of climb, full throttle",
            "invented; thrust less drag, over weight, at the speed of the fastest climb, flaps up, "
            "rounded down",
        ),
        ("density_altitude in ft", "gross_weight in lb"),
        WEIGHTS,
        "ft/min",
        DENSITY_ALTITUDES,
        lambda h, w: f"{math.floor(climb_rate(w, density_ratio(h)) / 5) * 5}",
    )
    source = (
        "invented; where the propeller's thrust at that RPM is the drag at 2450 lb; - where the "
        "throttle is wide open before"
    )
    for name, title, gives, part, times in (
        ("cruise_powers", "power in level flight over the rated power", "%", 1, 100),
        ("cruise_speeds", "true airspeed in level flight", "kt", 0, 1),
    ):

        def cell(h: int, rpm: int, part: int = part, times: int = times) -> str:
            found = cruise(rpm, density_ratio(h))
            return "-" if found is None else f"{found[part] * times:.1f}"

        lines += grid(
            head(name, title, source),
            ("cruise_density_altitude in ft", "cruise_rpm in rpm"),
            CRUISE_RPM,
            f'"{gives}"' if gives == "%" else gives,
            range(-4000, 14001, 2000),
            cell,
        )
    flows: dict[int, Sequence[float]] = {}
    for share in range(35, 86, 5):
        power = RATED_POWER * share / 100
        flows[share] = [
            up_to(0.1, power * each / FUEL_DENSITY) for each in (LEAN_CONSUMPTION, RICH_CONSUMPTION)
        ]
    flows[100] = [up_to(0.1, RATED_POWER * RICH_CONSUMPTION / FUEL_DENSITY)] * 2
    return lines + columns(
        head(
            "fuel_flows",
            "fuel flow by power",
            f"invented; {LEAN_CONSUMPTION} lb/hp/h leaned and {RICH_CONSUMPTION} full rich, fuel "
            "of 6 lb/gal, rounded up; above 85 per cent never leaned",
        ),
        "cruise_power in %",
        "lean in gph, rich in gph",
        flows,
        1,
    )


def landings() -> list[str]:
    """Landing run and distance, and the balance limits."""
    lines: list[str] = []
    source = (
        "invented; flaps thirty, level, paved, dry, no wind; uniform braking from "
        f"{TOUCHDOWN} x stall speed, rounded up"
    )
    for name, title, part in (
        ("landing_runs", "landing run", 0),
        ("landing_distances", "landing distance from 50 ft", 1),
    ):
        lines += grid(
            head(name, title, source),
            ("destination_density_altitude in ft", "landing_weight in lb"),
            WEIGHTS,
            "ft",
            DENSITY_ALTITUDES,
            lambda h, w, part=part: f"{up_to(5, landing(w, density_ratio(h))[part]):.0f}",  # type: ignore[misc]
        )
    return lines + columns(
        head("balance_limits", "limits of the centre of gravity behind the datum", "invented"),
        "gross_weight in lb",
        "forward in in, aft in in",
        dict(BALANCE_LIMITS),
        1,
    )


def section() -> str:
    """The whole ``tables:`` section as text."""
    lines = ["tables:", *speeds(), *takeoff(), *in_flight(), *landings()]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    print(section(), end="")
