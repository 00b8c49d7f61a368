"""The size of every simple unit in base units, exactly as the library pint has it.

Written by ``tests/tools/unit_sizes.py`` and held against pint by the tests, so that no
start of the program has to wait for pint. Sizes are fractions of metre, kilogram, second,
kelvin, radian and ampere; ``zero`` is where the unit's scale begins.
"""

from __future__ import annotations

from collections.abc import Mapping

SIZES: Mapping[str, tuple[str, str, str]] = {
    # unit: (size, dimensions and their powers, zero)
    "m": ("1", "length 1", "0"),
    "cm": ("1/100", "length 1", "0"),
    "mm": ("1/1000", "length 1", "0"),
    "km": ("1000", "length 1", "0"),
    "in": ("127/5000", "length 1", "0"),
    "ft": ("381/1250", "length 1", "0"),
    "yd": ("1143/1250", "length 1", "0"),
    "mi": ("201168/125", "length 1", "0"),
    "nm": ("1852", "length 1", "0"),
    "kt": ("463/900", "length 1 time -1", "0"),
    "mph": ("1397/3125", "length 1 time -1", "0"),
    "fpm": ("127/25000", "length 1 time -1", "0"),
    "kg": ("1", "mass 1", "0"),
    "g": ("1/1000", "mass 1", "0"),
    "t": ("1000", "mass 1", "0"),
    "lb": ("45359237/100000000", "mass 1", "0"),
    "oz": ("45359237/1600000000", "mass 1", "0"),
    "lbf": ("8896443230521/2000000000000", "length 1 mass 1 time -2", "0"),
    "N": ("1", "length 1 mass 1 time -2", "0"),
    "inHg": ("3386388640341/1000000000", "length -1 mass 1 time -2", "0"),
    "mmHg": ("26664477483/200000000", "length -1 mass 1 time -2", "0"),
    "hPa": ("100", "length -1 mass 1 time -2", "0"),
    "kPa": ("1000", "length -1 mass 1 time -2", "0"),
    "Pa": ("1", "length -1 mass 1 time -2", "0"),
    "bar": ("100000", "length -1 mass 1 time -2", "0"),
    "mbar": ("100", "length -1 mass 1 time -2", "0"),
    "psi": ("8896443230521/1290320000", "length -1 mass 1 time -2", "0"),
    "degC": ("1", "temperature 1", "5463/20"),
    "degF": ("5/9", "temperature 1", "45967/180"),
    "K": ("1", "temperature 1", "0"),
    "deg": (
        "31415926535897932384626433832795028841971693993751/1800000000000000000000000000000000000000000000000000",
        "angle 1",
        "0",
    ),
    "rad": ("1", "angle 1", "0"),
    "L": ("1/1000", "length 3", "0"),
    "cc": ("1/1000000", "length 3", "0"),
    "gal": ("473176473/125000000000", "length 3", "0"),
    "impgal": ("454609/100000000", "length 3", "0"),
    "qt": ("473176473/500000000000", "length 3", "0"),
    "pph": ("45359237/360000000000", "mass 1 time -1", "0"),
    "gph": ("157725491/150000000000000", "length 3 time -1", "0"),
    "hp": ("37284993579113511/50000000000000", "length 2 mass 1 time -3", "0"),
    "W": ("1", "length 2 mass 1 time -3", "0"),
    "kW": ("1000", "length 2 mass 1 time -3", "0"),
    "J": ("1", "length 2 mass 1 time -2", "0"),
    "s": ("1", "time 1", "0"),
    "min": ("60", "time 1", "0"),
    "h": ("3600", "time 1", "0"),
    "rpm": ("1/60", "time -1", "0"),
    "Hz": ("1", "time -1", "0"),
    "kHz": ("1000", "time -1", "0"),
    "MHz": ("1000000", "time -1", "0"),
    "V": ("1", "current -1 length 2 mass 1 time -3", "0"),
    "A": ("1", "current 1", "0"),
    "Ah": ("3600", "current 1 time 1", "0"),
    "%": ("1/100", "", "0"),
}
