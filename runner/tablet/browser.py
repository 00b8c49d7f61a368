"""One browser that shows the run: what it was told already, and what is new for it.

Nothing is queued for a browser. It is told what differs from what it was told last, so that
a slow one skips what has passed and none can make the run wait or the memory grow.
"""

from __future__ import annotations

import asyncio
import json
import time
from dataclasses import dataclass, field
from typing import Any

from runner.tablet.words import Parts

WINDOW = 10.0
MESSAGES = 60
"""A browser may send so many messages in so many seconds; our page sends one a second."""


@dataclass(eq=False, slots=True)
class Browser:
    """A browser at ``address``; ``wake`` is set where there may be something new for it."""

    socket: Any
    address: str
    version: str
    paired: bool = False
    wake: asyncio.Event = field(default_factory=asyncio.Event)
    _told: dict[str, object] = field(default_factory=dict)
    _question: int = -1
    _replies: dict[str, object] = field(default_factory=dict)
    _greeted: bool = False
    _since: float = 0.0
    _messages: int = 0

    def reply(self, **told: object) -> None:
        """Tell this browser something of its own with the next message."""
        self._replies.update(told)
        self.wake.set()

    def may_send(self) -> bool:
        """Count a message that came; whether it is within the limit."""
        now = time.monotonic()
        if now - self._since > WINDOW:
            self._since, self._messages = now, 0
        self._messages += 1
        return self._messages <= MESSAGES

    def news(self, parts: Parts, question: int) -> str:
        """The next message to this browser, nothing if it knows all."""
        changed = {name: part for name, part in parts.items() if self._told.get(name) != part}
        message: dict[str, object] = {} if self._greeted else {"version": self.version}
        if changed or not self._greeted:
            message["parts"] = changed
        if question != self._question:
            message["question"] = question
        message |= self._replies
        self._greeted = True
        self._told |= changed
        self._question = question
        self._replies = {}
        return json.dumps(message, ensure_ascii=False) if message else ""
