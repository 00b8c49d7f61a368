"""An invented aircraft of a few lines with pictures, for the tests of cards and pictures."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from figures_aircraft import aircraft, choice, figure, number
from runner.figures.expression import parse
from runner.figures.model import (
    Aircraft,
    Axis,
    Chart,
    Envelope,
    FigureRule,
    Input,
    Picture,
    Schedule,
    Steps,
    Table,
)

POWER = Table(
    "power_chart",
    (
        Axis("gear", "", ("low", "high"), "exact"),
        Axis("altitude", "ft", (0.0, 4000.0, 8000.0), "linear"),
        Axis("outside_temperature", "degC", (-20.0, 0.0, 20.0), "linear"),
    ),
    (("pressure", "inHg"),),
    (
        *(40.0, 41.0, 42.0, 38.0, 39.0, 40.0, None, None, None),
        *(None, None, None, 43.0, 44.0, 45.0, 41.0, 42.0, 43.0),
    ),
    "invented",
)
SPEED = Table(
    "speed_chart",
    (Axis("weight", "lb", (3000.0, 4000.0, 5000.0), "next row up"),),
    (("rotate", "kt"),),
    (60.0, 70.0, 78.0),
    "invented",
)
STEP = Table(
    "step_chart",
    (Axis("weight", "lb", (3000.0, 4000.0, 5000.0), "exact"),),
    (("rotate", "kt"),),
    (60.0, 70.0, 78.0),
    "invented",
)
FRONT = Table(
    "front",
    (Axis("weight", "kg", (1000.0, 2000.0, 3000.0), "linear"),),
    (("arm", "in"),),
    (80.0, 80.0, 85.0),
    "invented",
)
REAR = Table(
    "rear",
    (Axis("weight", "kg", (1000.0, 3000.0), "linear"),),
    (("arm", "in"), ("other", "in")),
    (95.0, 1.0, 95.0, 2.0),
    "invented",
)

INPUTS = (
    number("weight", "lb", 2000.0, 9000.0, 4200.0),
    number("altitude", "ft", -1000.0, 20000.0, 1000.0),
    number("top", "ft", -1000.0, 20000.0, 8000.0),
    number("arm", "in", default=88.0, decimals=1),
    number("wind_direction", "deg", 0.0, 360.0),
    number("wind_speed", "kt", 0.0, 60.0, 5.0),
    number("wind_gust", "kt", 0.0, 80.0, 0.0),
    number("outside_temperature", "degC", -60.0, 50.0, 10.0, decimals=1),
    number("qnh", "inHg", 25.0, 33.0, 29.92, decimals=2),
    choice("gear", ("low", "high"), formula="low if altitude < 4000 ft else high"),
)
FIGURES = (
    figure("rotate", "speed_chart.rotate(weight)", "kt", round_="up", low="62 kt", group="Speeds"),
    figure(
        "pressure",
        "power_chart(gear, altitude, outside_temperature)",
        "inHg",
        round_="down",
        step=0.1,
        decimals=1,
        high="46 inHg",
        group="Power",
    ),
    figure("draught", "altitude / 1000 ft * 2 kt", "kt", group="Power"),
    figure("spare", "pressure - 30 inHg", "inHg", decimals=1, step=0.1),
)
CLIMB = Schedule(
    "climb",
    "planned climb",
    "altitude",
    parse("altitude"),
    parse("top"),
    1000.0,
    ("gear", "pressure", "draught", "spare"),
    (("outside_temperature", parse("outside_temperature - 2 degC * (at - altitude) / 1000 ft")),),
    (("pressure", 2.0),),
)
PICTURES: tuple[Picture, ...] = (
    Chart(
        "power",
        "climb power",
        "power_chart",
        "pressure",
        "altitude",
        "outside_temperature",
        "pressure",
    ),
    Chart("speeds", "rotation speed", "speed_chart", "rotate", "weight", "", "rotate"),
    Envelope("balance", "balance envelope", "arm", "weight", "front", "rear.arm"),
    Steps("steps", "power in the climb", "climb", ("pressure", "draught", "spare")),
)


def craft(
    pictures: Iterable[Picture] = PICTURES,
    inputs: Iterable[Input] = INPUTS,
    figures: Iterable[FigureRule] = FIGURES,
) -> Aircraft:
    """The aircraft, with these pictures."""
    whole = aircraft(inputs, figures, (POWER, SPEED, STEP, FRONT, REAR))
    return replace(
        whole,
        schedules={CLIMB.name: CLIMB},
        pictures={one.name: one for one in pictures},
    )
