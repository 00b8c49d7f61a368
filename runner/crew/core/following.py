"""The followers' side: taking events in their order, proposing until it is dealt with."""

from __future__ import annotations

from runner.crew.core.base import Base, Turn
from runner.crew.core.happenings import Fault, Happening, Ordered, Turned, TwoRuns
from runner.crew.core.messages import (
    PIECE,
    TEXT_LIMIT,
    Decline,
    Entry,
    Epoch,
    Part,
    Propose,
    Want,
)
from runner.crew.core.ordering import BURST, WINDOW
from runner.crew.core.peer import PROPOSALS, SHORTEST_WAIT, Peer


class Following(Base):
    """What a member does while another one orders the run."""

    def _from_orderer(self, peer: Peer, epoch: str) -> bool:
        return bool(
            self.epochs and self.epochs[-1].orderer == peer.id and self.epochs[-1].id == epoch
        )

    def _take_part(self, peer: Peer, part: Part) -> None:
        if not self._from_orderer(peer, part.epoch):
            return
        self._told_settled = max(self._told_settled, part.settled)
        if part.number < len(self.log):
            self._acknowledge()
            return
        if part.number > len(self.log):
            if part.total <= PIECE and part.number < len(self.log) + WINDOW:
                self._arriving.early[part.number] = part
            return
        if part.total <= PIECE:
            self._take_entry(peer, part, part.text)
        else:
            self._take_piece(peer, part)
        while (early := self._arriving.early.pop(len(self.log), None)) is not None:
            if not self._take_entry(peer, early, early.text):
                break
        self._settle()

    def _take_piece(self, peer: Peer, part: Part) -> None:
        arriving = self._arriving
        if part.offset == arriving.offset:
            arriving.take(part.text)
            if arriving.offset == part.total:
                text = "".join(arriving.pieces)
                arriving.begin()
                self._take_entry(peer, part, text)
                return
        elif arriving.offset < part.offset < arriving.burst_end:
            arriving.later[part.offset] = part.text
            return
        elif part.offset:
            return
        if arriving.offset >= arriving.burst_end or not part.offset:
            self._want(peer)

    def _want(self, peer: Peer) -> None:
        arriving = self._arriving
        arriving.burst_end = arriving.offset + BURST * PIECE
        arriving.asked_at = self._now
        self._send(peer, Want(self.epochs[-1].id, len(self.log), arriving.offset))

    def _want_again(self) -> None:
        if self._arriving.offset and self.epochs:
            peer = self._peer(self.epochs[-1].orderer)
            if self._now - self._arriving.asked_at > peer.wait:
                self._want(peer)

    def _take_entry(self, peer: Peer, part: Part, text: str) -> bool:
        own = (part.by, part.life) == (self.me, self.life)
        reason = ""
        if own and part.counter > self._counter:
            reason = "an answer in my name that I never gave"
        elif part.counter <= self._dealt.get((part.by, part.life), 0):
            reason = "the same proposal ordered twice"
        elif all(epoch.id != part.entry_epoch for epoch in self.epochs):
            reason = "an event of an epoch that is not of this run"
        elif self._check is not None:
            try:
                self._check(part.number, text)
            except Turn as turn:
                reason = str(turn)
        if reason:
            self._happens(Fault(peer.id, reason))
            return False
        entry = Entry(part.entry_epoch, part.number, part.by, part.life, part.counter, text)
        self.log.append(entry)
        self._deal(entry)
        self._put(entry)
        mine = None
        if own:
            mine = part.counter
            self._proposals.pop(part.counter, None)
        self._happens(Ordered(entry, mine))
        if self._doubt is not None and len(self.log) >= self._doubt[0]:
            self._drop_proposals()
        return True

    def _acknowledge(self) -> None:
        if self.epochs and self.epochs[-1].orderer != self.me:
            self._stand(self._peer(self.epochs[-1].orderer))

    def _take_decline(self, peer: Peer, message: Decline) -> None:
        if message.life != self.life or not self.epochs or self.epochs[-1].orderer != peer.id:
            return
        proposal = self._proposals.pop(message.counter, None)
        if proposal is not None:
            self._happens(Turned(message.counter, proposal[0], message.reason))

    def _propose_again(self) -> None:
        if not self._proposals or not self.epochs or self._doubt is not None:
            return
        peer = self._peer(self.epochs[-1].orderer)
        first = min(self._proposals)
        if self._now - self._proposals[first][1] > max(SHORTEST_WAIT, peer.wait):
            self._send_proposals(tuple(sorted(self._proposals)[:WINDOW]))

    def propose(self, text: str, now: int) -> tuple[int, list[Happening]]:
        """Propose an event; the number is that under which its end will be told (by
        ``Ordered`` or by ``Turned``)."""
        self._now = now
        self._counter += 1
        counter = self._counter
        try:
            self._would_pass(text)
        except Turn as turn:
            self._happens(Turned(counter, text, str(turn)))
            return counter, self._taken()
        if self.orders and not self._frozen:
            self._order(self.me, self.life, counter, text)
            return counter, self._taken()
        reason = ""
        if self.wants != "crew":
            reason = "an observer only watches"
        elif not self.epochs or self.left:
            reason = "there is no crew"
        elif len(self._proposals) >= PROPOSALS:
            reason = "too many answers wait for the other machine"
        elif len(text) > TEXT_LIMIT:
            reason = "an event that is too long"
        if reason:
            self._happens(Turned(counter, text, reason))
        else:
            self._proposals[counter] = (text, now)
            self._send_proposals((counter,))
        return counter, self._taken()

    def _would_pass(self, text: str) -> None:
        """Raise Turn for an event that the others' checks would stop at."""
        if self._check is not None:
            self._check(len(self.log) if self.orders else max(1, len(self.log)), text)

    def _send_proposals(self, counters: tuple[int, ...]) -> None:
        epoch = self.epochs[-1]
        peer = self.peers.get(epoch.orderer)
        if peer is None or epoch.orderer == self.me:
            return
        floor = min(self._proposals)
        for counter in counters:
            text, _ = self._proposals[counter]
            self._proposals[counter] = (text, self._now)
            self._send(peer, Propose(epoch.id, self.life, counter, floor, text))

    def _adopt(self, peer: Peer, epochs: tuple[Epoch, ...], fork: int) -> None:
        """The other's line of epochs stands; what is held beyond the fork is given up."""
        keep = min(len(self.log), fork)
        if keep < self.settled:
            self._happens(Fault(peer.id, "a run that leaves out what already counts"))
            return
        peer.apart = False
        self._take_line(epochs, keep)

    def _part_ways(self, peer: Peer, fork: int, theirs: tuple[Epoch, ...]) -> None:
        if not peer.apart:
            peer.apart = True
            mine = next((e for e in self.epochs if e not in theirs), self.epochs[-1])
            other = next((e for e in theirs if e not in self.epochs), theirs[-1])
            self._happens(TwoRuns(peer.id, fork, mine.id, other.id))
            self._without(peer)
