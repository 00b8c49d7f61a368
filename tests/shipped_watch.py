"""The shipped flight flown over made-up readings from a phase on, and readings to fly it over."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import cache

from flying_watch import FlyingWatch
from runner.checklist.model import Procedures
from runner.engine.events import FiguresChanged
from runner.figures.figure import Figure
from shipped_answers import figures, shipped
from shipped_runs import started


@cache
def procedures() -> Procedures:
    """The shipped procedures, loaded once for all tests."""
    return shipped()


@cache
def usual() -> Mapping[str, Figure]:
    """The figures of the usual load and day."""
    return figures(procedures())


def value(name: str) -> float:
    """A figure of the usual load and day."""
    return float(usual()[name].value)


def flight(phase: str) -> FlyingWatch:
    """The shipped flight from a phase on, what is said first said to its end."""
    flown = FlyingWatch(*started(procedures(), phase=phase))
    return flown.wait(30_000)


def ramp(
    flown: FlyingWatch, reading: str, begin: float, end: float, a_second: float, step: int = 20
) -> Iterator[tuple[int, dict[str, float]]]:
    """A reading that goes evenly from one value to another, from now on."""
    count = round(abs(end - begin) / a_second * 1000 / step)
    start = flown.at + step
    for n in range(count + 1):
        yield start + n * step, {reading: begin + (end - begin) * n / count}


def hold(
    flown: FlyingWatch, seconds: float, values: dict[str, float], step: int = 20
) -> Iterator[tuple[int, dict[str, float]]]:
    """The same readings for so long."""
    start = flown.at + step
    for n in range(round(seconds * 1000 / step)):
        yield start + n * step, values


def engines(**each: float) -> dict[str, float]:
    """Readings that all four engines have alike."""
    return {f"{name}_{n}": number for name, number in each.items() for n in range(1, 5)}


def with_values(flown: FlyingWatch, **values: float) -> FiguresChanged:
    """Figures changed to these values."""
    changed = tuple(replace(usual()[name], value=number) for name, number in values.items())
    return FiguresChanged(flown.at, changed, followed=True)
