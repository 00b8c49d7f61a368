"""Values of inputs as a pilot writes them: ``gross_weight=74310lb``."""

from __future__ import annotations

from collections.abc import Sequence

from runner.errors import RunnerError
from runner.figures.model import Aircraft
from runner.figures.scope import near
from runner.figures.units import UnitError, convert, parse_quantity


def read_given(aircraft: Aircraft, pairs: Sequence[str]) -> dict[str, float | str]:
    """Inputs in the aircraft's own units from ``name=value`` pairs, a unit optional.

    Raises RunnerError for a name that is no input, a value that is no number or none of
    the choices, and a unit that does not fit. Ranges are the sheet's to check.
    """
    given: dict[str, float | str] = {}
    for pair in pairs:
        name, equals, value = (part.strip() for part in pair.partition("="))
        if not equals or not value:
            raise RunnerError(
                f"--set {pair}: say it as name=value, for example gross_weight=74310lb"
            )
        known = aircraft.inputs.get(name)
        if known is None:
            raise RunnerError(_unknown(aircraft, name))
        if known.choices:
            if value not in known.choices:
                raise RunnerError(f"{name} is one of {', '.join(known.choices)}, not {value}")
            given[name] = value
            continue
        try:
            number, unit = parse_quantity(value)
            given[name] = convert(number, unit, known.unit) if unit else number
        except UnitError as error:
            raise RunnerError(f"--set {name}={value}: {error}") from error
    return given


def _unknown(aircraft: Aircraft, name: str) -> str:
    hint = near(name, aircraft.inputs)
    if not hint and name in aircraft.figures:
        return f"{name} is worked out for {aircraft.name}; it cannot be set"
    return f"{aircraft.name} has no input {name}" + (
        hint or f"; it has {', '.join(aircraft.inputs)}"
    )
