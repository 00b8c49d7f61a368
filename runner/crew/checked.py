"""Events that come from another machine, checked before the engine sees them.

The logbook's own lines are trusted; these are not. Every field must be there, of its type
and within bounds; the files of a run are parsed like any others; nothing names a path.
"""

from __future__ import annotations

import dataclasses
import hashlib
import math
import types
import typing
from collections.abc import Callable
from functools import lru_cache
from typing import Any, cast

from runner.crew.core.base import Turn
from runner.crew.core.messages import Refused, parse
from runner.engine import events
from runner.engine.events import Event, RunStarted, Snapshot
from runner.engine.program import program_of
from runner.engine.wire import event_from_json
from runner.errors import RunnerError

STRING_LIMIT = 2_000
"""Characters of any text in an event, the files' own excepted."""

FILE_LIMIT = 2_000_000
"""Characters of a file."""

ITEMS_LIMIT = 2_000
"""Values in any list of an event."""

WHOLE_LIMIT = 2**53
"""The greatest whole number in an event."""

REAL_LIMIT = 1e12
"""The greatest number in an event."""

Check = Callable[[Any, str], None]


def event_of(text: str) -> Event:
    """The event that another machine proposes. Raises Turn for what is none."""
    event = _event(text)
    if isinstance(event, RunStarted):
        raise Turn("a run that has begun cannot begin again")
    return event


def started_of(text: str) -> RunStarted:
    """The first event of a run from another machine, its files parsed and found good.

    Raises Turn with the first thing that is wrong.
    """
    event = _event(text)
    if not isinstance(event, RunStarted):
        raise Turn("a run that has no beginning")
    for snapshot in (event.procedures, event.aircraft, event.voice):
        _check_snapshot(snapshot)
    try:
        program_of(event)
    except RunnerError as error:
        raise Turn(f"a file with faults: {str(error).splitlines()[0]}"[:200]) from error
    return event


def check(number: int, text: str) -> None:
    """``check`` of ``Member``: raises Turn where event ``number`` from the orderer is none."""
    if number == 0:
        started_of(text)
    else:
        event_of(text)


def _event(text: str) -> Event:
    try:
        plain = parse(text)
    except Refused as refused:
        raise Turn(str(refused)) from refused
    if not isinstance(plain, dict):
        raise Turn("an event that is no object")
    kind = _kinds().get(str(plain.pop("is", "")))
    if kind is None:
        raise Turn("an event of no known kind")
    _fields(kind)(plain, kind.__name__)
    try:
        return event_from_json(text)
    except RunnerError as error:
        raise Turn(str(error)[:200]) from error


def _check_snapshot(snapshot: Snapshot) -> None:
    if hashlib.sha256(snapshot.text.encode()).hexdigest() != snapshot.sha256:
        raise Turn(f"the file {snapshot.name[:40]} is not what its hash says")
    name = snapshot.name
    if not name or not name.isprintable() or any(sign in name for sign in "/\\:") or name[0] == ".":
        raise Turn(f"a file by the name of {name[:40]!r}; only a plain name is taken")


@lru_cache(maxsize=1)
def _kinds() -> dict[str, type]:
    return {kind.__name__: kind for kind in typing.get_args(events.Event)}


@lru_cache(maxsize=64)
def _fields(kind: type) -> Check:
    """The check of a dataclass in its plain form: all its fields, no others."""
    hints = typing.get_type_hints(kind)
    checks = {
        field.name: _file if kind is Snapshot and field.name == "text" else _of(hints[field.name])
        for field in dataclasses.fields(kind)
    }

    def check_all(value: Any, where: str) -> None:
        if not isinstance(value, dict) or value.keys() != checks.keys():
            raise Turn(f"{where}: fields missing or unknown")
        for name, one in checks.items():
            one(value[name], f"{where}.{name}")

    return check_all


def _of(hint: Any) -> Check:
    origin, parts = typing.get_origin(hint), typing.get_args(hint)
    if origin is typing.Literal:
        return _one_of(parts)
    if origin in (types.UnionType, typing.Union):
        return _any_of([_of(part) for part in parts])
    if origin is tuple:
        each = [_of(part) for part in parts if part is not Ellipsis]
        return _list_of(each, many=parts[-1] is Ellipsis)
    if isinstance(hint, type) and dataclasses.is_dataclass(hint):
        return _fields(hint)
    return cast(Check, {int: _whole, float: _real, str: _string, bool: _truth}.get(hint, _nothing))


def _one_of(values: tuple[Any, ...]) -> Check:
    def one(value: Any, where: str) -> None:
        if not isinstance(value, str) or value not in values:
            raise Turn(f"{where} is none of its words")

    return one


def _any_of(checks: list[Check]) -> Check:
    def one(value: Any, where: str) -> None:
        for check in checks:
            try:
                check(value, where)
            except Turn:
                continue
            return
        raise Turn(f"{where} is not of its type")

    return one


def _list_of(each: list[Check], many: bool) -> Check:
    def one(value: Any, where: str) -> None:
        if not isinstance(value, list) or len(value) > ITEMS_LIMIT:
            raise Turn(f"{where} is no list, or too long")
        if not many and len(value) != len(each):
            raise Turn(f"{where} has another length")
        for number, part in enumerate(value):
            each[0 if many else number](part, where)

    return one


def _whole(value: Any, where: str) -> None:
    if type(value) is not int or abs(value) > WHOLE_LIMIT:
        raise Turn(f"{where} is no whole number in its range")


def _real(value: Any, where: str) -> None:
    number = type(value) in (int, float)
    if not number or not math.isfinite(value) or abs(value) > REAL_LIMIT:
        raise Turn(f"{where} is no number in its range")


def _string(value: Any, where: str) -> None:
    if not isinstance(value, str) or len(value) > STRING_LIMIT:
        raise Turn(f"{where} is no text, or too long")
    if any((ord(letter) < 32 and letter not in "\n\t") or ord(letter) == 127 for letter in value):
        raise Turn(f"{where} has control characters")


def _file(value: Any, where: str) -> None:
    if not isinstance(value, str) or len(value) > FILE_LIMIT:
        raise Turn(f"{where} is no text, or too long")


def _truth(value: Any, where: str) -> None:
    if not isinstance(value, bool):
        raise Turn(f"{where} is neither true nor false")


def _nothing(value: Any, where: str) -> None:
    if value is not None:
        raise Turn(f"{where} is not of its type")
