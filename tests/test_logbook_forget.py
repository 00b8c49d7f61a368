"""Deleting from a logbook, and checking one: what is gone is gone from every byte."""

from __future__ import annotations

import io
import json
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from logbook_content import NOON, drilled, export, filled, flown, logbook, store
from runner.crew.journal import Journal, Membership
from runner.logbook.store import Logbook

Capture = pytest.CaptureFixture[str]


@pytest.fixture
def book(tmp_path: Path) -> Path:
    return filled(tmp_path / "book.sqlite3")


def everything(book: Path) -> bytes:
    """Every byte of the logbook and of what lies beside it."""
    return b"".join(file.read_bytes() for file in book.parent.glob(f"{book.name}*"))


def count(book: Path, table: str) -> int:
    with closing(sqlite3.connect(book)) as connection:
        found: int = connection.execute(f"SELECT count(*) FROM {table}").fetchone()[0]
        return found


def test_a_run_is_gone_from_every_byte_and_the_others_stay(book: Path, capsys: Capture) -> None:
    mark = b"2026-05-04T12:00:00"
    other = export(capsys, book)
    assert mark in everything(book)
    told = logbook(capsys, "forget", "--run", "2", "--yes", "--logbook", book)
    assert (told.status, told.out) == (0, ["Deleted."])
    assert mark not in everything(book)
    left = [line for line in export(capsys, book)[1:-1] if "05-04" not in line]
    assert [line for line in other if line in left] == left
    assert logbook(capsys, "check", "--logbook", book).status == 0


def test_what_a_crew_kept_of_its_run_goes_with_it(book: Path, capsys: Capture) -> None:
    kept = Logbook(book)
    journal = Journal(kept.write, kept.reading)
    for run in (1, 2):
        journal.belong(Membership(f"crew {run}", b"secret", "4821", run=run)).result(10)
        journal.meet(f"crew {run}", "ab" * 16, f"the other of {run}").result(10)
    kept.close()
    assert logbook(capsys, "forget", "--run", "2", "--yes", "--logbook", book).status == 0
    assert b"the other of 1" in everything(book)
    assert b"the other of 2" not in everything(book)
    assert count(book, "crews") == 1


def test_the_text_of_a_file_goes_with_the_last_run_that_was_made_of_it(
    book: Path, capsys: Capture
) -> None:
    for run, left in ((1, 3), (2, 0)):
        logbook(capsys, "forget", "--run", str(run), "--yes", "--logbook", book)
        assert count(book, "contents") == left
        assert (b"Plover Four" in everything(book)) == bool(left)


def test_a_drill_is_gone_and_its_cards_are_as_if_it_had_not_been(
    book: Path, tmp_path: Path, capsys: Capture
) -> None:
    without = Logbook(tmp_path / "without.sqlite3")
    drilled(without, 3, {"f/response/flaps": 3, "f/response/blowers": 1})
    expected = without.cards()
    without.close()
    assert b"petrel seven" in everything(book)
    told = logbook(capsys, "forget", "--drill", "2", "--yes", "--logbook", book)
    assert told.status == 0, told.errors
    again = Logbook(book)
    assert again.cards() == expected
    assert again.due(NOON.replace(year=2030)) != []
    again.close()
    assert b"petrel seven" not in everything(book)
    assert b"f/response/trim" not in everything(book)
    assert logbook(capsys, "check", "--logbook", book).status == 0


def test_all_is_all(book: Path, capsys: Capture) -> None:
    told = logbook(capsys, "forget", "--all", "--yes", "--logbook", book)
    assert told.status == 0
    for mark in (b"f/response", b"tests.yaml", b"RunStarted", b"Plover", b"2026-05"):
        assert mark not in everything(book)
    assert logbook(capsys, "list", "--logbook", book).out[-1] == "Nothing yet."
    # It is a logbook still.
    reopened = Logbook(book)
    store(reopened, flown())
    reopened.close()
    assert count(book, "runs") == 1


