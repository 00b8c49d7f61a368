"""The way between machines on one network: WebSocket, one machine the hub of all.

A frame travels as one binary message, after the 16 bytes of the id of whom it is for (zeros
for the hub's own machine). The hub passes frames on between members that have proved who
they are, and tells them who is there. It reads nothing that is not for it. A machine that
joined one hub can be a hub itself (``nearby``) and passes frames on between both.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from runner.crew.finding import own_addresses
from runner.crew.transport import Receiver
from runner.crew.trust.channel import FRAME_LIMIT
from runner.crew.trust.limits import Bucket
from runner.errors import RunnerError

PORT = 47810
"""The port on which a crew is opened, if it is free; else any."""

QUEUE = 512
"""Frames that wait to be sent to one machine; what is beyond is dropped, and sent again by
the protocol above."""

CONNECTIONS, CONNECTIONS_EACH = 32, 8
"""Connections at once, in all and from one address."""

UNPROVEN = 30.0
"""Seconds in which who connects must prove to be a member."""

_ID = 16
_HUB = bytes(_ID)


@dataclass(eq=False, slots=True)
class _Connection:
    socket: Any
    frames: asyncio.Queue[bytes | str] = field(default_factory=lambda: asyncio.Queue(QUEUE))
    member: str = ""
    rate: Bucket = field(default_factory=lambda: Bucket(rate=20, burst=60))

    def put(self, data: bytes | str) -> None:
        with contextlib.suppress(asyncio.QueueFull):
            self.frames.put_nowait(data)

    async def send_all(self) -> None:
        from websockets.exceptions import ConnectionClosed

        with contextlib.suppress(ConnectionClosed):
            while True:
                await self.socket.send(await self.frames.get())


def _options() -> dict[str, Any]:
    return {
        "max_size": FRAME_LIMIT + _ID,
        "max_queue": 16,
        "compression": None,
        "ping_interval": 5,
        "ping_timeout": 10,
        "close_timeout": 1,
    }


class Hub:
    """The machine that opened the crew: listens on ``host`` and ``port`` (0: any)."""

    def __init__(self, host: str = "", port: int = 0) -> None:
        self.host = host
        self.port = port
        self.listening = asyncio.Event()
        self.refused: Counter[str] = Counter()
        self._connections: set[_Connection] = set()
        self.beyond: Callable[[str, bytes], bool] = lambda _to, _frame: False
        """Passes a frame on to a member who is not met here; False where there is none."""

        self.others: tuple[str, ...] = ()
        """Members beyond, of whom those here are told."""

        self._members: dict[str, _Connection] = {}
        self._receiver: Receiver | None = None
        self._me = ""

    @property
    def members(self) -> frozenset[str]:
        """Who is met here and has proved who it is."""
        return frozenset(self._members)

    @property
    def lets_in(self) -> bool:
        """Always: whoever is new asks the hub."""
        return True

    @property
    def where(self) -> str:
        """The address and port at which others meet here, once they can."""
        if not self.listening.is_set():
            return ""
        return f"{_in_url(self.host or own_addresses()[0])}:{self.port}"

    @property
    def listens(self) -> str:
        """The address and port as they were given, once it listens."""
        return f"{_in_url(self.host)}:{self.port}" if self.listening.is_set() else ""

    def meet_here(self) -> None:
        """They do."""

    async def run(self, receiver: Receiver, me: str) -> None:
        """Listen until cancelled. RunnerError where the port cannot be had."""
        from websockets.asyncio.server import serve

        self._receiver = receiver
        self._me = me
        try:
            server = await serve(self._serve, self.host or None, self.port, **_options())
        except OSError as error:
            raise RunnerError(
                f"port {self.port} cannot be listened on ({error.strerror}); name another one"
            ) from error
        async with server:
            self.port = next(iter(server.sockets)).getsockname()[1]
            self.listening.set()
            receiver.up()
            await asyncio.Future()

    def holds(self, source: object) -> bool:
        """Whether that is a connection of this hub."""
        return isinstance(source, _Connection) and source in self._connections

    def send(self, to: str, frame: bytes, source: object = None) -> None:
        """Send a frame to a member that is connected, or back to its source."""
        connection = source if isinstance(source, _Connection) else self._members.get(to)
        if connection is not None:
            connection.put((bytes.fromhex(to) if to else _HUB) + frame)

    def proven(self, member: str, source: object) -> None:
        """Who is at this connection has proved to be that member."""
        if isinstance(source, _Connection) and source in self._connections:
            # Others may be behind that one, who proved who it is first.
            source.member = source.member or member
            self._members[member] = source
            self.tell_members()

    def tell_members(self) -> None:
        """Tell all who are met here who is there."""
        members = json.dumps([self._me, *sorted({*self._members, *self.others} - {self._me})])
        for connection in set(self._members.values()):
            connection.put(members)

    async def _serve(self, socket: Any) -> None:
        from websockets.exceptions import ConnectionClosed

        address = (socket.remote_address or ("",))[0]
        others = [one for one in self._connections if self._address(one) == address]
        if len(self._connections) >= CONNECTIONS or len(others) >= CONNECTIONS_EACH:
            self.refused["too many connections"] += 1
            return
        connection = _Connection(socket)
        self._connections.add(connection)
        sending = asyncio.create_task(connection.send_all())
        proving = asyncio.create_task(self._must_prove(connection))
        try:
            async for data in socket:
                self._take(connection, data)
        except ConnectionClosed:
            pass
        finally:
            sending.cancel()
            proving.cancel()
            self._connections.discard(connection)
            gone = [one for one, there in self._members.items() if there is connection]
            for member in gone:
                del self._members[member]
            if gone:
                self.tell_members()
            if self._receiver is not None:
                for member in gone:
                    self._receiver.unseen(member)

    @staticmethod
    def _address(connection: _Connection) -> str:
        return str((connection.socket.remote_address or ("",))[0])

    async def _must_prove(self, connection: _Connection) -> None:
        await asyncio.sleep(UNPROVEN)
        if not connection.member:
            self.refused["did not prove who it is"] += 1
            await connection.socket.close()

    def _take(self, connection: _Connection, data: bytes | str) -> None:
        now = int(asyncio.get_running_loop().time() * 1000)
        if isinstance(data, str) or len(data) < _ID:
            self.refused["malformed"] += 1
            return
        if not connection.member and not connection.rate.take(now):
            self.refused["too many"] += 1
            return
        to, frame = data[:_ID], data[_ID:]
        if to in (_HUB, bytes.fromhex(self._me)):
            if self._receiver is not None:
                self._receiver.frame(frame, connection)
        elif connection.member and to.hex() in self._members:
            self._members[to.hex()].put(data)
        elif not connection.member or not self.beyond(to.hex(), frame):
            self.refused["for nobody"] += 1


class Spoke:
    """A machine that joins the hub at one of these ``addresses`` (host and port)."""

    def __init__(self, addresses: list[tuple[str, int]]) -> None:
        self.addresses = addresses
        self.behind: Callable[[str, bytes], bool] = lambda _to, _data: False
        """Passes what came for a member who is met here on to it; False where there is none."""

        self.members: tuple[str, ...] = ()
        """Who is at the hub, as it says."""

        self._connection: _Connection | None = None
        self._receiver: Receiver | None = None
        self._me = ""

    @property
    def connected(self) -> bool:
        """Whether a hub answers."""
        return self._connection is not None

    @property
    def lets_in(self) -> bool:
        """Never: whoever is new asks the hub."""
        return False

    @property
    def where(self) -> str:
        """Nobody is met here."""
        return ""

    @property
    def listens(self) -> str:
        """It does not."""
        return ""

    def meet_here(self) -> None:
        """They cannot."""

    async def run(self, receiver: Receiver, me: str) -> None:
        """Stay connected until cancelled."""
        self._receiver, self._me = receiver, me
        wait = 0.2
        while True:
            if not self.addresses:
                await asyncio.sleep(wait)
            for host, port in list(self.addresses):
                reason = await self._stay(host, port)
                if reason:
                    receiver.down(reason)
                    await asyncio.sleep(wait)
                    wait = min(5.0, wait * 2)
                else:
                    wait = 0.2
                    receiver.down("the connection broke")
                    await asyncio.sleep(wait)

    async def _stay(self, host: str, port: int) -> str:
        """Be connected for as long as it goes; the reason where it could not begin."""
        from websockets.asyncio.client import connect
        from websockets.exceptions import WebSocketException

        try:
            socket = await connect(
                f"ws://{_in_url(host)}:{port}", open_timeout=5, proxy=None, **_options()
            )
        except (OSError, TimeoutError, WebSocketException) as error:
            return f"{host}:{port} does not answer as a crew ({type(error).__name__})"
        connection = self._connection = _Connection(socket)
        sending = asyncio.create_task(connection.send_all())
        assert self._receiver is not None
        self._receiver.up()
        try:
            async for data in socket:
                self._take(data)
        except WebSocketException:
            pass
        finally:
            sending.cancel()
            self._connection = None
            self.members = ()
            await socket.close()
        return ""

    def _take(self, data: bytes | str) -> None:
        assert self._receiver is not None
        if isinstance(data, str):
            self.members = _members(data)
            self._receiver.seen(self.members)
        elif len(data) >= _ID:
            to = data[:_ID].hex()
            if to == self._me or not self.behind(to, data):
                self._receiver.frame(data[_ID:], None)

    def send(self, to: str, frame: bytes, source: object = None) -> None:  # noqa: ARG002
        """Send a frame to a member through the hub."""
        if self._connection is not None:
            self._connection.put((bytes.fromhex(to) if to else _HUB) + frame)

    def proven(self, member: str, source: object) -> None:
        """Nothing to note: there is one connection."""


def _in_url(host: str) -> str:
    return f"[{host}]" if ":" in host else host


def _members(text: str) -> tuple[str, ...]:
    """The ids in the hub's list; none where it is no such list."""
    if len(text) > 2048:
        return ()
    with contextlib.suppress(ValueError, RecursionError):
        found = json.loads(text)
        if isinstance(found, list) and all(isinstance(one, str) for one in found):
            return tuple(one for one in found if len(one) == 32 and _hex(one))
    return ()


def _hex(text: str) -> bool:
    return all(letter in "0123456789abcdef" for letter in text)
