"""What happens to datagrams on their way: lost, late, repeated, damaged, and whole silences.

Give it what was sent, with its time, and it gives what arrives, in the order of arrival; the
same seed gives the same again. A damaged datagram is always one that can be told to be damaged
(cut short, or no longer UTF-8): a digit changed into another digit cannot be, and UDP's
checksum sees to that.
"""

from __future__ import annotations

import heapq
import random
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True, order=True)
class Arrival:
    """A datagram as it arrives ``at`` (seconds); ``number`` is its place among those sent.

    Only an ``intact`` one carries what was sent; ``again`` is one that came before already.
    """

    at: float
    number: int
    data: bytes
    intact: bool = True
    again: bool = False


@dataclass(slots=True)
class Faults:
    """Shares of the datagrams (0 to 1), and silences in which everything is lost.

    A late one comes up to ``late_by`` seconds later. Silences begin every ``silence_every``
    seconds on average and last from ``silence[0]`` to ``silence[1]`` seconds; with 0 there
    are none. ``silences`` are those that there have been, as (from, to).
    """

    seed: int = 1
    lost: float = 0.01
    late: float = 0.02
    late_by: float = 0.08
    repeated: float = 0.005
    damaged: float = 0.01
    silence_every: float = 0.0
    silence: tuple[float, float] = (0.5, 8.0)

    silences: list[tuple[float, float]] = field(default_factory=list)
    _random: random.Random = field(init=False)

    def __post_init__(self) -> None:
        self._random = random.Random(self.seed)

    def arrivals(self, sent: Iterable[tuple[float, bytes]]) -> Iterator[Arrival]:
        """What arrives of what was ``sent`` (time in seconds, datagram), as it arrives."""
        chance = self._random
        on_the_way: list[Arrival] = []
        next_silence: float | None = None
        quiet_until = float("-inf")
        for number, (at, data) in enumerate(sent):
            while on_the_way and on_the_way[0].at <= at:
                yield heapq.heappop(on_the_way)
            if next_silence is None:
                next_silence = self._next_silence(at)
            if at >= next_silence:
                quiet_until = at + chance.uniform(*self.silence)
                self.silences.append((at, quiet_until))
                next_silence = self._next_silence(quiet_until)
            if at < quiet_until or chance.random() < self.lost:
                continue
            for again in (False, True)[: 2 if chance.random() < self.repeated else 1]:
                late = again or chance.random() < self.late
                arrives = at + chance.uniform(0.0, self.late_by) if late else at
                if chance.random() < self.damaged:
                    arrival = Arrival(arrives, number, self._damage(data), False, again)
                else:
                    arrival = Arrival(arrives, number, data, True, again)
                heapq.heappush(on_the_way, arrival)
        while on_the_way:
            yield heapq.heappop(on_the_way)

    def _next_silence(self, after: float) -> float:
        if self.silence_every <= 0:
            return float("inf")
        return after + self._random.expovariate(1 / self.silence_every)

    def _damage(self, data: bytes) -> bytes:
        chance = self._random
        match chance.randrange(4):
            case 0:
                return data[: chance.randrange(len(data))]
            case 1:
                place = chance.randrange(len(data))
                return data[:place] + b"\xff" + data[place + 1 :]
            case 2:
                return b"\xfe" + chance.randbytes(chance.randrange(200))
            case _:
                return data[chance.randrange(1, len(data)) :] + b"\x80"
