"""Print the ``tables:`` section of the Whimbrel Four's aircraft file.

The aircraft is invented; this is how its tables were worked out, kept so that they can be
worked out again. Speeds: stall speed goes with the square root of weight; every speed is a
multiple of a stall speed, not below a multiple of a minimum control speed, rounded up to a
whole knot. Power: the manifold pressure for a given mean effective pressure has one part for
the cylinders and one that falls with the ambient (exhaust) pressure, all of it times the
square root of the carburettor air's absolute temperature over 288.15 K. Full throttle:
ambient pressure times the pressure ratio of a centrifugal blower in standard air.

Run: ``python tests/tools/whimbrel_tables.py``
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Callable, Iterable, Sequence

STALL_SPEED_AT_80000_LB = {"up": 101.0, "ten": 94.0, "twenty": 89.0, "forty": 82.0}
MINIMUM_CONTROL_AIR, MINIMUM_CONTROL_LANDING = 87.0, 86.0

RATINGS = {  # rpm, bmep in psi
    "takeoff_wet": (2650, 212.0),
    "takeoff_dry": (2650, 190.0),
    "meto": (2450, 184.0),
    "climb": (2250, 159.0),
    "reduced_climb": (2250, 144.0),
    "cruise": (1950, 130.0),
}
FRICTION = {"low": 18.0, "high": 32.0}  # psi of mean effective pressure, blower drive included
CHARGE = 4.86  # psi of mean effective pressure for each inHg
EXHAUST = 0.12  # inHg of manifold pressure for each inHg of ambient pressure
GEAR = {"low": 7.5, "high": 9.6}
IMPELLER_DIAMETER, WORK_TIMES_EFFICIENCY, INTAKE = 0.300, 0.66, 0.96

CRUISE_SPEED, THINNER, HEAVIER = 188.0, 0.27, 0.00077
"""Knots at sea level and 52,000 lb, the power of thinner air, the share lost to 1,000 lb."""

GLIDE_SPEEDS = {44000: 104, 91500: 148}
CONTROL_SPEEDS = {900: (72, 75), 1300: (77, 80), 1600: (81, 84), 1950: (84, 87)}
BALANCE_LIMITS = {
    44000: (13.0, 32.0),
    62000: (14.5, 32.0),
    80000: (17.0, 32.0),
    91500: (19.5, 31.0),
}

COVERS = {"low": (-2000, 16000), "high": (6000, 24000)}  # ft
TEMPERATURES = (-45, -20, 0, 20, 45)


def ambient_pressure(altitude: float) -> float:
    """Standard pressure in inHg at a pressure altitude in feet (troposphere)."""
    return 29.92126 * (1 - 6.87559e-6 * altitude) ** 5.25588


def needed(rating: str, blower: str, altitude: float, carburettor: float) -> float:
    """Manifold pressure in inHg that gives the rating's power; temperature in degC."""
    cylinders = (RATINGS[rating][1] + FRICTION[blower]) / CHARGE
    exhaust = EXHAUST * ambient_pressure(altitude)
    return (cylinders + exhaust) * math.sqrt((carburettor + 273.15) / 288.15)


def full_throttle(rpm: float, blower: str, altitude: float) -> float:
    """Manifold pressure in inHg with the throttle open, in standard air."""
    tip_speed = math.pi * IMPELLER_DIAMETER * rpm * GEAR[blower] / 60
    temperature = 288.15 - 0.0019812 * altitude
    ratio = (1 + WORK_TIMES_EFFICIENCY * tip_speed**2 / (1005 * temperature)) ** 3.5
    return INTAKE * ratio * ambient_pressure(altitude)


def stall_speed(flap: str, weight: float) -> float:
    """Stall speed in knots at a weight in pounds."""
    return STALL_SPEED_AT_80000_LB[flap] * math.sqrt(weight / 80000)


def head(name: str, title: str, source: str) -> list[str]:
    """The first lines of a table."""
    folded = textwrap.wrap(f"source: {source}", 94, subsequent_indent="  ")
    return [f"  {name}:", f"    title: {title}", *(f"    {line}" for line in folded)]


