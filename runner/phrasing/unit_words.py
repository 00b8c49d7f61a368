"""Units as they are spoken, and what kind of number a unit usually stands behind."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from runner.phrasing.style import Kind

_SPOKEN: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "kt": ("knots", "knot"),
        "kts": ("knots", "knot"),
        "mph": ("miles per hour", "miles an hour"),
        "km/h": ("kilometers per hour",),
        "m/s": ("meters per second",),
        "ft": ("feet", "foot"),
        "ft/min": ("feet per minute", "feet a minute"),
        "m": ("meters", "meter"),
        "km": ("kilometers", "kilometer"),
        "nm": ("nautical miles", "nautical mile", "miles", "mile"),
        "nmi": ("nautical miles", "nautical mile", "miles", "mile"),
        "mi": ("miles", "mile"),
        "in": ("inches", "inch"),
        "lb": ("pounds", "pound"),
        "lbs": ("pounds", "pound"),
        "lb/h": ("pounds per hour", "pounds an hour"),
        "lb/hr": ("pounds per hour", "pounds an hour"),
        "kg": ("kilograms", "kilogram", "kilos", "kilo"),
        "t": ("tons", "ton"),
        "inHg": ("inches", "inch", "inches of mercury"),
        "hPa": ("hectopascals", "hectopascal", "millibars"),
        "mbar": ("millibars", "millibar", "hectopascals"),
        "psi": ("p s i", "psi", "pounds", "pounds per square inch"),
        "bar": ("bar", "bars"),
        "degC": ("degrees", "degree", "degrees celsius", "degrees centigrade", "celsius"),
        "degF": ("degrees", "degree", "degrees fahrenheit", "fahrenheit"),
        "°C": ("degrees", "degree", "degrees celsius", "degrees centigrade", "celsius"),
        "°F": ("degrees", "degree", "degrees fahrenheit", "fahrenheit"),
        "deg": ("degrees", "degree"),
        "°": ("degrees", "degree"),
        "rpm": ("r p m", "rpm", "revs", "revolutions", "revolutions per minute"),
        "hp": ("horsepower", "horse power"),
        "%": ("percent", "per cent"),
        "percent": ("percent", "per cent"),
        "gal": ("gallons", "gallon"),
        "impgal": ("imperial gallons", "gallons", "gallon"),
        "L": ("liters", "liter"),
        "l": ("liters", "liter"),
        "qt": ("quarts", "quart"),
        "min": ("minutes", "minute"),
        "s": ("seconds", "second"),
        "h": ("hours", "hour"),
        "hr": ("hours", "hour"),
        "MHz": ("megahertz",),
        "kHz": ("kilohertz",),
        "V": ("volts", "volt"),
        "A": ("amps", "amp", "amperes"),
        "in^3": ("cubic inches", "cubic inch"),
    }
)

_KINDS: Mapping[str, Kind] = MappingProxyType(
    {
        "kt": "speed",
        "kts": "speed",
        "mph": "speed",
        "km/h": "speed",
        "ft": "altitude",
        "nm": "distance",
        "nmi": "distance",
        "km": "distance",
        "m": "distance",
        "lb": "weight",
        "lbs": "weight",
        "kg": "weight",
        "inHg": "manifold_pressure",
        "hPa": "pressure",
        "mbar": "pressure",
        "psi": "pressure",
        "degC": "temperature",
        "degF": "temperature",
        "°C": "temperature",
        "°F": "temperature",
        "deg": "angle",
        "°": "angle",
        "rpm": "rpm",
        "%": "percent",
        "percent": "percent",
        "min": "duration",
        "s": "duration",
        "MHz": "frequency",
        "kHz": "frequency",
    }
)


def say_unit(unit: str) -> str:
    """A unit in words, in the plural: ``kt`` gives "knots", no unit an empty string.

    A unit that is not known is said as it is written, with "per" for a stroke.
    """
    spoken = _SPOKEN.get(unit)
    if spoken:
        return spoken[0]
    if "/" in unit:
        above, below = unit.split("/", 1)
        return f"{say_unit(above)} per {say_unit(below)}".strip()
    return unit


def units_heard(unit: str) -> tuple[tuple[str, ...], ...]:
    """The ways in which a unit may be heard after a number, each as its words."""
    return tuple(tuple(way.split()) for way in _SPOKEN.get(unit, ()))


def known_units() -> tuple[str, ...]:
    """Every unit with words of its own, as it is written."""
    return tuple(_SPOKEN)


def kind_of_unit(unit: str) -> Kind:
    """What a number in this unit usually is, for text that does not say."""
    return _KINDS.get(unit, "plain")
