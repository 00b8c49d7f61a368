"""What a feed gives: the flight's quantities at one moment."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Readings:
    """The latest value of every quantity that the feed gives.

    ``at`` is when they arrived, in seconds of ``time.monotonic()``; where the feed was opened
    as ``stamped`` it is the source's own clock, in its seconds. ``values`` have the aircraft
    file's reading names and units, and a quantity of each engine is ``NAME_1`` to ``NAME_n``;
    one that has not come for two seconds is not among them. ``sim_seconds`` is the source's
    own clock, ``paused`` whether the simulator stands still, and ``rate`` the seconds it
    simulates in one second; each is None where the source does not let it be known.
    """

    at: float
    values: Mapping[str, float]
    sim_seconds: float | None = None
    paused: bool | None = None
    rate: float | None = None
