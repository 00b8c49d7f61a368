"""Checking an expression's units and words, and folding the units into plain steps.

How temperatures are taken stands in ``runner.figures.temperature``. Numbers are converted
only where two units meet, so that a value never changes by being carried through.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from fractions import Fraction

from runner.figures import program as p
from runner.figures.formula import Formula
from runner.figures.formulas import FORMULAS
from runner.figures.grammar import (
    Call,
    Choose,
    ExpressionError,
    Infix,
    Name,
    Node,
    Number,
    Prefix,
    Quoted,
)
from runner.figures.model import Axis, Table
from runner.figures.quantity import Checked, in_unit, reduced, scaled
from runner.figures.scope import KELVIN, Scope, Type, near, number_type, sense_of, word_type
from runner.figures.temperature import NO_PRODUCT, joined, sum_of_temperatures
from runner.figures.units import PLAIN, Unit, UnitError, described, dimensions, parse_unit

FUNCTIONS: Mapping[str, tuple[int, int]] = {
    "min": (2, 20),
    "max": (2, 20),
    "clamp": (3, 3),
    "abs": (1, 1),
    "sqrt": (1, 1),
    "round": (1, 2),
    "floor": (1, 2),
    "ceil": (1, 2),
    "kelvin": (1, 1),
    "sin": (1, 1),
    "cos": (1, 1),
    "tan": (1, 1),
}
"""Each function with the least and the most arguments it takes."""

_RADIAN = parse_unit("rad")


def check_tree(tree: Node, scope: Scope) -> Checked:
    """The type of a tree and its steps. Raises ExpressionError with the place."""
    return _Checker(scope).result(tree)


class _Checker:
    """One walk over one tree."""

    def __init__(self, scope: Scope) -> None:
        self._scope = scope

    def result(self, node: Node) -> Checked:
        """A node where a bare word may stand: the whole, or a branch of it."""
        if isinstance(node, Name) and self._is_word(node, self._scope.words):
            return _word(node.name)
        if isinstance(node, Choose):
            return self._choose(node)
        return self._value(node)

    def _is_word(self, node: Name, words: Iterable[str]) -> bool:
        return node.name not in self._scope.names and node.name in words

    def _value(self, node: Node) -> Checked:
        match node:
            case Number():
                sense = sense_of(node.unit, named=False)
                return Checked(Type("number", node.unit, sense), p.Fixed(node.value))
            case Quoted():
                return _word(node.text)
            case Name():
                return self._name(node)
            case Prefix(operator="not"):
                return Checked(Type("truth"), p.Opposite(self._truth(node.operand)))
            case Prefix():
                return self._negative(node)
            case Infix():
                return self._infix(node)
            case Choose():
                return self._choose(node)
            case _:
                return self._function(node) if self._calls_function(node) else self._table(node)

    def _name(self, node: Name) -> Checked:
        kind = self._scope.names.get(node.name)
        if kind is None:
            reason = self._scope.unusable.get(node.name)
            if reason is None:
                known = [*self._scope.names, *self._scope.words]
                reason = f"nothing is named {node.name}" + near(node.name, known)
            if node.name in self._scope.tables:
                reason = f"{node.name} is a table; look it up at values: {node.name}(...)"
            raise ExpressionError(reason, node.offset)
        if kind.constant is not None:
            return Checked(kind, p.Fixed(kind.constant))
        return Checked(kind, p.Known(node.name))

    def _number(self, node: Node) -> Checked:
        checked = self._value(node)
        if checked.type.what != "number":
            raise ExpressionError(f"a number should stand here, not {checked.type}", start_of(node))
        return checked

    def _truth(self, node: Node) -> p.Step:
        checked = self._value(node)
        if checked.type.what != "truth":
            raise ExpressionError(
                f"a condition should stand here, not {checked.type}", start_of(node)
            )
        return checked.step

    def _plain(self, node: Node, what: str) -> p.Step:
        checked = self._number(node)
        if dimensions(checked.type.unit):
            raise ExpressionError(
                f"{what} should be a plain number, not {described(checked.type.unit)}",
                start_of(node),
            )
        return scaled(checked.step, checked.type.unit, PLAIN)

    def _negative(self, node: Prefix) -> Checked:
        checked = self._number(node.operand)
        if checked.type.sense == "point":
            raise ExpressionError(NO_PRODUCT, node.offset)
        if isinstance(checked.step, p.Fixed) and isinstance(checked.step.value, float):
            return Checked(_unnamed(checked.type), p.Fixed(-checked.step.value))
        return Checked(_unnamed(checked.type), p.Negative(checked.step))

    def _infix(self, node: Infix) -> Checked:
        match node.operator:
            case "and":
                return Checked(
                    Type("truth"), p.Both(self._truth(node.left), self._truth(node.right))
                )
            case "or":
                return Checked(
                    Type("truth"), p.Either(self._truth(node.left), self._truth(node.right))
                )
            case "+" | "-":
                return self._sum(node)
            case "*" | "/":
                return self._product(node)
            case "^":
                return self._power(node)
            case _:
                return self._comparison(node)

    def _sum(self, node: Infix) -> Checked:
        left, right = self._number(node.left), self._number(node.right)
        plus = node.operator == "+"
        _same_dimensions(left, right, "add" if plus else "take", node.offset)
        make = p.Sum if plus else p.Difference
        if not left.type.sense:
            step = make(left.step, scaled(right.step, right.type.unit, left.type.unit))
            return Checked(_unnamed(left.type), step)
        sense, unit, points = sum_of_temperatures(left.type, right.type, plus, node.offset)
        return Checked(
            Type("number", unit, sense),
            make(
                scaled(left.step, left.type.unit, unit, points),
                scaled(right.step, right.type.unit, unit, points),
            ),
        )

    def _product(self, node: Infix) -> Checked:
        left, right = (self._factor(side) for side in (node.left, node.right))
        sign = 1 if node.operator == "*" else -1
        unit = _combined(lambda: left.type.unit.times(right.type.unit, sign), node.offset)
        step: p.Step = (p.Product if sign > 0 else p.Quotient)(left.step, right.step)
        return reduced(step, unit)

    def _factor(self, node: Node) -> Checked:
        checked = self._number(node)
        if checked.type.sense == "point":
            raise ExpressionError(NO_PRODUCT, start_of(node))
        return reduced(checked.step, checked.type.unit)

    def _power(self, node: Infix) -> Checked:
        base = self._factor(node.left)
        if not base.type.unit.parts:
            exponent = self._plain(node.right, "an exponent")
            return Checked(Type("number"), p.Power(base.step, exponent))
        fraction = _literal(node.right)
        if fraction is None:
            raise ExpressionError(
                f"{described(base.type.unit)} is raised only to a number written out, "
                "such as 2 or (1/2)",
                start_of(node.right),
            )
        unit = _combined(lambda: base.type.unit.to_power(fraction), node.offset)
        return reduced(p.Power(base.step, p.Fixed(float(fraction))), unit)

    def _comparison(self, node: Infix) -> Checked:
        words = self._compared_words(node)
        if words is not None:
            return words
        left, right = self._number(node.left), self._number(node.right)
        _same_dimensions(left, right, "compare", node.offset)
        (one, two), _ = joined([left, right], node.offset)
        return Checked(Type("truth"), p.Compared(node.operator, one, two))

    def _compared_words(self, node: Infix) -> Checked | None:
        """A comparison with the words of a choice, or None where it is one of numbers."""
        sides = [self._word_side(node.left), self._word_side(node.right)]
        if sides == [None, None]:
            return None
        if node.operator not in ("==", "!="):
            raise ExpressionError("words are compared with == or !=", node.offset)
        known = next((side for side in sides if side), None)
        choices = known.type.choices if known else ()
        steps: list[p.Step] = []
        for side, part in zip(sides, (node.left, node.right), strict=True):
            if side is None:
                if not isinstance(part, Name | Quoted):
                    raise ExpressionError(
                        f"a word should stand here: {' or '.join(choices)}", start_of(part)
                    )
                word = part.name if isinstance(part, Name) else part.text
                if word not in choices:
                    raise ExpressionError(
                        f"'{word}' is not one of {', '.join(choices)}" + near(word, choices),
                        part.offset,
                    )
                steps.append(p.Fixed(word))
            else:
                steps.append(side.step)
        return Checked(Type("truth"), p.SameWord(steps[0], steps[1], node.operator == "=="))

    def _word_side(self, node: Node) -> Checked | None:
        """A side of a comparison that is a named choice; None for what else it may be."""
        if isinstance(node, Name):
            kind = self._scope.names.get(node.name)
            return self._name(node) if kind and kind.what == "word" else None
        if isinstance(node, Choose):
            checked = self._choose(node)
            return checked if checked.type.what == "word" else None
        return None

    def _choose(self, node: Choose) -> Checked:
        condition = self._truth(node.condition)
        then, otherwise = self.result(node.then), self.result(node.otherwise)
        if then.type.what != otherwise.type.what:
            raise ExpressionError(
                f"gives {then.type} before 'if' and {otherwise.type} after 'else'", node.offset
            )
        if then.type.what == "truth":
            step = p.Branch(then.step, condition, otherwise.step)
            return Checked(Type("truth"), step)
        if then.type.what == "word":
            choices = tuple(dict.fromkeys(then.type.choices + otherwise.type.choices))
            step = p.Branch(then.step, condition, otherwise.step)
            return Checked(word_type(choices), step)
        _same_dimensions(then, otherwise, "choose between", node.offset)
        (one, two), kind = joined([then, otherwise], node.offset)
        return Checked(kind, p.Branch(one, condition, two))

    def _calls_function(self, node: Call) -> bool:
        return (node.name in FUNCTIONS or node.name in FORMULAS) and not node.column

    def _function(self, node: Call) -> Checked:
        if node.name in FORMULAS:
            return self._formula(node, FORMULAS[node.name])
        least, most = FUNCTIONS[node.name]
        count = len(node.arguments)
        if not least <= count <= most:
            wants = f"{least}" if least == most else f"{least} to {most}"
            raise ExpressionError(
                f"{node.name} wants {wants} {'value' if wants == '1' else 'values'}, not {count}",
                node.offset,
            )
        match node.name:
            case "min" | "max" | "clamp":
                parts = [self._number(one) for one in node.arguments]
                for part in parts[1:]:
                    _same_dimensions(parts[0], part, "compare", node.offset)
                steps, kind = joined(parts, node.offset)
                return Checked(kind, p.Function(node.name, tuple(steps)))
            case "abs":
                part = self._number(node.arguments[0])
                if part.type.sense == "point":
                    raise ExpressionError(NO_PRODUCT, node.offset)
                return Checked(_unnamed(part.type), p.Function("abs", (part.step,)))
            case "sqrt":
                part = self._factor(node.arguments[0])
                unit = _combined(lambda: part.type.unit.to_power(Fraction(1, 2)), node.offset)
                return reduced(p.Function("sqrt", (part.step,)), unit)
            case "kelvin":
                return self._kelvin(node)
            case "sin" | "cos" | "tan":
                part = self._number(node.arguments[0])
                if dimensions(part.type.unit) != dimensions(_RADIAN):
                    raise ExpressionError(
                        f"{node.name} wants an angle, such as 30 deg, "
                        f"not {described(part.type.unit)}",
                        start_of(node.arguments[0]),
                    )
                step = scaled(part.step, part.type.unit, _RADIAN)
                return Checked(Type("number"), p.Function(node.name, (step,)))
            case _:
                return self._rounded(node)

    def _formula(self, node: Call, formula: Formula) -> Checked:
        wanted = formula.arguments
        if len(node.arguments) != len(wanted):
            named = ", ".join(f"{name} in {unit}" if unit else name for name, unit in wanted)
            raise ExpressionError(
                f"{node.name} wants {len(wanted)} values ({named}), not {len(node.arguments)}",
                node.offset,
            )
        steps: list[p.Step] = []
        for (name, unit), one in zip(wanted, node.arguments, strict=True):
            try:
                steps.append(in_unit(self._value(one), unit, start_of(one)).step)
            except ExpressionError as error:
                message = f"{node.name}'s {name}: {error}"
                raise ExpressionError(message, error.offset) from None
        return Checked(number_type(formula.gives), p.Calculated(node.name, tuple(steps)))

    def _kelvin(self, node: Call) -> Checked:
        part = self._number(node.arguments[0])
        if not part.type.sense or part.type.sense == "difference":
            what = "a difference" if part.type.sense else described(part.type.unit)
            raise ExpressionError(
                f"kelvin wants a temperature, not {what}", start_of(node.arguments[0])
            )
        step = scaled(part.step, part.type.unit, KELVIN, True)
        return Checked(Type("number", KELVIN, "either"), step)

    def _rounded(self, node: Call) -> Checked:
        part = self._number(node.arguments[0])
        if len(node.arguments) == 2:
            by = self._number(node.arguments[1])
            _same_dimensions(part, by, "round", node.offset)
            step = scaled(by.step, by.type.unit, part.type.unit)
        elif part.type.unit.parts:
            raise ExpressionError(
                f"{node.name} of {described(part.type.unit)} wants a step: "
                f"{node.name}(..., 1 {part.type.unit})",
                node.offset,
            )
        else:
            step = p.Fixed(1.0)
        return Checked(_unnamed(part.type), p.Function(node.name, (part.step, step)))

    def _table(self, node: Call) -> Checked:
        table = self._scope.tables.get(node.name)
        if table is None:
            what = "no table is named" if node.column else "no table or function is named"
            known = [*self._scope.tables, *(() if node.column else (*FUNCTIONS, *FORMULAS))]
            raise ExpressionError(f"{what} {node.name}" + near(node.name, known), node.offset)
        column = self._column(table, node)
        if len(node.arguments) != len(table.axes):
            axes = ", ".join(axis.name for axis in table.axes)
            raise ExpressionError(
                f"table {table.name} is looked up by {axes}: "
                f"{len(table.axes)} values, not {len(node.arguments)}",
                node.offset,
            )
        steps = tuple(
            self._argument(table, axis, one)
            for axis, one in zip(table.axes, node.arguments, strict=True)
        )
        kind = number_type(table.columns[column][1])
        return Checked(kind, p.Chart(table, column, steps))

    def _column(self, table: Table, node: Call) -> int:
        names = [name for name, _ in table.columns]
        if not node.column:
            if len(names) == 1:
                return 0
            raise ExpressionError(
                f"table {table.name} has several columns; "
                f"say which: {' or '.join(f'{table.name}.{name}' for name in names)}",
                node.offset,
            )
        if node.column not in names:
            raise ExpressionError(
                f"table {table.name} has no column {node.column}; it has {', '.join(names)}",
                node.offset,
            )
        return names.index(node.column)

    def _argument(self, table: Table, axis: Axis, node: Node) -> p.Step:
        rows = [row for row in axis.rows if isinstance(row, str)]
        where = f"table {table.name} by {axis.name}"
        if rows:
            is_word = isinstance(node, Name) and self._is_word(node, rows)
            checked = self.result(node) if is_word else self._value(node)
            if checked.type.what != "word" or not set(checked.type.choices) & set(rows):
                raise ExpressionError(
                    f"{where} wants one of {', '.join(rows)}, not {checked.type}", start_of(node)
                )
            return checked.step
        checked = self._value(node)
        try:
            return in_unit(checked, axis.unit, start_of(node)).step
        except ExpressionError as error:
            raise ExpressionError(f"{where}: {error}", error.offset) from None


def start_of(node: Node) -> int:
    """The offset at which a node's text begins."""
    while isinstance(node, Infix | Choose):
        node = node.left if isinstance(node, Infix) else node.then
    return node.offset


