"""Readings over UDP and TCP."""

from __future__ import annotations

import asyncio
import socket
import time
from collections.abc import Callable

from runner.errors import RunnerError
from runner.feed.address import Address, family_of
from runner.feed.decode import Decoder
from runner.feed.intake import Intake
from runner.feed.lines import Lines

AT_ONCE = 128
"""Datagrams taken before everything else in the program has its turn."""

RECEIVE_BUFFER = 1 << 20
PIECE = 64 * 1024
RETRY_SECONDS = 1.0
"""Between two tries to connect."""


class Udp:
    """Datagrams on one port, each read as soon as it is there.

    What waits is bounded by the system's own buffer: nothing is queued here.
    """

    def __init__(self, address: Address, intake: Intake) -> None:
        self.port = 0
        self.trouble = ""
        self._address = address
        self._intake = intake
        self._decoder = intake.map.decoder()
        self._socket: socket.socket | None = None
        self._transport: asyncio.DatagramTransport | None = None

    async def start(self) -> None:
        """Open the port. Raises ``RunnerError`` where it cannot be opened."""
        address = self._address
        family = family_of(address.host)
        opened = socket.socket(family, socket.SOCK_DGRAM)
        try:
            opened.setblocking(False)
            opened.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, RECEIVE_BUFFER)
            opened.bind((address.host, address.port))
        except OSError as error:
            opened.close()
            raise cannot_open(address, error) from None
        self._socket = opened
        self.port = opened.getsockname()[1]
        loop = asyncio.get_running_loop()
        try:
            loop.add_reader(opened, self._read)
        except NotImplementedError:
            self._transport, _ = await loop.create_datagram_endpoint(
                lambda: _Datagrams(self._take), sock=opened
            )

    async def stop(self) -> None:
        """Close the port."""
        if self._transport is not None:
            self._transport.close()
        elif self._socket is not None:
            asyncio.get_running_loop().remove_reader(self._socket)
            self._socket.close()
        self._socket = self._transport = None

    def _read(self) -> None:
        waiting: list[bytes] = []
        opened = self._socket
        assert opened is not None
        try:
            while len(waiting) < AT_ONCE:
                waiting.append(opened.recv(PIECE))
        except (BlockingIOError, InterruptedError):
            pass
        except OSError as error:
            self.trouble = error.strerror or str(error)
        self._take(waiting)

    def _take(self, waiting: list[bytes]) -> None:
        if waiting:
            self._intake.receive(waiting, time.monotonic(), self._decoder)


class _Datagrams(asyncio.DatagramProtocol):
    """For event loops that cannot watch a socket themselves."""

    def __init__(self, take: Callable[[list[bytes]], None]) -> None:
        self._take = take

    def datagram_received(self, data: bytes, addr: object) -> None:
        del addr
        self._take([data])


class TcpClient:
    """Lines from a server, connected to again and again until the feed is stopped."""

    def __init__(self, address: Address, intake: Intake) -> None:
        self.port = address.port
        self.trouble = ""
        self._address = address
        self._intake = intake
        self._task: asyncio.Task[None] | None = None

    async def start(self) -> None:
        """Begin to connect; a server that is not there yet is waited for."""
        self._task = asyncio.create_task(self._run())

    async def stop(self) -> None:
        """Disconnect."""
        if self._task is not None:
            await cancelled(self._task)

    async def _run(self) -> None:
        while True:
            try:
                reader, writer = await asyncio.open_connection(
                    self._address.host, self._address.port, limit=PIECE
                )
            except OSError as error:
                self.trouble = error.strerror or str(error)
            else:
                self.trouble = ""
                try:
                    await take_lines(reader, self._intake)
                finally:
                    writer.close()
                self.trouble = "the other side closed the connection"
            await asyncio.sleep(RETRY_SECONDS)


class TcpServer:
    """Lines from whoever connects last: a simulator started again takes over from itself."""

    def __init__(self, address: Address, intake: Intake) -> None:
        self.port = 0
        self.trouble = ""
        self._address = address
        self._intake = intake
        self._server: asyncio.Server | None = None
        self._connection: asyncio.Task[None] | None = None

    async def start(self) -> None:
        """Listen. Raises ``RunnerError`` where the port cannot be opened."""
        address = self._address
        try:
            self._server = await asyncio.start_server(
                self._connected,
                address.host,
                address.port,
                limit=PIECE,
                family=family_of(address.host),
            )
        except OSError as error:
            raise cannot_open(address, error) from None
        self.port = self._server.sockets[0].getsockname()[1]

    async def stop(self) -> None:
        """Disconnect and listen no more."""
        if self._server is not None:
            self._server.close()
        if self._connection is not None:
            await cancelled(self._connection)
        if self._server is not None:
            await self._server.wait_closed()
            self._server = None

    async def _connected(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        before, self._connection = self._connection, asyncio.current_task()
        if before is not None:
            await cancelled(before)
        try:
            await take_lines(reader, self._intake)
        except asyncio.CancelledError:
            # The next connection, or the feed's end, took its place: no fault of anybody's.
            pass
        finally:
            writer.close()


async def take_lines(reader: asyncio.StreamReader, intake: Intake) -> None:
    """Give lines to the intake until the connection ends, however it ends."""
    lines, decoder = Lines(), intake.map.decoder()
    intake.begin()
    try:
        while piece := await reader.read(PIECE):
            take_piece(piece, lines, decoder, intake)
            # Much may wait in the reader already; others have their turn all the same.
            await asyncio.sleep(0)
    except OSError:
        pass
    intake.receive(lines.end(), time.monotonic(), decoder)


def take_piece(piece: bytes, lines: Lines, decoder: Decoder, intake: Intake) -> None:
    """Give the lines that a piece completes to the intake."""
    before = lines.too_long
    whole = lines.feed(piece)
    intake.dropped_lines(lines.too_long - before)
    if whole:
        intake.receive(whole, time.monotonic(), decoder)


async def cancelled(task: asyncio.Task[None]) -> None:
    """End a task and wait until it has ended."""
    task.cancel()
    await asyncio.wait([task])


def cannot_open(address: Address, error: OSError) -> RunnerError:
    """The one line for a port that cannot be listened to."""
    reason = error.strerror or str(error)
    return RunnerError(
        f"--feed {address.kind}://{address.host}:{address.port}: the port cannot be opened: "
        f"{reason}; is another program using it?"
    )
