"""The first event of a run of the shipped procedures, for tests of the engine and the watch."""

from __future__ import annotations

from runner.checklist.load import find_file, load_voice
from runner.checklist.model import Procedures
from runner.engine.events import RunStarted, Snapshot
from runner.engine.program import Program
from shipped_answers import figures


def started(procedures: Procedures, phase: str = "") -> tuple[RunStarted, Program]:
    """A run from that phase on at the usual inputs, and its program already parsed."""
    hashes = ("p", "a", "v")
    program = Program(procedures, load_voice(find_file("cockpit", ("voices",))), hashes)
    snapshots = (Snapshot(name, sha, "") for name, sha in zip(("p", "a", "v"), hashes, strict=True))
    event = RunStarted(0, *snapshots, tuple(figures(procedures).values()), from_phase=phase)
    return event, program
