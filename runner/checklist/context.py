"""What the reader of a procedures file knows while it reads: the aircraft, and how to ask it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from runner.checklist.aircraft import Places
from runner.checklist.model import Moment, Text
from runner.checklist.nodes import Scalar
from runner.checklist.problems import Problems, did_you_mean, one_of, shorten
from runner.checklist.quantities import compile_condition, compile_number, read_formula
from runner.checklist.text import ENGINE, parse_text, places

if TYPE_CHECKING:
    from runner.figures.expression import Expression, Scope
    from runner.figures.model import Aircraft, FigureRule, Input, ReadingRule


@dataclass(slots=True)
class Context:
    """The aircraft's names, the moments, and the problems found so far."""

    aircraft: Aircraft
    declared: Places
    problems: Problems
    scope: Scope
    moments: dict[str, Moment] = field(default_factory=dict)
    moment_ids: tuple[str, ...] = ()
    """Ids of all moments in the file, good or not."""

    unsure: frozenset[str] = frozenset()
    """Names that have an error of their own in the aircraft file."""

    @classmethod
    def of(cls, aircraft: Aircraft, declared: Places, problems: Problems) -> Context:
        """A context with everything that formulas in procedures may name."""
        from runner.figures.aircraft import scope_of

        scope = scope_of(aircraft, readings=True)
        return cls(aircraft, declared, problems, scope, unsure=frozenset(declared.unsure))

    @property
    def readings(self) -> dict[str, ReadingRule]:
        """Readings by the names that conditions use: NAME, or NAME_1, NAME_all, NAME_any."""
        from runner.figures.aircraft import reading_names

        return {
            name: rule
            for rule in self.aircraft.readings.values()
            for name in reading_names(rule, self.aircraft.engines)
        }

    def names(self, *kinds: str) -> list[str]:
        """Declared names of the given kinds (`an input`, `a figure` ...)."""
        return [name for name, kind in self.declared.kinds.items() if kind in kinds]

    def known(self, scalar: Scalar, *kinds: str) -> bool:
        """Whether a name is declared as one of ``kinds``; notes it where not."""
        kind = self.declared.kinds.get(scalar.text)
        if kind in kinds:
            return True
        wanted = one_of(kinds)
        if kind is not None:
            self.problems.error(
                scalar.where, f"'{scalar.text}' is {kind} of the aircraft, not {wanted}"
            )
        else:
            self.problems.error(
                scalar.where,
                f"'{shorten(scalar.text)}' is not {wanted} of the aircraft"
                + did_you_mean(scalar.text, self.names(*kinds)),
            )
        return False

    def unit_of(self, rule: Input | FigureRule | ReadingRule | None) -> str | None:
        """The unit of a named number; None where it is not known."""
        return None if rule is None or rule.name in self.unsure else rule.unit

    def words(self, name: str) -> bool:
        """Whether an input or a figure is a word, not a number."""
        given = self.aircraft.inputs.get(name)
        rule = self.aircraft.figures.get(name)
        kind = rule.formula.type if rule is not None else None
        return bool(given and given.choices) or (kind is not None and kind.what == "word")

    def moment(self, scalar: Scalar | None) -> str:
        """A moment's id, or nothing where it is missing or not known (noted)."""
        if scalar is None:
            return ""
        if scalar.text in self.moment_ids:
            return scalar.text
        self.problems.error(
            scalar.where,
            f"'{shorten(scalar.text)}' is not one of the moments of this file"
            + (did_you_mean(scalar.text, self.moment_ids) or "; add it under 'moments'"),
        )
        return ""

    def role(self, scalar: Scalar | None) -> str:
        """A crew role of the aircraft, or nothing where it is missing or not known (noted)."""
        if scalar is None:
            return ""
        roles = self.aircraft.roles
        if scalar.text not in roles:
            self.problems.error(
                scalar.where,
                f"'{shorten(scalar.text)}' is not a crew role of the aircraft"
                + (did_you_mean(scalar.text, roles) or f"; its roles: {', '.join(roles)}"),
            )
        return scalar.text

    def figures(self, scalar: Scalar | None, engine: bool) -> Text | None:
        """A text whose figures are checked; ``engine``: whether an engine is known here."""
        if scalar is None:
            return None
        for name, offset in places(scalar):
            where = scalar.at(offset)
            if name == ENGINE:
                if not engine:
                    self.problems.error(
                        where,
                        "no engine is known here: add 'each engine: yes' to the item or "
                        "'argument: engine' to the list",
                    )
            elif not self.known(Scalar(name, where), "an input", "a figure"):
                continue
        return parse_text(scalar.text.strip())

    def condition(self, scalar: Scalar | None) -> Expression | None:
        """A condition, its names known and its units fitting."""
        formula = read_formula(scalar, self.problems)
        if scalar is None or formula is None or not self._complete(formula):
            return None
        return compile_condition(formula, scalar, self.scope, self.problems)

    def number(
        self, scalar: Scalar, unit: str | None, *, difference: bool = False
    ) -> Expression | None:
        """A number that fits ``unit`` and is worked out in it."""
        formula = read_formula(scalar, self.problems)
        if formula is None or not self._complete(formula):
            return None
        return compile_number(
            formula, scalar, unit, self.scope, self.problems, difference=difference
        )

    def _complete(self, formula: Expression) -> bool:
        """Whether all that the formula names was read from the aircraft file without error."""
        bases = {name.rpartition("_")[0] for name in formula.names}
        return self.unsure.isdisjoint(formula.names | bases)
