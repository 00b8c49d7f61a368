"""``runner fly --feed``: the readings of a simulator, or of the simulated flight, for a run."""

from __future__ import annotations

import argparse
import asyncio
import re
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import quote

from runner.errors import RunnerError

if TYPE_CHECKING:
    from runner.engine.state import State
    from runner.feed.reading import Readings
    from runner.feed.source import Feed
    from runner.figures.model import Aircraft
    from runner.flight import Flight


def add_options(sub: argparse.ArgumentParser) -> None:
    """The options of ``runner fly`` that are about readings."""
    sub.add_argument(
        "--feed",
        default="",
        metavar="SOURCE",
        help="the simulator's readings: udp://127.0.0.1:PORT, tcp://..., tcp-listen://..., - "
        "(standard input), a recorded file, or sim, the simulated flight",
    )
    sub.add_argument(
        "--feed-map", default="", metavar="FILE", help="which of its names is which reading"
    )
    sub.add_argument(
        "--feed-open", action="store_true", help="take readings from other machines too"
    )
    sub.add_argument(
        "--record-feed", default="", metavar="FILE", help="keep the readings, to be played again"
    )


def check_words(arguments: argparse.Namespace) -> None:
    """Options that would do nothing are refused. Raises ``RunnerError``."""
    for name in ("feed_map", "feed_open", "record_feed"):
        if getattr(arguments, name) and not arguments.feed:
            option = "--" + name.replace("_", "-")
            raise RunnerError(f"{option}: there are no readings; name their source with --feed")
    if arguments.feed == "-" and arguments.listen == "text:-":
        raise RunnerError("--feed - and --listen text:- both read standard input; name a file")


class Feeding:
    """A feed tied to a flight; tells the simulated flight what a crew tells its pilot."""

    def __init__(
        self,
        arguments: argparse.Namespace,
        aircraft: Aircraft,
        given: Mapping[str, float | str],
        flight: Flight,
    ) -> None:
        from runner.feed.map import load_map
        from runner.feed.source import open_feed

        feed_map = load_map(Path(arguments.feed_map), aircraft) if arguments.feed_map else None
        self._fast = arguments.clock == "fast"
        self._simulated = re.match(r"sim(\?|$)", arguments.feed) is not None
        url = _with_inputs(arguments.feed, given) if self._simulated else arguments.feed
        self._flight = flight
        self._began: float | None = None
        self._told: set[str] = set()
        flight.fed = True
        self._feed: Feed = open_feed(
            url,
            feed_map,
            aircraft,
            self._read,
            self._changed,
            anywhere=arguments.feed_open,
            stamped=self._fast,
            record=arguments.record_feed,
            settle=flight.settled,
        )

    async def run(self) -> None:
        """Open the feed and tell its troubles until cancelled. Raises ``RunnerError``."""
        await self._feed.start()
        told = ""
        try:
            ended = asyncio.create_task(self._feed.ended())
            while True:
                await asyncio.wait({ended}, timeout=1.0)
                if self._feed.trouble and self._feed.trouble != told:
                    told = self._feed.trouble
                    self._flight.trouble(told)
                if ended.done():
                    self._flight.feed_ended()
                    await asyncio.Event().wait()
        finally:
            await self._feed.stop()

    def _read(self, readings: Readings) -> None:
        if self._began is None:
            self._began = readings.at
        self._flight.read(readings.at - self._began, readings.values)
        if self._simulated:
            self._tell(self._flight.state)

    def _changed(self, state: str) -> None:
        """Pass on what the feed says of itself.

        A simulated flight may take its time to begin; on a virtual clock nothing is late.
        """
        lost = state in ("readings lost", "readings back")
        if not (lost and (self._fast or (self._simulated and self._began is None))):
            self._flight.feed_changed(state)

    def _tell(self, state: State) -> None:
        """Brakes off when the list that take-off power waits for is complete; *reject*."""
        if state.rejected and "reject" not in self._told:
            self._told.add("reject")
            self._feed.tell("reject", 1.0)
        if "brake_release" not in self._told and _cleared(state):
            self._told.add("brake_release")
            self._feed.tell("brake_release", 1.0)


def _cleared(state: State) -> bool:
    """Whether every list that a moment must not find open is complete, up to the take-off."""
    if state.program is None or state.stack:
        return False
    gated = [c.id for c in state.program.lists.values() if c.gate]
    complete = {run.list for run in state.lists.values() if run.status == "complete"}
    return bool(gated) and complete.issuperset(gated[:1])


def _with_inputs(url: str, given: Mapping[str, float | str]) -> str:
    """The simulated flight with the load and the day of the run, its brakes held until told."""
    base, _, query = url.partition("?")
    parts = [query] if query else []
    if not re.search(r"(^|&)hold=", query):
        parts.append("hold=told")
    if given and "set=" not in query:
        parts.append("set=" + quote(",".join(f"{name}={value}" for name, value in given.items())))
    return f"{base}?{'&'.join(parts)}" if parts else base