@pytest.mark.parametrize(("typed", "left"), [("yes\n", 0), ("no\n", 2), ("", 2), ("run 1\n", 2)])
def test_nothing_is_deleted_unless_the_pilot_says_so(
    book: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch, typed: str, left: int
) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO(typed))
    told = logbook(capsys, "forget", "--all", "--logbook", book)
    assert "2 runs, 2 drills, 3 cards?" in told.out[0]
    assert told.status == (1 if left else 0)
    assert count(book, "runs") == left


def test_what_is_not_there_cannot_be_deleted(book: Path, capsys: Capture) -> None:
    for what in ("run", "drill"):
        for number in ("99", "-1", str(2**70)):
            told = logbook(capsys, "forget", f"--{what}", number, "--yes", "--logbook", book)
            assert told.status == 2 and f"no {what} {number}" in told.errors[0]
    assert (count(book, "runs"), count(book, "drills")) == (2, 2)


def test_nothing_is_deleted_while_another_runner_has_the_logbook_open(
    book: Path, capsys: Capture
) -> None:
    flying = Logbook(book)
    told = logbook(capsys, "forget", "--run", "1", "--yes", "--logbook", book)
    flying.close()
    assert told.status == 2 and "another Runner has this logbook open" in told.errors[0]
    assert count(book, "runs") == 2
    assert logbook(capsys, "forget", "--run", "1", "--yes", "--logbook", book).status == 0


def test_a_sound_logbook_is_said_to_be_sound(book: Path, capsys: Capture) -> None:
    told = logbook(capsys, "check", "--logbook", book)
    assert told.status == 0
    assert "2 runs, 10 events, 2 drills, 4 answers, 3 cards; 2 runs replayed" in told.out[0]


FAULTS = (
    ("DELETE FROM events WHERE run = 1 AND number = 2", "run 1: has events missing"),
    ("UPDATE events SET event = '{}' WHERE run = 2 AND number = 1", "run 2: cannot be read"),
    ("UPDATE events SET event = json_set(event, '$.at', 0) WHERE number = 3", "comes before"),
    ("UPDATE runs SET finished = 'complete' WHERE id = 1", "run 1: it is noted as finished"),
    ("UPDATE contents SET text = text || ' '", "not what its hash says"),
    ("DELETE FROM contents", "is missing from the logbook"),
    ("DELETE FROM drill_answers WHERE number = 1", "drill 1: it has answers missing"),
    ("UPDATE cards SET state = 'x'", "card f/response/blowers: what is known"),
    ("UPDATE cards SET due = 1", "due at another time"),
    ("DELETE FROM runs WHERE id = 1", "has no runs"),
)


@pytest.mark.parametrize(("damage", "told"), FAULTS)
def test_each_damage_is_found_and_named(
    book: Path, capsys: Capture, damage: str, told: str
) -> None:
    with closing(sqlite3.connect(book)) as connection, connection:
        connection.execute(damage)
    found = logbook(capsys, "check", "--logbook", book)
    assert found.status == 2
    assert told in found.errors[0], found.errors


def test_pages_overwritten_on_the_disk_are_found(book: Path, capsys: Capture) -> None:
    content = bytearray(book.read_bytes())
    with closing(sqlite3.connect(book)) as connection:
        (page,) = connection.execute(
            "SELECT rootpage FROM sqlite_master WHERE name = 'events'"
        ).fetchone()
    content[(page - 1) * 4096 : (page - 1) * 4096 + 200] = b"\xa5" * 200
    book.write_bytes(content)
    found = logbook(capsys, "check", "--logbook", book)
    assert found.status == 2
    assert all(len(line) < 300 for line in found.errors)
    assert "damaged" in found.errors[0] or "cannot be read" in found.errors[0]


def test_a_run_of_other_rules_is_no_fault(book: Path, capsys: Capture) -> None:
    with closing(sqlite3.connect(book)) as connection, connection:
        (event,) = connection.execute(
            "SELECT event FROM events WHERE run = 1 AND number = 0"
        ).fetchone()
        older = json.dumps(json.loads(event) | {"rules": 1})
        connection.execute("UPDATE events SET event = ? WHERE run = 1 AND number = 0", (older,))
    told = logbook(capsys, "check", "--logbook", book)
    assert told.status == 0
    assert "1 run of other rules" in told.out[1]
