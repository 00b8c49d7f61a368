"""Putting a new folder in the place of an old one, so that at every moment one of them is there."""

from __future__ import annotations

import ctypes
import os
import shutil
import sys
from pathlib import Path

OLD = "old"
"""Where in the work folder the old one waits until the new one is in its place."""

_AT_FDCWD = -100
_RENAME_EXCHANGE = 2
"""Constants of renameat2(2), Linux."""


def exchange(new: Path, place: Path, work: Path) -> None:
    """``new`` takes its place; what was there goes to the work folder. Raises ``OSError``.

    On Linux both change places in one step. Elsewhere, and on file systems that know no such
    step, the old one is moved away first; ``recover`` brings it back after an interruption.
    """
    if not place.exists():
        new.rename(place)
    elif not _in_one_step(new, place):
        (work / OLD).mkdir()
        away = work / OLD / place.name
        place.rename(away)
        try:
            new.rename(place)
        except OSError:
            away.rename(place)
            raise
    sync_folder(place.parent)


def recover(work: Path, home: Path) -> None:
    """Remove a work folder; an old one in it whose place is empty goes back there first."""
    if (work / OLD).is_dir():
        for old in (work / OLD).iterdir():
            if not (home / old.name).exists():
                old.rename(home / old.name)
    shutil.rmtree(work, ignore_errors=True)


def sync_folder(folder: Path) -> None:
    """Have the disk keep the names in a folder, where the system can."""
    if sys.platform == "win32":
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def _in_one_step(one: Path, other: Path) -> bool:
    if not sys.platform.startswith("linux"):
        return False
    try:
        rename = ctypes.CDLL(None).renameat2
    except (AttributeError, OSError):
        return False
    names = os.fsencode(one), os.fsencode(other)
    return bool(rename(_AT_FDCWD, names[0], _AT_FDCWD, names[1], _RENAME_EXCHANGE) == 0)
