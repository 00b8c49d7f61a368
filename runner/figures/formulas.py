"""Every named calculation that an aircraft file's formulas may call."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from runner.figures.formula import Formula

FORMULAS: Mapping[str, Formula] = MappingProxyType({})
"""Each calculation by the name by which formulas call it."""