def _word(text: str) -> Checked:
    return Checked(word_type((text,)), p.Fixed(text))


def _unnamed(kind: Type) -> Type:
    return Type("number", kind.unit, kind.sense)


def _combined(make: Callable[[], Unit], offset: int) -> Unit:
    try:
        return make()
    except UnitError as error:
        raise ExpressionError(str(error), offset) from None


def _same_dimensions(left: Checked, right: Checked, verb: str, offset: int) -> None:
    one, two = left.type.unit, right.type.unit
    if dimensions(one) == dimensions(two):
        return
    joint = "from" if verb == "take" else "to" if verb == "round" else "and"
    first, second = (two, one) if verb == "take" else (one, two)
    hint = ""
    for this, other in ((left, two), (right, one)):
        if isinstance(this.step, p.Fixed) and not this.type.unit.parts and other.parts:
            hint = f"; write its unit: {this.step.value:g} {other}"
    raise ExpressionError(
        f"cannot {verb} {described(first)} {joint} {described(second)}{hint}", offset
    )


def _literal(node: Node) -> Fraction | None:
    """A number written out (with a sign, or as a quotient), or None."""
    match node:
        case Number(unit=unit, value=value) if not unit.parts:
            return Fraction(str(value))
        case Prefix(operator="-", operand=operand):
            inner = _literal(operand)
            return None if inner is None else -inner
        case Infix(operator="/", left=left, right=right):
            above, below = _literal(left), _literal(right)
            return above / below if above is not None and below else None
        case _:
            return None
