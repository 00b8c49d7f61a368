"""The names, tables and values that the tests of formulas work with."""

from __future__ import annotations

from figures_aircraft import POWER, SPEEDS
from runner.figures.expression import (
    Expression,
    Scope,
    parse,
)
from runner.figures.scope import number_type, word_type

SCOPE = Scope(
    {
        "weight": number_type("lb"),
        "temperature": number_type("degC"),
        "outside": number_type("degF"),
        "deviation": number_type("degC", difference=True),
        "absolute": number_type("K"),
        "altitude": number_type("ft"),
        "speed": number_type("kt"),
        "bmep": number_type("psi"),
        "rpm": number_type("rpm"),
        "track": number_type("deg"),
        "share": number_type("%"),
        "x": number_type(""),
        "n": number_type(""),
        "displacement": number_type("in^3", constant=2800.0),
        "surface": word_type(("dry", "wet", "damp")),
        "blower": word_type(("low", "high")),
        "other": word_type(("wet", "icy")),
    },
    {"speeds": SPEEDS, "power": POWER},
    {"airspeed": "airspeed is a reading, which a figure cannot use"},
)
VALUES: dict[str, float | str] = {
    "weight": 54000.0,
    "temperature": 20.0,
    "outside": 68.0,
    "deviation": 5.0,
    "absolute": 293.15,
    "altitude": 4000.0,
    "speed": 100.0,
    "bmep": 150.0,
    "rpm": 2600.0,
    "track": 60.0,
    "share": 25.0,
    "x": 3.0,
    "n": -2.0,
    "surface": "wet",
    "blower": "low",
    "other": "wet",
}


def compiled(source: str, unit: str | None = None) -> Expression:
    """A formula made ready for SCOPE."""
    return parse(source).compiled(SCOPE, unit)


def work_out(source: str, unit: str | None = None) -> float | str | bool:
    """What a formula comes to at VALUES."""
    return compiled(source, unit).evaluate(VALUES)
