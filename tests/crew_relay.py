"""Relays in user space between two ends: they delay, lose, double, reorder, stall and cut."""

from __future__ import annotations

import asyncio
import contextlib
import random
from dataclasses import dataclass

from runner.crew.near import _options


@dataclass
class Faults:
    """What a relay does; may be changed while it runs. ``delay`` in seconds, one way, and up to
    ``jitter`` more. ``overtaken``: the share of messages held back a little, so that later
    ones pass them. ``stalls``: how often in a second, on average, a direction of a stream
    that carries something stands still, for ``stall`` seconds from the least to the most."""

    delay: float = 0.0
    jitter: float = 0.0
    loss: float = 0.0
    double: float = 0.0
    overtaken: float = 0.0
    flip: float = 0.0
    stalls: float = 0.0
    stall: tuple[float, float] = (0.5, 5.0)
    cut: bool = False
    stalled: bool = False


class WebSocketRelay:
    """Between a spoke and its hub: each message has its own fate, so that with ``jitter``
    they overtake each other. ``seen`` are all messages that passed, as an eavesdropper has."""

    def __init__(self, port: int, faults: Faults, seed: int = 1) -> None:
        self.upstream = port
        self.faults = faults
        self.port = 0
        self.seen: list[bytes | str] = []
        self._chance = random.Random(seed)
        self._sockets: set = set()
        self._tasks: set = set()

    async def __aenter__(self) -> WebSocketRelay:
        from websockets.asyncio.server import serve

        self._server = await serve(self._serve, "127.0.0.1", 0, **_options())
        self.port = next(iter(self._server.sockets)).getsockname()[1]
        return self

    async def __aexit__(self, *_: object) -> None:
        self.faults.cut = True
        await self.cut()
        for task in self._tasks:
            task.cancel()
        self._server.close()
        await self._server.wait_closed()

    async def cut(self) -> None:
        for socket in list(self._sockets):
            socket.transport.abort()

    async def _serve(self, socket) -> None:
        from websockets.asyncio.client import connect

        if self.faults.cut:
            return
        try:
            other = await connect(f"ws://127.0.0.1:{self.upstream}", proxy=None, **_options())
        except OSError:
            return
        self._sockets |= {socket, other}
        try:
            await asyncio.gather(self._pass(socket, other), self._pass(other, socket))
        finally:
            self._sockets -= {socket, other}
            await socket.close()
            await other.close()

    async def _pass(self, one, other) -> None:
        from websockets.exceptions import ConnectionClosed

        with contextlib.suppress(ConnectionClosed):
            async for data in one:
                self.seen.append(data)
                copies = 0 if self._chance.random() < self.faults.loss else 1
                copies += self._chance.random() < self.faults.double
                for _ in range(copies):
                    if isinstance(data, bytes) and self._chance.random() < self.faults.flip:
                        at = self._chance.randrange(len(data) * 8)
                        data = bytearray(data)
                        data[at // 8] ^= 1 << at % 8
                        data = bytes(data)
                    wait = self.faults.delay + self._chance.random() * self.faults.jitter
                    if self._chance.random() < self.faults.overtaken:
                        wait += self._chance.uniform(0.02, 0.3)
                    task = asyncio.create_task(self._later(other, data, wait))
                    self._tasks.add(task)
                    task.add_done_callback(self._tasks.discard)
        await other.close()

    async def _later(self, socket, data, wait: float) -> None:
        from websockets.exceptions import ConnectionClosed

        await asyncio.sleep(wait)
        while self.faults.stalled:
            await asyncio.sleep(0.05)
        if not self.faults.cut:
            with contextlib.suppress(ConnectionClosed):
                await socket.send(data)


class StreamRelay:
    """Between a client and a broker: bytes are delayed, the stream stalls, or is cut. Where it
    is ``stalled`` the network is silent: who was connected is told nothing."""

    def __init__(self, port: int, faults: Faults, seed: int = 1) -> None:
        self.upstream = port
        self.faults = faults
        self.port = 0
        self._chance = random.Random(seed)
        self._writers: set[asyncio.StreamWriter] = set()

    async def __aenter__(self) -> StreamRelay:
        self._server = await asyncio.start_server(self._serve, "127.0.0.1", 0)
        self.port = self._server.sockets[0].getsockname()[1]
        return self

    async def __aexit__(self, *_: object) -> None:
        self._server.close()
        self.cut()

    def cut(self) -> None:
        for writer in list(self._writers):
            writer.transport.abort()

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        silent = self.faults.stalled
        while self.faults.stalled:
            await asyncio.sleep(0.05)
        if self.faults.cut or silent:
            writer.transport.abort()
            return
        try:
            far_reader, far_writer = await asyncio.open_connection("127.0.0.1", self.upstream)
        except OSError:
            writer.transport.abort()
            return
        self._writers |= {writer, far_writer}
        try:
            with contextlib.suppress(asyncio.CancelledError):
                await asyncio.gather(self._pass(reader, far_writer), self._pass(far_reader, writer))
        finally:
            self._writers -= {writer, far_writer}

    async def _pass(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        queue: asyncio.Queue[tuple[float, bytes]] = asyncio.Queue()
        loop = asyncio.get_running_loop()

        async def late() -> None:
            moved = loop.time()
            while True:
                at, data = await queue.get()
                await asyncio.sleep(max(0.0, at - loop.time()))
                if self._chance.random() < self.faults.stalls * (loop.time() - moved):
                    await asyncio.sleep(self._chance.uniform(*self.faults.stall))
                moved = loop.time()
                while self.faults.stalled:
                    await asyncio.sleep(0.05)
                if not data:
                    writer.close()
                    return
                with contextlib.suppress(ConnectionError):
                    writer.write(data)
                    await writer.drain()

        task = asyncio.create_task(late())
        try:
            while data := await reader.read(65536):
                wait = self.faults.delay + self._chance.random() * self.faults.jitter
                queue.put_nowait((loop.time() + wait, data))
        except ConnectionError:
            pass
        queue.put_nowait((loop.time() + self.faults.delay, b""))
        await task
