"""A checked formula as steps on plain numbers: every unit is already folded in.

Steps are small frozen objects, so that a checked aircraft can be pickled and worked out
again without knowing anything of units. All numbers are floats, so no power can grow
without bound: what leaves the range of a float is an error.

Comparisons take two numbers within 1e-9 of each other as equal, as rounding does.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Protocol

from runner.figures.formulas import FORMULAS
from runner.figures.model import Direction, Table
from runner.figures.rounding import TOLERANCE, round_to_step
from runner.figures.tables import CalculationError, LookedUp, look_up_column

Environment = Mapping[str, float | str]
Trace = list[LookedUp] | None


class MissingError(CalculationError):
    """A value that the formula needs is not known; ``name`` is which."""

    def __init__(self, name: str) -> None:
        super().__init__(f"needs {name}, which is not known")
        self.name = name

    def __reduce__(self) -> tuple[type[MissingError], tuple[str]]:
        return type(self), (self.name,)


class Step(Protocol):
    """One step of a formula. The check has proved what each step gives: a number, a truth
    or a word."""

    def at(self, env: Environment, trace: Trace, /) -> Any:
        """The step's value where names have the values of ``env``."""


@dataclass(frozen=True, slots=True)
class Fixed:
    """A number or a word."""

    value: float | str

    def at(self, _env: Environment, _trace: Trace, /) -> float | str:
        return self.value


@dataclass(frozen=True, slots=True)
class Known:
    """The value of a name; a reading that is not a number counts as not known."""

    name: str

    def at(self, env: Environment, _trace: Trace, /) -> float | str:
        value = env.get(self.name)
        if value is None or value != value:
            raise MissingError(self.name)
        return value


@dataclass(frozen=True, slots=True)
class Scaled:
    """A number in another unit."""

    step: Step
    factor: float
    offset: float

    def at(self, env: Environment, trace: Trace, /) -> float:
        return float(self.step.at(env, trace) * self.factor + self.offset)


@dataclass(frozen=True, slots=True)
class Negative:
    """A number with its sign changed."""

    step: Step

    def at(self, env: Environment, trace: Trace, /) -> float:
        return float(-self.step.at(env, trace))


@dataclass(frozen=True, slots=True)
class Sum:
    """Left plus right."""

    left: Step
    right: Step

    def at(self, env: Environment, trace: Trace, /) -> float:
        return float(self.left.at(env, trace) + self.right.at(env, trace))


@dataclass(frozen=True, slots=True)
class Difference:
    """Left minus right."""

    left: Step
    right: Step

    def at(self, env: Environment, trace: Trace, /) -> float:
        return float(self.left.at(env, trace) - self.right.at(env, trace))


@dataclass(frozen=True, slots=True)
class Product:
    """Left times right."""

    left: Step
    right: Step

    def at(self, env: Environment, trace: Trace, /) -> float:
        return float(self.left.at(env, trace) * self.right.at(env, trace))


@dataclass(frozen=True, slots=True)
class Quotient:
    """Left divided by right."""

    left: Step
    right: Step

    def at(self, env: Environment, trace: Trace, /) -> float:
        above, below = self.left.at(env, trace), self.right.at(env, trace)
        if below == 0:
            raise CalculationError("divides by 0")
        return float(above / below)


@dataclass(frozen=True, slots=True)
class Power:
    """Base to the exponent."""

    base: Step
    exponent: Step

    def at(self, env: Environment, trace: Trace, /) -> float:
        base, exponent = self.base.at(env, trace), self.exponent.at(env, trace)
        try:
            value = base**exponent
        except ZeroDivisionError:
            raise CalculationError("0 to a negative power") from None
        except OverflowError:
            raise CalculationError("a power that is too large") from None
        if isinstance(value, complex):
            raise CalculationError("a negative number to a power that is not whole")
        return float(value)


