"""A run looked back on: what its record says is what was done in a real run of the program."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from flying import ANSWERS, WEIGHT, fly
from runner.debrief.kept import Book, keep
from runner.debrief.record import Record, from_json, to_json
from runner.logbook.store import Logbook

SCRIPT = [
    *ANSWERS[:5],
    "high blower",
    *ANSWERS[5:7],
    "stand by",
    "continue the checklist",
    *ANSWERS[7:9],
    "engine fire number three",
    "engine two",
]


@pytest.fixture(scope="module")
def logbook(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A run with a wrong answer, a stand by, and a fire that was never dealt with."""
    path = tmp_path_factory.mktemp("debrief") / "logbook.sqlite3"
    options = ("--phase", "before-takeoff", "--set", WEIGHT, "--clock", "fast")
    assert fly(path, SCRIPT, *options).status == 1
    return path


@pytest.fixture(scope="module")
def record(logbook: Path) -> Record:
    book = Book(logbook)
    try:
        return book.record(1)
    finally:
        book.close()


def test_what_was_heard_instead_stands_beside_what_was_expected(record: Record) -> None:
    (blowers,) = (item for item in record.items if item.item == "before-takeoff.blowers")
    (missed,) = blowers.tries
    assert (missed.how, missed.heard, missed.expected) == ("wrong", "high blower", "low blower")
    assert blowers.status == "done"
    assert blowers.answer_ms is not None and blowers.answer_ms > record.median_ms  # type: ignore[operator]


def test_a_wrong_engine_at_its_confirmation_is_a_miss(record: Record) -> None:
    wrong = [one for item in record.items if item.list == "engine-fire:3" for one in item.tries]
    assert [one.how for one in wrong] == ["wrong"]
    assert wrong[0].expected == "engine 3 confirmed"


def test_an_interruption_has_its_time_and_the_list_below_it_is_not_on_top(record: Record) -> None:
    texts = [one.text for one in record.happenings if one.kind == "interruption"]
    assert texts == ["standing by", "Engine fire, engine 3"]
    normal, fire = record.lists
    assert (normal.key, fire.key) == ("before-takeoff", "engine-fire:3")
    assert fire.abnormal
    assert normal.spans[-1][1] == fire.spans[0][0]


def test_items_of_a_list_that_was_broken_off_are_open_though_never_asked(record: Record) -> None:
    by_name = {item.challenge: item for item in record.items}
    assert by_name["Rotate"].status == "waiting"
    assert by_name["Rotate"].critical
    assert "Rotate" in record.left_open
    assert record.done == 9


def test_times_to_answer_are_from_the_end_of_the_challenge(record: Record) -> None:
    """On the fast clock an answer takes 365 ms a word, the rate at which Runner speaks."""
    by_name = {item.challenge: item for item in record.items}
    assert by_name["Mixtures"].answer_ms == 2 * 365
    assert by_name["Trim tabs"].answer_ms == 4 * 365


def test_a_record_is_the_same_after_json(record: Record) -> None:
    assert from_json(to_json(record)) == record


def test_text_that_is_no_record_is_refused() -> None:
    for text in ("[]", "{}", '{"started": 1}', "null"):
        with pytest.raises(ValueError, match="not the record of a run"):
            from_json(text)


def test_a_run_is_replayed_once_and_again_only_when_it_went_on(logbook: Path) -> None:
    def stored() -> tuple[int, int]:
        with closing(sqlite3.connect(logbook)) as connection:
            return connection.execute("SELECT events, rules FROM summaries").fetchone()

    def told() -> Record:
        book = Book(logbook)
        try:
            return book.record(1)
        finally:
            book.close()

    first = told()
    events, rules = stored()
    with closing(sqlite3.connect(logbook)) as connection, connection:
        connection.execute("UPDATE summaries SET record = replace(record, 'Trim tabs', 'Trims')")
    assert "Trims" in {item.challenge for item in told().items}
    with closing(sqlite3.connect(logbook)) as connection, connection:
        connection.execute("UPDATE summaries SET events = events - 1")
    assert told() == first
    assert stored() == (events, rules)
    with closing(sqlite3.connect(logbook)) as connection, connection:
        connection.execute("UPDATE summaries SET record = '{'")
    assert told() == first


def test_the_answers_of_a_run_are_kept_item_by_item(logbook: Path, record: Record) -> None:
    with closing(sqlite3.connect(logbook)) as connection:
        rows = connection.execute(
            "SELECT item, status, answer_ms, wrong FROM answers WHERE run = 1"
        ).fetchall()
    assert {row[0] for row in rows} == {item.item for item in record.items}
    assert [row for row in rows if row[0] == "before-takeoff.blowers"] == [
        ("before-takeoff.blowers", "done", 4015, 1)
    ]


def test_a_run_that_has_just_ended_is_kept_by_whoever_flew_it(logbook: Path) -> None:
    with closing(sqlite3.connect(logbook)) as connection, connection:
        connection.execute("DELETE FROM summaries")
        connection.execute("DELETE FROM answers")
    book = Logbook(logbook)
    keep(book, 1)
    book.close()
    with closing(sqlite3.connect(logbook)) as connection:
        (text,) = connection.execute("SELECT record FROM summaries WHERE run = 1").fetchone()
    looked = Book(logbook)
    try:
        assert from_json(text) == looked.record(1)
    finally:
        looked.close()
