"""An attacker on the network, who speaks WebSocket well and keeps to nothing else."""

from __future__ import annotations

import asyncio
import base64
import contextlib
import os
import struct


class Attacker:
    """Against the hub at ``port`` of this machine."""

    def __init__(self, port: int) -> None:
        self.port = port

    async def say(self, messages: list[bytes | str], listen: float = 0.0) -> list[bytes | str]:
        """Connect, send these, and give what comes back within ``listen`` seconds."""
        from websockets.asyncio.client import connect
        from websockets.exceptions import WebSocketException

        found: list[bytes | str] = []
        with contextlib.suppress(WebSocketException, OSError, TimeoutError):
            async with connect(f"ws://127.0.0.1:{self.port}", proxy=None, max_size=None) as socket:
                for message in messages:
                    await socket.send(message)
                async with asyncio.timeout(listen):
                    async for data in socket:
                        found.append(data)
        return found

    async def huge(self, claimed: int = 2**30) -> int:
        """Begin a message of 1 GB; give how many bytes were taken before the hub hung up."""
        reader, writer = await asyncio.open_connection("127.0.0.1", self.port)
        key = base64.b64encode(os.urandom(16)).decode()
        writer.write(
            f"GET / HTTP/1.1\r\nHost: x\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"
            f"Sec-WebSocket-Key: {key}\r\nSec-WebSocket-Version: 13\r\n\r\n".encode()
        )
        await reader.readuntil(b"\r\n\r\n")
        writer.write(struct.pack("!BBQ4s", 0x82, 0xFF, claimed, bytes(4)))
        sent = 0
        with contextlib.suppress(ConnectionError, TimeoutError):
            async with asyncio.timeout(10):
                while sent < claimed and not reader.at_eof():
                    writer.write(bytes(65536))
                    await writer.drain()
                    sent += 65536
                    if await self._closed(reader):
                        break
        writer.close()
        return sent

    @staticmethod
    async def _closed(reader: asyncio.StreamReader) -> bool:
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout(0.001):
                return (await reader.read(4096)) is not None
        return False

    async def crowd(self, count: int) -> int:
        """Open so many connections and keep them; give how many were still open after that."""
        from websockets.asyncio.client import connect
        from websockets.exceptions import WebSocketException

        sockets = []
        for _ in range(count):
            with contextlib.suppress(WebSocketException, OSError):
                sockets.append(await connect(f"ws://127.0.0.1:{self.port}", proxy=None))
        await asyncio.sleep(0.2)
        still = sum(socket.state.name == "OPEN" for socket in sockets)
        for socket in sockets:
            await socket.close()
        return still