@dataclass(frozen=True, slots=True)
class Compared:
    """A comparison of two numbers in the same unit."""

    operator: str
    left: Step
    right: Step

    def at(self, env: Environment, trace: Trace, /) -> bool:
        left, right = self.left.at(env, trace), self.right.at(env, trace)
        same = math.isclose(left, right, rel_tol=TOLERANCE, abs_tol=1e-12)
        match self.operator:
            case "<":
                return left < right and not same
            case "<=":
                return left < right or same
            case ">":
                return left > right and not same
            case ">=":
                return left > right or same
            case "==":
                return same
            case _:
                return not same


@dataclass(frozen=True, slots=True)
class SameWord:
    """Whether two words are the same (or, with ``wanted`` False, are not)."""

    left: Step
    right: Step
    wanted: bool

    def at(self, env: Environment, trace: Trace, /) -> bool:
        return bool((self.left.at(env, trace) == self.right.at(env, trace)) is self.wanted)


@dataclass(frozen=True, slots=True)
class Both:
    """Left and right; right is not looked at where left is false."""

    left: Step
    right: Step

    def at(self, env: Environment, trace: Trace, /) -> bool:
        return bool(self.left.at(env, trace) and self.right.at(env, trace))


@dataclass(frozen=True, slots=True)
class Either:
    """Left or right; right is not looked at where left is true."""

    left: Step
    right: Step

    def at(self, env: Environment, trace: Trace, /) -> bool:
        return bool(self.left.at(env, trace) or self.right.at(env, trace))


@dataclass(frozen=True, slots=True)
class Opposite:
    """Not."""

    step: Step

    def at(self, env: Environment, trace: Trace, /) -> bool:
        return not self.step.at(env, trace)


@dataclass(frozen=True, slots=True)
class Branch:
    """One of two steps; the other is not looked at."""

    then: Step
    condition: Step
    otherwise: Step

    def at(self, env: Environment, trace: Trace, /) -> Any:
        chosen = self.then if self.condition.at(env, trace) else self.otherwise
        return chosen.at(env, trace)


@dataclass(frozen=True, slots=True)
class Function:
    """A function of numbers that are already in its units."""

    name: str
    arguments: tuple[Step, ...]

    def at(self, env: Environment, trace: Trace, /) -> float:
        return _function(self.name, [step.at(env, trace) for step in self.arguments])


@dataclass(frozen=True, slots=True)
class Chart:
    """A look-up in a table, its arguments already in the axes' units."""

    table: Table
    column: int
    arguments: tuple[Step, ...]

    def at(self, env: Environment, trace: Trace, /) -> float:
        at = tuple(step.at(env, trace) for step in self.arguments)
        if trace is not None:
            trace.append((self.table, self.column, at))
        return look_up_column(self.table, self.column, at)


@dataclass(frozen=True, slots=True)
class Calculated:
    """A named calculation on numbers that are already in its units."""

    name: str
    arguments: tuple[Step, ...]

    def at(self, env: Environment, trace: Trace, /) -> float:
        return FORMULAS[self.name].rule(*[step.at(env, trace) for step in self.arguments])


_DIRECTIONS: Mapping[str, Direction] = {"round": "nearest", "floor": "down", "ceil": "up"}


def _function(name: str, values: list[float]) -> float:
    match name:
        case "min":
            return min(values)
        case "max":
            return max(values)
        case "abs":
            return abs(values[0])
        case "clamp":
            value, low, high = values
            if low > high:
                raise CalculationError("clamp with its low end above its high end")
            return min(max(value, low), high)
        case "sqrt":
            if values[0] < 0:
                raise CalculationError("the square root of a negative number")
            return math.sqrt(values[0])
        case "sin":
            return math.sin(values[0])
        case "cos":
            return math.cos(values[0])
        case "tan":
            return math.tan(values[0])
        case _:
            value, step = values
            if step <= 0 or not math.isfinite(value / step):
                raise CalculationError(f"{name} to a step that is not above 0")
            return round_to_step(value, step, _DIRECTIONS[name])
