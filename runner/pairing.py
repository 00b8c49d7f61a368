"""A flight of several people: between one machine's flight and the link to the others.

Every event of the flight is proposed to the crew and comes back in its place on the one list;
only then is the engine stepped. What comes of it is said when it counts, which is when every
machine at the controls holds it. The machine that orders the list runs the timers, works the
sheet out and says who is aboard.
"""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, cast

from runner.crew.checked import check, event_of
from runner.crew.core.base import Turn
from runner.crew.core.happenings import (
    EpochBegan,
    Fault,
    Gone,
    Lost,
    OfferEnded,
    Ordered,
    OrderOffered,
    Present,
    Rewound,
    Turned,
    TwoRuns,
)
from runner.crew.crew import Crew, Notice
from runner.crew.inviting import held_together, how_to_join
from runner.crew.trust.links import LetIn, NotLetIn, WrongCode
from runner.engine.effects import Candidate, Say
from runner.engine.events import (
    CrewChanged,
    Event,
    Heard,
    InputEnded,
    Keyed,
    Member,
    RunStarted,
    TimerFired,
)
from runner.engine.wire import event_from_json, event_to_json
from runner.errors import RunnerError
from runner.pairing_people import People
from runner.pairing_roles import brought_by, roles_for, with_wish
from runner.pairing_rows import Rows

if TYPE_CHECKING:
    from runner.flight import Flight

CONTINUE_ALONE = Candidate("link:continue_alone", "control", "continue alone / go on alone")
TAKE_OVER = Candidate("link:take_over", "control", "take over / I take over")
CREW_CODE = Candidate("link:crew_code", "control", "(show)? (the)? crew code")
"""What is said to the link and is no event of the run."""

HAND_OVER_SECONDS = 15.0
"""How long who leaves waits for another to take the order."""

BACK_SECONDS = 6.0
"""How long who comes back waits for the others before they count as not heard."""

SETTLE_SECONDS = 3.0
"""How long who leaves waits until the others hold the last events."""


