"""Effects, proposals and verdicts as JSON lines between Runner and its voice process.

One JSON object a line. Towards the voice process the key ``do`` names the command, away
from it the key ``is`` names the report.
"""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Sequence
from typing import Any

from runner.engine.effects import Candidate, Listen, NumberWanted
from runner.engine.events import Proposal, Verdict
from runner.phrasing.style import Form

LINE_LIMIT = 8 * 1024 * 1024
"""The longest line in bytes that either side reads."""

Message = dict[str, Any]


def to_line(message: Message) -> bytes:
    """One message as a line of UTF-8 JSON with its newline."""
    return json.dumps(message, ensure_ascii=False, separators=(",", ":")).encode() + b"\n"


def from_line(line: bytes) -> Message:
    """The message of one line; raises ``ValueError`` when it is not a JSON object."""
    message = json.loads(line)
    if not isinstance(message, dict):
        raise ValueError("a message is a JSON object")
    return message


def listen_to_json(listen: Listen) -> Message:
    """A listening window as plain JSON values."""
    return dataclasses.asdict(listen)


def listen_from_json(plain: Message) -> Listen:
    """The window that ``listen_to_json`` gave."""
    number = plain["number"]
    return Listen(
        window=plain["window"],
        candidates=tuple(Candidate(**candidate) for candidate in plain["candidates"]),
        number=number and NumberWanted(**{**number, "form": Form(**number["form"])}),
    )


def proposals_to_json(proposals: Sequence[Proposal]) -> list[Message]:
    """Proposals as plain JSON values."""
    return [dataclasses.asdict(proposal) for proposal in proposals]


def proposals_from_json(plain: Sequence[Message]) -> tuple[Proposal, ...]:
    """The proposals that ``proposals_to_json`` gave."""
    return tuple(Proposal(**proposal) for proposal in plain)


def verdict_to_json(verdict: Verdict) -> Message:
    """A verdict as plain JSON values."""
    return dataclasses.asdict(verdict)


def verdict_from_json(plain: Message) -> Verdict:
    """The verdict that ``verdict_to_json`` gave."""
    return Verdict(**plain)
