"""Units as pilots write them: reading, converting and naming what they measure.

The spellings are ours; every size is that of the library pint, written down in
``unit_sizes`` and held against pint by the tests. Conversion factors are exact fractions
until the last step, so that a foot is exactly twelve inches.

Two conventions matter in formulas. ``rpm`` is turns per minute with a turn as a plain
number, so that the power of a four-stroke engine is ``bmep * displacement * rpm / 2``.
``deg`` and ``rad`` measure angles, which are not plain numbers here.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cache, lru_cache

from runner.errors import RunnerError
from runner.figures.unit_sizes import SIZES

ATOMS: Mapping[str, str] = {
    "m": "meter",
    "cm": "centimeter",
    "mm": "millimeter",
    "km": "kilometer",
    "in": "inch",
    "ft": "foot",
    "yd": "yard",
    "mi": "mile",
    "nm": "nautical_mile",
    "kt": "knot",
    "mph": "mile/hour",
    "fpm": "foot/minute",
    "kg": "kilogram",
    "g": "gram",
    "t": "metric_ton",
    "lb": "pound",
    "oz": "ounce",
    "lbf": "pound_force",
    "N": "newton",
    "inHg": "inch_Hg",
    "mmHg": "millimeter_Hg",
    "hPa": "hectopascal",
    "kPa": "kilopascal",
    "Pa": "pascal",
    "bar": "bar",
    "mbar": "millibar",
    "psi": "pound_force_per_square_inch",
    "degC": "degree_Celsius",
    "degF": "degree_Fahrenheit",
    "K": "kelvin",
    "deg": "degree",
    "rad": "radian",
    "L": "liter",
    "cc": "centimeter**3",
    "gal": "gallon",
    "impgal": "imperial_gallon",
    "qt": "quart",
    "pph": "pound/hour",
    "gph": "gallon/hour",
    "hp": "horsepower",
    "W": "watt",
    "kW": "kilowatt",
    "J": "joule",
    "s": "second",
    "min": "minute",
    "h": "hour",
    "rpm": "1/minute",
    "Hz": "hertz",
    "kHz": "kilohertz",
    "MHz": "megahertz",
    "V": "volt",
    "A": "ampere",
    "Ah": "ampere_hour",
    "%": "percent",
}
"""Each spelling of a simple unit, with its name in pint."""

ALIASES: Mapping[str, str] = {
    "NM": "nm",
    "nmi": "nm",
    "kn": "kt",
    "kts": "kt",
    "lbs": "lb",
    "sm": "mi",
    "l": "L",
    "mb": "mbar",
    "hr": "h",
    "sec": "s",
    "RPM": "rpm",
    "HP": "hp",
    "PSI": "psi",
    "°C": "degC",
    "°F": "degF",
    "C": "degC",
    "F": "degF",
    "°": "deg",
    "percent": "%",
}
"""Other spellings that are understood, each with the spelling that is kept."""

_KINDS: Mapping[str, str] = {
    "a plain number": "",
    "a length": "m",
    "a mass": "kg",
    "a time": "s",
    "a temperature": "K",
    "an angle": "rad",
    "a speed": "kt",
    "an area": "ft^2",
    "a volume": "gal",
    "a pressure": "psi",
    "a power": "hp",
    "a force": "N",
    "an energy": "J",
    "a rate of turning": "rpm",
    "an acceleration": "ft/s^2",
    "a density": "kg/m^3",
    "a weight flow": "pph",
    "a volume flow": "gph",
    "a voltage": "V",
    "a current": "A",
    "a charge": "Ah",
}

_POWER_LIMIT = 24
_QUANTITY = re.compile(
    r"""(?P<number>[+-]?(?:\d{1,3}(?:,\d{3})+|\d+)?(?:\.\d+)?(?:[eE][+-]?\d{1,3})?)
        \s*(?P<unit>\S.*)?""",
    re.VERBOSE | re.ASCII,
)
_FACTOR = re.compile(r"(?P<name>[A-Za-z°]+|%)(?:\^(?P<power>-?\d{1,2}(?:/\d{1,2})?))?", re.ASCII)
_ONE = re.compile(r"1(?=/)")


class UnitError(RunnerError):
    """A unit that is not known, or two that do not measure the same thing."""


@dataclass(frozen=True, slots=True)
class Unit:
    """A product of simple units, each to a power; no parts for a plain number."""

    parts: tuple[tuple[str, Fraction], ...] = ()

    def __str__(self) -> str:
        above = [_written(name, power) for name, power in self.parts if power > 0]
        below = [_written(name, -power) for name, power in self.parts if power < 0]
        if not above and not below:
            return ""
        return "/".join(["*".join(above) or "1", *below])

    def times(self, other: Unit, sign: int = 1) -> Unit:
        """This unit multiplied by ``other`` (divided, with ``sign`` -1)."""
        powers = dict(self.parts)
        for name, power in other.parts:
            powers[name] = powers.get(name, Fraction(0)) + sign * power
        return _unit(powers)

    def to_power(self, exponent: Fraction) -> Unit:
        """This unit raised to ``exponent``; UnitError where the power becomes absurd."""
        return _unit({name: power * exponent for name, power in self.parts})


PLAIN = Unit()
"""The unit of a plain number."""


@lru_cache(maxsize=1024)
def parse_unit(text: str) -> Unit:
    """The unit written in ``text``, such as ``kt``, ``in^3`` or ``lb/hp/h``; '' is plain.

    Raises UnitError with the nearest known spelling.
    """
    text = text.strip()
    if not text:
        return PLAIN
    powers: dict[str, Fraction] = {}
    sign = 1
    one = _ONE.match(text)
    position = one.end() if one else 0
    if one:
        sign, position = -1, position + 1
    while True:
        match = _FACTOR.match(text, position)
        if match is None:
            raise UnitError(_unknown(text))
        name = ALIASES.get(match["name"], match["name"])
        if name not in ATOMS:
            raise UnitError(_unknown(match["name"]))
        try:
            power = Fraction(match["power"] or 1)
        except ZeroDivisionError:
            raise UnitError(_unknown(text)) from None
        powers[name] = powers.get(name, Fraction(0)) + sign * power
        position = match.end()
        if position == len(text):
            return _unit(powers)
        if text[position] not in "*/":
            raise UnitError(_unknown(text))
        sign = -1 if text[position] == "/" else 1
        position += 1


def is_unit(name: str) -> bool:
    """Whether ``name`` is the spelling of a simple unit."""
    return name in ATOMS or name in ALIASES


def spelling(unit: str) -> str:
    """``unit`` in the spelling that is kept (``kts`` is ``kt``). Raises UnitError."""
    return unit if unit in ATOMS else str(parse_unit(unit))


def parse_quantity(text: str) -> tuple[float, str | None]:
    """The number and the unit in a text such as ``74310lb``, ``29.92 inHg`` or ``74,310``.

    The unit is None where none is written. Raises UnitError where it is not a number
    with a unit.
    """
    match = _QUANTITY.fullmatch(text.strip())
    number = match["number"].replace(",", "") if match else ""
    try:
        value = float(number)
    except ValueError:
        raise UnitError(f"'{_short(text)}' is not a number with a unit, such as 74310 lb") from None
    if value in (float("inf"), float("-inf")):
        raise UnitError(f"'{_short(text)}' is too large a number")
    unit = match["unit"] if match else None
    return value, spelling(unit) if unit else None


def convert(value: float, from_unit: str, to_unit: str) -> float:
    """``value`` in ``from_unit`` as a number in ``to_unit``; temperatures are absolute.

    Raises UnitError where the two do not measure the same thing.
    """
    if from_unit == to_unit:
        return value
    factor, offset = conversion(parse_unit(from_unit), parse_unit(to_unit), absolute=True)
    return value * factor + offset


@cache
def conversion(source: Unit, target: Unit, *, absolute: bool = False) -> tuple[float, float]:
    """Factor and offset: a value in ``source`` times factor plus offset is in ``target``.

    ``absolute`` takes degC and degF as points on their scales; without it they are
    differences and the offset is 0. Raises UnitError on a mismatch.
    """
    if source == target:
        return 1.0, 0.0
    if dimensions(source) != dimensions(target):
        raise UnitError(f"{described(source)} is not {described(target)}")
    factor = _size(source) / _size(target)
    offset = Fraction(0)
    if absolute:
        offset = (_zero(source) - _zero(target)) / Fraction(_size(target))
    return float(factor), float(offset)


@cache
def dimensions(unit: Unit) -> tuple[tuple[str, Fraction], ...]:
    """Base dimensions and their powers, sorted; empty for a plain number."""
    total: dict[str, Fraction] = {}
    for name, power in unit.parts:
        for base, exponent in _atom(name)[1]:
            total[base] = total.get(base, Fraction(0)) + power * exponent
    return tuple(sorted((base, power) for base, power in total.items() if power))


def dimension(unit: str) -> str:
    """What ``unit`` measures, in words: 'a speed', 'a pressure', 'a plain number'."""
    return _kind(parse_unit(unit))


def described(unit: Unit) -> str:
    """What a unit measures with its spelling: 'a speed (kt)'."""
    return f"{_kind(unit)} ({unit})" if unit.parts else "a plain number"


@cache
def _kind(unit: Unit) -> str:
    wanted = dimensions(unit)
    for kind, example in _KINDS.items():
        if dimensions(parse_unit(example)) == wanted:
            return kind
    return "a quantity"


def _written(name: str, power: Fraction) -> str:
    return name if power == 1 else f"{name}^{power}"


def _unit(powers: Mapping[str, Fraction]) -> Unit:
    parts = tuple((name, power) for name, power in powers.items() if power)
    if any(abs(p) > _POWER_LIMIT or p.denominator > _POWER_LIMIT for _, p in parts):
        raise UnitError(f"a unit may be raised to at most the power {_POWER_LIMIT}")
    return Unit(parts)


def _size(unit: Unit) -> Fraction | float:
    """The unit in base units; exact where every power is whole."""
    size: Fraction | float = Fraction(1)
    for name, power in unit.parts:
        atom = _atom(name)[0]
        whole = power.denominator == 1
        size = size * (atom ** int(power) if whole else float(atom) ** float(power))
    return size


def _zero(unit: Unit) -> Fraction:
    """Where the unit's scale begins, in base units: 273.15 for degC, 0 for most."""
    if len(unit.parts) == 1 and unit.parts[0][1] == 1:
        return _atom(unit.parts[0][0])[2]
    return Fraction(0)


@cache
def _atom(name: str) -> tuple[Fraction, tuple[tuple[str, Fraction], ...], Fraction]:
    """Size in base units, base dimensions, and zero of a simple unit."""
    size, dimensions, zero = SIZES[name]
    words = dimensions.split()
    bases = tuple((base, Fraction(p)) for base, p in zip(words[::2], words[1::2], strict=True))
    return Fraction(size), bases, Fraction(zero)


def _unknown(text: str) -> str:
    import difflib

    near = difflib.get_close_matches(text, [*ATOMS, *ALIASES], n=1, cutoff=0.5)
    hint = f"did you mean {near[0]}?" if near else "known are kt, ft, lb, inHg, degC and so on"
    return f"'{_short(text)}' is not a unit; {hint}"


def _short(text: str) -> str:
    return text if len(text) <= 40 else text[:37] + "..."
