"""One machine's way on a network, whoever of the crew others meet at.

It meets others at a hub, or is the hub, or both: whoever goes on without the hub becomes one
itself, and still looks for the first one, at the address known and by the room.
"""

from __future__ import annotations

import asyncio

from runner.crew.finding import announced, find
from runner.crew.near import PORT, Hub, Spoke
from runner.crew.transport import Receiver
from runner.errors import RunnerError

LOOK_AGAIN = 5.0
"""Seconds without a hub between two searches for one by the room."""

SEARCH = 2.0
"""Seconds that one search takes at the most."""

KNOWN = 8
"""Addresses tried, the first ones kept."""

TURN = 0.2
"""Seconds between two looks at whether others are to be let in here."""


class Nearby:
    """The way to the crew of ``room``: a ``hub`` from the start for who opens it, and the
    ``addresses`` at which others are met. ``host`` and ``port`` are for a hub begun later."""

    def __init__(
        self,
        room: str,
        *,
        hub: Hub | None = None,
        addresses: list[tuple[str, int]] | None = None,
        host: str = "",
        port: int | None = None,
        searches: bool = True,
    ) -> None:
        self.room = room
        self.hub = hub
        self.spoke = Spoke(list(addresses or ()))
        self._host = host
        self._port = port
        self._searches = searches
        self._wanted = asyncio.Event()
        self._receiver: Receiver | None = None
        self._me = ""
        if hub is not None:
            self._wanted.set()

    @property
    def lets_in(self) -> bool:
        """Whether who is new would ask this machine: it is a hub and knows of no other."""
        return self.hub is not None and self.hub.listening.is_set() and not self.spoke.connected

    @property
    def where(self) -> str:
        """The address and port at which others meet here; empty where they do not."""
        return "" if self.hub is None else self.hub.where

    @property
    def listens(self) -> str:
        """What the hub listens at."""
        return "" if self.hub is None else self.hub.listens

    @property
    def _met(self) -> frozenset[str]:
        return frozenset() if self.hub is None else self.hub.members

    def meet_here(self) -> None:
        """Be a hub from now on."""
        self._wanted.set()

    async def run(self, receiver: Receiver, me: str) -> None:
        """Carry frames until cancelled; RunnerError where the first hub cannot listen."""
        self._receiver, self._me = receiver, me
        self.spoke.behind = self._pass_down
        tasks = [
            asyncio.create_task(work)
            for work in (self._be_hub(), self._announce(), self._search(), self._join())
        ]
        try:
            done, _ = await asyncio.wait(tasks, return_when=asyncio.FIRST_EXCEPTION)
            for task in done:
                task.result()
        finally:
            for task in tasks:
                task.cancel()
            await asyncio.gather(*tasks, return_exceptions=True)

    def send(self, to: str, frame: bytes, source: object = None) -> None:
        """Send a frame where that member is met, or back to its source."""
        if self.hub is not None and (self.hub.holds(source) or to in self.hub.members):
            self.hub.send(to, frame, source)
        else:
            self.spoke.send(to, frame)

    def proven(self, member: str, source: object) -> None:
        """Who is at this connection has proved to be that member."""
        if self.hub is not None:
            self.hub.proven(member, source)

    async def _be_hub(self) -> None:
        await self._wanted.wait()
        first = self.hub is not None
        if self.hub is None:
            # On the machine of a hub that is gone, its port is left to it for its return.
            theirs = {port for _, port in self.spoke.addresses}
            usual = 0 if PORT in theirs else PORT
            self.hub = Hub(self._host, usual if self._port is None else self._port)
        self.hub.beyond = self._pass_up
        self.hub.others = self.spoke.members
        for port in (self.hub.port, 0):
            self.hub.port = port
            try:
                await self.hub.run(_Here(self), self._me)
            except RunnerError:
                if first or self._port is not None or not port:
                    raise

    async def _announce(self) -> None:
        while True:
            while not self.lets_in:
                await asyncio.sleep(TURN)
            assert self.hub is not None
            mine = [self._host or self.hub.host] if self._host or self.hub.host else None
            async with announced(self.room, self.hub.port, mine):
                while self.lets_in:
                    await asyncio.sleep(TURN)

    async def _join(self) -> None:
        await self.spoke.run(_There(self), self._me)

    async def _search(self) -> None:
        """Look for a hub by the room where none answers."""
        while self._searches:
            await asyncio.sleep(LOOK_AGAIN)
            if self.spoke.connected or self.lets_in:
                continue
            for address in await find(self.room, SEARCH):
                known = self.spoke.addresses
                if address not in known and len(known) < KNOWN:
                    known.append(address)

    def _pass_down(self, to: str, data: bytes) -> bool:
        if self.hub is None or to not in self.hub.members:
            return False
        self.hub.send(to, data[16:])
        return True

    def _pass_up(self, to: str, frame: bytes) -> bool:
        if not self.spoke.connected or to not in self.spoke.members:
            return False
        self.spoke.send(to, frame)
        return True


class _Here:
    """What comes to this machine as a hub."""

    def __init__(self, way: Nearby) -> None:
        self._way = way

    @property
    def _receiver(self) -> Receiver:
        assert self._way._receiver is not None
        return self._way._receiver

    def frame(self, frame: bytes, source: object) -> None:
        """Passed on with its connection."""
        self._receiver.frame(frame, source)

    def up(self, still: frozenset[str] = frozenset()) -> None:  # noqa: ARG002
        """It listens; a hub that is known already is not left for that."""
        if not self._way.spoke.connected:
            self._receiver.up()

    def down(self, reason: str, still: frozenset[str] | None = None) -> None:
        """A hub does not close."""

    def seen(self, members: tuple[str, ...]) -> None:
        """Passed on."""
        self._receiver.seen(members)

    def unseen(self, member: str) -> None:
        """Passed on."""
        self._receiver.unseen(member)


class _There(_Here):
    """What comes from the hub at which this machine meets others."""

    def up(self, still: frozenset[str] = frozenset()) -> None:  # noqa: ARG002
        """Who is met here was reached all along."""
        self._receiver.up(self._way._met)

    def down(self, reason: str, still: frozenset[str] | None = None) -> None:  # noqa: ARG002
        """Whoever is met here is still reached."""
        hub = self._way.hub
        listens = hub is not None and hub.listening.is_set()
        self._receiver.down(reason, self._way._met if listens else None)
        self._tell(())

    def seen(self, members: tuple[str, ...]) -> None:
        """Those here are told of them, too."""
        self._tell(members)
        self._receiver.seen(members)

    def _tell(self, members: tuple[str, ...]) -> None:
        hub = self._way.hub
        if hub is not None and hub.others != members:
            hub.others = members
            hub.tell_members()
