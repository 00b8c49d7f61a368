"""The last good reading of a file, kept so that the next start needs neither YAML nor units.

A kept reading is a pickle, and unpickling runs what a pickle says; so only one that this
user's Runner wrote is read: a regular file in the user's own cache folder, owned by the
user, closed to everybody else, whose first line names this version of Runner and of its
source and the digest of what follows. Anything else is ignored and written anew. Whoever
can write there as the user can run programs as the user anyway.

A reading is used only while every file that it was made from has the same content.
"""

from __future__ import annotations

import hashlib
import io
import os
import pickle
import stat
import sys
import tempfile
from collections.abc import Callable, Iterable
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from runner import __version__
from runner.checklist.files import Folder, find_file, read_bytes
from runner.checklist.problems import FileErrors

if TYPE_CHECKING:
    from runner.checklist.model import Procedures
    from runner.figures.model import Aircraft
    from runner.phrasing.style import VoiceStyle

FORMAT = 1
"""Counts changes in how a reading is kept."""

KEPT = 64
"""How many readings are kept; the oldest go first."""

_ROOMS = ("checklist", "figures", "phrasing")
_Read = TypeVar("_Read")


def load_procedures_cached(path: str | Path) -> Procedures:
    """``load_procedures``, or its last reading where neither file has changed since."""
    from runner.checklist.load import load_procedures

    return _cached(
        "procedures",
        find_file(path, ("checklists",)),
        load_procedures,
        lambda made: (made.file, made.aircraft_file),
    )


def load_aircraft_cached(path: str | Path) -> Aircraft:
    """``load_aircraft``, or its last reading where the file has not changed since."""
    from runner.checklist.load import load_aircraft

    return _cached(
        "aircraft", find_file(path, ("checklists",)), load_aircraft, lambda made: (made.file,)
    )


def load_voice_cached(name: str | Path) -> VoiceStyle:
    """``load_voice``, or its last reading where the file has not changed since."""
    from runner.checklist.load import load_voice

    folders: tuple[Folder, ...] = ("voices",)
    path = find_file(name, folders)
    return _cached("voice", path, load_voice, lambda _: (str(path),))


def cache_folder() -> Path:
    """Where readings are kept: a folder of Runner's own in the user's cache folder."""
    import platformdirs

    return platformdirs.user_cache_path("runner") / "readings"


def _cached(
    kind: str,
    path: Path,
    load: Callable[[Path], _Read],
    files_of: Callable[[_Read], Iterable[str]],
) -> _Read:
    place = hashlib.sha256(f"{kind}\0{path.absolute()}\0{path}".encode(errors="replace"))
    entry = cache_folder() / f"{kind}-{place.hexdigest()[:32]}"
    kept = _kept(entry)
    if kept is not None:
        read: _Read = kept
        return read
    before = content_digest(path)
    made = load(path)
    _keep(entry, made, files_of(made), before)
    return made


def content_digest(path: Path) -> str:
    """The digest of a file's content; empty where it cannot be read."""
    try:
        return hashlib.sha256(read_bytes(path)).hexdigest()
    except FileErrors:
        return ""


def _kept(entry: Path) -> Any | None:
    """The reading kept in ``entry``, or None where it is not there, not ours, or stale."""
    try:
        with entry.open("rb") as file:
            if not _ours(os.fstat(file.fileno())):
                return None
            head, body = file.readline(400), file.read()
        if head != _head(body):
            return None
        contents = io.BytesIO(body)
        if any(content_digest(Path(name)) != digest for name, digest in pickle.load(contents)):
            return None
        return pickle.load(contents)
    except Exception:
        # Whatever is wrong with a kept reading, the files themselves can be read again.
        return None


def _keep(entry: Path, made: object, files: Iterable[str], first: str) -> None:
    """Write a reading in one step, so that no half of one is ever seen."""
    named = [(name, content_digest(Path(name))) for name in files]
    if not named or named[0][1] != first:
        return
    body = pickle.dumps(named) + pickle.dumps(made, protocol=pickle.HIGHEST_PROTOCOL)
    temporary = ""
    try:
        entry.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        descriptor, temporary = tempfile.mkstemp(dir=entry.parent, prefix=".new-")
        with os.fdopen(descriptor, "wb") as file:
            file.write(_head(body) + body)
        Path(temporary).replace(entry)
        _forget_oldest(entry.parent)
    except OSError:
        # A full or read-only disk costs the next start some time, nothing else.
        with suppress(OSError):
            Path(temporary).unlink()


def _forget_oldest(folder: Path) -> None:
    ages = sorted((path.stat().st_mtime, path) for path in folder.iterdir())
    for _, path in ages[:-KEPT]:
        path.unlink(missing_ok=True)


def _ours(status: os.stat_result) -> bool:
    """Whether a file is a regular one that only this user can read or write."""
    if not stat.S_ISREG(status.st_mode):
        return False
    if not hasattr(os, "getuid"):
        return True
    return status.st_uid == os.getuid() and not status.st_mode & 0o077


def _head(body: bytes) -> bytes:
    version = f"{FORMAT} {__version__} {sys.implementation.cache_tag} {source_fingerprint()}"
    return f"runner reading {version} {hashlib.sha256(body).hexdigest()}\n".encode()


def source_fingerprint() -> str:
    """Changes with the source of the rooms whose data is kept."""
    package = Path(__file__).resolve().parent.parent
    states = [
        f"{path.relative_to(package)} {status.st_size} {status.st_mtime_ns}"
        for room in _ROOMS
        for path in sorted((package / room).glob("*.py"))
        for status in (path.stat(),)
    ]
    return hashlib.sha256("\n".join(states).encode()).hexdigest()[:16]
