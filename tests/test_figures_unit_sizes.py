"""The sizes of units as written down are those of pint, an independent library of units."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from runner.figures.unit_sizes import SIZES
from runner.figures.units import ATOMS, _atom

sys.path.insert(0, str(Path(__file__).parent / "tools"))

import unit_sizes


@pytest.fixture(scope="module")
def registry() -> object:
    return unit_sizes.pint_registry()


@pytest.mark.outside
@pytest.mark.parametrize(
    "name", [pytest.param(name, id=f"pint >=0.24, the size of {name}") for name in ATOMS]
)
def test_every_unit_has_the_size_that_pint_gives_it(registry: object, name: str) -> None:
    assert _atom(name) == unit_sizes.pint_size(registry, name)


def test_every_unit_is_written_down_and_no_other() -> None:
    assert set(SIZES) == set(ATOMS)
