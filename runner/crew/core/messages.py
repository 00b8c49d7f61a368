"""What members of a crew say to each other, as small canonical JSON, every field checked.

A message that is too long, of another version, with a field missing, unknown, of another
type or out of its range is ``Refused``; nothing of it is used.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import dataclass, fields
from typing import Any, Literal, cast

VERSION = 1
"""The version of the protocol; another version is refused by name."""

MESSAGE_LIMIT = 512 * 1024
"""Bytes of the longest message."""

PIECE = 16_000
"""Characters of an event's text that one message carries; a longer one comes in pieces."""

TEXT_LIMIT = 64_000
"""Characters of an event's text, the first one's excepted."""

FIRST_LIMIT = 8_000_000
"""Characters of the first event's text, which carries the files of the run."""

EPOCHS_LIMIT = 200
"""Epochs of one run: times that the crew or its orderer changed."""

VOTERS_LIMIT = 8
"""People whose machines must hold an event before it counts."""

NUMBER_LIMIT = 1_000_000
"""Events of one run."""

NAME_LIMIT = 40
"""Characters of a member's name."""

Wants = Literal["crew", "observer"]


class Refused(Exception):
    """A message that is none, or not one that this version takes."""


@dataclass(frozen=True, slots=True)
class Epoch:
    """A stretch of the run ordered by one member.

    ``start`` is the number of its first event. An event counts when every one of ``voters``
    holds it. ``alone`` says that it began because the others were gone, without their word.
    """

    id: str
    number: int
    start: int
    orderer: str
    voters: tuple[str, ...]
    alone: bool = False


@dataclass(frozen=True, slots=True)
class Entry:
    """One event in its place: who proposed it, in which life of that member's process, as
    which of its proposals, and the event's own text."""

    epoch: str
    number: int
    by: str
    life: str
    counter: int
    text: str


@dataclass(frozen=True, slots=True)
class Stand:
    """Where the sender stands: its newest epoch, how many there are, the events it holds for
    good, those that count. Said on every change, and each second as a sign of life: ``sent``
    is the sender's clock in ms, ``echo`` the last such time of the receiver that has come,
    ``held`` ms ago; ``life`` the life of the sender's process."""

    epoch: str
    epochs: int
    length: int
    settled: int
    sent: int
    echo: int
    held: int
    wants: Wants
    name: str
    life: str


@dataclass(frozen=True, slots=True)
class Lineage:
    """All epochs of the sender's run, the events it holds and those that count."""

    epochs: tuple[Epoch, ...]
    length: int
    settled: int


@dataclass(frozen=True, slots=True)
class Part:
    """An event from the orderer, or the piece of its text at ``offset`` of ``total``
    characters."""

    epoch: str
    entry_epoch: str
    number: int
    by: str
    life: str
    counter: int
    offset: int
    total: int
    text: str
    settled: int


@dataclass(frozen=True, slots=True)
class Want:
    """The next pieces of an event are wanted, from ``offset`` on."""

    epoch: str
    number: int
    offset: int


@dataclass(frozen=True, slots=True)
class Propose:
    """An event for the orderer to number; all proposals below ``floor`` are dealt with."""

    epoch: str
    life: str
    counter: int
    floor: int
    text: str


@dataclass(frozen=True, slots=True)
class Decline:
    """A proposal was not taken, and why."""

    life: str
    counter: int
    reason: str


@dataclass(frozen=True, slots=True)
class Offer:
    """The orderer offers the order of the run; its offers are numbered."""

    epoch: str
    offer: int


@dataclass(frozen=True, slots=True)
class Accept:
    """The offer of that number is accepted (or turned down)."""

    epoch: str
    offer: int
    yes: bool


@dataclass(frozen=True, slots=True)
class Aside:
    """Something for the screen, outside the run; may be lost."""

    text: str


@dataclass(frozen=True, slots=True)
class Bye:
    """The sender leaves the crew."""


