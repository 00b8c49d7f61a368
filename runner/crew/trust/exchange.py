"""The exchange by which two machines come to share keys: SPAKE2, confirmed, then signed.

    asker    hello    its id, a fresh number, how it knows the secret, its SPAKE2 message
    answerer answer   its id, its SPAKE2 message
    asker    proof    shows that it has the same key; its public key, its signature
    answerer proof    the same

The answerer shows nothing before the asker's proof is right, so that each try at a code is
one guess, and is counted. Keys, proofs and signatures depend on every byte of the first two
messages.
"""

from __future__ import annotations

import hashlib
import hmac
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal

from runner.crew.trust.channel import FRAME_VERSION, HEAD, Keys, NotTaken
from runner.crew.trust.identity import Identity, id_of, signed

HELLO, ANSWER, PROOF, PROOF_BACK, REFUSAL = 1, 2, 3, 4, 6
How = Literal["code", "known"]

_PAKE = 33
_NONCE = 16
_HELLO = 1 + _NONCE + _PAKE
_PROOF = 32 + 32 + 64
HELLO_BYTES = HEAD.size + _HELLO
ANSWER_BYTES = HEAD.size + _NONCE + _PAKE
PROOF_BYTES = HEAD.size + _NONCE + _PROOF


@dataclass(frozen=True, slots=True)
class _Secrets:
    keys: Keys
    mine: bytes
    theirs: bytes
    transcript: bytes


def _entropy(random: Callable[[int], bytes]) -> Callable[[int], bytes]:
    return lambda count: random(count)


def _work_out(key: bytes, hello: bytes, answer: bytes, asks: bool) -> _Secrets:
    from cryptography.hazmat.primitives.hashes import SHA256
    from cryptography.hazmat.primitives.kdf.hkdf import HKDF

    transcript = hashlib.sha256(hello + answer).digest()
    made = HKDF(SHA256(), 136, transcript, b"runner crew 1").derive(key)
    parts = [made[at : at + 32] for at in range(0, 128, 32)]
    if not asks:
        parts = [parts[1], parts[0], parts[3], parts[2]]
    keys = Keys(parts[0], parts[1], made[128:])
    return _Secrets(keys, parts[2], parts[3], transcript)


class _Side:
    """What both sides do once the two SPAKE2 messages are there."""

    def __init__(self, identity: Identity) -> None:
        self.identity = identity
        self.secrets: _Secrets | None = None
        self.nonce = b""

    def _proof(self, kind: int) -> bytes:
        assert self.secrets is not None
        public = self.identity.public
        tag = hmac.digest(self.secrets.mine, self.secrets.transcript + public, "sha256")
        signature = self.identity.sign(bytes([kind]) + self.secrets.transcript)
        head = HEAD.pack(FRAME_VERSION, kind, self.identity.id)
        return head + self.nonce + tag + public + signature

    def _check(self, frame: bytes, kind: int) -> bytes:
        """The other's id, if the proof is right; NotTaken where it is not."""
        assert self.secrets is not None
        body = frame[HEAD.size + _NONCE :]
        tag, public, signature = body[:32], body[32:64], body[64:]
        right = hmac.digest(self.secrets.theirs, self.secrets.transcript + public, "sha256")
        if not hmac.compare_digest(tag, right):
            raise NotTaken("wrong code")
        sender = frame[2 : HEAD.size]
        data = bytes([kind]) + self.secrets.transcript
        if id_of(public) != sender or not signed(public, signature, data):
            raise NotTaken("not who it says")
        return sender


class Asking(_Side):
    """The side that begins; ``to`` is the other's id, or empty for whoever opened the crew."""

    def __init__(
        self, identity: Identity, how: How, secret: bytes, random: Callable[[int], bytes]
    ) -> None:
        from spake2 import SPAKE2_A  # type: ignore[import-untyped]

        super().__init__(identity)
        self.how = how
        self.nonce = random(_NONCE)
        self._pake: Any = SPAKE2_A(
            secret, idA=identity.id, idB=b"runner crew " + how.encode(), entropy_f=_entropy(random)
        )
        mark = b"\1" if how == "code" else b"\2"
        head = HEAD.pack(FRAME_VERSION, HELLO, identity.id)
        self.hello = head + mark + self.nonce + self._pake.start()
        self.answerer = b""
        self.done = False

    def take_answer(self, frame: bytes) -> bytes:
        """The proof to send for this answer; NotTaken where it is none."""
        if len(frame) != ANSWER_BYTES or self.secrets is not None:
            raise NotTaken("malformed")
        self.answerer = frame[2 : HEAD.size]
        try:
            key = self._pake.finish(frame[HEAD.size + _NONCE :])
        except Exception as error:
            # The library raises several kinds for a message that is no point of its curve.
            raise NotTaken("malformed") from error
        self.secrets = _work_out(key, self.hello, frame, asks=True)
        return self._proof(PROOF)

    def take_proof(self, frame: bytes) -> Keys:
        """The keys, once the answerer has proved itself; NotTaken where it has not."""
        if self.secrets is None or len(frame) != PROOF_BYTES:
            raise NotTaken("malformed")
        if self._check(frame, PROOF_BACK) != self.answerer:
            raise NotTaken("not who it says")
        self.done = True
        return self.secrets.keys


class Answering(_Side):
    """The side that was asked, by this ``hello``. Raises NotTaken where that is none."""

    def __init__(
        self, identity: Identity, secret: bytes, hello: bytes, random: Callable[[int], bytes]
    ) -> None:
        from spake2 import SPAKE2_B

        super().__init__(identity)
        self.hello = hello
        self.asker = hello[2 : HEAD.size]
        self.how = how_of(hello)
        self.nonce = hello[HEAD.size + 1 : HEAD.size + 1 + _NONCE]
        try:
            pake: Any = SPAKE2_B(
                secret,
                idA=self.asker,
                idB=b"runner crew " + self.how.encode(),
                entropy_f=_entropy(random),
            )
            message = pake.start()
            key = pake.finish(hello[-_PAKE:])
        except Exception as error:
            raise NotTaken("malformed") from error
        head = HEAD.pack(FRAME_VERSION, ANSWER, identity.id)
        self.answer = head + self.nonce + message
        self.secrets = _work_out(key, hello, self.answer, asks=False)

    def take_proof(self, frame: bytes) -> tuple[Keys, bytes]:
        """The keys and the proof to send back, for a right proof; NotTaken for a wrong one."""
        assert self.secrets is not None
        if len(frame) != PROOF_BYTES:
            raise NotTaken("malformed")
        if self._check(frame, PROOF) != self.asker:
            raise NotTaken("not who it says")
        return self.secrets.keys, self._proof(PROOF_BACK)


def how_of(hello: bytes) -> How:
    """By what secret a hello asks. Raises NotTaken where it is none."""
    if len(hello) != HELLO_BYTES or hello[HEAD.size] not in (1, 2):
        raise NotTaken("malformed")
    return "code" if hello[HEAD.size] == 1 else "known"


def nonce_of(frame: bytes) -> bytes:
    """The fresh number of the exchange that an answer or a proof belongs to."""
    return frame[HEAD.size : HEAD.size + _NONCE]
