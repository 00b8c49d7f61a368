"""What carries frames between members, and what it tells about them."""

from __future__ import annotations

from typing import Protocol


class Receiver(Protocol):
    """Who takes what a transport brings; called from its event loop."""

    def frame(self, frame: bytes, source: object) -> None:
        """A frame came. ``source`` is the way back to whoever sent it, or None."""

    def up(self, still: frozenset[str] = frozenset()) -> None:
        """The way to the others is open (again); those in ``still`` were reached all along."""

    def down(self, reason: str, still: frozenset[str] | None = None) -> None:
        """The way to the others is closed; the transport tries to open it again. ``still`` are
        those who are reached all the same because they meet here, None where nobody can."""

    def seen(self, members: tuple[str, ...]) -> None:
        """These members are said to be there: a hint, from anybody."""

    def unseen(self, member: str) -> None:
        """A member is said to be gone: a hint."""


class Transport(Protocol):
    """A way to the other members."""

    async def run(self, receiver: Receiver, me: str) -> None:
        """Carry frames for the member ``me`` until cancelled.

        RunnerError where that cannot even begin: no such host, a port in use.
        """

    def send(self, to: str, frame: bytes, source: object = None) -> None:
        """Send a frame to a member, or back to its ``source``; with an empty ``to``, to
        whoever opened the crew. It may be lost."""

    @property
    def lets_in(self) -> bool:
        """Whether it is here that somebody new would ask to be let in."""

    @property
    def where(self) -> str:
        """The address and port at which others meet here; empty where they do not."""

    @property
    def listens(self) -> str:
        """What to listen at to be met here again, HOST:PORT with no HOST for all addresses;
        empty where others do not meet here."""

    def meet_here(self) -> None:
        """Let others meet here from now on, as this machine orders the run."""

    def proven(self, member: str, source: object) -> None:
        """Who sends from ``source`` has proved to be this member."""
