"""Audio devices: what is there, and the one asked for by a part of its name."""

from __future__ import annotations

from typing import Any, Literal

from runner.errors import NO_DEVICE, RunnerError

Direction = Literal["playback", "capture"]

_ROLE = {"playback": "loudspeaker", "capture": "microphone"}

WAKING_SECONDS = 8.0
"""A device just opened may take so long to give, or ask for, its first sound."""

RETRY_SECONDS = 3.0
"""How often a lost device is looked for."""


def backends() -> list[Any]:
    """The back ends worth asking, best first; never the one that plays into nothing."""
    import miniaudio

    back_end = miniaudio.Backend
    unreal = (back_end.NULL, back_end.CUSTOM)
    late = (back_end.OSS, back_end.SNDIO, back_end.AUDIO4)
    real = [backend for backend in back_end if backend not in unreal]
    return sorted(real, key=lambda backend: backend in late)


def list_devices(direction: Direction) -> list[tuple[str, Any]]:
    """Name and id of each device; empty where there is no sound at all.

    A loudspeaker's monitor is no microphone and is not listed.
    """
    import miniaudio

    try:
        found = miniaudio.Devices(backends=backends())
        devices = found.get_playbacks() if direction == "playback" else found.get_captures()
    except miniaudio.MiniaudioError:
        return []
    return [
        (str(device["name"]), device["id"])
        for device in devices
        if direction == "playback" or not str(device["name"]).startswith("Monitor of ")
    ]


def called(direction: Direction, name: str) -> str:
    """How a device is spoken of: by its name where it was chosen by name."""
    return f"the {_ROLE[direction]} {name!r}" if name else f"the {_ROLE[direction]}"


def find_device(
    direction: Direction, wanted: str, *, whole: bool = False
) -> tuple[str, Any] | None:
    """The device whose name contains ``wanted``, or None for the system's own choice.

    With ``whole`` only the device of that very name will do: one that was chosen and lost is
    waited for, and another that happens to be called alike does not take its place. Raises
    ``RunnerError`` with status 3 where it is not there, naming those that are.
    """
    if not wanted:
        return None
    devices = list_devices(direction)
    for name, device_id in devices:
        if wanted.casefold() == name.casefold():
            return name, device_id
    for name, device_id in devices:
        if wanted.casefold() in name.casefold() and not whole:
            return name, device_id
    there = ", ".join(name for name, _ in devices) or "none at all"
    raise RunnerError(
        f"no {_ROLE[direction]} has {wanted!r} in its name; there is: {there}", NO_DEVICE
    )