Message = Stand | Lineage | Part | Want | Propose | Decline | Offer | Accept | Aside | Bye

Check = Callable[[Any], bool]


def _count(limit: int) -> Check:
    return lambda value: type(value) is int and 0 <= value <= limit


def _text(limit: int) -> Check:
    return lambda value: isinstance(value, str) and len(value) <= limit and _encodable(value)


def _encodable(text: str) -> bool:
    return text.isascii() or not any("\ud800" <= letter <= "\udfff" for letter in text)


def _like(pattern: str) -> Check:
    matches = re.compile(pattern).fullmatch
    return lambda value: isinstance(value, str) and matches(value) is not None


_id = _like("[0-9a-f]{8,64}")
_id_or_none = _like("([0-9a-f]{8,64})?")
_number = _count(NUMBER_LIMIT)
_counter = _count(2**53)


def _truth(value: Any) -> bool:
    return isinstance(value, bool)


def _name(value: Any) -> bool:
    return isinstance(value, str) and len(value) <= NAME_LIMIT and value.isprintable()


def _voters(value: Any) -> bool:
    return (
        isinstance(value, list)
        and 1 <= len(value) <= VOTERS_LIMIT
        and all(_id(one) for one in value)
        and len(set(value)) == len(value)
    )


_EPOCH: dict[str, Check] = {
    "id": _id,
    "number": _count(EPOCHS_LIMIT),
    "start": _number,
    "orderer": _id,
    "voters": _voters,
    "alone": _truth,
}
_ENTRY: dict[str, Check] = {
    "epoch": _id,
    "number": _number,
    "by": _id,
    "life": _id,
    "counter": _counter,
    "text": _text(FIRST_LIMIT),
}
_MESSAGES: dict[type, dict[str, Check]] = {
    Stand: {
        "epoch": _id_or_none,
        "epochs": _count(EPOCHS_LIMIT),
        "length": _number,
        "settled": _number,
        "sent": _counter,
        "echo": _counter,
        "held": _counter,
        "wants": _like("crew|observer"),
        "name": _name,
        "life": _id,
    },
    Lineage: {
        "epochs": lambda value: isinstance(value, list) and len(value) <= EPOCHS_LIMIT,
        "length": _number,
        "settled": _number,
    },
    Part: {
        "epoch": _id,
        "entry_epoch": _id,
        "number": _number,
        "by": _id,
        "life": _id,
        "counter": _counter,
        "offset": _count(FIRST_LIMIT),
        "total": _count(FIRST_LIMIT),
        "text": _text(PIECE),
        "settled": _number,
    },
    Want: {"epoch": _id, "number": _number, "offset": _count(FIRST_LIMIT)},
    Propose: {
        "epoch": _id,
        "life": _id,
        "counter": _counter,
        "floor": _counter,
        "text": _text(TEXT_LIMIT),
    },
    Decline: {"life": _id, "counter": _counter, "reason": _text(200)},
    Offer: {"epoch": _id, "offer": _counter},
    Accept: {"epoch": _id, "offer": _counter, "yes": _truth},
    Aside: {"text": _text(2000)},
    Bye: {},
}
_KINDS: dict[str, type] = {kind.__name__.lower(): kind for kind in _MESSAGES}


def encode(message: Message) -> bytes:
    """A message as bytes of canonical JSON. ValueError where it is beyond the limits."""
    plain = _plain(message)
    plain["is"] = type(message).__name__.lower()
    plain["v"] = VERSION
    data = canonical(plain).encode()
    if len(data) > MESSAGE_LIMIT:
        raise ValueError(f"a message of {len(data)} bytes is beyond the limit of {MESSAGE_LIMIT}")
    return data


