"""How fast the simulator's clock goes against ours: paused, slower, faster."""

from __future__ import annotations

STILL_SECONDS = 0.5
STILL_STEPS = 3.0
"""A clock that has not moved for so long, and for so many of its usual steps, stands still."""

UNKNOWN_STEP_SECONDS = 0.7
"""The step that is supposed of a clock that has not moved yet."""

WINDOW_SECONDS = 1.0
"""The rate is measured over so long."""

GAP_SECONDS = 2.0
"""Nothing is measured over a longer silence: nobody knows what the simulator did in it."""

FASTEST = 64.0
"""A clock that rises faster, or falls, was set; it did not go."""


class Pace:
    """Takes a record's clock and says whether it stands still and how fast it goes.

    ``paused`` and ``rate`` (simulated seconds a second) are None until they are known.
    """

    def __init__(self) -> None:
        self.paused: bool | None = None
        self.rate: float | None = None
        self._told = False
        self._time: float | None = None
        self._moved_at = 0.0
        self._seen_at = 0.0
        self._step: float | None = None
        self._window: tuple[float, float] | None = None

    def tell(self, paused: bool) -> None:
        """The source says itself whether it is paused: from now on it alone decides."""
        self._told = True
        if self.paused and not paused:
            self._window = None
        self.paused = paused

    def begin(self) -> None:
        """The source's clock begins anew."""
        self._time = None
        self._window = None

    def take(self, time: float, at: float) -> None:
        """A record with the source's clock at ``time``, arrived ``at`` (both in seconds)."""
        before = self._time
        quiet = at - self._seen_at > GAP_SECONDS
        self._time, self._seen_at = time, at
        if before is None or quiet:
            self._moved_at = at
            self._window = (time, at)
            return
        if time != before:
            self._moves(at)
        elif not self._told:
            usual = UNKNOWN_STEP_SECONDS if self._step is None else self._step
            if at - self._moved_at > max(STILL_SECONDS, STILL_STEPS * usual):
                self.paused = True
        self._measure(time, at)

    def _moves(self, at: float) -> None:
        if not self._told:
            if self.paused:
                self._window = None
            else:
                step = at - self._moved_at
                self._step = step if self._step is None else self._step + (step - self._step) * 0.1
            self.paused = False
        self._moved_at = at

    def _measure(self, time: float, at: float) -> None:
        if self.paused:
            self.rate = 0.0
            self._window = None
        elif self._window is None:
            self._window = (time, at)
        elif at - self._window[1] >= WINDOW_SECONDS:
            rate = (time - self._window[0]) / (at - self._window[1])
            if 0 <= rate <= FASTEST:
                self.rate = rate
            self._window = (time, at)
