"""Installing a Vosk model: fetched, checked, unpacked beside its place, loaded, then swapped in.

The model that was there stays in use until the new one has been loaded by Vosk in a process
of its own; only then do they change places, and only then is the old one removed.
"""

from __future__ import annotations

import hashlib
import re
import subprocess
import sys
import tempfile
import urllib.parse
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from runner.errors import RunnerError
from runner.voice.download import NO_SPACE, Part, Told, disk_full, download, forget_old, is_url
from runner.voice.exchange import exchange, recover, sync_folder
from runner.voice.model_zip import BadModel, unpack
from runner.voice.vosk_model import models_home, takes_grammar

LOADING_SECONDS = 600
"""Loading a model may take so long; the largest take minutes from a slow disk."""

NAME = re.compile(r"[^\W_][\w.+-]{0,99}")

DOWNLOADS = ".downloads"
WORK = ".work-"

_SHA256 = re.compile(r"[0-9a-fA-F]{64}")
_KALDI = re.compile(r"^(?:ERROR|ASSERTION_FAILED) \(\S*\)\s*")


@dataclass(frozen=True, slots=True)
class Installed:
    """A model in its place; ``replaced`` is whether there was one of this name."""

    folder: Path
    size: int
    closed: bool
    replaced: bool


def install(source: str, told: Told, sha256: str = "", name: str = "") -> Installed:
    """Install the model in a zip file or at a URL under ``name`` (empty: its own).

    Raises ``RunnerError``; whatever goes wrong, the model that was there is still there.
    """
    if sha256 and not _SHA256.fullmatch(sha256):
        raise RunnerError(f"--sha256 {sha256}: a SHA-256 is 64 digits of 0-9 and a-f")
    if name and not NAME.fullmatch(name):
        raise RunnerError(f"--name {name}: a name is letters and digits, and - _ . + within")
    home = models_home()
    with _cannot_write(home):
        home.mkdir(parents=True, exist_ok=True)
        with _alone(home):
            for left in home.glob(f"{WORK}*"):
                recover(left, home)
            forget_old(home / DOWNLOADS)
            return _install(source, told, sha256.lower(), name, home)


def _install(source: str, told: Told, sha256: str, name: str, home: Path) -> Installed:
    part: Part | None = None
    if is_url(source):
        part = download(source, home / DOWNLOADS, told)
        file, shown = part.file, urllib.parse.urlsplit(source).path
    else:
        file, shown = Path(source).expanduser(), source
        if file.is_dir():
            raise RunnerError(f"{source}: is a folder; right is the zip file of a model")
        if not file.is_file():
            raise RunnerError(f"{source}: there is no such file")
    work = Path(tempfile.mkdtemp(prefix=WORK, dir=home))
    try:
        _check_hash(file, sha256, source, told)
        root, own_name = unpack(file, work / "new", source, told)
        name = name or _name_of(own_name or Path(urllib.parse.unquote(shown)).stem)
        told("Loading", 0, 0)
        _check_loads(root, source)
        place = home / name
        replaced = place.exists()
        sync_folder(work / "new")
        exchange(root, place, work)
    except BadModel:
        if part is not None:
            part.remove()
        raise
    finally:
        recover(work, home)
    if part is not None:
        part.remove()
    size = sum(path.stat().st_size for path in place.rglob("*") if path.is_file())
    return Installed(place, size, takes_grammar(place), replaced)


def _name_of(text: str) -> str:
    if NAME.fullmatch(text):
        return text
    raise RunnerError(f"{text!r} is no name for a model; give it one with --name NAME")


def _check_hash(file: Path, sha256: str, source: str, told: Told) -> None:
    if not sha256:
        return
    told("Comparing the SHA-256", 0, 0)
    with file.open("rb") as stream:
        found = hashlib.file_digest(stream, "sha256").hexdigest()
    if found != sha256:
        raise BadModel(f"{source}: its SHA-256 is {found}, not the {sha256} that was given")


def _check_loads(folder: Path, source: str) -> None:
    """Load the model in a process of its own: Vosk ends the process on a damaged file."""
    try:
        done = subprocess.run(
            [sys.executable, "-m", "runner.voice.vosk_model", str(folder)],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
            errors="replace",
            timeout=LOADING_SECONDS,
            check=False,
        )
    except subprocess.TimeoutExpired:
        raise BadModel(
            f"{source}: Vosk does not load this model within {LOADING_SECONDS} seconds"
        ) from None
    if done.returncode == 0:
        return
    lines = [line for line in done.stderr.splitlines() if line.strip()]
    faults = [_KALDI.sub("", line) for line in lines if _KALDI.match(line)]
    reason = faults[0] if faults else (lines[-1] if lines else f"status {done.returncode}")
    reason = reason.replace(f"{folder}/", "").replace(str(folder), "the model")
    raise BadModel(f"{source}: Vosk cannot load this model: {reason}")


@contextmanager
def _cannot_write(home: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        if error.errno in NO_SPACE:
            raise disk_full(home) from error
        where = error.filename or home
        raise RunnerError(f"{where}: {error.strerror or error}") from error


@contextmanager
def _alone(home: Path) -> Iterator[None]:
    """One installation at a time: another would take this one's work for left-overs."""
    with (home / ".lock").open("a+b") as lock:
        try:
            release = _lock(lock.fileno())
        except OSError:
            raise RunnerError("another runner voice install is at work; wait for its end") from None
        try:
            yield
        finally:
            release()


def _lock(descriptor: int) -> Callable[[], None]:
    if sys.platform == "win32":
        import msvcrt

        msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
        return lambda: msvcrt.locking(descriptor, msvcrt.LK_UNLCK, 1)
    import fcntl

    fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    return lambda: fcntl.flock(descriptor, fcntl.LOCK_UN)
