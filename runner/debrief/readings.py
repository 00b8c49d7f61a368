"""Readings recorded during a run (``--record-feed``), laid beside its events.

A recording has a clock of its own. It is that of the run where readings that an event was
judged on stand in it: their times tell how far the two clocks are apart.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from statistics import median

from runner.engine.events import Crossed, Event, MomentReached
from runner.errors import RunnerError

EVERY_MS = 250
"""One reading in so many milliseconds is enough for a picture."""

ALIKE = 3
"""Readings that stand in more lines than this tell no time: the gear is up for long."""

LONGEST_LINE = 65536

Timed = list[tuple[int, Mapping[str, float]]]


def recorded(path: Path, events: Sequence[Event]) -> Timed:
    """The readings of a recording with their times in the run.

    Raises RunnerError where the file cannot be read or is of another run.
    """
    judged = [
        (event.at, named)
        for event in events
        if isinstance(event, Crossed | MomentReached)
        and (named := {n: v for n, v in event.values if n != "level"})
    ]
    apart: list[list[int]] = [[] for _ in judged]
    kept: Timed = []
    try:
        with path.open(encoding="utf-8", errors="replace") as file:
            for at, values in _lines(file):
                for (when, named), found in zip(judged, apart, strict=True):
                    if len(found) <= ALIKE and named.items() <= values.items():
                        found.append(when - at)
                if not kept or at - kept[-1][0] >= EVERY_MS:
                    kept.append((at, values))
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise RunnerError(
            f"--readings {path}: cannot be read ({reason}); right would be a file written by "
            "runner fly --record-feed"
        ) from None
    told = [shift for found in apart if len(found) <= ALIKE for shift in found]
    if not told:
        raise RunnerError(
            f"--readings {path}: nothing that this run's callouts and moments were judged on "
            "stands in it; it is of another run"
        )
    shift = round(median(told))
    return [(at + shift, values) for at, values in kept]


def _lines(file: Iterator[str]) -> Iterator[tuple[int, dict[str, float]]]:
    for line in file:
        try:
            plain = json.loads(line) if len(line) < LONGEST_LINE else None
        except (ValueError, RecursionError):
            continue
        if not isinstance(plain, dict) or not isinstance(plain.get("at"), int | float):
            continue
        values = {n: float(v) for n, v in plain.items() if type(v) in (int, float) and n != "at"}
        yield round(1000 * plain["at"]), values
