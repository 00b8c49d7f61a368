"""What carries frames between members, and what it tells about them."""

from __future__ import annotations

from typing import Protocol


class Receiver(Protocol):
    """Who takes what a transport brings; called from its event loop."""

    def frame(self, frame: bytes, source: object) -> None:
        """A frame came. ``source`` is the way back to whoever sent it, or None."""

    def up(self) -> None:
        """The way to the others is open (again)."""

    def down(self, reason: str) -> None:
        """The way to the others is closed; the transport tries to open it again."""

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

    def proven(self, member: str, source: object) -> None:
        """Who sends from ``source`` has proved to be this member."""
