"""The zip file of a Vosk model: what must be in it, what must not, and unpacking it.

A zip file is taken as somebody else's: its names may climb out of the folder, its sizes may
lie, its entries may be links.
"""

from __future__ import annotations

import os
import shutil
import stat
import zipfile
import zlib
from collections.abc import Iterable
from pathlib import Path, PurePosixPath

from runner.errors import RunnerError
from runner.voice.download import PIECE, Told, disk_full, megabytes

MOST_ENTRIES = 10_000
LARGEST = 32 * 1024**3
"""Bytes of an unpacked model, at most."""

BOMB_SIZE = 64 * 1024**2
BOMB_RATIO = 50
"""Larger than ``BOMB_SIZE`` and packed tighter than this is no model: theirs shrink fivefold."""

GRAPHS = (("HCLG.fst",), ("HCLr.fst", "Gr.fst"))
"""Either a fixed graph or one that is made at run time."""

NEWER = (("am/final.mdl",), ("conf/model.conf",), ("conf/mfcc.conf", "conf/fbank.conf"))
OLDER = (("final.mdl",), ("mfcc.conf",), ("word_boundary.int",))
"""Files of both layouts, of each group at least one."""


class BadModel(RunnerError):
    """What was given is no model that can be used; fetching it again would not help."""


def unpack(file: Path, folder: Path, source: str, told: Told) -> tuple[Path, str]:
    """Unpack a model; gives its folder and the name it has in the zip file (empty: none).

    ``source`` is what the user calls the file. Raises ``BadModel``, ``RunnerError``, ``OSError``.
    """
    try:
        with zipfile.ZipFile(file) as packed:
            entries = _checked(packed.infolist(), file.stat().st_size, source)
            root = _root(entries, source)
            _check_layout(entries, root, source)
            _extract(packed, entries, folder, told)
    except (zipfile.BadZipFile, zlib.error, EOFError, UnicodeError) as error:
        raise BadModel(f"{source}: is not a zip file that is whole: {error}") from error
    except (NotImplementedError, RuntimeError) as error:
        raise BadModel(f"{source}: cannot be unpacked: {error}") from error
    return folder / root, root


def _checked(
    entries: Iterable[zipfile.ZipInfo], packed_size: int, source: str
) -> dict[str, zipfile.ZipInfo]:
    """The files by name, after everything that a model does not do has been refused."""
    files: dict[str, zipfile.ZipInfo] = {}
    names: set[str] = set()
    size = packed = 0
    for count, entry in enumerate(entries, 1):
        name = entry.orig_filename
        if count > MOST_ENTRIES:
            raise BadModel(f"{source}: more than {MOST_ENTRIES} files in it; no model has that")
        if _climbs(name):
            raise BadModel(f"{source}: {name!r} in it would be written outside its folder")
        kind = stat.S_IFMT(entry.external_attr >> 16)
        if kind not in (0, stat.S_IFREG, stat.S_IFDIR):
            what = "a link" if kind == stat.S_IFLNK else "no plain file"
            raise BadModel(f"{source}: {name!r} in it is {what}; a model has none")
        if entry.flag_bits & 1:
            raise BadModel(f"{source}: {name!r} in it is encrypted; unpack it yourself first")
        path = str(PurePosixPath(name))
        if entry.is_dir():
            continue
        if path.casefold() in names:
            raise BadModel(f"{source}: {name!r} is in it twice")
        names.add(path.casefold())
        files[path] = entry
        size += entry.file_size
        packed += entry.compress_size
    bomb = size > BOMB_SIZE and size > BOMB_RATIO * packed_size
    if size > LARGEST or bomb or packed > packed_size:
        raise BadModel(
            f"{source}: {megabytes(packed_size)} that unpack to {megabytes(size)} are no model"
        )
    return files


def _climbs(name: str) -> bool:
    path = PurePosixPath(name)
    return (
        path.is_absolute()
        or ".." in path.parts
        or not path.parts
        or any(sign in name for sign in ("\\", ":", "\0"))
    )


def _root(files: Iterable[str], source: str) -> str:
    """The folder of the model in the zip file: its top (empty), or one folder in it."""
    found: set[str] = set()
    for name in files:
        folder, _, last = name.rpartition("/")
        if last != "final.mdl":
            continue
        if folder == "am" or folder.endswith("/am"):
            folder = folder[:-2].rstrip("/")
        found.add(folder)
    near = sorted(folder for folder in found if "/" not in folder)
    if len(near) == 1:
        return near[0]
    if near:
        shown = ", ".join(folder or "its top" for folder in near)
        raise BadModel(f"{source}: more than one model in it ({shown}); right is one")
    raise BadModel(
        f"{source}: no Vosk model in it; right is am/final.mdl at its top or one folder deep"
    )


def _check_layout(files: Iterable[str], root: str, source: str) -> None:
    before = f"{root}/" if root else ""
    there = {name[len(before) :] for name in files if name.startswith(before)}
    newer = "am/final.mdl" in there
    missing = [" or ".join(group) for group in (NEWER if newer else OLDER) if not there & {*group}]
    where = "graph/" if newer else ""
    if not any(all(where + name in there for name in names) for names in GRAPHS):
        missing.append(" or ".join(" and ".join(where + name for name in way) for way in GRAPHS))
    if missing:
        raise BadModel(f"{source}: not a whole Vosk model: it lacks {'; '.join(missing)}")


def _extract(
    packed: zipfile.ZipFile, files: dict[str, zipfile.ZipInfo], folder: Path, told: Told
) -> None:
    whole = sum(entry.file_size for entry in files.values())
    folder.mkdir(parents=True)
    if whole > shutil.disk_usage(folder).free:
        raise disk_full(folder.parent.parent, whole)
    done = 0
    for name, entry in files.items():
        target = folder / name
        target.parent.mkdir(parents=True, exist_ok=True)
        written = 0
        with packed.open(entry) as stream, target.open("xb") as out:
            while piece := stream.read(PIECE):
                written += len(piece)
                if written > entry.file_size:
                    raise zipfile.BadZipFile(f"{name} is longer than it says")
                out.write(piece)
                told("Unpacking", done + written, whole)
            out.flush()
            os.fsync(out.fileno())
        done += written
