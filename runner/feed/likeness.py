"""Which of a source's names a reading may be, by its words and by its values.

A suggestion only: the pilot decides. The abbreviations are common practice in cockpits and in
what simulators send.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from difflib import SequenceMatcher
from typing import TYPE_CHECKING

from runner.feed.seen import Name
from runner.figures.units import UnitError, convert

if TYPE_CHECKING:
    from runner.figures.model import ReadingRule

LEAST = 0.3
"""A name that is less like a reading is not suggested."""

WORDS: dict[str, str] = {
    "ias": "airspeed",
    "kias": "airspeed",
    "cas": "airspeed",
    "spd": "speed",
    "alt": "altitude",
    "agl": "height",
    "radalt": "height",
    "vs": "vertical speed",
    "vsi": "vertical speed",
    "vvi": "vertical speed",
    "vert": "vertical",
    "oat": "outside air temperature",
    "sat": "outside air temperature",
    "ambient": "outside",
    "temp": "temperature",
    "tmp": "temperature",
    "press": "pressure",
    "prs": "pressure",
    "psi": "pressure",
    "pos": "position",
    "gear": "gear",
    "undercarriage": "gear",
    "flaps": "flap",
    "brk": "brake",
    "park": "parking",
    "hyd": "hydraulic",
    "map": "manifold pressure",
    "mp": "manifold pressure",
    "manifold": "manifold pressure",
    "torquemeter": "bmep",
    "cht": "cylinder head temperature",
    "cyl": "cylinder",
    "cat": "carburettor air temperature",
    "carb": "carburettor",
    "carburetor": "carburettor",
    "fp": "fuel pressure",
    "op": "oil pressure",
    "ot": "oil temperature",
    "n": "rpm",
    "cowl": "cowl flap",
    "cowls": "cowl flap",
}

UNITS: dict[str, str] = {
    "kt": "kt",
    "kts": "kt",
    "knots": "kt",
    "kias": "kt",
    "ms": "m/s",
    "mps": "m/s",
    "kmh": "km/h",
    "kph": "km/h",
    "mph": "mph",
    "ft": "ft",
    "feet": "ft",
    "m": "m",
    "meters": "m",
    "metres": "m",
    "fpm": "ft/min",
    "inhg": "inHg",
    "hpa": "hPa",
    "kpa": "kPa",
    "pa": "Pa",
    "bar": "bar",
    "psi": "psi",
    "mbar": "mbar",
    "c": "degC",
    "degc": "degC",
    "celsius": "degC",
    "f": "degF",
    "degf": "degF",
    "fahrenheit": "degF",
    "k": "K",
    "kelvin": "K",
    "rpm": "rpm",
    "rad": "rad",
    "radians": "rad",
    "deg": "deg",
    "percent": "%",
    "pct": "%",
}
"""Words in a source's name that say its unit."""

OTHERS: dict[str, tuple[str, ...]] = {
    "kt": ("m/s", "km/h", "mph"),
    "ft": ("m",),
    "ft/min": ("m/s", "ft/s"),
    "degC": ("degF", "K"),
    "inHg": ("hPa", "psi", "kPa", "bar", "Pa"),
    "psi": ("hPa", "kPa", "bar", "Pa"),
    "deg": ("rad", "%"),
    "": ("%",),
}
"""Units that sources use, by the aircraft's, the likeliest first."""

USUAL: dict[str, tuple[float, float]] = {
    "kt": (-30, 400),
    "ft": (-1500, 60_000),
    "ft/min": (-8000, 8000),
    "degC": (-80, 350),
    "inHg": (5, 80),
    "rpm": (0, 4000),
    "deg": (-45, 90),
    "psi": (0, 4000),
    "": (0, 100),
}
"""What a gauge in that unit shows in an aircraft."""


def words_of(name: str) -> list[str]:
    """The words of a name: `engine1ManifoldPress_psi` is engine, 1, manifold, press, psi."""
    apart = re.sub(r"([a-z])([A-Z])", r"\1 \2", name)
    return re.findall(r"[a-z]+|\d+", apart.lower())


def likeness(name: Name, rule: ReadingRule) -> float:
    """How like a name is to a reading, 0 to 1."""
    wanted = set(rule.name.split("_"))
    has = words_of(name.name)
    meant: set[str] = set()
    for word in has:
        meant.update(WORDS.get(word, word).split())
    if not (wanted & meant):
        best = max((SequenceMatcher(None, w, h).ratio() for w in wanted for h in meant), default=0)
        found = 0.4 * best if best > 0.75 else 0.0
    else:
        extra = [word for word in meant - wanted if not word.isdecimal() and word not in UNITS]
        found = len(wanted & meant) / len(wanted) - 0.04 * min(len(extra), 5)
    if name.number is None:
        return found * 0.8
    return found if fits(name, unit_of(name, rule), rule) else found * 0.6


def unit_of(name: Name, rule: ReadingRule) -> str:
    """The unit that a name is likely to be in, for that reading."""
    for word in reversed(words_of(name.name)):
        unit = UNITS.get(word)
        if unit is not None and _same_kind(unit, rule.unit):
            return unit
    for unit in (rule.unit, *OTHERS.get(rule.unit, ())):
        if fits(name, unit, rule):
            return unit
    return rule.unit


def fits(name: Name, unit: str, rule: ReadingRule) -> bool:
    """Whether what a name has shown can be that reading, if it is in ``unit``."""
    usual = USUAL.get(rule.unit)
    if usual is None or name.low is None or name.high is None:
        return True
    try:
        low, high = (convert(value, unit, rule.unit) for value in (name.low, name.high))
    except UnitError:
        return False
    return usual[0] <= low and high <= usual[1]


def suggestions(rule: ReadingRule, names: Iterable[Name], limit: int = 5) -> list[Name]:
    """The names that are most like a reading, the likest first."""
    ranked = sorted(((likeness(name, rule), name) for name in names), key=lambda pair: -pair[0])
    return [name for score, name in ranked if score >= LEAST][:limit]


def _same_kind(unit: str, other: str) -> bool:
    try:
        convert(1.0, unit, other)
    except UnitError:
        return False
    return True
