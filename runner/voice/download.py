"""Fetching a file over HTTP into a file beside its place, going on where it was interrupted.

The part that is there is kept with what the server said about it (its validator, RFC 9110,
section 8.8), and asked to be continued with ``Range`` and ``If-Range``: a server that has
another file now, or knows no ranges, sends it from the beginning.
"""

from __future__ import annotations

import errno
import hashlib
import http.client
import json
import os
import shutil
import time
import urllib.error
import urllib.parse
import urllib.request
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from runner import __version__
from runner.errors import RunnerError

Told = Callable[[str, int, int], None]
"""Told of the progress: what is done, how many bytes of it, of how many (0: not known)."""

TIMEOUT_SECONDS = 30
"""A server that sends nothing for so long is given up."""

PIECE = 256 * 1024

LARGEST = 16 * 1024**3
"""Bytes of a download, at most."""

KEPT_DAYS = 30

TRIES = 5
"""How often in a row a download is taken up again without having come any further."""

ENDED_EARLY = "the connection ended early"

NO_SPACE = (errno.ENOSPC, errno.EDQUOT)


@dataclass(frozen=True, slots=True)
class Part:
    """Where a download is kept until it is whole: the file and what is known about it."""

    url: str
    file: Path
    notes: Path

    @classmethod
    def of(cls, url: str, folder: Path) -> Part:
        """The part of a URL in a folder; the same one each time."""
        key = hashlib.sha256(url.encode()).hexdigest()[:24]
        return cls(url, folder / f"{key}.part", folder / f"{key}.json")

    @property
    def size(self) -> int:
        """Bytes that are there."""
        return self.file.stat().st_size if self.file.exists() else 0

    def validator(self) -> str:
        """What ``If-Range`` is to say; empty where the part cannot be continued."""
        try:
            found = json.loads(self.notes.read_text(encoding="utf-8"))["validator"]
        except (OSError, ValueError, KeyError, TypeError):
            return ""
        return found if isinstance(found, str) and found.isprintable() else ""

    def note(self, validator: str) -> None:
        """Keep what identifies the file that the part belongs to."""
        self.notes.write_text(json.dumps({"validator": validator}), encoding="utf-8")

    def remove(self) -> None:
        """Forget the part."""
        self.file.unlink(missing_ok=True)
        self.notes.unlink(missing_ok=True)


def forget_old(folder: Path) -> None:
    """Remove parts of downloads that nobody has gone on with for ``KEPT_DAYS``."""
    for file in folder.glob("*.*"):
        if time.time() - file.stat().st_mtime > KEPT_DAYS * 86_400:
            file.unlink(missing_ok=True)


def is_url(source: str) -> bool:
    """Whether a source is to be downloaded: anything with a scheme and two slashes."""
    return "://" in source


def download(url: str, folder: Path, told: Told) -> Part:
    """Fetch ``url`` whole into its part in ``folder``; raises ``RunnerError``.

    A connection that breaks is taken up again as long as it brings something; what was
    fetched stays for the next call.
    """
    address = urllib.parse.urlsplit(url)
    if address.scheme not in ("http", "https") or not address.hostname:
        raise RunnerError(f"{url}: only http:// and https:// can be downloaded")
    folder.mkdir(parents=True, exist_ok=True)
    part = Part.of(url, folder)
    idle = 0
    while True:
        before = part.size
        try:
            if _fetch(part, told):
                return part
            trouble = ENDED_EARLY
        except urllib.error.HTTPError as error:
            error.close()
            if error.code == http.HTTPStatus.REQUESTED_RANGE_NOT_SATISFIABLE and before:
                if error.headers.get("Content-Range") == f"bytes */{before}":
                    return part
                part.remove()
                idle += 1
                if idle < TRIES:
                    continue
            raise RunnerError(
                f"{url}: the server answers {error.code} {error.reason}".rstrip()
            ) from error
        except urllib.error.URLError as error:
            # Nobody there at all: unlike a broken connection, asking again does not help.
            raise RunnerError(f"{url}: cannot be reached: {_reason(error.reason)}") from error
        except OSError as error:
            if error.errno in NO_SPACE:
                raise disk_full(folder) from error
            trouble = _reason(error)
        except http.client.IncompleteRead:
            trouble = ENDED_EARLY
        except (http.client.HTTPException, ValueError) as error:
            trouble = _reason(error)
        idle = 0 if part.size > before else idle + 1
        if idle >= TRIES:
            raise RunnerError(f"{url}: {trouble} {_left(part)}")
        if idle:
            time.sleep(0.1 * 2**idle)


