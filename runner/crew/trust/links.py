"""The links of one machine to all others of its crew, without I/O.

Frames come in from anybody; what comes out is messages of members who have proved who they
are, and frames to send. Whatever else comes is counted under the reason why it was refused,
and changes nothing.

A machine that was let in by a code is given the crew's secret over the link that the code
made. With that secret any two members link again by themselves, also after one was killed.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field

from runner.crew.core.messages import MESSAGE_LIMIT
from runner.crew.trust.channel import (
    FRAME_LIMIT,
    FRAME_VERSION,
    HEAD,
    SEALED,
    Channel,
    NotTaken,
)
from runner.crew.trust.code import GUESSES, Code, Lock
from runner.crew.trust.exchange import (
    ANSWER,
    HELLO,
    PROOF,
    PROOF_BACK,
    REFUSAL,
    Answering,
    Asking,
    how_of,
    nonce_of,
)
from runner.crew.trust.identity import Identity
from runner.crew.trust.limits import Bucket

AGAIN = 500
"""Milliseconds until an unanswered step of an exchange is sent again."""

GIVE_UP = 20_000
"""Milliseconds after which an exchange without an end is forgotten."""

SILENCE = 3000
"""Milliseconds without a frame that could be read, after which frames of another connection
make this side ask for a new one; and for which a channel outlives the next one."""

PENDING = 16
"""Exchanges under way at once, as the one who is asked."""

_MESSAGE, _SECRET, _WANT_SECRET = b"m", b"s", b"w"


@dataclass(frozen=True, slots=True)
class Out:
    """Send this frame to a member; with an empty ``to``, to whoever opened the crew."""

    to: str
    frame: bytes


@dataclass(frozen=True, slots=True)
class Linked:
    """A member has proved who it is; ``by_code`` where it was let in just now."""

    member: str
    by_code: bool


@dataclass(frozen=True, slots=True)
class Came:
    """A member sent a message."""

    member: str
    data: bytes


@dataclass(frozen=True, slots=True)
class LetIn:
    """This machine was let in; keep the ``secret``, with which it links again by itself."""

    member: str
    secret: bytes


@dataclass(frozen=True, slots=True)
class WrongCode:
    """Somebody tried a wrong code on this machine; ``left`` tries are left."""

    left: int


@dataclass(frozen=True, slots=True)
class NotLetIn:
    """The other machine did not let this one in, and why."""

    reason: str


LinkEvent = Out | Linked | Came | LetIn | WrongCode | NotLetIn


@dataclass(slots=True)
class _Ask:
    side: Asking
    to: str
    began: int
    sent_at: int
    frame: bytes


@dataclass(slots=True)
class _Answered:
    side: Answering
    began: int
    proof: bytes = b""


@dataclass
class Links:
    """``secret`` is the crew's, None until this machine has been let in."""

    identity: Identity
    random: Callable[[int], bytes]
    secret: bytes | None = None
    lock: Lock | None = None
    refused: Counter[str] = field(default_factory=Counter)

    def __post_init__(self) -> None:
        self._id = self.identity.id
        self._channels: dict[str, list[Channel]] = {}
        self._opened_at: dict[str, int] = {}
        self._heard_at: dict[str, int] = {}
        self._asks: dict[bytes, _Ask] = {}
        self._answered: dict[bytes, _Answered] = {}
        self._asked_at: dict[str, int] = {}
        self._buckets: dict[str, tuple[Bucket, Bucket]] = {}
        self._hellos = Bucket(rate=10, burst=20)
        self._let_in_by = ""
        self._wanted_at = 0

    @property
    def me(self) -> str:
        """This machine's member id."""
        return self._id.hex()

    @property
    def linked(self) -> frozenset[str]:
        """The members there is a channel to."""
        return frozenset(self._channels)

    def let_in_by(self, code: Code) -> None:
        """Let one more machine in, who knows this code. A former code opens nothing more."""
        self.lock = Lock(code)

    def join(self, code: Code, now: int) -> list[LinkEvent]:
        """Ask whoever opened the crew to be let in."""
        return self._ask("", Asking(self.identity, "code", code.secret.encode(), self.random), now)

    def meet(self, member: str, now: int) -> list[LinkEvent]:
        """Link to a member of the crew that is said to be there, unless that is under way."""
        last = self._asked_at.get(member)
        if self.secret is None or member == self.me or (last is not None and now - last < AGAIN):
            return []
        if len(self._asks) >= PENDING or len(self._asked_at) > 256:
            self._asked_at.clear()
            return []
        if any(ask.to == member for ask in self._asks.values()):
            return []
        self._asked_at[member] = now
        return self._ask(member, Asking(self.identity, "known", self.secret, self.random), now)

    def seal(self, member: str, data: bytes) -> bytes | None:
        """The frame that carries a message to a member, None where there is no link to it."""
        channels = self._channels.get(member)
        return None if channels is None else channels[-1].seal(_MESSAGE + data)

    def forget(self, member: str) -> None:
        """The connection to a member is gone; another exchange makes a new one."""
        self._channels.pop(member, None)
        self._asked_at.pop(member, None)

    def receive(self, frame: bytes, now: int) -> list[LinkEvent]:
        """Take a frame from anybody."""
        try:
            return self._take(frame, now)
        except NotTaken as reason:
            self.refused[str(reason)] += 1
            return []

    def tick(self, now: int) -> list[LinkEvent]:
        """Time has passed: send again what was not answered."""
        found: list[LinkEvent] = []
        for nonce, ask in list(self._asks.items()):
            if now - ask.began > GIVE_UP:
                del self._asks[nonce]
                if ask.side.how == "code":
                    found.append(NotLetIn("the other machine did not answer"))
            elif now - ask.sent_at >= AGAIN:
                ask.sent_at = now
                found.append(Out(ask.to, ask.frame))
        if self._let_in_by and now - self._wanted_at >= AGAIN:
            self._wanted_at = now
            channels = self._channels.get(self._let_in_by)
            if channels is not None:
                found.append(Out(self._let_in_by, channels[-1].seal(_WANT_SECRET)))
        for nonce, answered in list(self._answered.items()):
            if now - answered.began > GIVE_UP:
                del self._answered[nonce]
        return found

    def _ask(self, to: str, side: Asking, now: int) -> list[LinkEvent]:
        self._asks[side.nonce] = _Ask(side, to, now, now, side.hello)
        return [Out(to, side.hello)]

    def _take(self, frame: bytes, now: int) -> list[LinkEvent]:
        if len(frame) < HEAD.size + 16 or len(frame) > FRAME_LIMIT:
            raise NotTaken("too long" if len(frame) > FRAME_LIMIT else "malformed")
        version, kind, sender = HEAD.unpack_from(frame)
        if version != FRAME_VERSION:
            raise NotTaken("of another version")
        if kind == SEALED:
            return self._take_sealed(frame, sender.hex(), now)
        if kind == HELLO:
            return self._take_hello(frame, sender, now)
        if kind == ANSWER:
            return self._take_answer(frame, now)
        if kind == PROOF:
            return self._take_proof(frame, now)
        if kind == PROOF_BACK:
            return self._take_proof_back(frame, now)
        if kind == REFUSAL:
            return self._take_refusal(frame)
        raise NotTaken("malformed")

    def _take_sealed(self, frame: bytes, sender: str, now: int) -> list[LinkEvent]:
        channels = self._channels.get(sender)
        if channels is None:
            self.refused["stranger"] += 1
            return self.meet(sender, now) if self._hellos.take(now) else []
        messages, octets = self._buckets[sender]
        if not (messages.take(now) and octets.take(now, len(frame))):
            raise NotTaken("too many")
        channel = next((one for one in channels if one.carries(frame)), None)
        if channel is None:
            self.refused["of another connection"] += 1
            quiet = now - self._heard_at[sender] > SILENCE
            return self.meet(sender, now) if quiet and self._hellos.take(now) else []
        data = channel.open(frame)
        self._heard_at[sender] = now
        if channel is channels[-1] and now - self._opened_at[sender] > SILENCE:
            del channels[:-1]
        if data[:1] == _MESSAGE:
            return [Came(sender, data[1:])]
        if data[:1] == _SECRET and len(data) == 33 and self._let_in_by == sender:
            self._let_in_by = ""
            self.secret = data[1:]
            return [LetIn(sender, self.secret)]
        if data == _WANT_SECRET and self.secret is not None:
            return [Out(sender, channels[-1].seal(_SECRET + self.secret))]
        raise NotTaken("malformed")

    def _take_hello(self, frame: bytes, sender: bytes, now: int) -> list[LinkEvent]:
        how = how_of(frame)
        nonce = frame[HEAD.size + 1 : HEAD.size + 17]
        earlier = self._answered.get(nonce)
        if earlier is not None:
            if earlier.side.hello != frame:
                raise NotTaken("altered")
            return [Out(sender.hex(), earlier.side.answer)]
        if sender == self._id:
            raise NotTaken("malformed")
        if not self._hellos.take(now):
            raise NotTaken("too many")
        if len(self._answered) >= PENDING:
            del self._answered[next(iter(self._answered))]
        if how == "code":
            refusal = self._locked(now)
            if refusal:
                self.refused["wrong code" if refusal != "no code" else "stranger"] += 1
                head = HEAD.pack(FRAME_VERSION, REFUSAL, self._id)
                return [Out(sender.hex(), head + nonce + refusal.encode())]
            assert self.lock is not None
            secret = self.lock.code.secret.encode()
        elif self.secret is None:
            raise NotTaken("stranger")
        else:
            if self._asking(sender.hex()) and self._id < sender:
                raise NotTaken("asked already")
            secret = self.secret
        side = Answering(self.identity, secret, frame, self.random)
        self._answered[nonce] = _Answered(side, now)
        return [Out(sender.hex(), side.answer)]

    def _locked(self, now: int) -> str:
        lock = self.lock
        if lock is None or lock.used:
            return "no code"
        if lock.stopped:
            return "too many wrong codes: a new code is needed"
        return f"wait {-(-lock.wait(now) // 1000)} s" if lock.wait(now) else ""

    def _asking(self, member: str) -> bool:
        return any(ask.to == member for ask in self._asks.values())

    def _take_answer(self, frame: bytes, now: int) -> list[LinkEvent]:
        ask = self._asks.get(nonce_of(frame))
        if ask is None:
            raise NotTaken("stranger")
        if ask.side.secrets is not None:
            return []
        proof = ask.side.take_answer(frame)
        ask.to = ask.side.answerer.hex()
        ask.frame, ask.sent_at = proof, now
        return [Out(ask.to, proof)]

    def _take_proof(self, frame: bytes, now: int) -> list[LinkEvent]:
        answered = self._answered.get(nonce_of(frame))
        if answered is None:
            raise NotTaken("stranger")
        asker = answered.side.asker.hex()
        if answered.proof:
            return [Out(asker, answered.proof)]
        code = answered.side.how == "code"
        if code and self._locked(now):
            raise NotTaken("wrong code")
        try:
            keys, answered.proof = answered.side.take_proof(frame)
        except NotTaken as reason:
            del self._answered[nonce_of(frame)]
            if str(reason) != "wrong code" or not code or self.lock is None:
                raise
            self.lock.guessed_wrong(now)
            self.refused["wrong code"] += 1
            head = HEAD.pack(FRAME_VERSION, REFUSAL, self._id)
            refusal = Out(asker, head + nonce_of(frame) + b"wrong code")
            return [refusal, WrongCode(GUESSES - self.lock.wrong)]
        found: list[LinkEvent] = [Out(asker, answered.proof)]
        channel = self._open(asker, Channel(self._id, answered.side.asker, keys), now)
        if code and self.lock is not None:
            self.lock.used = True
            assert self.secret is not None
            found.append(Out(asker, channel.seal(_SECRET + self.secret)))
        return [*found, Linked(asker, code)]

    def _take_proof_back(self, frame: bytes, now: int) -> list[LinkEvent]:
        ask = self._asks.get(nonce_of(frame))
        if ask is None:
            raise NotTaken("stranger")
        keys = ask.side.take_proof(frame)
        code = ask.side.how == "code"
        if code:
            self._let_in_by = ask.to
        self._open(ask.to, Channel(self._id, ask.side.answerer, keys), now)
        return [Linked(ask.to, code)]

    def _take_refusal(self, frame: bytes) -> list[LinkEvent]:
        ask = self._asks.get(nonce_of(frame))
        if ask is None or ask.side.how != "code":
            raise NotTaken("stranger")
        del self._asks[nonce_of(frame)]
        reason = frame[HEAD.size + 16 :][:100].decode("ascii", "replace")
        return [NotLetIn("".join(letter if letter.isprintable() else "?" for letter in reason))]

    def _open(self, member: str, channel: Channel, now: int) -> Channel:
        """Go over to a new channel. Where two ask each other at once, both exchanges come to
        their end and the two may hold different ones for the newer, so that the one before
        stays open until the other is seen to use this one."""
        for nonce, ask in list(self._asks.items()):
            if ask.to == member and (ask.side.secrets is None or ask.side.done):
                del self._asks[nonce]
        self._channels[member] = [*self._channels.get(member, [])[-1:], channel]
        self._opened_at[member] = self._heard_at[member] = now
        self._buckets[member] = (
            Bucket(rate=4000, burst=8000),
            Bucket(rate=4_000_000, burst=4 * MESSAGE_LIMIT + 8_000_000),
        )
        return channel
