"""Bad networks beside tests that block: the relays in a loop and a thread of their own."""

from __future__ import annotations

import asyncio
import os
import threading
from collections.abc import Coroutine
from pathlib import Path
from types import TracebackType
from typing import Any

from crew_relay import Faults, StreamRelay, WebSocketRelay

Relay = StreamRelay | WebSocketRelay

_ZEROCONF = {
    "__init__.py": """
from types import SimpleNamespace
Error = OSError
InterfaceChoice = IPVersion = ServiceStateChange = Zeroconf = SimpleNamespace(
    All=0, V4Only=0, Added=0
)
""",
    "asyncio.py": """
AsyncServiceBrowser = AsyncServiceInfo = None
def AsyncZeroconf(**_):
    raise OSError("no multicast on this network")
""",
}


def without_multicast(folder: Path) -> dict[str, str]:
    """The environment of a program on whose network there is no multicast.

    On one machine a crew finds itself again by multicast past any line that a test has cut;
    from two homes it would not.
    """
    package = folder / "no-multicast" / "zeroconf"
    package.mkdir(parents=True, exist_ok=True)
    for name, text in _ZEROCONF.items():
        (package / name).write_text(text)
    paths = (str(package.parent), os.environ.get("PYTHONPATH", ""))
    return {"PYTHONPATH": os.pathsep.join(path for path in paths if path)}


class Network:
    """Lines between machines; ``cut`` and ``heal`` are the network's doing, not a program's."""

    def __init__(self) -> None:
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._loop.run_forever, daemon=True)
        self._relays: list[Relay] = []

    def __enter__(self) -> Network:
        self._thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        for relay in self._relays:
            self._do(relay.__aexit__(kind, error, trace))
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join()
        self._loop.close()

    def messages(self, port: int, faults: Faults, seed: int = 1) -> WebSocketRelay:
        """A line to the hub at ``port`` on which each message has its own fate."""
        return self._do(self._begun(WebSocketRelay(port, faults, seed)))

    def stream(self, port: int, faults: Faults, seed: int = 1) -> StreamRelay:
        """A line to whatever listens at ``port``, as a stream of bytes."""
        return self._do(self._begun(StreamRelay(port, faults, seed)))

    def cut(self, relay: Relay) -> None:
        """The line is gone, as when a router is switched off and forgets its connections."""
        relay.faults.cut = True

        async def cut() -> None:
            if isinstance(relay, StreamRelay):
                relay.cut()
            else:
                await relay.cut()

        self._do(cut())

    def silence(self, relay: StreamRelay) -> None:
        """Nothing comes through any more, and nobody is told."""
        relay.faults.stalled = True

    def heal(self, relay: Relay) -> None:
        """The line is there again."""
        relay.faults.cut = relay.faults.stalled = False

    async def _begun(self, relay: Any) -> Any:
        self._relays.append(relay)
        return await relay.__aenter__()

    def _do(self, work: Coroutine[Any, Any, Any]) -> Any:
        return asyncio.run_coroutine_threadsafe(work, self._loop).result(10)