def decode(data: bytes) -> Message:
    """The message of these bytes. Raises Refused for anything that is none."""
    if len(data) > MESSAGE_LIMIT:
        raise Refused(f"a message of {len(data)} bytes; the limit is {MESSAGE_LIMIT}")
    plain = parse(data)
    if not isinstance(plain, dict):
        raise Refused("a message that is no JSON object")
    version = plain.pop("v", None)
    if version != VERSION or type(version) is not int:
        raise Refused(f"a message of version {str(version)[:20]}; this is version {VERSION}")
    name = plain.pop("is", None)
    kind = _KINDS.get(name) if isinstance(name, str) else None
    if kind is None:
        raise Refused(f"a message of no known kind ({str(name)[:20]})")
    made = build(kind, _MESSAGES[kind], plain)
    if isinstance(made, Lineage):
        made = Lineage(epochs_of(cast("list[Any]", made.epochs)), made.length, made.settled)
    if isinstance(made, Part):
        _check_part(made)
    return cast(Message, made)


def parse(data: bytes | str) -> Any:
    """The JSON of this text; Refused for bad UTF-8, doubled keys, NaN, too deep nesting."""
    try:
        return json.loads(data, object_pairs_hook=_pairs, parse_constant=_constant)
    except (ValueError, RecursionError) as error:
        raise Refused("a message that is no JSON") from error


def build(kind: type, checks: dict[str, Check], plain: dict[str, Any]) -> Any:
    """A dataclass from its fields, each present, none unknown, all within their limits."""
    if plain.keys() != checks.keys():
        odd = sorted(plain.keys() ^ checks.keys())[0]
        raise Refused(f"{kind.__name__.lower()}: field {odd[:20]} missing or unknown")
    for name, check in checks.items():
        if not check(plain[name]):
            raise Refused(f"{kind.__name__.lower()}: field {name} is not what it should be")
    return kind(**plain)


def epochs_of(plain: list[Any]) -> tuple[Epoch, ...]:
    """Epochs from their plain form, numbered in order; Refused where they are none."""
    epochs: list[Epoch] = []
    for one in plain:
        if not isinstance(one, dict):
            raise Refused("an epoch that is no object")
        epoch = build(Epoch, _EPOCH, one | {"voters": one.get("voters")})
        epoch = Epoch(
            epoch.id, epoch.number, epoch.start, epoch.orderer, tuple(epoch.voters), epoch.alone
        )
        if epoch.orderer not in epoch.voters or epoch.number != len(epochs) + 1:
            raise Refused("an epoch out of its order, or ordered by no member of it")
        if epochs and epoch.start < epochs[-1].start:
            raise Refused("an epoch that begins before the one before it")
        epochs.append(epoch)
    if len({epoch.id for epoch in epochs}) != len(epochs):
        raise Refused("an epoch that comes twice")
    return tuple(epochs)


def entry_of(plain: dict[str, Any]) -> Entry:
    """An entry from its plain form; Refused where it is none."""
    return cast(Entry, build(Entry, _ENTRY, plain))


def _check_part(part: Part) -> None:
    limit = FIRST_LIMIT if part.number == 0 else TEXT_LIMIT
    whole = part.total <= PIECE
    if part.total > limit or part.offset + len(part.text) > part.total:
        raise Refused("an event beyond its limits")
    if part.offset % PIECE or len(part.text) != min(PIECE, part.total - part.offset):
        raise Refused("a piece of an event of another size than pieces have")
    if whole and part.offset:
        raise Refused("a piece of an event that has none")


def canonical(plain: Any) -> str:
    """JSON with sorted keys and nothing between: equal data, equal text."""
    return json.dumps(
        plain, sort_keys=True, ensure_ascii=False, separators=(",", ":"), allow_nan=False
    )


def plain_of(thing: Epoch | Entry) -> dict[str, Any]:
    """An epoch or an entry in its plain form."""
    return _plain(thing)


def _plain(thing: Any) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for field in fields(thing):
        value = getattr(thing, field.name)
        if isinstance(value, tuple):
            value = [_plain(v) if isinstance(v, Epoch) else v for v in value]
        found[field.name] = value
    return found


def _pairs(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError("a key that comes twice")
    return found


def _constant(name: str) -> Any:
    raise ValueError(f"{name} is no number")
