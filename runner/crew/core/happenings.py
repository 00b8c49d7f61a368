"""What the core asks of its surroundings, in order; each is carried out by the driver."""

from __future__ import annotations

from dataclasses import dataclass

from runner.crew.core.messages import Entry, Epoch, Message
from runner.crew.core.records import Record


@dataclass(frozen=True, slots=True)
class Send:
    """Send a message to a member; it may be lost, doubled or late."""

    to: str
    message: Message


@dataclass(frozen=True, slots=True)
class Store:
    """Keep a record for good, after all before it; then call ``stored(ticket)``."""

    ticket: int
    record: Record


@dataclass(frozen=True, slots=True)
class Ordered:
    """The next event of the run: step the engine with it. What comes of it is spoken when it
    counts, not before. ``mine`` is the number ``propose`` gave, None for another's event."""

    entry: Entry
    mine: int | None = None


@dataclass(frozen=True, slots=True)
class Settled:
    """The first ``length`` events count: what came of them may be spoken."""

    length: int


@dataclass(frozen=True, slots=True)
class Rewound:
    """Events from ``length`` on are no part of the run any more: step the engine again from
    the first event. None of them counted. ``dropped`` are those given up."""

    length: int
    dropped: tuple[Entry, ...]


@dataclass(frozen=True, slots=True)
class Turned:
    """A proposal of this member was not ordered: refused by the orderer, or dropped because
    the run went on without it. To be told to the person."""

    proposal: int
    text: str
    reason: str


@dataclass(frozen=True, slots=True)
class EpochBegan:
    """Another epoch: who orders, whose machines must hold each event."""

    epoch: Epoch


@dataclass(frozen=True, slots=True)
class Present:
    """A member is heard from: the first time, or ``again`` after it was lost, had left or was
    killed."""

    member: str
    name: str
    again: bool


@dataclass(frozen=True, slots=True)
class Lost:
    """Nothing has come from a member for a while. While it is one that must hold each event,
    nothing counts until it is back or *continue alone* is said."""

    member: str


@dataclass(frozen=True, slots=True)
class Gone:
    """A member has left and said so."""

    member: str


@dataclass(frozen=True, slots=True)
class OrderOffered:
    """The orderer offers the order of the run: answer with ``answer_offer``."""

    member: str


@dataclass(frozen=True, slots=True)
class OfferEnded:
    """An offer made came to nothing: turned down, or the other is gone."""

    member: str
    reason: str


@dataclass(frozen=True, slots=True)
class TwoRuns:
    """Both went on alone: from event ``fork`` on they are two runs, and stay two.

    ``mine`` and ``theirs`` are the epochs by whose ids they are told apart.
    """

    member: str
    fork: int
    mine: str
    theirs: str


@dataclass(frozen=True, slots=True)
class Told:
    """Something for the screen from another member, outside the run."""

    member: str
    text: str


@dataclass(frozen=True, slots=True)
class Fault:
    """Another member's machine did what the protocol does not allow; it was not followed."""

    member: str
    reason: str


Happening = (
    Send
    | Store
    | Ordered
    | Settled
    | Rewound
    | Turned
    | EpochBegan
    | Present
    | Lost
    | Gone
    | OrderOffered
    | OfferEnded
    | TwoRuns
    | Told
    | Fault
)