def disk_full(folder: Path, needed: int = 0) -> RunnerError:
    """The line for a disk without room for ``needed`` bytes."""
    wanted = f", {megabytes(needed)} are needed" if needed else ""
    try:
        free = f"{megabytes(shutil.disk_usage(folder).free)} are free"
    except OSError:
        free = "nothing is free"
    return RunnerError(f"{folder}: the disk is full: {free}{wanted}; make room and start again")


def megabytes(size: int) -> str:
    """A size for people: in MB, small ones in kB."""
    return f"{size / 1e6:.1f} MB" if size >= 1e5 else f"{size / 1e3:.1f} kB"


def _fetch(part: Part, told: Told) -> bool:
    """One connection; gives whether the part is whole now."""
    asked = urllib.request.Request(
        part.url,
        headers={"User-Agent": f"runner/{__version__}", "Accept-Encoding": "identity"},
    )
    have, validator = part.size, part.validator()
    if have and validator:
        asked.add_header("Range", f"bytes={have}-")
        asked.add_header("If-Range", validator)
    with urllib.request.urlopen(asked, timeout=TIMEOUT_SECONDS) as answer:
        begins, whole = 0, _whole_number(answer.headers.get("Content-Length"))
        if answer.status == http.HTTPStatus.PARTIAL_CONTENT:
            begins, whole = _content_range(answer.headers.get("Content-Range", ""))
            if begins != have:
                part.remove()
                raise ValueError("the server sent another piece than was asked for;")
        elif answer.status != http.HTTPStatus.OK:
            raise RunnerError(f"{part.url}: the server answers {answer.status} {answer.reason}")
        if whole > LARGEST:
            raise RunnerError(f"{part.url}: {megabytes(whole)} are too much for a model")
        if whole - begins > shutil.disk_usage(part.file.parent).free:
            raise disk_full(part.file.parent, whole - begins)
        if not begins:
            part.note(_validator(answer.headers))
        with part.file.open("ab" if begins else "wb") as out:
            _copy(answer, out.write, begins, whole, told)
            out.flush()
            os.fsync(out.fileno())
    return not whole or part.size == whole


def _copy(
    answer: http.client.HTTPResponse,
    write: Callable[[bytes], int],
    done: int,
    whole: int,
    told: Told,
) -> None:
    while piece := answer.read(PIECE):
        write(piece)
        done += len(piece)
        if done > LARGEST:
            raise RunnerError(f"more than {megabytes(LARGEST)} came: too much for a model")
        told("Downloading", done, whole)


def _validator(headers: http.client.HTTPMessage) -> str:
    """A strong ``ETag``, else the date.

    A weak tag may not be used with ranges (RFC 9110, section 13.1.5).
    """
    tag = str(headers.get("ETag", ""))
    if tag.startswith('"'):
        return tag
    return str(headers.get("Last-Modified", ""))


def _whole_number(text: str | None) -> int:
    return int(text) if text and text.isdecimal() else 0


def _content_range(text: str) -> tuple[int, int]:
    """Where a piece begins and how long the whole is, of ``bytes 5-9/10``; -1 where it says not."""
    unit, _, rest = text.partition(" ")
    span, _, whole = rest.partition("/")
    begins, _, _ = span.partition("-")
    if unit != "bytes" or not begins.isdecimal():
        return -1, 0
    return int(begins), _whole_number(whole)


def _left(part: Part) -> str:
    if not part.size or not part.validator():
        return "again and again; try later"
    return f"after {megabytes(part.size)}; the same command goes on from there"


def _reason(error: object) -> str:
    text = getattr(error, "strerror", None) or str(error) or type(error).__name__
    return str(text).splitlines()[0]
