"""A checked quantity: its type with the steps that work it out, and its change of unit."""

from __future__ import annotations

from dataclasses import dataclass

from runner.figures import program as p
from runner.figures.grammar import ExpressionError
from runner.figures.scope import KELVIN, Sense, Type, sense_of
from runner.figures.units import PLAIN, Unit, conversion, described, dimensions, parse_unit


@dataclass(frozen=True, slots=True)
class Checked:
    """A type with the steps that work it out."""

    type: Type
    step: p.Step


def in_unit(checked: Checked, unit: str, offset: int = 0) -> Checked:
    """A checked number in ``unit``. Raises ExpressionError where it does not measure that."""
    if checked.type.what != "number":
        raise ExpressionError(f"gives {checked.type}, not a number", offset)
    wanted = parse_unit(unit)
    got = checked.type
    if dimensions(got.unit) != dimensions(wanted):
        raise ExpressionError(f"gives {described(got.unit)}, not {described(wanted)}", offset)
    if not got.sense:
        return Checked(Type("number", wanted), scaled(checked.step, got.unit, wanted))
    point = got.sense != "difference"
    if wanted == KELVIN and got.sense == "either" and got.unit != KELVIN:
        raise ExpressionError(
            "may be a temperature or a difference; write kelvin(...) for the temperature", offset
        )
    sense: Sense = "difference" if not point else sense_of(wanted, named=True)
    return Checked(Type("number", wanted, sense), scaled(checked.step, got.unit, wanted, point))


def scaled(step: p.Step, source: Unit, target: Unit, point: bool = False) -> p.Step:
    factor, offset = conversion(source, target, absolute=point)
    if factor == 1.0 and offset == 0.0:
        return step
    if isinstance(step, p.Fixed) and isinstance(step.value, float):
        return p.Fixed(step.value * factor + offset)
    return p.Scaled(step, factor, offset)


def reduced(step: p.Step, unit: Unit) -> Checked:
    """A product as a plain number where its dimensions cancel."""
    if not dimensions(unit):
        return Checked(Type("number"), scaled(step, unit, PLAIN))
    sense = sense_of(unit, named=False)
    if sense == "either" and unit != KELVIN:
        sense = "difference"
    return Checked(Type("number", unit, sense), step)
