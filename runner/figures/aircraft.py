"""Checking an aircraft whole, and folding the units of all its formulas into numbers.

``check_aircraft`` finds everything that is wrong with names, units, tables, rounding and
order; ``compiled_aircraft`` gives the aircraft as the sheet and the engine need it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import partial
from typing import NamedTuple

from runner.figures.checking import FUNCTIONS
from runner.figures.expression import Expression
from runner.figures.formulas import FORMULAS
from runner.figures.grammar import KEYWORDS, ExpressionError, calls_in, names_in
from runner.figures.model import Aircraft, FigureRule, Input, Limit, ReadingRule
from runner.figures.rounding import decimals_of
from runner.figures.schedule_checks import (
    AT,
    ONLY_IN_SCHEDULES,
    check_pictures,
    compiled_schedules,
)
from runner.figures.scope import Scope, Type, number_type, word_type
from runner.figures.tables import table_faults
from runner.figures.units import UnitError, parse_unit


class Fault(NamedTuple):
    """One thing that is wrong: with the input, constant, table, figure or reading ``name``
    (for a limit its position, '0' for the first; 'schedule NAME', 'picture NAME'), in its
    ``key`` as a file writes it ('from', 'if', 'at least', 'at most', 'unit', 'round', ...), at
    ``offset`` in a formula."""

    name: str
    message: str
    offset: int = 0
    key: str = "from"


def check_aircraft(aircraft: Aircraft) -> list[Fault]:
    """Everything that is wrong with an aircraft, nothing where it can be worked out."""
    return list(compiled_aircraft(aircraft)[1])


def compiled_aircraft(aircraft: Aircraft) -> tuple[Aircraft, tuple[Fault, ...]]:
    """The aircraft with every sound formula compiled, and what is wrong with the others."""
    work = _Compiling(aircraft)
    work.names_and_units()
    inputs, figures = work.formulas()
    limits = work.limits()
    inputs = work.followed(inputs)
    schedules = compiled_schedules(aircraft, work.scope, work.fault)
    check_pictures(aircraft, work.scope, work.fault)
    done = replace(aircraft, inputs=inputs, figures=figures, limits=limits, schedules=schedules)
    return done, tuple(work.faults)


def scope_of(aircraft: Aircraft, *, readings: bool = False) -> Scope:
    """What a formula may name: inputs, constants, figures and tables.

    With ``readings`` also what a simulator feeds, for conditions of a flight: a reading by
    its name, one of each engine as ``name_1`` ..., ``name_all`` (the lowest of them) and
    ``name_any`` (the highest). The aircraft should be a compiled one: the words that a
    figure may be, and whether it is a difference of temperatures, come from its formula.
    """
    names = {one.name: _constant_type(one.unit, one.value) for one in aircraft.constants.values()}
    names |= {one.name: _input_type(one) for one in aircraft.inputs.values()}
    names |= {rule.name: _figure_type(rule) for rule in aircraft.figures.values()}
    unusable: dict[str, str] = {AT: ONLY_IN_SCHEDULES}
    for rule in aircraft.readings.values():
        fed = reading_names(rule, aircraft.engines)
        if readings:
            kind = _number(rule.unit)
            names |= dict.fromkeys(fed, kind)
            if rule.each_engine:
                unusable[rule.name] = (
                    f"each engine has a {rule.name}: name {rule.name}_all, "
                    f"{rule.name}_any or {rule.name}_1"
                )
        else:
            reason = "is a reading, which a figure cannot use"
            unusable |= {name: f"{name} {reason}" for name in (rule.name, *fed)}
    return Scope(names, aircraft.tables, unusable)


def reading_names(rule: ReadingRule, engines: int) -> tuple[str, ...]:
    """The names by which conditions know a reading."""
    if not rule.each_engine:
        return (rule.name,)
    each = [f"{rule.name}_{number}" for number in range(1, engines + 1)]
    return (*each, f"{rule.name}_all", f"{rule.name}_any")


def needs(rule: Input | FigureRule) -> frozenset[str]:
    """Every name that an input's or a figure's formulas use."""
    return frozenset().union(*(text.names for _, text in formulas_of(rule)))


def formulas_of(rule: Input | FigureRule) -> Iterator[tuple[str, Expression]]:
    """The formulas of an input or a figure with their keys."""
    parts: list[tuple[str, Expression | None]] = [("from", rule.formula)]
    if isinstance(rule, FigureRule):
        parts += [("if", rule.condition), ("at least", rule.low), ("at most", rule.high)]
    yield from ((key, text) for key, text in parts if text is not None)


def order(
    graph: Mapping[str, Iterable[str]],
) -> tuple[tuple[str, ...], tuple[tuple[str, ...], ...]]:
    """Names so that each stands after what it needs, and the circles among them.

    ``graph`` gives for each name what it needs; names outside it are ignored. Within what
    the needs allow, the order is the graph's own. A circle is given as the names in it,
    each needing the next and the last the first; its names stand in the order too.
    """
    done: dict[str, bool] = {}
    ordered: list[str] = []
    circles: list[tuple[str, ...]] = []
    for start in graph:
        path: list[str] = []
        todo: list[tuple[str, Iterator[str]]] = []
        name: str | None = start
        while name is not None or todo:
            if name is not None and name in graph:
                if name not in done:
                    done[name] = False
                    path.append(name)
                    todo.append((name, iter(sorted(graph[name]))))
                elif not done[name]:
                    circles.append(tuple(path[path.index(name) :]))
            if not todo:
                break
            name = next(todo[-1][1], None)
            if name is None:
                finished, _ = todo.pop()
                path.pop()
                done[finished] = True
                ordered.append(finished)
    return tuple(ordered), tuple(circles)


@dataclass(slots=True)
class _Compiling:
    """One pass over one aircraft."""

    aircraft: Aircraft
    faults: list[Fault] = field(default_factory=list)
    scope: Scope = field(default_factory=Scope)

    def names_and_units(self) -> None:
        """Names that clash or are taken, units not known, tables out of shape."""
        craft = self.aircraft
        seen: set[str] = set()
        for group in (craft.inputs, craft.constants, craft.figures, craft.readings):
            for name in group:
                if name in seen:
                    self.fault(name, f"two things are named {name}", "name")
                seen.add(name)
        for name in (*seen, *craft.tables):
            if name in KEYWORDS or name in FUNCTIONS or name == AT:
                self.fault(name, f"{name} has a meaning in formulas; choose another name", "name")
        for name in craft.tables:
            if name in FORMULAS:
                self.fault(name, f"{name} is a calculation; choose another name", "name")
        units = [(one.name, one.unit) for one in craft.inputs.values()]
        units += [(one.name, one.unit) for one in craft.constants.values()]
        units += [(one.name, one.unit) for one in craft.figures.values()]
        units += [(one.name, one.unit) for one in craft.readings.values()]
        for name, unit in units:
            self._unit(name, unit, "unit")
        for table in craft.tables.values():
            for message in table_faults(table):
                self.fault(table.name, f"table {table.name} {message}", "rows")
            for axis in table.axes:
                self._unit(table.name, axis.unit, "by")
            for _, unit in table.columns:
                self._unit(table.name, unit, "gives")
        for rule in craft.figures.values():
            self._rounding(rule)

    def formulas(self) -> tuple[dict[str, Input], dict[str, FigureRule]]:
        """Inputs and figures compiled, in an order that knows every type it needs."""
        craft = self.aircraft
        self.scope = scope_of(craft)
        rules: dict[str, Input | FigureRule] = {
            **{name: one for name, one in craft.inputs.items() if one.formula is not None},
            **craft.figures,
        }
        graph = {name: _named(rule) for name, rule in rules.items()}
        names, circles = order(graph)
        for circle in circles:
            self.fault(circle[0], f"goes round in a circle: {' needs '.join([*circle, circle[0]])}")
        done: dict[str, Input | FigureRule] = {}
        for name in names:
            rule = rules[name]
            made = self._input(rule) if isinstance(rule, Input) else self._figure(rule)
            done[name] = made
            if isinstance(made, FigureRule):
                self.scope = replace(
                    self.scope, names={**self.scope.names, name: _figure_type(made)}
                )
        inputs = {name: done.get(name, one) for name, one in craft.inputs.items()}
        figures = {name: done[name] for name in craft.figures}
        return inputs, figures  # type: ignore[return-value]

    def limits(self) -> tuple[Limit, ...]:
        """The limits of readings compiled, each in its reading's unit."""
        craft = self.aircraft
        fed = scope_of(craft, readings=True)
        names = {**fed.names, **self.scope.names}
        own = {r.name: _number(r.unit) for r in craft.readings.values() if r.each_engine}
        whole = Scope(names, self.scope.tables, unusable=fed.unusable)
        not_here = {name: why for name, why in fed.unusable.items() if name not in own}
        shared = Scope({**own, **names}, self.scope.tables, unusable=not_here)
        limits: list[Limit] = []
        for number, limit in enumerate(craft.limits):
            rule = craft.readings.get(limit.reading)
            if rule is None:
                self.fault(str(number), f"nothing that is read is named {limit.reading}", "reading")
                limits.append(limit)
                continue
            unit = rule.unit
            scope = shared if rule.each_engine else whole
            limits.append(
                replace(
                    limit,
                    low=self._compiled(str(number), "at least", limit.low, scope, unit),
                    high=self._compiled(str(number), "at most", limit.high, scope, unit),
                    condition=self._try(
                        str(number), "if", limit.condition, partial(_condition, scope)
                    ),
                )
            )
        return tuple(limits)

    def followed(self, inputs: dict[str, Input]) -> dict[str, Input]:
        """The inputs that follow readings in flight, those formulas compiled too."""
        fed = scope_of(self.aircraft, readings=True)
        scope = Scope({**fed.names, **self.scope.names}, self.scope.tables, unusable=fed.unusable)
        made = dict(inputs)
        for name, one in inputs.items():
            # A name that is a figure's as well has its own error.
            if not isinstance(one, Input):
                continue
            follows = self._compiled(name, "follows", one.follows, scope, one.unit)
            condition = self._try(name, "while", one.follows_if, lambda text: text.condition(scope))
            made[name] = replace(one, follows=follows, follows_if=condition)
        return made

    def _input(self, rule: Input) -> Input:
        if rule.default is not None:
            self.fault(rule.name, "is worked out, so its default is never used", "default")
        if not rule.choices:
            formula = self._compiled(rule.name, "from", rule.formula, self.scope, rule.unit)
            return replace(rule, formula=formula)
        formula = self._compiled(rule.name, "from", rule.formula, self.scope, None)
        kind = formula.type if formula is not None else None
        if kind is not None and not (kind.choices and set(kind.choices) <= set(rule.choices)):
            self.fault(rule.name, f"gives {kind}, not one of {', '.join(rule.choices)}")
        return replace(rule, formula=formula)

    def _figure(self, rule: FigureRule) -> FigureRule:
        name, scope = rule.name, self.scope
        formula = self._try(name, "from", rule.formula, lambda text: self._value(text, rule))
        condition = self._try(name, "if", rule.condition, lambda text: text.condition(scope))
        low = self._compiled(name, "at least", rule.low, scope, rule.unit)
        high = self._compiled(name, "at most", rule.high, scope, rule.unit)
        made = formula if formula is not None else rule.formula
        return replace(rule, formula=made, condition=condition, low=low, high=high)

    def _value(self, text: Expression, rule: FigureRule) -> Expression:
        """A figure's formula: words as they are, a number in the figure's unit."""
        plain = text.compiled(self.scope)
        if plain.type is not None and plain.type.what == "word":
            if rule.unit:
                raise ExpressionError(f"gives {plain.type}, not a number in {rule.unit}", 0)
            return plain
        try:
            return text.compiled(self.scope, rule.unit)
        except ExpressionError as error:
            if not rule.unit and plain.unit:
                raise ExpressionError(f"{error}; give it the unit {plain.unit}", 0) from None
            raise

    def _compiled(
        self, name: str, key: str, text: Expression | None, scope: Scope, unit: str | None
    ) -> Expression | None:
        return self._try(name, key, text, lambda one: one.compiled(scope, unit))

    def _try(
        self,
        name: str,
        key: str,
        text: Expression | None,
        make: Callable[[Expression], Expression],
    ) -> Expression | None:
        if text is None:
            return None
        if self._broken & {call.name for call in calls_in(text.tree())} or name in self._broken:
            return text
        try:
            return make(text)
        except ExpressionError as error:
            self.fault(name, str(error), key, error.offset)
        return text

    def _rounding(self, rule: FigureRule) -> None:
        step = rule.rounding.step
        if not 0 < step < float("inf"):
            self.fault(rule.name, f"a rounding step is above 0, not {step:g}", "round")
        elif decimals_of(step) > rule.decimals and rule.rounding.direction != "nearest":
            self.fault(
                rule.name,
                f"{rule.decimals} decimals would hide its steps of {step:g}; "
                f"it needs {decimals_of(step)}",
                "decimals",
            )

    def _unit(self, name: str, unit: str, key: str) -> None:
        try:
            parse_unit(unit)
        except UnitError as error:
            self.fault(name, str(error), key)

    @property
    def _broken(self) -> set[str]:
        """Tables and values whose own faults would only be found again in formulas."""
        return {f.name for f in self.faults if f.key in ("rows", "by", "gives", "unit")}

    def fault(self, name: str, message: str, key: str = "from", offset: int = 0) -> None:
        """Note something that is wrong."""
        self.faults.append(Fault(name, message, offset, key))


def _named(rule: Input | FigureRule) -> set[str]:
    return {node.name for _, text in formulas_of(rule) for node in names_in(text.tree())}


def _condition(scope: Scope, text: Expression) -> Expression:
    return text.condition(scope)


def _number(unit: str, constant: float | None = None, difference: bool = False) -> Type:
    try:
        return number_type(unit, constant=constant, difference=difference)
    except UnitError:
        return number_type("")


def _constant_type(unit: str, value: float) -> Type:
    return _number(unit, constant=value)


def _input_type(one: Input) -> Type:
    return word_type(one.choices) if one.choices else _number(one.unit)


def _figure_type(rule: FigureRule) -> Type:
    kind = rule.formula.type
    if kind is None:
        return _number(rule.unit)
    if kind.what == "word":
        return word_type(kind.choices)
    return _number(rule.unit, difference=kind.sense == "difference")
