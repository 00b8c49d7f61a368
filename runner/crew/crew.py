"""A member of a crew at work: the core, the links, the journal and a transport put together.

What a flight does with it: propose every event, step the engine on ``Ordered``, let what
came of event n be spoken when ``settled(n)`` is done, and step anew from the first event on
``Rewound``. All is called from, and calls back in, one event loop.
"""

from __future__ import annotations

import asyncio
import os
from collections import Counter, deque
from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import replace
from typing import Any

from runner.crew.core.happenings import Happening, Ordered, Present, Rewound, Send, Settled, Store
from runner.crew.core.member import Member
from runner.crew.core.messages import NAME_LIMIT, Entry, Refused, decode, encode
from runner.crew.core.records import Record
from runner.crew.journal import Journal, Membership, Work
from runner.crew.transport import Transport
from runner.crew.trust.code import Code, new_code
from runner.crew.trust.identity import Identity
from runner.crew.trust.links import Came, LetIn, Linked, LinkEvent, Links, NotLetIn, Out, WrongCode
from runner.errors import RunnerError

TICK = 0.1
"""Seconds between two looks at the clock."""

Notice = Happening | LetIn | WrongCode | NotLetIn
"""What ``on_notice`` is told, in order: all that happens but sending and storing."""


class Crew:
    """This machine's part in the crew that ``membership`` names.

    ``opens`` for the machine that opens the crew; ``code`` for one that joins by the code
    told to its person. ``admit(by, text)`` and ``check(number, text)`` are those of
    ``Member``. ``on_notice`` takes what happens, ``on_link(up, reason)`` hears of the way to
    the others. ``also(number, entry)`` is written in one transaction with each event, and
    ``also_from(length)`` where the events from ``length`` on are given up.
    """

    def __init__(
        self,
        identity: Identity,
        journal: Journal,
        transport: Transport,
        membership: Membership,
        *,
        name: str = "",
        opens: bool = False,
        code: Code | None = None,
        admit: Callable[[str, str], str] | None = None,
        check: Callable[[int, str], None] | None = None,
        on_notice: Callable[[Notice], None],
        on_link: Callable[[bool, str], None] | None = None,
        also: Callable[[Entry], Work | None] | None = None,
        also_from: Callable[[int], Work | None] | None = None,
    ) -> None:
        self.people = journal.people(membership.crew)
        """What the members met so far are called, by their ids."""

        self._journal = journal
        self._transport = transport
        self._opens = opens
        self._code = code
        self._on_notice = on_notice
        self._on_link = on_link
        self._also = also
        self._also_from = also_from
        records = journal.records(membership.crew)
        self._stored = len(records)
        self._base = self._stored
        secret = membership.secret or (os.urandom(32) if opens else None)
        self.links = Links(identity, os.urandom, secret)
        self.member = Member(
            self.links.me,
            os.urandom(8).hex(),
            name="".join(c for c in name if c.isprintable())[:NAME_LIMIT],
            wants="observer" if membership.wants == "observer" else "crew",
            records=records,
            admit=admit,
            check=check,
            fresh=lambda: os.urandom(16).hex(),
            now=_now(),
        )
        self.membership = replace(membership, me=self.links.me, name=name or membership.name)
        self._waiting: deque[tuple[int, Future[None]]] = deque()
        self._loop: asyncio.AbstractEventLoop | None = None
        self._source: object = None
        self._happening: deque[Happening] = deque()
        self._doing = False
        self._is_up = False
        self.trouble: Exception | None = None

    @property
    def me(self) -> str:
        """This machine's member id."""
        return self.links.me

    @property
    def refused(self) -> Counter[str]:
        """What was refused of what came from others, by reason."""
        return self.links.refused

    async def run(self) -> None:
        """Take part until cancelled, or until the transport cannot begin (RunnerError)."""
        self._loop = asyncio.get_running_loop()
        if self._opens:
            await asyncio.wrap_future(self.keep(secret=self.links.secret or b""))
            if not self.member.epochs:
                self._do(self.member.open(_now()))
        carrying = asyncio.create_task(self._transport.run(self, self.me))
        try:
            while not carrying.done():
                await asyncio.wait({carrying}, timeout=TICK)
                self._links(self.links.tick(_now()))
                self._do(self.member.tick(_now()))
                if self._is_up and not self._opens and not self.links.linked:
                    self._links(self.links.meet("", _now()))
                if self.trouble is not None:
                    raise self.trouble
            await carrying
        finally:
            carrying.cancel()

    def keep(self, **changes: Any) -> Future[None]:
        """Keep something else of how this machine belongs to the crew."""
        self.membership = replace(self.membership, **changes)
        return self._journal.belong(self.membership)

    def propose(self, text: str) -> int:
        """Propose an event; the number comes back in ``Ordered.mine`` or in ``Turned``."""
        number, happenings = self.member.propose(text, _now())
        self._do(happenings)
        return number

    def settled(self, number: int) -> Future[None]:
        """Done when event ``number`` counts; cancelled when it is given up."""
        future: Future[None] = Future()
        if number < self.member.settled:
            future.set_result(None)
        else:
            self._waiting.append((number, future))
        return future

    @property
    def lets_in(self) -> bool:
        """Whether it is this machine that somebody new would ask to be let in."""
        return self._transport.lets_in and self.links.secret is not None

    @property
    def where(self) -> str:
        """The address and port at which others meet here; empty where they do not."""
        return self._transport.where

    @property
    def listens(self) -> str:
        """What to listen at to be met here again."""
        return self._transport.listens

    def meet_here(self) -> None:
        """Let others meet here from now on."""
        self._transport.meet_here()

    @property
    def code(self) -> Code | None:
        """The code by which one more machine would be let in now."""
        lock = self.links.lock
        return None if lock is None or lock.stopped else lock.code

    def new_code(self) -> Code:
        """Make the code by which one more machine is let in; a former one opens nothing more.

        Any member that has the crew's secret can let another one in.
        """
        if self.links.secret is None:
            raise RunnerError("this machine has not been let into the crew itself")
        code = new_code(os.urandom, self.membership.room)
        self.links.let_in_by(code)
        self._transport.meet_here()
        return code

    def continue_alone(self) -> None:
        """The person says *continue alone*."""
        self._do(self.member.continue_alone(_now()))

    def offer_order(self, member: str) -> None:
        """Offer the order of the run to another one who flies it."""
        self._do(self.member.offer_order(member, _now()))

    def answer_offer(self, yes: bool) -> None:
        """Answer an offer of the order."""
        self._do(self.member.answer_offer(yes, _now()))

    def aside(self, text: str) -> None:
        """Tell the others' screens something outside the run (at most 2,000 characters)."""
        self._do(self.member.aside(text, _now()))

    def leave(self) -> None:
        """Say goodbye."""
        self._do(self.member.leave(_now()))

    def delay(self, member: str) -> int:
        """Milliseconds a message takes to a member, as last measured."""
        peer = self.member.peers.get(member)
        return 0 if peer is None else peer.round_trip // 2

    def frame(self, frame: bytes, source: object) -> None:
        """A frame came (called by the transport)."""
        self._source = source
        try:
            self._links(self.links.receive(frame, _now()))
        finally:
            self._source = None

    def up(self, still: frozenset[str] = frozenset()) -> None:
        """The way to the others is open: every connection has keys of its own."""
        self._forget(still)
        self._is_up = True
        if self._on_link is not None:
            self._on_link(True, "")
        if self._code is not None:
            self.try_code(self._code)
        elif not self._opens:
            self._links(self.links.meet("", _now()))

    def try_code(self, code: Code) -> None:
        """Ask to be let in by a code; ``LetIn`` or ``NotLetIn`` is what comes of it."""
        self._code = code
        if self.links.secret is None and self._is_up:
            self._links(self.links.join(code, _now()))

    def down(self, reason: str, still: frozenset[str] | None = None) -> None:
        """The way to the others is closed."""
        self._is_up = still is not None
        self._forget(still or frozenset())
        if self._on_link is not None:
            self._on_link(False, reason)

    def _forget(self, still: frozenset[str]) -> None:
        for member in self.links.linked - still:
            self.links.forget(member)
            self._do(self.member.unlink(member, _now()))

    def seen(self, members: tuple[str, ...]) -> None:
        """Members are said to be there."""
        for member in members[:16]:
            if member not in self.links.linked:
                self._links(self.links.meet(member, _now()))

    def unseen(self, member: str) -> None:
        """A member is said to be gone; whether it is, its silence tells."""

    def _links(self, events: list[LinkEvent]) -> None:
        for event in events:
            match event:
                case Out(to, frame):
                    self._transport.send(to, frame, self._source)
                case Linked(member, _):
                    if self._source is not None:
                        self._transport.proven(member, self._source)
                    self._do(self.member.link(member, _now()))
                case Came(member, data):
                    try:
                        message = decode(data)
                    except Refused:
                        self.refused["not understood"] += 1
                        continue
                    self._do(self.member.receive(member, message, _now()))
                case LetIn(_, secret):
                    self._code = None
                    self.keep(secret=secret)
                    self._on_notice(event)
                case _:
                    self._on_notice(event)

    def _do(self, happenings: list[Happening]) -> None:
        """Carry out what happens, in order, also where a notice brings more of it."""
        self._happening.extend(happenings)
        if self._doing:
            return
        self._doing = True
        try:
            while self._happening:
                self._carry_out(self._happening.popleft())
        finally:
            self._doing = False

    def _carry_out(self, one: Happening) -> None:
        match one:
            case Send(to, message):
                frame = self.links.seal(to, encode(message))
                if frame is not None:
                    self._transport.send(to, frame)
            case Store(ticket, record):
                self._store(ticket, record)
            case Settled(length):
                self._on_notice(one)
                self._release(length)
            case Rewound(length):
                for number, future in self._waiting:
                    if number >= length:
                        future.cancel()
                self._waiting = deque((n, f) for n, f in self._waiting if n < length)
                self._on_notice(one)
            case Present(member, name):
                if name and self.people.get(member) != name:
                    self.people[member] = name
                    self._journal.meet(self.membership.crew, member, name)
                self._on_notice(one)
            case _:
                self._on_notice(one)

    def _release(self, length: int) -> None:
        while self._waiting and self._waiting[0][0] < length:
            self._waiting.popleft()[1].set_result(None)

    def _store(self, ticket: int, record: Record) -> None:
        also: Work | None = None
        if isinstance(record, Entry):
            also = self._also(record) if self._also is not None else None
        elif self._also_from is not None:
            also = self._also_from(record.keep)
        self._loop = self._loop or asyncio.get_running_loop()
        number = self._base + ticket - 1
        future = self._journal.append(self.membership.crew, number, record, also)
        future.add_done_callback(lambda done: self._when_stored(ticket, done))

    def _when_stored(self, ticket: int, done: Future[None]) -> None:
        if self._loop is not None and not self._loop.is_closed():
            self._loop.call_soon_threadsafe(self._durable, ticket, done)

    def _durable(self, ticket: int, done: Future[None]) -> None:
        error = done.exception()
        if error is not None:
            self.trouble = RunnerError(f"the crew's journal cannot be written: {error}")
            return
        self._do(self.member.stored(ticket, _now()))


def _now() -> int:
    import time

    return int(time.monotonic() * 1000)


__all__ = ["Crew", "Notice", "Ordered"]
