"""From arrived bytes to readings: everything of a feed but the socket, file or pipe itself.

There is no clock here: each call carries the time. What is malformed, late or unknown is
counted and dropped. Every record goes to the consumer, in order, within the call in which it
arrived; only where many wait at once, because the consumer is behind, are some left out, and
then those in which a reading stands highest or lowest are kept, so that whatever was
crossed in between is still seen to be crossed, and by values that stood together.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from runner.feed.decode import Decoder, Record
from runner.feed.map import FeedMap, Stamps
from runner.feed.order import Order
from runner.feed.pace import Pace
from runner.feed.reading import Readings

LOST, BACK, PAUSED, RUNNING = "readings lost", "readings back", "paused", "running"
"""The states that are told, each when it begins."""

LOST_SECONDS = 2.0
"""Readings are lost when none has come for so long, and a value is too old to be used."""

PAUSED_LOST_SECONDS = 30.0
"""The same while the simulator is known to be paused: it may send nothing then."""

BEHIND = 32
"""More records than this at once: the consumer is behind."""

LEAP_SECONDS, FASTEST_RATE = 5.0, 32.0
LEAP_NUMBERS, FASTEST_NUMBERS = 1000.0, 20_000.0
"""How far the clock and the numbers of a source may step at once, and rise in a second."""


@dataclass(slots=True)
class Counts:
    """What has come so far.

    ``accepted`` records gave readings; ``malformed`` records (or lines) gave nothing, ``late``
    ones came after newer ones; ``unusable`` values were dropped from records that are
    otherwise good; ``unnamed`` names were not in the map; ``thinned`` records were good but
    not passed on, as the consumer was behind.
    """

    accepted: int = 0
    malformed: int = 0
    late: int = 0
    unusable: int = 0
    unnamed: int = 0
    thinned: int = 0
    bytes: int = 0


class Intake:
    """Takes what arrives. Times are seconds of one clock that never goes back.

    With ``stamped`` the source's own clock is the time of a reading, where it gives one:
    for a source that runs as fast as it is read. A silence is then one of that clock, and no
    record is left out.
    """

    def __init__(
        self,
        feed_map: FeedMap,
        on_readings: Callable[[Readings], None],
        on_state: Callable[[str], None],
        *,
        stamped: bool = False,
        on_record: Callable[[Record], None] | None = None,
    ) -> None:
        self.counts = Counts()
        self.map = feed_map
        self.lost = False
        self._on_readings = on_readings
        self._on_state = on_state
        self._on_record = on_record
        self._stamped = stamped
        self._begin_order()
        self._pace = Pace()
        self._told_paused = False
        self._alive = 0.0
        self._values: dict[str, float] = {}
        self._ages: dict[str, float] = {}
        self._last_at = float("-inf")

    @property
    def rate(self) -> float | None:
        """Simulated seconds in one second; None where not known."""
        return self._pace.rate

    @property
    def paused(self) -> bool | None:
        """Whether the simulator stands still; None where not known."""
        return self._pace.paused

    def start(self, now: float) -> None:
        """The feed is open from now on."""
        self._alive = now

    def due(self) -> float:
        """When ``check`` is to be called next, if nothing comes before."""
        return self._alive + (PAUSED_LOST_SECONDS if self._told_paused else LOST_SECONDS)

    def check(self, now: float) -> None:
        """Tell once when readings have been lost."""
        if not self.lost and now >= self.due():
            self._lose()

    def receive(self, pieces: Sequence[bytes], at: float, decoder: Decoder) -> None:
        """Datagrams or lines that were found waiting at one time, in order."""
        before = decoder.malformed
        ready: list[Readings] = []
        for piece in pieces:
            self.counts.bytes += len(piece)
            for record in decoder.decode(piece):
                readings = self._take(record, at)
                if readings is None:
                    continue
                if self._stamped:
                    self._on_readings(readings)
                else:
                    ready.append(readings)
        self.counts.malformed += decoder.malformed - before
        if len(ready) > BEHIND:
            kept = thin(ready)
            self.counts.thinned += len(ready) - len(kept)
            ready = kept
        for readings in ready:
            self._on_readings(readings)

    def dropped_lines(self, number: int) -> None:
        """So many lines were too long to be kept."""
        self.counts.malformed += number

    def begin(self) -> None:
        """Another connection, or the file again from its start: nothing before it counts."""
        self._begin_order()
        self._pace.begin()
        self._ages.clear()

    def _begin_order(self) -> None:
        self._numbers = Order(LEAP_NUMBERS, FASTEST_NUMBERS, repeats=False)
        self._times = Order(LEAP_SECONDS, FASTEST_RATE, repeats=True)

    def _take(self, record: Record, at: float) -> Readings | None:
        """The readings of one record, or None where it gives none."""
        if self._on_record is not None:
            self._on_record(record)
        counts = self.counts
        values, unnamed, unusable = self.map.convert_counted(record)
        counts.unnamed += unnamed
        stamps = self.map.stamps(record)
        if not values:
            if unusable or not record:
                counts.malformed += 1
                return None
        else:
            counts.unusable += unusable
        if not self._in_order(stamps, at):
            counts.late += 1
            return None
        self._keep_pace(stamps, at)
        if not values:
            return None
        counts.accepted += 1
        return self._readings(values, stamps, at)

    def _in_order(self, stamps: Stamps, at: float) -> bool:
        stamp, order = stamps.sequence, self._numbers
        if stamp is None:
            stamp, order = stamps.time, self._times
        if stamp is None:
            return True
        if not order.take(stamp, at):
            return False
        if order.leapt:
            self._pace.begin()
            self._ages.clear()
            self._last_at = float("-inf")
        return True

    def _keep_pace(self, stamps: Stamps, at: float) -> None:
        if stamps.paused is not None:
            self._pace.tell(stamps.paused)
        if stamps.time is not None and not self._stamped:
            self._pace.take(stamps.time, at)
        paused = self._pace.paused is True
        if paused != self._told_paused:
            self._told_paused = paused
            self._on_state(PAUSED if paused else RUNNING)

    def _readings(self, values: dict[str, float], stamps: Stamps, arrived: float) -> Readings:
        at = arrived
        if self._stamped and stamps.time is not None:
            at = stamps.time
            if at - self._last_at > LOST_SECONDS and self._last_at > float("-inf"):
                self._lose()
        self._alive = arrived
        self._last_at = at
        if self.lost:
            self.lost = False
            self._ages.clear()
            self._on_state(BACK)
        return Readings(
            at, self._merged(values, at), stamps.time, self._pace.paused, self._pace.rate
        )

    def _merged(self, values: dict[str, float], at: float) -> dict[str, float]:
        """With what came in other records lately: a source may send its engines one by one."""
        if self._ages.keys() <= values.keys():
            self._ages = dict.fromkeys(values, at)
            self._values = values
            return values
        self._ages.update(dict.fromkeys(values, at))
        oldest = at - LOST_SECONDS
        fresh = {**self._values, **values}
        for name, age in list(self._ages.items()):
            if age < oldest:
                del self._ages[name]
        self._values = {name: fresh[name] for name in self._ages}
        return self._values

    def _lose(self) -> None:
        if not self.lost:
            self.lost = True
            self._on_state(LOST)


def thin(waiting: Sequence[Readings]) -> list[Readings]:
    """Of several readings, in order: the first and the last, and those in which a quantity is
    highest or lowest among them."""
    low: dict[str, int] = {}
    high: dict[str, int] = {}
    for number, readings in enumerate(waiting):
        for name, value in readings.values.items():
            if name not in low or value < waiting[low[name]].values[name]:
                low[name] = number
            if name not in high or value > waiting[high[name]].values[name]:
                high[name] = number
    keep = {0, len(waiting) - 1, *low.values(), *high.values()}
    return [waiting[number] for number in sorted(keep)]
