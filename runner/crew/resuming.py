"""Which crew's run this machine was in, so that it can go back to it."""

from __future__ import annotations

from runner.crew.core.records import replay
from runner.crew.journal import Journal, Membership
from runner.errors import RunnerError
from runner.logbook.store import Logbook

ANEW = "open a crew with runner crew open, or join one by its code"


def crew_to_go_back_to(journal: Journal, logbook: Logbook, me: str) -> Membership:
    """The crew of the newest crewed run in the logbook, for the machine with the id ``me``.

    RunnerError where there is none, where it is over or was flown on without the crew, and
    where this machine has another key than it had then.
    """
    kept = journal.latest()
    if kept is None or kept.run is None or not kept.secret:
        raise RunnerError(f"{logbook.path}: this logbook has no crew's run to go back to; {ANEW}")
    row = logbook.run(kept.run)
    if row.finished:
        raise RunnerError(
            f"{logbook.path}: the last crew's run (run {row.id}) is over: {row.finished}; {ANEW}"
        )
    if kept.me != me:
        raise RunnerError(
            f"{logbook.path}: the key beside this logbook is not the one that the crew of run "
            f"{row.id} knows; {ANEW}"
        )
    epochs, log = replay(journal.records(kept.crew))
    if not epochs or len(log) != len(logbook.events(row.id)):
        raise RunnerError(
            f"{logbook.path}: run {row.id} was flown on without its crew and stays its own; {ANEW}"
        )
    return kept
