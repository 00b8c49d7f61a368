"""Readings held against the figures that are their targets.

A figure is the target of the reading whose name it ends with (``climb_manifold_pressure`` of
``manifold_pressure``) from when it is read back and then set until another one is. A minimum
is no target, and neither is a speed: it is passed through, and its callout tells at what.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from runner.debrief.record import Held, Points
from runner.figures.figure import Figure
from runner.figures.model import Aircraft, FigureRule, ReadingRule

NEAR = 0.03
"""A reading within this share of its target is on it."""

MOST_POINTS = 240
"""So many points of one reading are kept of a phase, evenly over its time."""


class Seen:
    """What was seen of an aircraft's readings: by name, then engine, times with values."""

    def __init__(self, aircraft: Aircraft) -> None:
        self._aircraft = aircraft
        self._points: dict[str, dict[int, dict[int, float]]] = {}

    def take(self, at: int, values: Mapping[str, float]) -> None:
        """Readings at a time; those of each engine are named ``name_1`` and so on."""
        for name, value in values.items():
            base, _, engine = name.rpartition("_")
            if name in self._aircraft.readings:
                base, engine = name, "0"
            if base in self._aircraft.readings and engine.isdecimal():
                self._points.setdefault(base, {}).setdefault(int(engine), {})[at] = value

    def between(self, reading: str, begin: int, end: int) -> tuple[tuple[int, Points], ...]:
        """The points of a reading in a span of time, for each engine."""
        found = []
        for engine, points in sorted(self._points.get(reading, {}).items()):
            inside = sorted((at, value) for at, value in points.items() if begin <= at <= end)
            if inside:
                found.append((engine, _thinned(inside)))
        return tuple(found)


def held_of(
    aircraft: Aircraft,
    seen: Seen,
    figures: Sequence[tuple[int, Iterable[Figure]]],
    read_back: Sequence[tuple[int, str, str]],
    end: int,
) -> tuple[Held, ...]:
    """Readings against targets. ``figures`` are the changes of the sheet with their times,
    ``read_back`` the times at which a figure was read back, its name and the phase."""
    chosen: dict[str, list[tuple[int, FigureRule, str]]] = {}
    for at, name, phase in read_back:
        rule = aircraft.figures.get(name)
        reading = None if rule is None else _reading_of(aircraft, rule)
        if rule is not None and reading is not None:
            chosen.setdefault(reading.name, []).append((at, rule, phase))
    found: list[Held] = []
    for reading_name, targets in chosen.items():
        for place, (begin, rule, phase) in enumerate(targets):
            until = targets[place + 1][0] if place + 1 < len(targets) else end
            steps = _steps(rule.name, figures, begin, until)
            since = _reached(seen.between(reading_name, begin, until), steps)
            if since is None:
                continue
            points = seen.between(reading_name, since, until)
            title = rule.title or rule.name.replace("_", " ")
            steps = tuple((max(at, since), value) for at, value in steps)
            found.append(Held(phase, title, rule.unit, rule.decimals, steps, points))
    return tuple(sorted(found, key=lambda one: one.target[0][0]))


def target_at(steps: Points, at: int) -> float | None:
    """The target at a time of the run, None before there is one."""
    value = None
    for since, wanted in steps:
        if since <= at:
            value = wanted
    return value


def _reached(seen: Sequence[tuple[int, Points]], steps: Points) -> int | None:
    """When the first engine came near its target: until then it was being set."""
    near = (
        at
        for _, points in seen
        for at, value in points
        if (wanted := target_at(steps, at)) is not None
        and abs(value - wanted) <= NEAR * abs(wanted)
    )
    return min(near, default=None)


def _reading_of(aircraft: Aircraft, rule: FigureRule) -> ReadingRule | None:
    if rule.name.startswith(("minimum_", "maximum_")):
        return None
    named = [r for r in aircraft.readings.values() if rule.name.endswith(f"_{r.name}")]
    return next((r for r in named if r.unit == rule.unit and r.kind != "speed"), None)


def _steps(
    name: str, figures: Sequence[tuple[int, Iterable[Figure]]], begin: int, end: int
) -> Points:
    steps: list[tuple[int, float]] = []
    for at, changed in figures:
        if at > end:
            break
        for figure in changed:
            if figure.name == name and isinstance(figure.value, int | float):
                if at <= begin:
                    steps = [(begin, float(figure.value))]
                else:
                    steps.append((at, float(figure.value)))
    return tuple(steps)


def _thinned(points: list[tuple[int, float]]) -> Points:
    if len(points) <= MOST_POINTS:
        return tuple(points)
    last = len(points) - 1
    return tuple(points[round(n * last / (MOST_POINTS - 1))] for n in range(MOST_POINTS))
