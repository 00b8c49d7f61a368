"""Every named calculation that an aircraft file's formulas may call."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from runner.figures import (
    air,
    airspeed,
    balance,
    corrections,
    engine_power,
    field,
    fuel,
    wind,
)
from runner.figures.formula import Formula

FORMULAS: Mapping[str, Formula] = MappingProxyType(
    {
        **air.FORMULAS,
        **airspeed.FORMULAS,
        **engine_power.FORMULAS,
        **wind.FORMULAS,
        **field.FORMULAS,
        **balance.FORMULAS,
        **fuel.FORMULAS,
        **corrections.FORMULAS,
    }
)
"""Each calculation by the name by which formulas call it."""
