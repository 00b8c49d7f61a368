"""The recent course of one reading: how fast it changes, and whether a value can be believed.

A number that was damaged on its way is one value that stands alone: it is doubted, and
forgotten when the next goes on from those before it. Where the next stands by it, both are
believed, so that a reading that really jumps is seen one value later.
"""

from __future__ import annotations

from dataclasses import dataclass

WINDOW = 1_000
"""Milliseconds of values from which a rate of change is taken."""

OLDEST = 5_000
"""Where values come slowly the last three are used, none older than this."""

SPACING = 20
"""Milliseconds between values that are kept: a rate needs no more of them."""

APART = 10
"""Milliseconds between two values that bear each other out; a datagram sent twice does not."""

JUMP = 0.03
"""Share of its size by which a value may differ from the last beside its rate of change."""

FASTER = 3.0
"""How many times its rate of change a value may change by."""

Point = tuple[int, float]


@dataclass(frozen=True, slots=True)
class Track:
    """Values of a reading with their milliseconds, oldest first, and one that is doubted."""

    points: tuple[Point, ...] = ()
    doubted: Point | None = None

    @property
    def rate(self) -> float:
        """The rate of change per millisecond, by least squares; 0 of fewer than three values."""
        return _slope(self.points) if len(self.points) >= 3 else 0.0


def _slope(points: tuple[Point, ...]) -> float:
    middle = sum(t for t, _ in points) / len(points)
    mean = sum(v for _, v in points) / len(points)
    square = sum((t - middle) ** 2 for t, _ in points)
    return sum((t - middle) * (v - mean) for t, v in points) / square if square > 0 else 0.0


def follow(track: Track, at: int, value: float) -> tuple[Track, bool]:
    """The track with a value more, and whether that value is believed."""
    if not track.points:
        return Track(((at, value),)), True
    last_at, last = track.points[-1]
    if abs(value - last) > JUMP * max(abs(value), abs(last)):
        allowed = JUMP * max(abs(value), abs(last))
        allowed += FASTER * abs(_slope(track.points)) * (at - last_at + SPACING)
        if abs(value - last) > allowed:
            return _doubt(track, at, value)
    if at - last_at < SPACING:
        return (track if track.doubted is None else Track(track.points)), True
    return Track((*_recent(track.points, at), (at, value))), True


def _doubt(track: Track, at: int, value: float) -> tuple[Track, bool]:
    """A value that does not go on from the last: believed with a doubted one that it stands by,
    which is one that it is no further from than that was from the last."""
    before = track.doubted
    last = track.points[-1][1]
    if before is None or abs(value - before[1]) > min(abs(value - last), abs(before[1] - last)):
        return Track(track.points, (at, value)), False
    if at - before[0] < APART:
        return track, False
    return Track((before, (at, value))), True


def _recent(points: tuple[Point, ...], at: int) -> tuple[Point, ...]:
    """The points that a rate is taken from, with room for one more."""
    begin = 0
    most = len(points) - 2
    while begin < most and points[begin][0] < at - WINDOW:
        begin += 1
    while begin < len(points) - 1 and points[begin][0] < at - OLDEST:
        begin += 1
    return points[begin:]
