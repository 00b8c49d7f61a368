"""The logbook: what is acknowledged is stored, and what is stored comes back whole."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from engine_runs import started
from runner.engine.events import Keyed, Said
from runner.errors import RunnerError
from runner.logbook.schema import VERSION
from runner.logbook.store import Logbook


def test_a_run_comes_back_with_its_files_as_they_were(tmp_path: Path) -> None:
    first = started()
    events = [first, Said(10, 1, True), Keyed(20, "done"), Keyed(30, "call", "scan", "")]
    book = Logbook(tmp_path / "book.sqlite3")
    run = book.begin(first)
    for number, event in enumerate(events[1:], 1):
        book.append(run, number, event).result(10)
    book.close()
    again = Logbook(tmp_path / "book.sqlite3")
    assert again.events(run) == events
    assert again.latest_unfinished() is not None
    again.finish(run, "complete").result(10)
    assert again.latest_unfinished() is None
    again.close()


def test_the_text_of_a_file_is_stored_once_for_all_its_runs(tmp_path: Path) -> None:
    path = tmp_path / "book.sqlite3"
    book = Logbook(path)
    for _ in range(5):
        book.begin(started())
    book.close()
    with sqlite3.connect(path) as connection:
        assert connection.execute("SELECT count(*) FROM contents").fetchone() == (3,)
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert connection.execute("PRAGMA journal_mode").fetchone() == ("wal",)


def test_a_run_with_an_event_missing_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "book.sqlite3"
    book = Logbook(path)
    run = book.begin(started())
    for number in (1, 2, 3):
        book.append(run, number, Said(number, number, True)).result(10)
    with sqlite3.connect(path) as connection:
        connection.execute("DELETE FROM events WHERE number = 2")
    with pytest.raises(RunnerError, match="events missing"):
        book.events(run)
    book.close()


@pytest.mark.parametrize("content", [b"this is no database" * 100, b"\x00" * 5000])
def test_a_file_that_is_no_logbook_is_one_clear_line(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "book.sqlite3"
    path.write_bytes(content)
    with pytest.raises(RunnerError) as caught:
        Logbook(path)
    assert str(path) in str(caught.value) and "--logbook" in str(caught.value)


def test_a_logbook_of_a_newer_runner_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "book.sqlite3"
    Logbook(path).close()
    with sqlite3.connect(path) as connection:
        connection.execute(f"PRAGMA user_version = {VERSION + 1}")
    with pytest.raises(RunnerError, match="newer Runner"):
        Logbook(path)


def test_a_logbook_that_cannot_be_written_any_more_is_told_once_and_the_run_goes_on(
    tmp_path: Path,
) -> None:
    path = tmp_path / "book.sqlite3"
    told: list[str] = []
    book = Logbook(path)
    book.on_trouble = told.append
    run = book.begin(started())
    with sqlite3.connect(path) as connection:
        connection.execute("DROP TABLE events")
    for number in (1, 2, 3):
        book.append(run, number, Said(number, number, True)).result(10)
    book.close()
    assert len(told) == 1 and "goes on in memory" in told[0]
