"""The run's clock: whole milliseconds, with timers; a real one and a virtual one."""

from __future__ import annotations

import asyncio
import heapq
import time
from collections.abc import Callable
from typing import Protocol


class Clock(Protocol):
    """Milliseconds of the run, and timers by name."""

    def now(self) -> int:
        """Milliseconds of the run so far."""

    def set_timer(self, name: str, after: int) -> None:
        """Fire the timer ``name`` after this many milliseconds; replaces one of that name."""

    def cancel_timer(self, name: str) -> None:
        """Forget that timer; none of that name is no fault."""

    def spend(self, milliseconds: int) -> None:
        """Something takes this long (a phrase spoken): only a virtual clock moves by it."""

    def skip_to_timer(self) -> bool:
        """Let nothing happen until the next timer; False where the clock cannot or none is set."""


def moments(clock: Clock, *seconds: float) -> tuple[int, ...]:
    """Readings of ``time.monotonic()`` as milliseconds of the run."""
    now, reading = clock.now(), time.monotonic()
    return tuple(max(0, now - round((reading - each) * 1000)) for each in seconds)


class RealClock:
    """Time as it passes, from ``start`` milliseconds on (a resumed run goes on counting)."""

    def __init__(self, on_timer: Callable[[str, int], None], start: int = 0) -> None:
        self._on_timer = on_timer
        self._zero = time.monotonic() - start / 1000
        self._timers: dict[str, asyncio.TimerHandle] = {}

    def now(self) -> int:
        return int((time.monotonic() - self._zero) * 1000)

    def set_timer(self, name: str, after: int) -> None:
        self.cancel_timer(name)
        loop = asyncio.get_running_loop()
        self._timers[name] = loop.call_later(after / 1000, self._fire, name)

    def cancel_timer(self, name: str) -> None:
        handle = self._timers.pop(name, None)
        if handle is not None:
            handle.cancel()

    def spend(self, milliseconds: int) -> None:
        pass

    def skip_to_timer(self) -> bool:
        return False

    def _fire(self, name: str) -> None:
        self._timers.pop(name, None)
        self._on_timer(name, self.now())


class FastClock:
    """A virtual clock: it moves only by what is spent, and timers on the way fire in order."""

    def __init__(self, on_timer: Callable[[str, int], None], start: int = 0) -> None:
        self._on_timer = on_timer
        self._now = start
        self._due: list[tuple[int, int, str]] = []
        self._current: dict[str, int] = {}
        self._serial = 0

    def now(self) -> int:
        return self._now

    def set_timer(self, name: str, after: int) -> None:
        self._serial += 1
        self._current[name] = self._serial
        heapq.heappush(self._due, (self._now + after, self._serial, name))

    def cancel_timer(self, name: str) -> None:
        self._current.pop(name, None)

    def spend(self, milliseconds: int) -> None:
        target = self._now + milliseconds
        while self._next_due() is not None and self._due[0][0] <= target:
            self._fire_first()
        self._now = max(self._now, target)

    def skip_to_timer(self) -> bool:
        if self._next_due() is None:
            return False
        self._fire_first()
        return True

    def _next_due(self) -> int | None:
        while self._due and self._current.get(self._due[0][2]) != self._due[0][1]:
            heapq.heappop(self._due)
        return self._due[0][0] if self._due else None

    def _fire_first(self) -> None:
        due, _, name = heapq.heappop(self._due)
        self._current.pop(name, None)
        self._now = max(self._now, due)
        self._on_timer(name, self._now)