def speeds(
    name: str,
    title: str,
    weight: str,
    rows: Iterable[int],
    columns: dict[str, tuple[str, float, float]],
) -> list[str]:
    """A table of speeds: each column is (flap, times stall speed, floor in knots)."""
    source = "invented; stall speed by the square root of weight, rounded up; " + "; ".join(
        f"{column} {times:.2f} x stall speed (flaps {flap}), at least {floor:.2f} kt"
        for column, (flap, times, floor) in columns.items()
    )
    lines = [*head(name, title, source), f"    by: {weight} in lb, next row up"]
    lines += ["    columns: " + ", ".join(f"{column} in kt" for column in columns), "    rows:"]
    for row in rows:
        cells = [
            math.ceil(max(times * stall_speed(flap, row), floor) - 1e-9)
            for flap, times, floor in columns.values()
        ]
        lines.append(f"      {row}: " + " ".join(map(str, cells)))
    return lines


def chart(
    name: str,
    title: str,
    axes: tuple[str, str],
    blocks: dict[str, Callable[[float, float], float]],
    rows: Sequence[int],
    covers: dict[str, tuple[int, int]],
) -> list[str]:
    """A chart of three axes: a choice, an altitude down, carburettor temperature across."""
    source = (
        "invented; constant power, falling with ambient pressure, in proportion to the "
        "square root of the carburettor air's absolute temperature"
    )
    lines = [*head(name, title, source), "    by:", f"      - {axes[0]}, exact"]
    lines += [f"      - {axes[1]} in ft, linear", "      - carburettor_temperature in degC, linear"]
    lines += ["    across: " + " ".join(map(str, TEMPERATURES)), "    gives: inHg", "    blocks:"]
    for block, value in blocks.items():
        lines.append(f"      {block}:")
        for row in rows:
            lowest, highest = covers.get(block, (min(rows), max(rows)))
            hole = not lowest <= row <= highest
            cells = ["-" if hole else f"{value(row, t):.1f}" for t in TEMPERATURES]
            lines.append(f"        {row}: " + (", " if hole else " ").join(cells))
    return lines


def throttle(name: str, title: str, rpm: int, altitude: str, rows: Iterable[int]) -> list[str]:
    """A table of full-throttle manifold pressure by altitude and blower."""
    source = (
        f"invented; blower in standard air at {rpm} rpm, "
        "pressure ratio from the square of the tip speed"
    )
    lines = [*head(name, title, source), "    by:", f"      - {altitude} in ft, linear"]
    lines += ["      - blower, exact", "    across: low high", "    gives: inHg", "    rows:"]
    for row in rows:
        cells = [f"{full_throttle(rpm, blower, row):.1f}" for blower in GEAR]
        lines.append(f"      {row}: " + " ".join(cells))
    return lines


def control_speeds() -> list[str]:
    """Minimum control speeds by power."""
    source = "invented; rising with the power of the other engines, not with weight"
    lines = head("minimum_control_speeds", "minimum control speeds, an outer engine out", source)
    lines += ["    by: takeoff_horsepower in hp, linear", "    columns: ground in kt, air in kt"]
    rows = [f"      {hp}: {ground} {air}" for hp, (ground, air) in CONTROL_SPEEDS.items()]
    return [*lines, "    rows:", *rows]


def balance() -> list[str]:
    """Limits of the centre of gravity by weight."""
    title = "limits of the centre of gravity, per cent of the mean chord"
    lines = head("balance_limits", title, "invented")
    lines += ["    by: gross_weight in lb, linear", "    columns: forward in %, aft in %"]
    rows = [f"      {lb}: {forward} {aft}" for lb, (forward, aft) in BALANCE_LIMITS.items()]
    return [*lines, "    rows:", *rows]


def glide_speeds() -> list[str]:
    """Best glide speed by weight."""
    title = "best glide speed, propellers feathered"
    lines = head("glide_speeds", title, "invented; linear in weight")
    lines += ["    by: gross_weight in lb, linear", "    gives: kt", "    rows:"]
    return [*lines, *(f"      {lb}: {knots}" for lb, knots in GLIDE_SPEEDS.items())]


