"""How a logbook of 10,000 flights opens and is read; run by hand, prints medians.

    python tests/bench/logbook.py [RUNS] [FILE]

Goal: opening, what is due, and the debrief of one run, each in 300 ms or less. The runs are
the shipped flight, answered to its end by a real process and stored so often; 5,000 drills
of twenty answers are beside them, and a card for everything that there is to drill in the
shipped procedures and for ten times as much that belongs to others. It needs two
gigabytes; with FILE the logbook is kept, and used again where it is there already.
"""

from __future__ import annotations

import contextlib
import itertools
import json
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import time
import uuid
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from shipped_answers import figures, flight_answers, shipped

RUNS = 10_000
DRILLS = 5_000
ANSWERS = 20
TIMES = 15
GOAL_MS = 300.0
NOON = datetime(2026, 5, 3, 12, tzinfo=UTC)


def make(path: Path, runs: int) -> None:
    """Fill a new logbook."""
    procedures = shipped()
    script = path.with_suffix(".txt")
    script.write_text("\n".join(flight_answers(procedures, figures(procedures))) + "\n")
    subprocess.run(
        [
            *(sys.executable, "-m", "runner", "fly", "--screen", "plain", "--speak", "none"),
            *("--listen", f"text:{script}", "--clock", "fast", "--logbook", str(path)),
        ],
        check=True,
        stdout=subprocess.DEVNULL,
    )
    with contextlib.closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("PRAGMA synchronous = OFF")
        connection.execute("BEGIN")
        for run in range(2, runs + 1):
            started = (NOON + timedelta(hours=run)).isoformat()
            connection.execute(
                "INSERT INTO runs (id, uuid, started, procedures, aircraft, finished, "
                "procedures_sha256, aircraft_sha256, voice_sha256) "
                "SELECT ?, ?, ?, procedures, aircraft, ?, procedures_sha256, aircraft_sha256, "
                "voice_sha256 FROM runs WHERE id = 1",
                (run, str(uuid.uuid4()), started, "" if run % 50 == 0 else "complete"),
            )
            connection.execute(
                "INSERT INTO events SELECT ?, number, at, kind, event FROM events WHERE run = 1",
                (run,),
            )
        drill(connection)
        connection.execute("COMMIT")
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")


def drill(connection: sqlite3.Connection) -> None:
    """Drills and cards."""
    from runner.practice.reworking import rework

    cards = [*DECK, *(f"other/response/item-{n}" for n in range(10 * len(DECK)))]
    for number in range(1, DRILLS + 1):
        at = NOON + timedelta(hours=number)
        connection.execute(
            "INSERT INTO drills VALUES (?, ?, 'mixed', ?, ?, 1)",
            (number, str(uuid.uuid4()), ANSWERS, at.isoformat()),
        )
        connection.executemany(
            "INSERT INTO drill_answers VALUES (?, ?, ?, 'response', 3, 1, 1500, ?, 'set')",
            [
                (number, n, cards[(number * ANSWERS + n) % len(cards)], at.isoformat())
                for n in range(1, ANSWERS + 1)
            ],
        )
    for number, card in enumerate(cards):
        at = NOON + timedelta(hours=number % 500)
        state = rework([(3, True, 1500, at.isoformat())])
        assert state is not None
        due = datetime.fromisoformat(json.loads(state)["due"]).timestamp()
        connection.execute(
            "INSERT INTO cards VALUES (?, 'response', ?, ?, ?)", (card, due, at.timestamp(), state)
        )


def deck() -> list[str]:
    """The cards of the shipped procedures."""
    from runner.checklist.load import find_file, load_procedures, load_voice
    from runner.engine.program import Program
    from runner.figures.sheet import Sheet
    from runner.practice.cards import deck as cards_of

    procedures = load_procedures(find_file("whimbrel-four", ("checklists",)))
    style = load_voice(find_file("cockpit", ("voices",)))
    known = Sheet(procedures.aircraft).work_out({}).figures
    return [card.id for card in cards_of(Program(procedures, style), known)]


DECK = deck()


def opening(path: Path) -> None:
    """What every command does first."""
    from runner.logbook.store import Logbook

    Logbook(path).close()


def newest_unfinished(path: Path) -> None:
    """What ``runner fly --resume`` asks."""
    from runner.logbook.store import Logbook

    book = Logbook(path)
    assert book.latest_unfinished() is not None
    book.close()


