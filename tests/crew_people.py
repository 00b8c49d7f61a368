"""Members of a crew for the tests: real journals, real sockets, in one event loop."""

from __future__ import annotations

import asyncio
import contextlib
import os
import shutil
import socket
import subprocess
import time
from pathlib import Path

from runner.crew.core.happenings import Ordered, Rewound, Settled
from runner.crew.crew import Crew
from runner.crew.journal import JournalFile, Membership
from runner.crew.trust.identity import Identity


class Person:
    """A member with its journal in ``folder``; ``heard`` is what its person would have."""

    def __init__(self, folder: Path, name: str, transport, **options) -> None:
        self.file = JournalFile(folder / f"{name}.sqlite3")
        key = folder / f"{name}.key"
        if not key.exists():
            key.write_bytes(os.urandom(32))
        kept = self.file.journal.membership("crew")
        wants = options.pop("wants", "crew")
        membership = kept or Membership("crew", b"", options.pop("room", "4821"), wants=wants)
        options.pop("room", None)
        self.notices: list = []
        self.links: list[tuple[bool, str]] = []
        self.crew = Crew(
            Identity(key.read_bytes()),
            self.file.journal,
            transport,
            membership,
            name=name,
            on_notice=self.take,
            on_link=lambda up, reason: self.links.append((up, reason)),
            **options,
        )
        self.steps = [entry.text for entry in self.crew.member.log]
        self.heard = self.steps[: self.crew.member.settled]
        self.task = asyncio.create_task(self.crew.run())

    def take(self, notice) -> None:
        self.notices.append(notice)
        match notice:
            case Ordered(entry):
                self.steps.append(entry.text)
            case Rewound(length):
                assert length >= len(self.heard)
                del self.steps[length:]
            case Settled(length):
                self.heard += self.steps[len(self.heard) : length]

    def saw(self, kind: type) -> list:
        return [notice for notice in self.notices if isinstance(notice, kind)]

    async def stop(self) -> None:
        """As if the process had been killed: nothing is said, nothing more is stored."""
        self.task.cancel()
        with contextlib.suppress(asyncio.CancelledError, Exception):
            await self.task
        self.file.close()


async def until(condition, seconds: float = 10.0, what: str = "") -> None:
    """Wait until something holds; fails after ``seconds``."""
    end = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < end, what or "it did not come about in time"
        await asyncio.sleep(0.01)


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def mosquitto() -> str | None:
    """The broker's program, or None."""
    return shutil.which("mosquitto") or shutil.which("mosquitto", path="/usr/sbin:/usr/local/sbin")


@contextlib.contextmanager
def broker(folder: Path, extra: str = ""):
    """A Mosquitto of the test's own on a free port."""
    port = free_port()
    settings = folder / "mosquitto.conf"
    settings.write_text(
        f"listener {port} 127.0.0.1\nallow_anonymous true\npersistence false\n"
        f"max_queued_messages 5000\nlog_dest none\n{extra}"
    )
    process = subprocess.Popen([mosquitto(), "-c", str(settings)])
    try:
        for _ in range(200):
            with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", port), 1):
                break
            time.sleep(0.02)
        yield port
    finally:
        process.terminate()
        process.wait(10)