def cruise_speeds() -> list[str]:
    """True airspeed at cruise power by altitude and weight."""
    weights = (52000, 70000, 91500)
    source = "invented; faster in thinner air, slower with weight and the more so in thinner air"
    lines = head("cruise_speeds", "true airspeed at cruise power", source)
    lines += ["    by:", "      - cruise_altitude in ft, linear"]
    lines += ["      - gross_weight in lb, linear"]
    lines += ["    across: " + " ".join(map(str, weights)), "    gives: kt", "    rows:"]
    for altitude in range(4000, 24001, 4000):
        sigma = (1 - 6.87559e-6 * altitude) ** 4.25588
        cells = [
            CRUISE_SPEED * sigma**-THINNER * (1 - HEAVIER * (weight - 52000) / 1000 * sigma**-0.6)
            for weight in weights
        ]
        lines.append(f"      {altitude}: " + " ".join(f"{cell:.0f}" for cell in cells))
    return lines


def by_blower(rating: str) -> dict[str, Callable[[float, float], float]]:
    """The two blocks of a chart by blower."""
    return {b: lambda h, t, b=b: needed(rating, b, h, t) for b in GEAR}  # type: ignore[misc]


def section() -> str:
    """The whole ``tables:`` section as text."""
    takeoff = [*range(52000, 90001, 2000), 91500]
    landing = [*range(44000, 90001, 2000), 91500]
    air, approach = MINIMUM_CONTROL_AIR, MINIMUM_CONTROL_LANDING
    lines = ["tables:"]
    for flap in ("ten", "twenty"):
        lines += speeds(
            f"takeoff_speeds_flaps_{flap}",
            f"take-off speeds, flaps {flap}",
            "gross_weight",
            takeoff,
            {"rotate_speed": (flap, 1.10, 1.05 * air), "safety_speed": (flap, 1.20, 1.10 * air)},
        )
    lines += speeds(
        "flap_speeds",
        "flap retraction and climb speeds",
        "gross_weight",
        takeoff,
        {
            "flaps_ten_speed": ("ten", 1.20, 1.15 * air),
            "flaps_up_speed": ("up", 1.25, 1.20 * air),
            "climb_speed": ("up", 1.45, 1.35 * air),
        },
    )
    lines += speeds(
        "landing_speeds",
        "landing speeds",
        "landing_weight",
        landing,
        {
            "reference_speed": ("forty", 1.30, 1.10 * approach),
            "three_engine_reference_speed": ("twenty", 1.30, 1.20 * approach),
        },
    )
    lines += [*control_speeds(), *balance(), *glide_speeds(), *cruise_speeds()]
    high = range(-2000, 24001, 2000)
    lines += chart(
        "takeoff_chart",
        "take-off manifold pressure for rated power, low blower",
        ("takeoff_power", "pressure_altitude"),
        {
            "wet": lambda h, t: needed("takeoff_wet", "low", h, t),
            "dry": lambda h, t: needed("takeoff_dry", "low", h, t),
        },
        range(-2000, 10001, 2000),
        {},
    )
    for rating, title in (
        ("meto", "METO power"),
        ("climb", "climb power"),
        ("reduced_climb", "reduced climb power"),
    ):
        lines += chart(
            f"{rating}_chart",
            f"manifold pressure for {title}",
            ("blower", "pressure_altitude"),
            by_blower(rating),
            high,
            COVERS,
        )
    lines += chart(
        "cruise_chart",
        "manifold pressure for cruise power",
        ("blower", "cruise_altitude"),
        by_blower("cruise"),
        range(4000, 24001, 2000),
        COVERS,
    )
    for name, altitude, rows in (
        ("takeoff", "pressure_altitude", range(-2000, 10001, 2000)),
        ("meto", "pressure_altitude", high),
        ("climb", "pressure_altitude", high),
        ("cruise", "cruise_altitude", range(4000, 24001, 2000)),
    ):
        rpm = RATINGS["takeoff_wet" if name == "takeoff" else name][0]
        spoken = {"takeoff": "take-off", "meto": "METO"}.get(name, name)
        title = f"full-throttle manifold pressure at {spoken} RPM"
        lines += throttle(f"{name}_full_throttle", title, rpm, altitude, rows)
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    print(section(), end="")