def listing(path: Path) -> None:
    """What ``runner logbook list`` reads."""
    from runner.logbook.listing import drills_of, runs_of
    from runner.logbook.opening import reading

    with contextlib.closing(reading(path)) as connection:
        assert len(runs_of(connection, 20)[0]) == 20
        assert len(drills_of(connection, 20)[0]) == 20


def due(path: Path) -> None:
    """What ``runner drill --due`` reads and counts."""
    from runner.logbook.store import Logbook
    from runner.practice.queue import Waiting, tiers
    from runner.practice.store import progress_of

    now = NOON + timedelta(days=60)
    book = Logbook(path)
    progress, unread = progress_of(book, DECK)
    waiting = [Waiting(card, card) for card in progress]
    assert not unread and len(tiers(waiting, progress, now)[0]) == len(DECK)
    book.close()


def due_of_all(path: Path) -> None:
    """The cards that are due, whatever they belong to."""
    from runner.logbook.store import Logbook

    book = Logbook(path)
    assert len(book.due(NOON + timedelta(days=60))) > len(DECK)
    book.close()


def events(path: Path) -> None:
    """What looking back on one run reads, replayed."""
    from runner.logbook.opening import reading
    from runner.logbook.replaying import replay
    from runner.logbook.store import read_events

    with contextlib.closing(reading(path)) as connection:
        found = read_events(
            connection, connection.execute("SELECT max(id) FROM runs").fetchone()[0] // 2, str(path)
        )
    assert replay(found).finished


def looking_back() -> Callable[[Path], None]:
    """A debrief's own work, each time of a run that nobody looked back on before."""
    from runner.debrief.kept import Book
    from runner.debrief.looked import debrief

    runs = itertools.count(101)

    def look(path: Path) -> None:
        book = Book(path)
        run = next(runs)
        while book.connection.execute("SELECT 1 FROM summaries WHERE run = ?", (run,)).fetchone():
            run = next(runs)
        assert debrief(book, run, NOON).row.id == run
        book.close()

    return look


def looked_back(path: Path) -> None:
    """The debrief of a run that was looked back on before."""
    from runner.debrief.kept import Book
    from runner.debrief.looked import debrief

    book = Book(path)
    assert debrief(book, 150, NOON).record.items
    book.close()


def command(*arguments: str) -> Callable[[Path], None]:
    """The whole program, from its start to its end."""

    def run(path: Path) -> None:
        subprocess.run(
            [sys.executable, "-m", "runner", *arguments, "--logbook", str(path)],
            check=True,
            stdout=subprocess.DEVNULL,
        )

    return run


def measure(name: str, path: Path, work: Callable[[Path], None], goal: bool = True) -> None:
    """Print the median and the slowest of some goes."""
    work(path)
    spent = []
    for _ in range(TIMES):
        began = time.perf_counter()
        work(path)
        spent.append(1000 * (time.perf_counter() - began))
    median = statistics.median(spent)
    told = f"{'within' if median <= GOAL_MS else 'OVER'} {GOAL_MS:.0f} ms" if goal else ""
    print(f"{name:<44} median {median:7.1f} ms   slowest {max(spent):7.1f} ms   {told}")


def main() -> None:
    """Make the logbook and measure."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else RUNS
    with tempfile.TemporaryDirectory() as folder:
        path = Path(sys.argv[2]) if len(sys.argv) > 2 else Path(folder) / "logbook.sqlite3"
        if not path.exists():
            began = time.perf_counter()
            make(path, runs)
            print(f"made in {time.perf_counter() - began:.0f} s")
        with contextlib.closing(sqlite3.connect(path)) as connection:
            counts = [
                connection.execute(f"SELECT count(*) FROM {table}").fetchone()[0]
                for table in ("runs", "events", "drill_answers", "cards")
            ]
        print(
            f"{counts[0]} runs of {counts[1] // counts[0]} events, {counts[2]} drill answers, "
            f"{counts[3]} cards, {path.stat().st_size / 1e9:.2f} GB"
        )
        measure("opening", path, opening)
        measure("the newest unfinished run", path, newest_unfinished)
        measure("list", path, listing)
        measure("what is due", path, due)
        measure("all cards that are due", path, due_of_all)
        measure("one run's events, read and replayed", path, events)
        measure("debrief of a run, the first time", path, looking_back())
        measure("debrief of a run, later", path, looked_back)
        measure(
            "runner drill --due, the whole program", path, command("drill", "--due"), goal=False
        )
        measure("runner logbook list, the whole program", path, command("logbook", "list"), False)


if __name__ == "__main__":
    main()
