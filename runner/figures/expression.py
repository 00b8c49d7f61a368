"""Formulas and conditions: a small safe language with units.

``parse`` reads the text; ``check`` gives the unit of the result for what the scope names;
``compiled`` gives the same expression with its units folded in, which ``evaluate`` works
out on plain numbers. Only a compiled expression can be evaluated; it can be pickled, and
then needs nothing but this room to be worked out.

The grammar is described in ``runner.figures.grammar``, how temperatures are taken in
``runner.figures.temperature``. Functions: min, max, clamp, abs, sqrt, round, floor, ceil
(with a step: ``round(x, 5 kt)``), kelvin, sin, cos, tan. An empirical formula takes its
numbers out of their units by dividing (``gross_weight / 1 lb``) and gives the result a
unit by multiplying (``* 1 kt``).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field

from runner.figures import program as p
from runner.figures.checking import check_tree, start_of
from runner.figures.grammar import ExpressionError, Node, names_in, parse_tree, words_in
from runner.figures.program import Environment, MissingError
from runner.figures.quantity import Checked, in_unit
from runner.figures.scope import Scope, Type
from runner.figures.tables import CalculationError, LookedUp

__all__ = [
    "CalculationError",
    "Expression",
    "ExpressionError",
    "MissingError",
    "Scope",
    "parse",
]


@dataclass(frozen=True, slots=True)
class Expression:
    """A formula or a condition.

    ``names`` are the values it needs. Once it is compiled they are exactly what must be in
    the environment: no constants and no words. Before that they are a guess from the text
    alone, which takes a name compared with another by == or != as a word of a choice.
    ``unit`` is the result's once it is compiled.
    """

    source: str
    names: frozenset[str]
    unit: str = field(default="", compare=False)
    type: Type | None = field(default=None, compare=False, repr=False)
    step: p.Step | None = field(default=None, compare=False, repr=False)
    places: tuple[tuple[int, str], ...] = field(default=(), compare=False, repr=False)
    constants: tuple[tuple[str, float], ...] = field(default=(), compare=False, repr=False)

    def check(self, scope: Scope) -> str:
        """The unit of the result, '' for a plain number, a word or a condition.

        Raises ExpressionError: a name, a table or a word that is not known, or units that
        do not go together.
        """
        return str(check_tree(self.tree(), scope).type.unit)

    def compiled(self, scope: Scope, unit: str | None = None) -> Expression:
        """This expression ready to be worked out, its result in ``unit``.

        Without ``unit`` the result stays in the unit that ``check`` gives. Raises
        ExpressionError as ``check`` does, and where the result does not measure ``unit``.
        """
        tree = self.tree()
        checked = check_tree(tree, scope)
        if unit is not None:
            checked = in_unit(checked, unit, start_of(tree))
        return self._with(tree, checked, scope)

    def condition(self, scope: Scope) -> Expression:
        """This condition ready to be worked out. ExpressionError where it is a value."""
        tree = self.tree()
        checked = check_tree(tree, scope)
        if checked.type.what != "truth":
            raise ExpressionError(
                f"a condition should stand here, not {checked.type}", start_of(tree)
            )
        return self._with(tree, checked, scope)

    def tree(self) -> Node:
        """The tree of the text."""
        return parse_tree(self.source)

    @property
    def is_compiled(self) -> bool:
        """Whether it can be evaluated."""
        return self.step is not None

    def evaluate(self, env: Environment) -> float | str | bool:
        """The value where names have the values of ``env``, in the units of the scope.

        Raises CalculationError: MissingError for a name that is not in ``env`` (or is not
        a number), TableError outside a table, or a sum that cannot be done.
        """
        return self._work_out(env, None)

    def evaluate_into(self, env: Environment, trace: list[LookedUp]) -> float | str | bool:
        """The value, noting in ``trace`` each look-up in a table as it is made."""
        return self._work_out(env, trace)

    def filled(self, shown: Callable[[str], str]) -> str:
        """The text with each name replaced by ``shown(name)``, its value as text."""
        parts: list[str] = []
        position = 0
        for offset, name in self.places:
            parts += [self.source[position:offset], shown(name)]
            position = offset + len(name)
        return "".join(parts) + self.source[position:]

    def _work_out(self, env: Environment, trace: p.Trace) -> float | str | bool:
        if self.step is None:
            raise TypeError(f"not compiled yet: {self.source}")
        value: float | str | bool = self.step.at(env, trace)
        if isinstance(value, float) and not math.isfinite(value):
            raise CalculationError("comes to a number that is too large")
        return value

    def _with(self, tree: Node, checked: Checked, scope: Scope) -> Expression:
        known = [node for node in names_in(tree) if node.name in scope.names]
        constants = {
            node.name: value
            for node in known
            if (value := scope.names[node.name].constant) is not None
        }
        return Expression(
            source=self.source,
            names=frozenset(node.name for node in known) - constants.keys(),
            unit=str(checked.type.unit),
            type=checked.type,
            step=checked.step,
            places=tuple((node.offset, node.name) for node in known),
            constants=tuple(constants.items()),
        )


def parse(source: str) -> Expression:
    """The expression written in ``source``. Raises ExpressionError with the offset."""
    tree = parse_tree(source)
    return Expression(source, frozenset(n.name for n in names_in(tree)) - words_in(tree))
