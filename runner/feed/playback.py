"""Readings from a file of lines, in real time or faster, and from standard input."""

from __future__ import annotations

import asyncio
import contextlib
import math
import os
import sys
import threading
import time
from collections.abc import AsyncIterator, Awaitable, Callable, Iterator
from pathlib import Path
from typing import IO

from runner.errors import RunnerError
from runner.feed.address import Address
from runner.feed.decode import Decoder
from runner.feed.intake import Intake
from runner.feed.lines import Lines
from runner.feed.record import MARK
from runner.feed.sockets import PIECE, cancelled, take_piece

UNTIMED_STEP = 0.02
"""Seconds between two records that have no time."""

Settle = Callable[[], Awaitable[None]]
"""Waits until the consumer has done with what it was given last."""

LONGEST_SILENCE = 600.0
"""A clock that steps further, or back, was set: the next record follows at once."""


class Playback:
    """Plays a file. ``ended`` is set when its last record has been given.

    With ``settle`` each record waits until the consumer has done with the one before.
    """

    def __init__(self, address: Address, intake: Intake, settle: Settle | None = None) -> None:
        self.port = 0
        self.trouble = ""
        self.ended = asyncio.Event()
        self._path = Path(address.path)
        self._speed = address.speed
        self._intake = intake
        self._settle = settle
        self._task: asyncio.Task[None] | None = None

    async def start(self) -> None:
        """Begin to play. Raises ``RunnerError`` where the file cannot be read."""
        try:
            file = self._path.open("rb")
        except (OSError, ValueError) as error:
            reason = getattr(error, "strerror", None) or error
            raise RunnerError(f"{self._path}: the readings cannot be read: {reason}") from None
        self._task = asyncio.create_task(self._play(file))

    async def stop(self) -> None:
        """Stop playing."""
        if self._task is not None:
            await cancelled(self._task)

    async def _play(self, file: IO[bytes]) -> None:
        with file:
            decoder = self._intake.map.decoder()
            async for line in self._paced(file):
                self._intake.receive([line], time.monotonic(), decoder)
                if self._settle is not None:
                    await self._settle()
        self.ended.set()

    async def _paced(self, file: IO[bytes]) -> AsyncIterator[bytes]:
        """Each line when its time has come."""
        peek = self._intake.map.decoder()
        begun = time.monotonic()
        played = 0.0
        before: float | None = None
        for line in self._lines(file):
            now = self._time(line, peek)
            if now is not None:
                untimed = math.isnan(now)
                step = UNTIMED_STEP if untimed else 0.0 if before is None else now - before
                played += step if 0 <= step <= LONGEST_SILENCE else 0.0
                before = None if untimed else now
            wait = begun + played / self._speed - time.monotonic()
            await asyncio.sleep(max(0.0, wait))
            yield line

    def _lines(self, file: IO[bytes]) -> Iterator[bytes]:
        lines = Lines()
        while piece := self._read(file):
            before = lines.too_long
            yield from (line for line in lines.feed(piece) if not _is_mark(line))
            self._intake.dropped_lines(lines.too_long - before)
        yield from lines.end()

    def _read(self, file: IO[bytes]) -> bytes:
        try:
            return file.read(PIECE)
        except OSError as error:
            self.trouble = f"{self._path}: {error.strerror or error}"
            return b""

    def _time(self, line: bytes, peek: Decoder) -> float | None:
        """The time of a line's record, NaN where it has none; None where it is no record."""
        for record in peek.decode(line):
            at = record.get("at")
            if type(at) is float or type(at) is int:
                return float(at) if abs(at) < 1e15 else None
            found = self._intake.map.stamps(record).time
            return math.nan if found is None else found
        return None


class StandardInput:
    """Lines of standard input, read by a thread of its own: it may be a pipe or a file.

    ``ended`` is set at its end.
    """

    def __init__(self, intake: Intake) -> None:
        self.port = 0
        self.trouble = ""
        self.ended = asyncio.Event()
        self._intake = intake
        self._lines = Lines()
        self._decoder = intake.map.decoder()
        self._stopped = False

    async def start(self) -> None:
        """Begin to read. Raises ``RunnerError`` where there is no standard input."""
        try:
            number = sys.stdin.fileno()
        except (AttributeError, OSError, ValueError):
            raise RunnerError("--feed -: there is no standard input to read from") from None
        loop = asyncio.get_running_loop()
        threading.Thread(target=self._read, args=(number, loop), daemon=True).start()

    async def stop(self) -> None:
        """Take no more of it."""
        self._stopped = True

    def _read(self, number: int, loop: asyncio.AbstractEventLoop) -> None:
        # The loop may be gone at any time: then nobody is left to be given anything.
        with contextlib.suppress(RuntimeError, OSError):
            while piece := os.read(number, PIECE):
                taken = threading.Event()
                loop.call_soon_threadsafe(self._take, piece, taken)
                # What is not taken yet stays in the pipe, whose size is bounded.
                while not taken.wait(1.0):
                    if loop.is_closed():
                        return
                if self._stopped:
                    return
        with contextlib.suppress(RuntimeError):
            loop.call_soon_threadsafe(self._end)

    def _take(self, piece: bytes, taken: threading.Event) -> None:
        if not self._stopped:
            take_piece(piece, self._lines, self._decoder, self._intake)
        taken.set()

    def _end(self) -> None:
        if not self._stopped:
            self._intake.receive(self._lines.end(), time.monotonic(), self._decoder)
        self.ended.set()


def _is_mark(line: bytes) -> bool:
    return line.startswith(b'{"' + MARK.encode() + b'"')
