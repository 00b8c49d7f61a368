"""The lines of an exported logbook: one JSON object each, with a checksum of its own.

A line says under ``is`` what it is. The first is ``logbook``, the last ``end`` with how many
lines came before it. ``file`` lines (the text of a procedures, aircraft or voice file, by its
hash) come before the runs that were made of them; a ``run`` line says how many ``event``
lines follow it, a ``drill`` line how many ``answer`` lines; then come ``card`` lines. Runs and
drills go by a name of their own (a UUID), the same in every logbook.

The checksum, ``check``, shows a line that was altered by accident or by hand. It is no
signature: who wants to can make a new one.
"""

from __future__ import annotations

import hashlib
import json
from typing import Any, NoReturn

FORMAT = 1
"""The version of the lines."""

LONGEST = 16 * 1024 * 1024
"""Characters: a longer line is none of ours. Files are at most two megabytes."""

Record = dict[str, Any]


class BadLine(Exception):
    """Why a line is none of ours, in a few words."""


def write_line(record: Record) -> str:
    """The line of a record, with its checksum and its end."""
    return _text(record | {"check": _check(record)}) + "\n"


def read_line(text: str) -> Record:
    """The record of a line. Raises BadLine where it is none, or was altered."""
    if len(text) > LONGEST:
        raise BadLine("longer than any line of a logbook")
    try:
        record = json.loads(text, parse_constant=_no_number)
    except (ValueError, RecursionError):
        raise BadLine("not a line of an exported logbook (no JSON)") from None
    if "\\ud" in text.lower():
        _must_be_text(record)
    if not isinstance(record, dict) or not isinstance(record.get("is"), str):
        raise BadLine("not a line of an exported logbook")
    check = record.pop("check", None)
    if check is None:
        raise BadLine("not a line of an exported logbook (it has no checksum)")
    if check != _check(record):
        raise BadLine("altered since it was exported (its checksum is another)")
    return record


def _check(record: Record) -> str:
    return hashlib.sha256(_text(record).encode("utf-8", "surrogatepass")).hexdigest()[:16]


def _text(record: Record) -> str:
    return json.dumps(record, sort_keys=True, separators=(",", ":"))


def _must_be_text(record: object) -> None:
    try:
        json.dumps(record, ensure_ascii=False).encode()
    except UnicodeEncodeError:
        raise BadLine("not a line of an exported logbook (half a character)") from None


def _no_number(name: str) -> NoReturn:
    raise ValueError(f"{name} is no number")
