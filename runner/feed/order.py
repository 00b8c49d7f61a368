"""Which records are newer than what has come: late ones are told from a source begun again.

A record's stamp (its number, or the source's clock) only rises, but datagrams overtake each
other, stamps are damaged on the way, and a simulator that loads another flight begins again
at nought. A stamp out of line is therefore not believed at once: the record is late, unless
those that follow go on from it.
"""

from __future__ import annotations

LEAP_NEEDS = 3
"""Records in a row that make a leap believed."""

STEP_BACK_NEEDS = 10
"""The same for a step back that is no leap: so many datagrams are not overtaken in a row."""


class Order:
    """Takes stamps in the order of arrival. ``leap`` is how far they may step at once, and
    ``a_second`` how fast they may rise; with ``repeats`` a stamp that is the same as the last
    is no repetition (several records in one step of the source's clock, or a pause)."""

    def __init__(self, leap: float, a_second: float, *, repeats: bool) -> None:
        self.leapt = False
        """Whether the stamp taken last is believed to begin anew."""

        self._leap = leap
        self._a_second = a_second
        self._repeats = repeats
        self._newest: float | None = None
        self._newest_at = 0.0
        self._other = 0.0
        self._others = 0

    def take(self, stamp: float, at: float) -> bool:
        """Whether the record with this stamp, arrived ``at`` (seconds), is to be used."""
        self.leapt = False
        if self._newest is None:
            self._newest, self._newest_at = stamp, at
            return True
        ahead = stamp - self._newest
        allowed = self._leap + self._a_second * max(0.0, at - self._newest_at)
        if 0 < ahead <= allowed or (ahead == 0 and self._repeats):
            self._newest, self._newest_at, self._others = stamp, at, 0
            return True
        if ahead == 0:
            return False
        follows = self._others and self._follows(stamp - self._other)
        self._others = self._others + 1 if follows else 1
        self._other = stamp
        if self._others < (LEAP_NEEDS if abs(ahead) > self._leap else STEP_BACK_NEEDS):
            return False
        self.leapt = True
        self._newest, self._newest_at, self._others = stamp, at, 0
        return True

    def _follows(self, step: float) -> bool:
        return 0 < step <= self._leap or (step == 0 and self._repeats)