class Pairing:
    """This machine's part in a crew; the flight's ``Ledger``.

    ``make`` makes the ``Crew`` from what it has to be given; ``wishes`` are the roles that
    this machine's person wants, empty for those that are left.
    """

    def __init__(
        self,
        make: Callable[..., Crew],
        *,
        name: str,
        wishes: tuple[str, ...] = (),
        observes: bool = False,
        run: int | None = None,
        resumed: bool = False,
    ) -> None:
        self.name = name
        self._rows = Rows(run)
        self._resumed = resumed
        self._coming_back = resumed
        self.crew: Crew = make(
            name=name,
            admit=self._admit,
            check=self._check,
            on_notice=self._notice,
            on_link=self._link,
            also=lambda entry: self._rows.add(self.crew, entry),
            also_from=self._rows.drop,
        )
        self._people = People(self.crew, name)
        self._wishes = wishes
        self._observes = observes
        self._events: list[Event] = [event_from_json(entry.text) for entry in self.crew.member.log]
        self._flight: Flight | None = None
        self._lost: dict[str, str] = {}
        self._unmissed: set[str] = set()
        self._offered = False
        self._began = asyncio.Event()
        self.flying = asyncio.Event()
        """Set when the flight takes what the link brings."""

        self._closed: set[str] = set()
        self._order_given = asyncio.Event()
        self._refused = ""

    @property
    def events(self) -> tuple[Event, ...]:
        """The crew's run so far."""
        return tuple(self._events)

    @property
    def run(self) -> int | None:
        """The number of the run in this machine's logbook, None until it has begun."""
        return self._rows.run

    @property
    def orders(self) -> bool:
        """Whether this machine orders the events."""
        return self.crew.member.orders

    @property
    def aboard(self) -> bool:
        """Whether this machine's person is one of the crew as the run has it."""
        crew = () if self._flight is None else self._flight.state.crew
        return any(member.name == self._people.me for member in crew)

    @property
    def phrases(self) -> tuple[Candidate, ...]:
        """What can be said to the link now."""
        found = () if self._observes else (CREW_CODE,)
        if self._lost and not self._observes:
            found = (*found, CONTINUE_ALONE)
        return (*found, TAKE_OVER) if self._offered else found

    @property
    def urged(self) -> bool:
        """Whether somebody is not heard, or offers the order."""
        return self._offered or (bool(self._lost) and not self._observes)

    @property
    def invitation(self) -> str:
        """How one more person joins here; empty where nobody can now."""
        code = self.crew.code
        if code is None or not self.crew.lets_in:
            return ""
        return how_to_join(code, self.crew.where)

    @property
    def status(self) -> str:
        """The state of the link, in one line; a code in it is not broken over two."""
        parts = self._people.heard
        order = "orders here" if self.orders else "orders there"
        code = f"; code “{self.crew.code}”" if self.invitation else ""
        alone = self.invitation or "nobody else yet"
        told = ", ".join(parts) + f"; {order}{code}" if parts else alone
        return held_together(told, self.crew.code)

    def attach(self, flight: Flight) -> None:
        """The flight that takes the events from now on."""
        self._flight = flight

    def begun(self) -> None:
        """The flight has taken in the run so far."""
        self.flying.set()
        self._say_who_is_aboard()
        if self._resumed:
            asyncio.get_running_loop().call_later(BACK_SECONDS, self._miss)

    def _miss(self) -> None:
        """Tell who was with this machine's person before and has not been heard from."""
        member = self.crew.member
        if member.left or self._flight is None or self._flight.finish is not None:
            return
        voters = self._people.voters
        if voters == (self.crew.me,):
            self._announce("You fly this run alone now. Who comes back joins again.", False)
        for one in voters:
            peer = member.peers.get(one)
            if one != self.crew.me and not (peer and (peer.present or peer.gone)):
                self._lose(one)
        if not self.crew.where and not self.crew.links.linked and not self._closed:
            self._flight.trouble("whoever answers there is not of this crew")

    async def first(self) -> RunStarted:
        """Wait for the run's first event. RunnerError where the others do not let us in."""
        while not self._events:
            self._began.clear()
            if self._refused:
                raise RunnerError(self._refused)
            await self._began.wait()
        return cast(RunStarted, self._events[0])

    def propose(self, event: Event) -> None:
        """Have an event ordered, in this machine's person's name."""
        if isinstance(event, Heard | Keyed):
            event = replace(event, member=self._people.me)
        self.crew.propose(event_to_json(event))

    def hears(self, say: Say) -> bool:
        """Whether this machine's person must hear it; observers hear everything."""
        return not say.to or self._observes or self._people.me in say.to

    def tells_the_end(self, say: Say) -> bool:
        """Whether this machine tells when it was spoken: the first one it is spoken to, or,
        where it is for all or for somebody who is not there, the one that orders."""
        here = self._people.here
        there = [name for name in say.to if name in here]
        return there[0] == self._people.me if there else self.orders

    def spoken_for_us(self, candidate: str) -> bool:
        """Act on *continue alone* and *take over*."""
        if candidate == CONTINUE_ALONE.id and self._lost:
            self.continue_alone()
        elif candidate == TAKE_OVER.id and self._offered:
            self._offered = False
            self.crew.answer_offer(True)
        elif candidate == CREW_CODE.id and not self._observes:
            self.show_code()
        else:
            return False
        return True

    def show_code(self) -> None:
        """Show how one more person joins: by the code that nobody has used, or by a new one."""
        if self._flight is None:
            return
        if not self.crew.lets_in:
            name = self._people.names.get(self._people.orderer, "")
            there = f" to the machine of {name}" if name and not self.orders else " there"
            self._announce(f"Others are let in elsewhere: say crew code{there}.", trouble=False)
            return
        if self.crew.code is None:
            self.crew.new_code()
        self._flight.note(self.invitation)
        self._announce("The crew code is on the screen.", trouble=False)

    def continue_alone(self) -> None:
        """The person goes on without those who are not heard."""
        if not self._lost:
            return
        self._miss_no_more(*self._lost)
        self._announce("You go on alone. Who comes back joins again.", trouble=False)
        self.crew.continue_alone()

    async def leave(self) -> None:
        """Hand the order over where there is somebody to take it, and say goodbye."""
        here = self._people.others_here
        unfinished = self._flight is None or self._flight.finish is None
        if self.orders and here and unfinished:
            self._order_given.clear()
            with contextlib.suppress(RunnerError, TimeoutError):
                self.crew.offer_order(here[0])
                await asyncio.wait_for(self._order_given.wait(), HAND_OVER_SECONDS)
        member = self.crew.member
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout(SETTLE_SECONDS):
                while member.settled < len(member.log) or not self._people.know_who_orders(here):
                    await asyncio.sleep(0.02)
        self.crew.leave()
        await asyncio.sleep(0.3)

    def _announce(self, text: str, trouble: bool = True) -> None:
        if self._flight is not None:
            self._flight.announce(text, trouble)
            self._flight.link_changed()

    @property
    def _parted(self) -> bool:
        """Whether nobody is missed any more: this person has left, or the run has come to its
        end, all of it counts, and nobody has still to hear it."""
        member = self.crew.member
        over = self._flight is not None and self._flight.heard_out
        return member.left or (over and member.settled == len(member.log))

    def _link(self, up: bool, reason: str) -> None:
        others = [p for p in self.crew.member.peers.values() if not p.gone]
        if up:
            for told in self._closed:
                if self._flight is not None:
                    self._flight.over(_closed(told))
            self._closed.clear()
        elif reason and reason not in self._closed and self._flight and not self._parted:
            self._closed.add(reason)
            if others or self._resumed:
                self._flight.trouble(_closed(reason))

    def _notice(self, notice: Notice) -> None:
        match notice:
            case Ordered(entry, mine):
                event = event_from_json(entry.text)
                self._events.append(event)
                self._began.set()
                if self._flight is not None:
                    self._flight.ordered(event, self.crew.settled(entry.number), mine is not None)
                if isinstance(event, RunStarted):
                    self._say_who_is_aboard()
            case Rewound(length):
                del self._events[length:]
                if self._flight is not None:
                    self._flight.rewind(self._events)
            case EpochBegan():
                self._epoch_began()
            case Present(member, name, again):
                self._miss_no_more(member)
                quiet = again and member in self._unmissed
                self._unmissed.discard(member)
                if self._flight is not None and member in self._people.names and not quiet:
                    told = "is back" if again else "is there"
                    back = "You are back. " if self._coming_back else ""
                    self._coming_back = False
                    self._announce(f"{back}{self._people.names[member] or name} {told}.", False)
                self._say_who_is_aboard()
            case Lost(member):
                self._lose(member)
            case Gone(member):
                self._miss_no_more(member)
                if self.orders and self._flight is not None:
                    self._flight.link.unheard(self._people.names.get(member, ""))
                if self._people.orderer == member:
                    self._lose(member)
                self._say_who_is_aboard()
            case OrderOffered(member):
                self._offered = True
                name = self._people.names.get(member, "The other")
                self._announce(f"{name} leaves. Say: take over.", trouble=False)
            case OfferEnded(_, reason):
                self._announce(f"The list was not taken over: {reason}.")
                self._order_given.set()
            case TwoRuns(member):
                name = self._people.names.get(member, "the other")
                self._announce(
                    f"You and {name} both went on alone: these are two runs now and stay two."
                )
                if self._flight is not None and self.run is not None:
                    self._flight.record.write(self._rows.rename(notice.mine))
            case Turned(_, text, reason):
                event = event_from_json(text)
                if not isinstance(event, TimerFired | InputEnded):
                    told = f"What was said last does not count: {reason}."
                    asked = "" if self._flight is None else self._flight.state.prompt
                    self._announce(f"{told} {asked}".strip())
            case Fault(member, reason):
                name = self._people.names.get(member, "the other")
                self._announce(f"The machine of {name} was not followed: {reason}.")
            case WrongCode(left):
                self._announce(f"Somebody gave a wrong code; {left} more tries are let pass.")
            case NotLetIn(reason):
                self._refused = f"not let in: {reason}"
                self._began.set()
            case LetIn():
                self._announce("Let in.", trouble=False)
        if self._flight is not None and isinstance(notice, EpochBegan | Present | Lost | Gone):
            self._flight.link_changed()

    def _lose(self, member: str) -> None:
        if self._parted:
            return
        name = self._people.names.get(member, "The other")
        if member not in self._people.voters:
            self._unmissed.add(member)
            self._say_who_is_aboard()
            return
        how = "" if self._observes else ", or say: continue alone"
        self._lost[member] = f"{name} is not heard. Nothing counts until then{how}."
        self._announce(self._lost[member])
        if self._flight is not None and self.orders:
            self._flight.link.unheard(name)

    def _miss_no_more(self, *members: str) -> None:
        """These are heard again, or nobody waits for them."""
        for told in [self._lost.pop(member, "") for member in members]:
            if told and self._flight is not None:
                self._flight.over(told)

    def _epoch_began(self) -> None:
        if self._offered and self.orders:
            self._announce("You have the order of the list.", trouble=False)
        self._offered = False
        self._miss_no_more(*self._lost.keys() - set(self._people.voters))
        if not self.orders:
            self._order_given.set()
        else:
            self.crew.meet_here()
            if self._flight is not None:
                self._flight.link.take_order()
        self._say_who_is_aboard()

    def _say_who_is_aboard(self) -> None:
        """Propose the crew as it is, where this machine orders and it has changed."""
        if not self.orders or self._flight is None or not self._events:
            return
        if not self._flight.begun or self._flight.finish is not None:
            return
        state = self._flight.state
        roles = state.program.procedures.aircraft.roles  # type: ignore[union-attr]
        who = self._people
        made = roles_for(who.me, who.flying, who.watching, state.crew, roles, self._wishes)
        if made != state.crew:
            self._flight.post(CrewChanged(self._flight.clock.now(), made))

    def wish(self) -> None:
        """Ask for the roles that this machine's person wants."""
        if self._wishes and not self.orders and not self._observes and self._flight is not None:
            mine = Member(self._people.me, self._wishes)
            self.propose(CrewChanged(self._flight.clock.now(), (mine,)))

    def _admit(self, by: str, text: str) -> str:
        """An event from another machine, as it is ordered: in its person's name, now."""
        event = event_of(text)
        if self._flight is None:
            raise Turn("it comes too late")
        now = self._flight.clock.now()
        name = self._people.names[by]
        event = brought_by(name, event, now)
        if isinstance(event, CrewChanged):
            assert self._flight.state.program is not None
            roles = self._flight.state.program.procedures.aircraft.roles
            wanted = next((m.roles for m in event.members), ())
            event = CrewChanged(now, with_wish(name, wanted, self._flight.state.crew, roles))
        return event_to_json(event)

    def _check(self, number: int, text: str) -> None:
        """Whether an event from the machine that orders is one; its files are read like any."""
        try:
            check(number, text)
        except Turn as turn:
            if number == 0:
                self._refused = f"the files of the other machine cannot be used: {turn}"
            raise


def _closed(reason: str) -> str:
    """What is told of a link that is down."""
    return f"the way to the others is closed: {reason}"
