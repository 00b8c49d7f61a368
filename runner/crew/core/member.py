"""One member of a crew: the protocol's core. Call in, take what ``happenings`` gives, do it.

The run is one list of events. In each *epoch* one member, the *orderer*, numbers them; the
*voters* are the people at the controls. An event's way:

    proposed     by any member who is no observer, under a number of its own, again and
                 again until it is dealt with; the orderer takes each number once, in order
    ordered      the orderer gives it its place and keeps it for good, then sends it
    held         each member keeps it for good, then says so
    settled      every voter holds it: now it counts, and what comes of it is spoken

So nobody hears of an event that could still be lost, whichever machine stops. The price is
that nothing settles while a voter is gone; then a person decides (``continue_alone``).

    what happens                         what begins
    -----------------------------------  -----------------------------------------------
    a crew is opened                     the first epoch, its only voter the one who opened
    someone has caught up with the run   an epoch with one voter more
    a voter says goodbye                 an epoch with one voter fewer
    the order is offered and accepted,   an epoch with another orderer
    and every event so far is settled
    a voter says *continue alone*        an epoch with that one voter, ``alone``

Members who meet compare their lines of epochs (``lineage.meet``). Whose line gives way
drops the events it holds beyond the fork, none of which was settled, and takes the others.
With an epoch that began alone, proposals not yet ordered are dropped and their person is
told: an answer from before the break must not land on the question after it.

What others can see of a member is only what it holds for good; a process that is killed
comes back with that and nothing is taken back. Times are milliseconds of the caller's
clock, which never goes back.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from runner.crew.core.following import Following
from runner.crew.core.happenings import (
    Gone,
    Happening,
    Lost,
    OfferEnded,
    OrderOffered,
    Present,
    Told,
)
from runner.crew.core.lineage import Standing, meet
from runner.crew.core.messages import (
    Accept,
    Aside,
    Bye,
    Decline,
    Lineage,
    Message,
    Offer,
    Part,
    Propose,
    Stand,
    Want,
    Wants,
)
from runner.crew.core.ordering import Ordering
from runner.crew.core.peer import BEAT, LOST, Peer
from runner.crew.core.records import Record
from runner.errors import RunnerError


class Member(Ordering, Following):
    """A member ``me`` of a crew, in the ``life`` of its process (both hexadecimal, the life
    never used before by this member).

    ``records`` are what it stored earlier. ``admit(by, text)`` gives the text as the orderer
    will number it, or raises ``Turn`` with the reason why not; ``check(number, text)`` raises
    ``Turn`` for an event from the orderer that is none. ``fresh`` gives a new hexadecimal id.
    """

    def __init__(
        self,
        me: str,
        life: str,
        *,
        name: str = "",
        wants: Wants = "crew",
        records: Iterable[Record] = (),
        admit: Callable[[str, str], str] | None = None,
        check: Callable[[int, str], None] | None = None,
        fresh: Callable[[], str],
        now: int = 0,
    ) -> None:
        super().__init__(me, life, name, wants, records, admit, check, fresh, now)
        self._offered_at = 0
        self._abandoned: set[str] = set()

    def open(self, now: int) -> list[Happening]:
        """Open the crew: begin its first epoch, as its orderer. For a new run."""
        self._now = now
        if self.epochs:
            raise RunnerError("this run has a crew already")
        self._begin_epoch(self.me, (self.me,), alone=False)
        return self._taken()

    def link(self, member: str, now: int) -> list[Happening]:
        """A member can be sent to (again): its messages are known to be its own."""
        self._now = now
        peer = self._peer(member)
        peer.linked = True
        peer.gone = False
        peer.sent = peer.length
        peer.heard_at = now
        peer.their_time = 0
        self._stand(peer)
        return self._taken()

    def unlink(self, member: str, now: int) -> list[Happening]:
        """The link to a member broke."""
        self._now = now
        peer = self._peer(member)
        peer.linked = False
        self._lose(peer)
        return self._taken()

    def receive(self, member: str, message: Message, now: int) -> list[Happening]:
        """A message came, checked and known to be that member's."""
        self._now = now
        peer = self._peer(member)
        peer.heard_at = now
        if peer.gone or self.left:
            return self._taken()
        if peer.apart and not isinstance(message, Stand | Lineage | Bye | Aside):
            return self._taken()
        match message:
            case Stand():
                self._take_stand(peer, message)
            case Lineage():
                self._take_lineage(peer, message)
            case Part():
                self._take_part(peer, message)
            case Want():
                self._take_want(peer, message)
            case Propose():
                self._take_proposal(peer, message)
            case Decline():
                self._take_decline(peer, message)
            case Offer():
                self._take_offer(peer, message)
            case Accept():
                self._take_answer(peer, message)
            case Aside():
                self._happens(Told(peer.id, message.text))
            case Bye():
                self._take_bye(peer)
        return self._taken()

    def tick(self, now: int) -> list[Happening]:
        """Time has passed: call a few times a second."""
        self._now = now
        for peer in self.peers.values():
            if peer.present and now - peer.heard_at > LOST:
                self._lose(peer)
            if peer.linked and now - peer.beat_at >= BEAT:
                self._stand(peer)
            if peer.linked and self.orders:
                self._send_again(peer)
        if self._handing and not self._frozen and now - self._offered_at >= BEAT:
            self._say_offer()
        self._propose_again()
        self._want_again()
        return self._taken()

    def continue_alone(self, now: int) -> list[Happening]:
        """The person says *continue alone*: an epoch with this member only."""
        self._now = now
        if self.wants != "crew":
            raise RunnerError("an observer cannot continue a run alone")
        if not self.epochs:
            raise RunnerError("there is no run yet to continue")
        self._begin_epoch(self.me, (self.me,), alone=True)
        return self._taken()

    def offer_order(self, member: str, now: int) -> list[Happening]:
        """Offer the order of the run to another voter."""
        self._now = now
        peer = self.peers.get(member)
        if not self.orders:
            raise RunnerError("only who orders the run can hand it over")
        if peer is None or not peer.present or member not in self.epochs[-1].voters:
            raise RunnerError("the order can only be handed to one who is here and flies with you")
        self._handing = member
        self._offers += 1
        self._say_offer()
        return self._taken()

    def answer_offer(self, yes: bool, now: int) -> list[Happening]:
        """Answer the orderer's offer."""
        self._now = now
        if not self._offered:
            raise RunnerError("nothing has been offered")
        epoch = self.epochs[-1]
        self._answer = (self._offered, yes)
        self._send(self._peer(epoch.orderer), Accept(epoch.id, self._offered, yes))
        self._offered = 0
        return self._taken()

    def aside(self, text: str, now: int) -> list[Happening]:
        """Tell all members something outside the run; it may be lost."""
        self._now = now
        for peer in self.peers.values():
            if peer.linked:
                self._send(peer, Aside(text))
        return self._taken()

    def leave(self, now: int) -> list[Happening]:
        """Say goodbye to all; an orderer hands the order over first. Nothing more is taken."""
        self._now = now
        for peer in self.peers.values():
            if peer.linked:
                self._send(peer, Bye())
        self.left = True
        return self._taken()

    def _take_stand(self, peer: Peer, message: Stand) -> None:
        peer.their_time, peer.their_time_at = message.sent, self._now
        peer.name, peer.wants = message.name, message.wants
        if message.echo and self._now - message.echo - message.held >= 0:
            peer.round_trip = self._now - message.echo - message.held
        # Killed and back before its silence told: what its person said last may be lost.
        killed = peer.life not in ("", message.life)
        peer.life = message.life
        if not peer.present or killed:
            peer.present = True
            self._happens(Present(peer.id, peer.name, peer.known))
            peer.known = True
        mine = self._held_epochs
        if message.epochs != len(mine) or (mine and message.epoch != mine[-1].id):
            self._say_lineage(peer)
            return
        if not mine:
            return
        if peer.epoch != message.epoch or message.length > peer.length:
            peer.moved_at = self._now
            peer.length = message.length
            peer.sent = max(peer.sent, peer.length) if peer.epoch == message.epoch else peer.length
        peer.epoch = message.epoch
        if self.orders:
            self._follower_moved(peer)
        elif self._from_orderer(peer, message.epoch):
            self._told_settled = max(self._told_settled, message.settled)
            self._settle()

    def _take_lineage(self, peer: Peer, message: Lineage) -> None:
        meeting = meet(
            Standing(self.epochs, len(self.log), self.settled),
            Standing(message.epochs, message.length, message.settled),
        )
        match meeting.outcome:
            case "two runs":
                self._part_ways(peer, meeting.fork, message.epochs)
            case "keep":
                self._say_lineage(peer)
            case "adopt":
                ids = {epoch.id for epoch in message.epochs}
                if ids & self._abandoned and not meeting.weighs:
                    # Given up for a line with events: two empty-handed ones would else
                    # lead each other back and forth.
                    self._say_lineage(peer)
                    return
                if meeting.weighs:
                    self._abandoned |= {epoch.id for epoch in self.epochs} - ids
                self._adopt(peer, message.epochs, meeting.fork)
            case "same":
                self._stand(peer)

    def _say_offer(self) -> None:
        self._offered_at = self._now
        self._send(self._peer(self._handing), Offer(self.epochs[-1].id, self._offers))

    def _take_offer(self, peer: Peer, message: Offer) -> None:
        if not self._from_orderer(peer, message.epoch) or self.wants != "crew":
            return
        if self._answer is not None and self._answer[0] == message.offer:
            self._send(peer, Accept(message.epoch, message.offer, self._answer[1]))
        elif self._offered != message.offer:
            self._offered = message.offer
            self._happens(OrderOffered(peer.id))

    def _take_answer(self, peer: Peer, message: Accept) -> None:
        if not self.orders or self._handing != peer.id or message.epoch != self.epochs[-1].id:
            return
        if message.offer != self._offers:
            return
        if not message.yes:
            self._handing = ""
            self._happens(OfferEnded(peer.id, "turned down"))
            return
        self._frozen = True
        self._hand_over()

    def _take_bye(self, peer: Peer) -> None:
        peer.gone = True
        peer.present = False
        self._happens(Gone(peer.id))
        self._stop_handing(peer, "gone")
        self._without(peer)

    def _lose(self, peer: Peer) -> None:
        if peer.present:
            peer.present = False
            self._happens(Lost(peer.id))
        self._stop_handing(peer, "lost")

    def _say_lineage(self, peer: Peer) -> None:
        if not self._held_epochs or self._now - peer.lineage_at < 200 or not peer.linked:
            return
        peer.lineage_at = self._now
        self._send(peer, Lineage(self._held_epochs, self._held_length, self._held_settled()))
