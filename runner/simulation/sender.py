"""Sends a simulated flight's readings: JSON lines in UDP datagrams, or on standard output."""

from __future__ import annotations

import json
import queue
import socket
import stat
import sys
import threading
import time
from collections.abc import Callable
from typing import TYPE_CHECKING

from runner.errors import RunnerError

if TYPE_CHECKING:
    from runner.simulation.flight import SimulatedFlight

AFTER_STOP = 30.0
"""Seconds for which an aircraft that has stopped goes on sending."""
BEHIND = 0.5
"""Seconds behind the real clock from which the time lost is let go."""


def line_of(record: dict[str, float], number: int) -> bytes:
    """A record as one line of JSON; ``seq`` counts records and ``time`` is its ``sim_seconds``."""
    readings = {name: value for name, value in record.items() if name != "sim_seconds"}
    whole = {"seq": number, "time": record["sim_seconds"], **readings}
    return json.dumps(whole, separators=(",", ":")).encode() + b"\n"


def to_port(host: str, port: int) -> Callable[[bytes], None]:
    """A function that sends a datagram to a UDP port. A port nobody reads is no fault."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    outgoing = socket.socket(family, socket.SOCK_DGRAM)
    try:
        outgoing.connect((host, port))
    except OSError as error:
        outgoing.close()
        raise RunnerError(f"--host {host} --port {port}: {error.strerror or error}") from error

    def send(line: bytes) -> None:
        try:
            outgoing.send(line)
        except ConnectionRefusedError:
            # An ICMP answer to the datagram before: nobody listens yet, or any more.
            return

    return send


def to_output(line: bytes) -> None:
    """Print a line at once."""
    sys.stdout.buffer.write(line)
    sys.stdout.buffer.flush()


def send_flight(
    flight: SimulatedFlight,
    send: Callable[[bytes], None],
    rate: float,
    seconds: float,
    fast: bool,
    told: Callable[[], list[tuple[str, float]] | None] = lambda: [],
) -> int:
    """Fly for ``seconds`` simulated, a record ``rate`` times a second; gives their number.

    In real time unless ``fast``. ``told`` gives what is to be told to the flight now, or None
    when nobody listens any more, which ends it.
    """
    begun, number, stopped = time.monotonic(), 0, None
    while flight.sim_seconds < seconds:
        news = told()
        if news is None:
            break
        for name, value in news:
            flight.tell(name, value)
        number += 1
        flight.advance(number / rate - flight.flown)
        send(line_of(flight.record(), number))
        if flight.phase == "stopped":
            stopped = flight.sim_seconds if stopped is None else stopped
            if flight.sim_seconds - stopped > AFTER_STOP:
                break
        if not fast:
            ahead = begun + number / rate - time.monotonic()
            if ahead > 0:
                time.sleep(ahead)
            elif ahead < -BEHIND:
                begun -= ahead
    return number


class Told:
    """Lines ``NAME VALUE`` of standard input, read beside the flight; a bad one is told of.

    The end of a pipe is the end of whoever listened; that of anything else is none.
    """

    def __init__(self) -> None:
        mode = _mode()
        self._ends = stat.S_ISFIFO(mode) or stat.S_ISSOCK(mode)
        self._lines: queue.SimpleQueue[tuple[str, float] | None] = queue.SimpleQueue()
        threading.Thread(target=self._read, daemon=True).start()

    def __call__(self) -> list[tuple[str, float]] | None:
        """What has been told since the last call; None after the end."""
        news: list[tuple[str, float]] = []
        while not self._lines.empty():
            one = self._lines.get()
            if one is None:
                return None
            news.append(one)
        return news

    def _read(self) -> None:
        from runner.simulation.targets import check_target

        for line in sys.stdin:
            words = line.split()
            try:
                name, value = words[0], float(words[1])
                check_target(name, value)
            except (IndexError, ValueError):
                print(f"not 'NAME VALUE': {line.strip()[:60]}", file=sys.stderr)
            except RunnerError as error:
                print(error, file=sys.stderr)
            else:
                self._lines.put((name, value))
        if self._ends:
            self._lines.put(None)


def _mode() -> int:
    import os

    try:
        return os.fstat(sys.stdin.fileno()).st_mode
    except (OSError, ValueError, AttributeError):
        return 0
