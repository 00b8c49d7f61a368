"""Who is in a crew now, as this machine knows it: what each is called, who is there, who counts.

A member is known by the name of its machine's key; what people read and hear are names of persons.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from runner.pairing_roles import distinct_names

if TYPE_CHECKING:
    from runner.crew.crew import Crew


class People:
    """The members of ``crew``; ``name`` is what this machine's person gave."""

    def __init__(self, crew: Crew, name: str) -> None:
        self._crew = crew
        self._name = name

    @property
    def names(self) -> dict[str, str]:
        """A name for each member, no two alike, on all machines the same."""
        peers = self._crew.member.peers
        known = self._crew.people | {m: peer.name for m, peer in peers.items() if peer.name}
        known[self._crew.me] = self._name
        return distinct_names(known, self.voters)

    @property
    def me(self) -> str:
        """What this machine's person is called."""
        return self.names[self._crew.me]

    @property
    def voters(self) -> tuple[str, ...]:
        """The members without whom nothing counts; none where the crew has not begun."""
        epochs = self._crew.member.epochs
        return epochs[-1].voters if epochs else ()

    @property
    def orderer(self) -> str:
        """The member whose machine orders the events; empty where the crew has not begun."""
        epochs = self._crew.member.epochs
        return epochs[-1].orderer if epochs else ""

    @property
    def others_here(self) -> tuple[str, ...]:
        """The other voters whose machines are there."""
        me, peers = self._crew.me, self._crew.member.peers
        others = [one for one in self.voters if one != me]
        return tuple(one for one in others if (peer := peers.get(one)) and peer.present)

    @property
    def here(self) -> set[str]:
        """The names of this machine's person and of all whose machines are there."""
        names, peers = self.names, self._crew.member.peers
        return {names[self._crew.me], *(names[m] for m, peer in peers.items() if peer.present)}

    @property
    def flying(self) -> list[str]:
        """The names of the other voters. Who is only not heard still is of the crew: nothing
        counts without them."""
        names, peers = self.names, self._crew.member.peers
        gone = {member for member, peer in peers.items() if peer.gone}
        return [names[m] for m in self.voters if m != self._crew.me and m not in gone]

    @property
    def watching(self) -> list[str]:
        """The names of those who only watch."""
        names, peers = self.names, self._crew.member.peers
        watch = {m for m, peer in peers.items() if peer.present and peer.wants == "observer"}
        return [names[m] for m in sorted(watch.difference(self.voters))]

    @property
    def heard(self) -> list[str]:
        """Of each other who has not left, how soon they are heard, or that they are not."""
        names = self.names
        return [
            f"{names.get(member, peer.name)} {self._crew.delay(member)} ms"
            if peer.present
            else f"{names.get(member, peer.name)} not heard"
            for member, peer in self._crew.member.peers.items()
            if not peer.gone
        ]

    def know_who_orders(self, members: Sequence[str]) -> bool:
        """Whether those of these who are there have come to the newest epoch."""
        member = self._crew.member
        newest = member.epochs[-1].id if member.epochs else ""
        peers = [member.peers[one] for one in members]
        return all(peer.epoch == newest for peer in peers if peer.present)
