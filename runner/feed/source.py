"""Opening a feed: one interface to every source of readings."""

from __future__ import annotations

import asyncio
import math
import time
from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Protocol

from runner.feed.address import Address, parse_address
from runner.feed.intake import Counts, Intake
from runner.feed.map import FeedMap, plain_map
from runner.feed.reading import Readings

if TYPE_CHECKING:
    from runner.feed.decode import Record
    from runner.feed.playback import Settle
    from runner.feed.record import Recorder
    from runner.figures.model import Aircraft

CHECK_SECONDS = 0.05
"""The least time between two looks at whether readings are lost."""


class Driver(Protocol):
    """A socket, a file, a pipe or a program: what gives an intake its bytes."""

    @property
    def port(self) -> int: ...

    @property
    def trouble(self) -> str: ...

    async def start(self) -> None: ...

    async def stop(self) -> None: ...


class Feed:
    """A source of readings, open between ``start`` and ``stop``. Made by ``open_feed``.

    Everything is called back in the event loop in which it was started.
    """

    def __init__(self, intake: Intake, driver: Driver, recorder: Recorder | None = None) -> None:
        self._intake = intake
        self._driver = driver
        self._recorder = recorder
        self._timer: asyncio.TimerHandle | None = None

    @property
    def counts(self) -> Counts:
        """What has come so far."""
        return self._intake.counts

    @property
    def rate(self) -> float | None:
        """Simulated seconds in one second, measured over the last one; None where not known."""
        return self._intake.rate

    @property
    def paused(self) -> bool | None:
        """Whether the simulator stands still; None where not known."""
        return self._intake.paused

    @property
    def lost(self) -> bool:
        """Whether readings were told to be lost and are not back."""
        return self._intake.lost

    @property
    def port(self) -> int:
        """The port that is listened to, where the source is a socket."""
        return self._driver.port

    @property
    def trouble(self) -> str:
        """Why nothing comes, or why the recording ended, in a line; empty where all is well."""
        recording = "" if self._recorder is None else self._recorder.trouble
        return self._driver.trouble or recording

    async def start(self) -> None:
        """Open the source. Raises ``RunnerError`` where it cannot be opened."""
        try:
            await self._driver.start()
        except BaseException:
            self._stop_recording()
            raise
        self._intake.start(time.monotonic())
        self._check()

    async def stop(self) -> None:
        """Close the source; nothing is called back after it."""
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None
        await self._driver.stop()
        self._stop_recording()

    async def ended(self) -> None:
        """Wait for the end of a file or of standard input; another source has none."""
        event = getattr(self._driver, "ended", None)
        await (event or asyncio.Event()).wait()

    def tell(self, name: str, value: float) -> None:
        """Tell the simulated flight a target, in its unit; another source is told nothing."""
        tell = getattr(self._driver, "tell", None)
        if tell is not None:
            tell(name, value)

    def _check(self) -> None:
        now = time.monotonic()
        self._intake.check(now)
        wait = max(CHECK_SECONDS, self._intake.due() - now)
        self._timer = asyncio.get_running_loop().call_later(wait, self._check)

    def _stop_recording(self) -> None:
        if self._recorder is not None:
            self._recorder.stop()


def open_feed(
    url: str,
    feed_map: FeedMap | None,
    aircraft: Aircraft,
    on_readings: Callable[[Readings], None],
    on_state: Callable[[str], None],
    *,
    anywhere: bool = False,
    stamped: bool = False,
    record: str = "",
    on_record: Callable[[Record], None] | None = None,
    settle: Settle | None = None,
) -> Feed:
    """A feed from ``url``, not started yet. Call it within the event loop.

    ``udp://host:port`` (port 0: any free one), ``tcp://host:port`` (connects, and again when
    the connection ends), ``tcp-listen://host:port``, ``-`` (standard input), the path of a
    file of lines (``?speed=4``, ``?speed=max``), or ``sim``, the simulated flight. Without a
    map the source has the aircraft's own names and units, as a recording made by
    ``record`` (a file to be written) always has.

    ``on_readings`` is called for each record, in order; ``on_state`` with "readings lost" and
    "readings back", "paused" and "running", each when it begins. With ``stamped`` the
    time of a reading is the source's own clock, and a file or the simulated flight goes as
    fast as its records are taken: after each it waits for ``settle``. ``on_record`` gets each
    record as it came.
    Raises ``RunnerError`` where the source cannot be: a socket that is not of this machine
    alone needs ``anywhere``.
    """
    address = parse_address(url, anywhere=anywhere)
    feed_map = feed_map or plain_map(aircraft)
    if address.kind == "file":
        from runner.feed.record import recorded_aircraft

        if recorded_aircraft(address.path) is not None:
            feed_map = replace(plain_map(aircraft), ignored=frozenset({"at"}))
    if address.kind == "sim":
        feed_map = replace(plain_map(aircraft), ignored=frozenset({"sim_seconds"}))
    if stamped and address.kind == "file":
        address = replace(address, speed=math.inf)
    recorder = None
    if record:
        from runner.feed.record import Recorder

        recorder = Recorder(record, aircraft.name)
        on_readings = _both(on_readings, recorder.write)
    intake = Intake(feed_map, on_readings, on_state, stamped=stamped, on_record=on_record)
    return Feed(intake, _driver(address, intake, stamped, settle), recorder)


def _both(
    first: Callable[[Readings], None], second: Callable[[Readings], None]
) -> Callable[[Readings], None]:
    def both(readings: Readings) -> None:
        first(readings)
        second(readings)

    return both


def _driver(address: Address, intake: Intake, stamped: bool, settle: Settle | None) -> Driver:
    match address.kind:
        case "udp":
            from runner.feed.sockets import Udp

            return Udp(address, intake)
        case "tcp":
            from runner.feed.sockets import TcpClient

            return TcpClient(address, intake)
        case "tcp-listen":
            from runner.feed.sockets import TcpServer

            return TcpServer(address, intake)
        case "stdin":
            from runner.feed.playback import StandardInput

            return StandardInput(intake)
        case "file":
            from runner.feed.playback import Playback

            return Playback(address, intake, settle)
        case "sim":
            from runner.feed.simulated import SimulatedFlight

            return SimulatedFlight(address, intake, stamped=stamped, settle=settle)
