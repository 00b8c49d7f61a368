"""What two members say once they share keys: encrypted, authenticated, each message once.

A frame is ``version, kind, sender (16 bytes), channel (8), counter (8), ciphertext``; all
that stands before the ciphertext is authenticated with it. Each direction of each
connection has a key of its own, the counter is the nonce, and only a counter greater than
the last is taken: a message lost is a gap, one repeated or overtaken is refused.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from functools import cached_property

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import ChaCha20Poly1305

from runner.crew.core.messages import MESSAGE_LIMIT

FRAME_VERSION = 1
SEALED = 5
HEAD = struct.Struct("!BB16s")
_REST = struct.Struct("!8sQ")
SEALED_HEAD = HEAD.size + _REST.size
FRAME_LIMIT = MESSAGE_LIMIT + SEALED_HEAD + 64
"""Bytes of the longest frame; a transport takes no longer one."""


class NotTaken(Exception):
    """A frame is refused; the text is the reason under which it is counted."""


@dataclass(frozen=True, slots=True)
class Keys:
    """What an exchange gave: a key for each direction and the channel's name (8 bytes)."""

    sending: bytes
    receiving: bytes
    channel: bytes


@dataclass
class Channel:
    """A connection to one member: ``me`` and ``peer`` are their ids (16 bytes)."""

    me: bytes
    peer: bytes
    keys: Keys
    sent: int = 0
    received: int = 0

    @cached_property
    def _seals(self) -> ChaCha20Poly1305:
        return ChaCha20Poly1305(self.keys.sending)

    @cached_property
    def _opens(self) -> ChaCha20Poly1305:
        return ChaCha20Poly1305(self.keys.receiving)

    def seal(self, data: bytes) -> bytes:
        """The frame that carries these bytes."""
        self.sent += 1
        head = HEAD.pack(FRAME_VERSION, SEALED, self.me)
        head += _REST.pack(self.keys.channel, self.sent)
        return head + self._seals.encrypt(self.sent.to_bytes(12), data, head)

    def carries(self, frame: bytes) -> bool:
        """Whether a frame says that it belongs to this channel."""
        return frame[HEAD.size : HEAD.size + 8] == self.keys.channel

    def open(self, frame: bytes) -> bytes:
        """The bytes a frame carries. Raises NotTaken for any but the peer's next ones."""
        if len(frame) < SEALED_HEAD + 16:
            raise NotTaken("malformed")
        channel, counter = _REST.unpack_from(frame, HEAD.size)
        if channel != self.keys.channel:
            raise NotTaken("of another connection")
        if counter <= self.received:
            raise NotTaken("repeated or overtaken")
        head, body = frame[:SEALED_HEAD], frame[SEALED_HEAD:]
        try:
            data = self._opens.decrypt(counter.to_bytes(12), body, head)
        except InvalidTag:
            raise NotTaken("altered") from None
        self.received = counter
        return data
