"""The orderer's side: numbering proposals, sending events, counting who holds them."""

from __future__ import annotations

from runner.crew.core.base import FORGOTTEN, Base, Turn
from runner.crew.core.happenings import OfferEnded, Ordered
from runner.crew.core.messages import (
    NUMBER_LIMIT,
    PIECE,
    VOTERS_LIMIT,
    Decline,
    Entry,
    Epoch,
    Part,
    Propose,
    Want,
)
from runner.crew.core.peer import BEAT, SHORTEST_WAIT, Peer

WINDOW = 64
"""Events sent to a member beyond those it is known to hold."""

BURST = 8
"""Pieces of a long event sent on one demand."""


class Ordering(Base):
    """What a member does while it orders the run."""

    def _order(self, by: str, life: str, counter: int, text: str) -> None:
        if len(self.log) >= NUMBER_LIMIT:
            raise Turn("the run is as long as a run may be")
        entry = Entry(self.epochs[-1].id, len(self.log), by, life, counter, text)
        self.log.append(entry)
        self._deal(entry)
        self._put(entry)
        mine = counter if (by, life) == (self.me, self.life) else None
        self._happens(Ordered(entry, mine))

    def _take_proposal(self, peer: Peer, message: Propose) -> None:
        if not self.orders or message.epoch != self.epochs[-1].id or self._frozen:
            return
        key = (peer.id, message.life)
        declined = peer.declined.get(message.life, {})
        dealt = max(self._dealt.get(key, 0), max(declined, default=0))
        if message.counter <= dealt:
            reason = declined.get(message.counter)
            if reason is None and (*key, message.counter) not in self._ordered:
                # Turned down by an orderer whose process has ended since, and did not hear so.
                reason = FORGOTTEN
            if reason is not None:
                self._send(peer, Decline(message.life, message.counter, reason))
            return
        if message.counter > max(dealt + 1, message.floor):
            return
        try:
            if peer.wants != "crew":
                raise Turn("an observer only watches")
            text = message.text if self._admit is None else self._admit(peer.id, message.text)
            self._order(peer.id, message.life, message.counter, text)
        except Turn as turn:
            peer.decline(message.life, message.counter, str(turn)[:200])
            self._send(peer, Decline(message.life, message.counter, str(turn)[:200]))

    def _send_events(self, peer: Peer) -> None:
        """Send what a member lacks, a window at a time."""
        epoch = self._held_epochs[-1]
        if epoch.id != self.epochs[-1].id or peer.epoch != epoch.id or peer.apart:
            return
        end = min(peer.length + WINDOW, self._held_length)
        peer.sent = max(peer.sent, peer.length)
        if peer.sent == peer.length:
            peer.moved_at = self._now
        while peer.sent < end:
            entry = self.log[peer.sent]
            if len(entry.text) > PIECE:
                if peer.sent == peer.length:
                    self._send(peer, self._part(entry, 0))
                    peer.sent += 1
                return
            self._send(peer, self._part(entry, 0))
            peer.sent += 1

    def _part(self, entry: Entry, offset: int) -> Part:
        return Part(
            self.epochs[-1].id,
            entry.epoch,
            entry.number,
            entry.by,
            entry.life,
            entry.counter,
            offset,
            len(entry.text),
            entry.text[offset : offset + PIECE],
            self._held_settled(),
        )

    def _take_want(self, peer: Peer, message: Want) -> None:
        held = self._held_epochs
        if not self.orders or not held or message.epoch != held[-1].id:
            return
        if message.number >= self._held_length or message.offset % PIECE:
            return
        wanted = (message.number, message.offset)
        if wanted == peer.wanted and self._now - peer.wanted_at < SHORTEST_WAIT // 2:
            return
        peer.wanted, peer.wanted_at = wanted, self._now
        peer.moved_at = self._now
        entry = self.log[message.number]
        for step in range(BURST):
            offset = message.offset + step * PIECE
            if offset < len(entry.text):
                self._send(peer, self._part(entry, offset))

    def _send_again(self, peer: Peer) -> None:
        waiting = peer.length < self._held_length and peer.epoch == self.epochs[-1].id
        if waiting and self._now - peer.moved_at > peer.wait:
            peer.moved_at = self._now
            peer.sent = peer.length
            self._send_events(peer)

    def _follower_moved(self, peer: Peer) -> None:
        """A member holds more events, or has come to this epoch."""
        before = self.settled
        self._settle()
        self._send_events(peer)
        epoch = self.epochs[-1]
        if (
            peer.wants == "crew"
            and peer.present
            and peer.id not in epoch.voters
            and peer.epoch == epoch.id
            and peer.length >= self.settled
            and not self._frozen
            and len(epoch.voters) < VOTERS_LIMIT
        ):
            self._begin_epoch(self.me, (*epoch.voters, peer.id), alone=False)
        if self.settled > before:
            self._tell_settled(but=peer)
        self._hand_over()

    def _tell_settled(self, but: Peer | None = None) -> None:
        """With two voters the other knows by itself; anybody else is told."""
        for peer in self.peers.values():
            if peer.linked and not (peer is but and len(self.epochs[-1].voters) == 2):
                self._stand(peer)

    def _settle(self) -> None:
        held = self._held_epochs
        if not held or held[-1].id != self.epochs[-1].id:
            return
        epoch = held[-1]
        if not self.orders:
            both = set(epoch.voters) == {self.me, epoch.orderer}
            self._count(self._held_length if both else self._told_settled)
            return
        length = self._held_length
        for voter in epoch.voters:
            if voter != self.me:
                peer = self.peers.get(voter)
                holds = peer is not None and peer.epoch == epoch.id
                length = min(length, peer.length if peer is not None and holds else 0)
        self._count(length)

    def _after_stored(self, before: tuple[Epoch, ...]) -> None:
        if self._held_epochs != before:
            for peer in self.peers.values():
                peer.lineage_at = self._now - BEAT
                self._say_lineage(peer)
                self._stand(peer)
        elif not self.orders:
            self._acknowledge()
        if self.orders:
            for peer in self.peers.values():
                if peer.linked:
                    self._send_events(peer)
            self._hand_over()

    def _hand_over(self) -> None:
        """Begin the other's epoch as soon as every event is settled."""
        if self._frozen and self.orders and self.settled == len(self.log):
            self._begin_epoch(self._handing, self.epochs[-1].voters, alone=False)

    def _stop_handing(self, peer: Peer, reason: str) -> None:
        if self._handing == peer.id and self.orders:
            self._handing = ""
            self._frozen = False
            self._happens(OfferEnded(peer.id, reason))
            self._order_own()
