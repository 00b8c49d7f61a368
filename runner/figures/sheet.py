"""The sheet: every figure of an aircraft for given inputs, each with its working.

Formulas use unrounded values; what is shown and said is rounded to its safe side, and it
is that rounded value which must lie within the figure's limits. A figure that cannot be
worked out is absent and has a problem instead: there is never a wrong number.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from runner.errors import RunnerError
from runner.figures.aircraft import compiled_aircraft, formulas_of, needs, order
from runner.figures.figure import Figure
from runner.figures.inputs import check_given, in_unit, input_figure, no_input, unfit
from runner.figures.model import Aircraft, FigureRule, Input
from runner.figures.program import MissingError
from runner.figures.rounding import TOLERANCE, round_safe, shown
from runner.figures.tables import CalculationError


@dataclass(frozen=True, slots=True)
class Worked:
    """The sheet worked out for the inputs ``given``.

    ``values`` are unrounded, in the units of the aircraft; ``figures`` are the inputs that
    are known and the figures, rounded, in the order of the file. ``problems`` tells for
    each input and figure that cannot be worked out why, in one line; ``absent`` holds the
    figures that do not apply now. ``missing`` are inputs that some figure still needs.
    ``renewed`` are the names that were worked out to come here from the sheet before.
    """

    aircraft: Aircraft
    given: Mapping[str, float | str]
    values: Mapping[str, float | str]
    figures: Mapping[str, Figure]
    problems: Mapping[str, str]
    absent: frozenset[str]
    missing: tuple[str, ...]
    renewed: tuple[str, ...] = field(default=(), compare=False)

    def why(self, name: str) -> tuple[str, ...]:
        """How the figure or input ``name`` came to its value, line by line.

        Raises RunnerError where the aircraft has nothing of that name.
        """
        from runner.figures.working import working

        return working(self, name)


class Sheet:
    """Works out an aircraft's figures, and only what depends on a change.

    Raises RunnerError where the aircraft itself is not sound.
    """

    def __init__(self, aircraft: Aircraft) -> None:
        rules = _rules(aircraft)
        texts = [text for rule in rules.values() for _, text in formulas_of(rule)]
        if not all(text.is_compiled for text in texts):
            aircraft, faults = compiled_aircraft(aircraft)
            if faults:
                name, message, *_ = faults[0]
                raise RunnerError(f"{aircraft.name}: {name}: {message}")
            rules = _rules(aircraft)
        self.aircraft = aircraft
        """The aircraft with its formulas compiled."""

        self._rules = rules
        self._needs = {name: needs(rule) for name, rule in rules.items()}
        self._order, circles = order(self._needs)
        if circles:
            raise RunnerError(f"{aircraft.name}: {circles[0][0]} goes round in a circle")
        self._constants = {one.name: one.value for one in aircraft.constants.values()}
        self._shown = (*aircraft.inputs, *aircraft.figures)

    def work_out(self, given: Mapping[str, float | str]) -> Worked:
        """Everything for the inputs ``given``, in the units of the aircraft; others have
        their defaults, or are worked out where they have a formula.

        Raises RunnerError for a name that is no input, a number outside the input's range
        or a word that is not one of its choices.
        """
        for name, value in given.items():
            check_given(self.aircraft, name, value)
        empty = Worked(self.aircraft, {}, {}, {}, {}, frozenset(), ())
        return self._from(empty, dict(given), (*self.aircraft.inputs, *self.aircraft.figures))

    def change(self, worked: Worked, changes: Mapping[str, float | str | None]) -> Worked:
        """``worked`` with some inputs given anew, or with None no longer given.

        Only what depends on a value that changed is worked out again. Raises RunnerError
        as ``work_out`` does.
        """
        given = dict(worked.given)
        for name, value in changes.items():
            if value is None:
                if name not in self.aircraft.inputs:
                    raise RunnerError(no_input(self.aircraft, name))
                given.pop(name, None)
            else:
                check_given(self.aircraft, name, value)
                given[name] = value
        return self._from(worked, given, changes)

    def dependents(self, name: str) -> frozenset[str]:
        """Every input and figure that uses ``name``, directly or through others."""
        found: set[str] = {name}
        for one in self._order:
            if self._needs[one] & found:
                found.add(one)
        return frozenset(found - {name})

    def _from(
        self, before: Worked, given: dict[str, float | str], touched: Iterable[str]
    ) -> Worked:
        work = _Working(
            self.aircraft,
            given,
            dict(before.values) or dict(self._constants),
            dict(before.figures),
            dict(before.problems),
            set(before.absent),
        )
        stale = set(touched)
        first = not before.values
        changed: set[str] = set()
        renewed: list[str] = []
        for name in self.aircraft.inputs:
            if name in stale and name not in self._rules and (work.renew_input(name) or first):
                changed.add(name)
        for name in self._order:
            if name in stale or not changed.isdisjoint(self._needs[name]):
                renewed.append(name)
                if work.renew(self._rules[name]) or first:
                    changed.add(name)
        figures = {name: work.figures[name] for name in self._shown if name in work.figures}
        return Worked(
            self.aircraft,
            given,
            work.values,
            figures,
            work.problems,
            frozenset(work.absent),
            self._missing(work),
            tuple(renewed),
        )

    def _missing(self, work: _Working) -> tuple[str, ...]:
        if not work.problems:
            return ()
        needed = {one for name in work.problems for one in self._needs.get(name, ())}
        return tuple(
            name
            for name, one in self.aircraft.inputs.items()
            if name in needed and name not in work.values and one.formula is None
        )


@dataclass(slots=True)
class _Working:
    """The values while they are being worked out."""

    aircraft: Aircraft
    given: dict[str, float | str]
    values: dict[str, float | str]
    figures: dict[str, Figure]
    problems: dict[str, str]
    absent: set[str]

    def renew_input(self, name: str) -> bool:
        """An input that is not worked out: as given, else its default. Whether it changed."""
        one = self.aircraft.inputs[name]
        value = self.given.get(name, one.default)
        if value is not None and (problem := unfit(one, value)):
            self.problems[name] = f"its default should be {problem}"
            value = None
        else:
            self.problems.pop(name, None)
        return self._keep(name, value, None if value is None else input_figure(one, value))

    def renew(self, rule: Input | FigureRule) -> bool:
        """A figure, or an input that is worked out unless given. Whether it changed."""
        name = rule.name
        was = (self.values.get(name), name in self.absent)
        self.problems.pop(name, None)
        self.absent.discard(name)
        try:
            if isinstance(rule, FigureRule):
                self._figure(rule)
            else:
                self._worked_input(rule)
        except MissingError as error:
            self._drop(name, self._needs(error.name))
        except CalculationError as error:
            self._drop(name, str(error))
        return was != (self.values.get(name), name in self.absent)

    def _worked_input(self, one: Input) -> None:
        if one.name in self.given:
            value = self.given[one.name]
            self._keep(one.name, value, input_figure(one, value))
            return
        assert one.formula is not None
        value = one.formula.evaluate(self.values)
        if problem := unfit(one, value):
            raise CalculationError(f"is worked out, and should be {problem}")
        self._keep(one.name, value, input_figure(one, value))

    def _figure(self, rule: FigureRule) -> None:
        if rule.condition is not None and not rule.condition.evaluate(self.values):
            self.absent.add(rule.name)
            self._keep(rule.name, None, None)
            return
        value = rule.formula.evaluate(self.values)
        said = value if isinstance(value, str) else round_safe(value, rule.rounding)
        if isinstance(said, float):
            self._within_limits(rule, said)
        self._keep(
            rule.name,
            value,
            Figure(rule.name, said, rule.unit, rule.decimals, rule.kind, rule.title),
        )

    def _within_limits(self, rule: FigureRule, said: float) -> None:
        for text, sign, way in ((rule.low, -1, "below"), (rule.high, 1, "above")):
            if text is None:
                continue
            limit = float(text.evaluate(self.values))
            slack = TOLERANCE * max(abs(said), abs(limit))
            if (said - limit) * sign > slack:
                unit = in_unit(rule.unit)
                what = "at most" if sign > 0 else "at least"
                raise CalculationError(
                    f"comes to {said:.{rule.decimals}f}{unit}, {way} its limit of "
                    f"{shown(limit)}{unit} ({what} {text.source})"
                )

    def _needs(self, name: str) -> str:
        if name in self.absent:
            return f"needs {name}, which does not apply now"
        if name in self.problems:
            return f"needs {name}, which cannot be worked out"
        return f"needs {name}, which is not given"

    def _drop(self, name: str, problem: str) -> None:
        self._keep(name, None, None)
        self.problems[name] = problem

    def _keep(self, name: str, value: float | str | None, figure: Figure | None) -> bool:
        before = self.values.get(name)
        if value is None or figure is None:
            self.values.pop(name, None)
            self.figures.pop(name, None)
        else:
            self.values[name] = value
            self.figures[name] = figure
        return before != value


def _rules(aircraft: Aircraft) -> dict[str, Input | FigureRule]:
    worked = {name: one for name, one in aircraft.inputs.items() if one.formula is not None}
    return {**worked, **aircraft.figures}
