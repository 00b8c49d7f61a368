"""What ordering and following share: the log, the epochs, what is held for good."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable

from runner.crew.core.happenings import (
    EpochBegan,
    Happening,
    Rewound,
    Send,
    Settled,
    Store,
    Turned,
)
from runner.crew.core.messages import EPOCHS_LIMIT, Entry, Epoch, Message, Stand, Wants
from runner.crew.core.peer import Arriving, Peer
from runner.crew.core.records import Line, Record, replay
from runner.errors import RunnerError

FORGOTTEN = "it was turned down before a machine came back"
"""The reason that is told where the one there was is not known any more."""


class Turn(Exception):
    """An event is turned down, with the reason in a few words for the person."""


class Base:
    """The part of a member that both sides of the protocol stand on."""

    def __init__(
        self,
        me: str,
        life: str,
        name: str,
        wants: Wants,
        records: Iterable[Record],
        admit: Callable[[str, str], str] | None,
        check: Callable[[int, str], None] | None,
        fresh: Callable[[], str],
        now: int,
    ) -> None:
        self.me = me
        self.life = life
        self.name = name
        self.wants: Wants = wants
        self.left = False
        self.epochs, self.log = replay(records)
        self.settled = 0
        self.peers: dict[str, Peer] = {}
        self._admit = admit
        self._check = check
        self._fresh = fresh
        self._now = now
        self._ticket = 0
        self._storing: deque[tuple[int, tuple[Epoch, ...], int]] = deque()
        self._held_epochs = self.epochs
        self._held_length = len(self.log)
        self._out: list[Happening] = []
        self._counter = 0
        self._proposals: dict[int, tuple[str, int]] = {}
        self._dealt: dict[tuple[str, str], int] = {}
        self._ordered: set[tuple[str, str, int]] = set()
        self._doubt: tuple[int, int] | None = None
        self._arriving = Arriving()
        self._handing = ""
        self._frozen = False
        self._offers = 0
        self._offered = 0
        self._answer: tuple[int, bool] | None = None
        self._told_settled = 0
        self._remember()
        self._settle()
        self._out.clear()

    @property
    def orders(self) -> bool:
        """Whether this member is the orderer now."""
        return bool(self.epochs) and self.epochs[-1].orderer == self.me and not self.left

    def stored(self, ticket: int, now: int) -> list[Happening]:
        """All records up to this ticket are kept for good."""
        self._now = now
        before = self._held_epochs
        while self._storing and self._storing[0][0] <= ticket:
            _, self._held_epochs, self._held_length = self._storing.popleft()
        self._settle()
        self._after_stored(before)
        return self._taken()

    def _after_stored(self, before: tuple[Epoch, ...]) -> None:
        raise NotImplementedError

    def _settle(self) -> None:
        """Work out anew how many events count."""
        raise NotImplementedError

    def _order(self, by: str, life: str, counter: int, text: str) -> None:
        raise NotImplementedError

    def _acknowledge(self) -> None:
        raise NotImplementedError

    def _say_lineage(self, peer: Peer) -> None:
        raise NotImplementedError

    def _peer(self, member: str) -> Peer:
        if member not in self.peers:
            self.peers[member] = Peer(member, heard_at=self._now)
        return self.peers[member]

    def _happens(self, happening: Happening) -> None:
        self._out.append(happening)

    def _send(self, peer: Peer, message: Message) -> None:
        if peer.linked:
            self._out.append(Send(peer.id, message))

    def _taken(self) -> list[Happening]:
        out, self._out = self._out, []
        return out

    def _put(self, record: Record) -> None:
        self._ticket += 1
        self._storing.append((self._ticket, self.epochs, len(self.log)))
        self._out.append(Store(self._ticket, record))

    def _stand(self, peer: Peer) -> None:
        peer.beat_at = self._now
        epochs = self._held_epochs
        self._send(
            peer,
            Stand(
                epochs[-1].id if epochs else "",
                len(epochs),
                self._held_length,
                self._held_settled(),
                self._now,
                peer.their_time,
                self._now - peer.their_time_at if peer.their_time else 0,
                self.wants,
                self.name,
                self.life,
            ),
        )

    def _held_settled(self) -> int:
        return min(self.settled, self._held_length)

    def _count(self, length: int) -> None:
        length = min(length, self._held_length)
        if length > self.settled:
            self.settled = length
            self._happens(Settled(length))

    def _without(self, peer: Peer) -> None:
        """A voter has gone its own way: nothing waits for it any more."""
        voters = self.epochs[-1].voters if self.epochs else ()
        if self.orders and peer.id in voters:
            self._begin_epoch(self.me, tuple(v for v in voters if v != peer.id), alone=False)

    def _begin_epoch(self, orderer: str, voters: tuple[str, ...], *, alone: bool) -> None:
        if len(self.epochs) >= EPOCHS_LIMIT:
            raise RunnerError(f"the crew of this run has changed {EPOCHS_LIMIT} times; begin anew")
        # Who has not caught up goes on from an epoch whose events it holds.
        line = tuple(epoch for epoch in self.epochs if epoch.start <= len(self.log))
        epoch = Epoch(self._fresh(), len(line) + 1, len(self.log), orderer, voters, alone)
        self._take_line((*line, epoch), len(self.log))

    def _take_line(self, epochs: tuple[Epoch, ...], keep: int) -> None:
        """Go on under these epochs with the first ``keep`` events of the log."""
        was_orderer = self.orders
        old = self.epochs
        dropped = tuple(self.log[keep:])
        del self.log[keep:]
        self.epochs = epochs
        self._handing = ""
        self._frozen = False
        self._offered = 0
        self._answer = None
        self._told_settled = 0
        self._arriving.forget()
        self._put(Line(epochs, keep))
        if dropped:
            self._remember()
            self._happens(Rewound(keep, dropped))
        self._happens(EpochBegan(epochs[-1]))
        known = {epoch.id for epoch in old}
        alone = [epoch.start for epoch in epochs if epoch.alone and epoch.id not in known]
        if alone and old:
            # Some may have been ordered before the break: that shows when the log is there.
            self._doubt = (alone[-1], self._counter)
            if len(self.log) >= alone[-1]:
                self._drop_proposals()
        if self.orders and not was_orderer:
            self._order_own()

    def _drop_proposals(self) -> None:
        """Give up the proposals from before a member went on alone."""
        assert self._doubt is not None
        for counter, (text, _) in sorted(self._proposals.items()):
            if counter <= self._doubt[1]:
                del self._proposals[counter]
                self._happens(Turned(counter, text, "the run went on without it"))
        self._doubt = None

    def _order_own(self) -> None:
        waiting = sorted(self._proposals.items())
        self._proposals.clear()
        for counter, (text, _) in waiting:
            if self._dealt.get((self.me, self.life), 0) < counter:
                self._order(self.me, self.life, counter, text)
            elif (self.me, self.life, counter) not in self._ordered:
                self._happens(Turned(counter, text, FORGOTTEN))

    def _remember(self) -> None:
        """Which proposals have been dealt with, by the log."""
        self._dealt.clear()
        self._ordered.clear()
        for entry in self.log:
            self._deal(entry)

    def _deal(self, entry: Entry) -> None:
        key = (entry.by, entry.life)
        self._dealt[key] = max(self._dealt.get(key, 0), entry.counter)
        self._ordered.add((*key, entry.counter))
