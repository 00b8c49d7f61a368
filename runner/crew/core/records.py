"""What a member keeps for good: entries and lines of epochs, in the order they came.

The records of a member, replayed from the first, give its log and its epochs back.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from runner.crew.core.messages import (
    Entry,
    Epoch,
    Refused,
    canonical,
    entry_of,
    epochs_of,
    parse,
    plain_of,
)


@dataclass(frozen=True, slots=True)
class Line:
    """The epochs of the run from now on; of the log only the first ``keep`` entries stay."""

    epochs: tuple[Epoch, ...]
    keep: int


Record = Entry | Line


def record_to_json(record: Record) -> str:
    """A record as one line of canonical JSON."""
    if isinstance(record, Entry):
        return canonical({"entry": plain_of(record)})
    epochs = [plain_of(epoch) for epoch in record.epochs]
    return canonical({"line": {"epochs": epochs, "keep": record.keep}})


def record_from_json(text: str) -> Record:
    """The record of a line. Raises Refused for text that is none."""
    try:
        plain = parse(text)
        if "entry" in plain:
            return entry_of(plain["entry"])
        line = plain["line"]
        return Line(epochs_of(line["epochs"]), int(line["keep"]))
    except (KeyError, TypeError, AttributeError, ValueError) as error:
        raise Refused("a stored record that is none") from error


def replay(records: Iterable[Record]) -> tuple[tuple[Epoch, ...], list[Entry]]:
    """The epochs and the log that these records give. Raises Refused where one is missing."""
    epochs: tuple[Epoch, ...] = ()
    log: list[Entry] = []
    for record in records:
        if isinstance(record, Line):
            epochs = record.epochs
            del log[record.keep :]
        elif record.number != len(log):
            raise Refused(f"the stored log has entry {record.number} after {len(log)} entries")
        else:
            log.append(record)
    return epochs, log
