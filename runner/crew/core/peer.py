"""What a member knows of another one."""

from __future__ import annotations

from dataclasses import dataclass, field

from runner.crew.core.messages import Part, Wants

BEAT = 1000
"""Milliseconds between two signs of life."""

LOST = 4000
"""Milliseconds without a sign of life after which a member counts as lost."""

SHORTEST_WAIT = 250
"""Milliseconds, at the least, before something unanswered is sent again."""

PROPOSALS = 256
"""Proposals of a member that may wait to be ordered."""

LIVES = 4
"""Lives of a member's process whose declined proposals are remembered."""


@dataclass(slots=True)
class Peer:
    """``linked``: messages can be sent. ``present``: it is heard from. ``life``: that of its
    process. ``length`` is what it holds for good of the epoch ``epoch``; ``sent`` how far
    events have been sent to it."""

    id: str
    linked: bool = False
    present: bool = False
    known: bool = False
    gone: bool = False
    apart: bool = False
    name: str = ""
    life: str = ""
    wants: Wants = "crew"
    epoch: str = ""
    length: int = 0
    sent: int = 0
    moved_at: int = 0
    heard_at: int = 0
    beat_at: int = -BEAT
    their_time: int = 0
    their_time_at: int = 0
    round_trip: int = 0
    lineage_at: int = -BEAT
    wanted: tuple[int, int] = (-1, -1)
    wanted_at: int = 0
    declined: dict[str, dict[int, str]] = field(default_factory=dict)

    def decline(self, life: str, counter: int, reason: str) -> None:
        """Remember why a proposal of one of its lives was not taken."""
        reasons = self.declined.setdefault(life, {})
        reasons[counter] = reason
        if len(reasons) > PROPOSALS:
            del reasons[next(iter(reasons))]
        if len(self.declined) > LIVES:
            del self.declined[next(iter(self.declined))]

    @property
    def wait(self) -> int:
        """Milliseconds to wait for an answer before sending again."""
        return max(SHORTEST_WAIT, 2 * self.round_trip)


@dataclass(slots=True)
class Arriving:
    """Events that have come and cannot be taken yet: ``early`` ones after a gap, and the
    pieces of one that comes in several, ``later`` ones after a gap by their offset."""

    early: dict[int, Part] = field(default_factory=dict)
    pieces: list[str] = field(default_factory=list)
    later: dict[int, str] = field(default_factory=dict)
    offset: int = 0
    burst_end: int = 0
    asked_at: int = 0

    def forget(self) -> None:
        """Another epoch: what has come is of no use."""
        self.early.clear()
        self.begin()

    def begin(self) -> None:
        """No piece of the next event has come."""
        self.pieces.clear()
        self.later.clear()
        self.offset = 0
        self.burst_end = 0

    def take(self, piece: str) -> None:
        """The next piece has come, and with it those that came before their turn."""
        found: str | None = piece
        while found is not None:
            self.pieces.append(found)
            self.offset += len(found)
            found = self.later.pop(self.offset, None)
