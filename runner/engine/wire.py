"""Events, effects and states as JSON text and back, canonical: equal data, equal text.

Keys are sorted, nothing is left out, sets are sorted lists. Each event and effect carries
the name of its class under ``is``. The parsed program of a state is not in the text, only
the hashes of what it was parsed from.
"""

from __future__ import annotations

import dataclasses
import json
import types
import typing
from collections.abc import Callable, Mapping
from functools import lru_cache
from typing import Any, cast

from runner.engine import effects, events
from runner.engine.effects import Effect
from runner.engine.events import Event
from runner.engine.program import Program
from runner.engine.state import Run, State, freeze
from runner.errors import RunnerError

Decoder = Callable[[Any], Any]


def event_to_json(event: Event) -> str:
    """An event as one line of canonical JSON."""
    return _text(_named(event))


def event_from_json(text: str) -> Event:
    """The event of a line. Raises RunnerError for text that is none."""
    return cast(Event, _from_text(text, "event", _event_classes()))


def effect_to_json(effect: Effect) -> str:
    """An effect as one line of canonical JSON."""
    return _text(_named(effect))


def effect_from_json(text: str) -> Effect:
    """The effect of a line. Raises RunnerError for text that is none."""
    return cast(Effect, _from_text(text, "effect", _effect_classes()))


def state_to_json(state: State) -> str:
    """A state as canonical JSON: two runs that stand alike give the same bytes."""
    return _text(_plain(state))


def state_from_json(text: str, program: Program | None = None) -> State:
    """The state that ``state_to_json`` gave.

    ``program`` is that of the run; RunnerError where its hashes are others, or where the
    text is no state.
    """
    try:
        plain = json.loads(text)
        hashes = tuple(plain.pop("program"))
        if program is not None and hashes != program.hashes:
            raise RunnerError("the stored state belongs to other procedures")
        run = _run(plain, program)
    except (ValueError, TypeError, KeyError, AttributeError) as error:
        raise RunnerError(f"this is not a stored state: {error}") from error
    return run


def _run(plain: dict[str, Any], program: Program | None) -> State:
    undo = plain.pop("undo")
    run = Run(**_fields(Run, plain))
    run.program = program
    if undo is not None:
        undo.pop("program")
        run.undo = _run(undo, program)
    return freeze(run)


def _text(plain: Any) -> str:
    return json.dumps(plain, sort_keys=True, ensure_ascii=False, separators=(",", ":"))


def _named(thing: Event | Effect) -> dict[str, Any]:
    return {"is": type(thing).__name__, **_plain(thing)}


def _plain(value: Any) -> Any:
    if value is None or isinstance(value, str | int | float):
        return value
    if isinstance(value, tuple):
        return [_plain(part) for part in value]
    if isinstance(value, Mapping):
        return {key: _plain(part) for key, part in value.items()}
    if isinstance(value, frozenset):
        return sorted(value)
    if isinstance(value, Program):
        return list(value.hashes)
    plain = {name: _plain(getattr(value, name)) for name in _names(value.__class__)}
    if isinstance(value, Run):
        plain["program"] = plain["program"] or ["", "", ""]
        plain["order"] = list(value.lists)
    return plain


@lru_cache(maxsize=64)
def _names(kind: type) -> tuple[str, ...]:
    return tuple(field.name for field in dataclasses.fields(kind))


@lru_cache(maxsize=1)
def _event_classes() -> dict[str, type]:
    return {kind.__name__: kind for kind in typing.get_args(events.Event)}


@lru_cache(maxsize=1)
def _effect_classes() -> dict[str, type]:
    return {kind.__name__: kind for kind in typing.get_args(effects.Effect)}


def _from_text(text: str, what: str, classes: dict[str, type]) -> Any:
    try:
        plain = json.loads(text)
        kind = classes[plain.pop("is")]
        return kind(**_fields(kind, plain))
    except (ValueError, TypeError, KeyError, AttributeError) as error:
        raise RunnerError(f"this is not a stored {what}: {error}") from error


def _fields(kind: type, plain: dict[str, Any]) -> dict[str, Any]:
    decoders = _decoders(kind)
    order = plain.pop("order", None)
    found = {name: decoders[name](value) for name, value in plain.items()}
    if order is not None:
        found["lists"] = {key: found["lists"][key] for key in order}
    return found


@lru_cache(maxsize=64)
def _decoders(kind: type) -> dict[str, Decoder]:
    return {name: _decoder(hint) for name, hint in typing.get_type_hints(kind).items()}


def _decoder(hint: Any) -> Decoder:
    origin = typing.get_origin(hint)
    parts = typing.get_args(hint)
    if origin in (types.UnionType, typing.Union):
        inner = [_decoder(part) for part in parts if dataclasses.is_dataclass(part)]
        if inner:
            return lambda value: None if value is None else inner[0](value)
        return _same
    if origin is tuple and parts[-1] is Ellipsis:
        each = _decoder(parts[0])
        return lambda value: tuple([each(part) for part in value])
    if origin is tuple:
        several = [_decoder(part) for part in parts]
        return lambda value: tuple([d(v) for d, v in zip(several, value, strict=True)])
    if origin is frozenset:
        return frozenset
    if origin is Mapping:
        of = _decoder(parts[1])
        return lambda value: {key: of(part) for key, part in value.items()}
    if isinstance(hint, type) and dataclasses.is_dataclass(hint):
        made: Callable[..., Any] = hint
        return lambda value: made(**_fields(hint, value))
    return _same


def _same(value: Any) -> Any:
    return value
