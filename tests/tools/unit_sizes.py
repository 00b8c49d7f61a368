"""Write ``runner/figures/unit_sizes.py``: the size of every simple unit, as pint has it.

python tests/tools/unit_sizes.py > runner/figures/unit_sizes.py
"""

from __future__ import annotations

from fractions import Fraction

import pint

from runner.figures.units import ATOMS

HEAD = '''"""The size of every simple unit in base units, exactly as the library pint has it.

Written by ``tests/tools/unit_sizes.py`` and held against pint by the tests, so that no
start of the program has to wait for pint. Sizes are fractions of metre, kilogram, second,
kelvin, radian and ampere; ``zero`` is where the unit's scale begins.
"""

from __future__ import annotations

from collections.abc import Mapping

SIZES: Mapping[str, tuple[str, str, str]] = {
    # unit: (size, dimensions and their powers, zero)
'''


def pint_size(
    registry: pint.UnitRegistry, name: str
) -> tuple[Fraction, tuple[tuple[str, Fraction], ...], Fraction]:
    """Size in base units, base dimensions and zero of a unit, by pint."""
    zero = Fraction(registry.Quantity(Fraction(0), ATOMS[name]).to_base_units().magnitude)
    one = registry.Quantity(Fraction(1), ATOMS[name]).to_base_units()
    bases = [(base.strip("[]"), Fraction(p)) for base, p in one.dimensionality.items()]
    if name in ("deg", "rad"):
        bases = [("angle", Fraction(1))]
    return Fraction(one.magnitude) - zero, tuple(sorted(bases)), zero


def pint_registry() -> pint.UnitRegistry:
    """Pint with exact fractions."""
    return pint.UnitRegistry(non_int_type=Fraction, cache_folder=None)


def main() -> None:
    """Print the module."""
    registry = pint_registry()
    print(HEAD, end="")
    for name in ATOMS:
        size, bases, zero = pint_size(registry, name)
        dimensions = " ".join(f"{base} {power}" for base, power in bases)
        print(f'    "{name}": ("{size}", "{dimensions}", "{zero}"),')
    print("}")


if __name__ == "__main__":
    main()
