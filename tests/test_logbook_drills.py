"""Drills in the logbook: answers, what spacing knows of each card, and what is due."""

from __future__ import annotations

import json
import sqlite3
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest

from runner.logbook.store import Logbook

NOON = datetime(2026, 5, 3, 12, tzinfo=UTC)


def due(at: datetime) -> str:
    return json.dumps({"due": at.isoformat(), "stability": 2.5})


def test_an_answer_and_what_became_of_its_card_are_stored_in_one_piece(tmp_path: Path) -> None:
    book = Logbook(tmp_path / "book.sqlite3")
    drill = book.drill_begin("recall", 20, NOON)
    state = due(NOON + timedelta(days=2))
    book.drill_answer(
        drill, "blowers", "recall", 3, True, 1800, NOON, "low", state_json=state
    ).result(10)
    book.drill_answer(drill, "flaps", "recall", 1, False, 4100, NOON, "ten").result(10)
    book.drill_end(drill).result(10)
    book.close()
    again = Logbook(tmp_path / "book.sqlite3")
    assert again.cards() == {"blowers": state}
    with again.reading() as stored:
        rows = stored.execute("SELECT number, card, correct, heard FROM drill_answers").fetchall()
        assert rows == [(1, "blowers", 1, "low"), (2, "flaps", 0, "ten")]
        assert stored.execute("SELECT ended FROM drills").fetchone() == (1,)
    again.close()


def test_what_is_due_comes_longest_due_first_whatever_the_time_zone_it_was_written_in(
    tmp_path: Path,
) -> None:
    book = Logbook(tmp_path / "book.sqlite3")
    east = timezone(timedelta(hours=9))
    book.card_put("later", "recall", due(NOON + timedelta(minutes=1)))
    book.card_put("b", "recall", due(NOON.astimezone(east)))
    book.card_put("a", "order", due(NOON - timedelta(hours=3)))
    book.card_put("never", "order", "{}").result(10)
    assert book.due(NOON) == ["a", "b"]
    assert set(book.cards("order")) == {"a", "never"}
    with book.reading() as stored:
        plan = stored.execute(
            "EXPLAIN QUERY PLAN SELECT card FROM cards WHERE due <= 1 ORDER BY due, card"
        ).fetchall()
    assert any("cards_due" in row[3] for row in plan)
    book.close()


def test_a_card_whose_state_is_no_json_is_refused_and_the_logbook_goes_on(tmp_path: Path) -> None:
    book = Logbook(tmp_path / "book.sqlite3")
    with pytest.raises(ValueError, match="Expecting"):
        book.card_put("a", "recall", "no json")
    book.card_put("a", "recall", "{}").result(10)
    assert book.cards() == {"a": "{}"}
    book.close()


def test_a_drill_whose_logbook_cannot_be_written_goes_on_in_memory(tmp_path: Path) -> None:
    path = tmp_path / "book.sqlite3"
    told: list[str] = []
    book = Logbook(path)
    book.on_trouble = told.append
    book.card_put("a", "recall", due(NOON)).result(10)
    with sqlite3.connect(path) as connection:
        connection.execute("ALTER TABLE cards RENAME COLUMN state TO estate")
        connection.execute("ALTER TABLE drills RENAME TO gone")
    assert book.drill_begin("recall", 5, NOON) < 0
    assert len(told) == 1 and "in memory" in told[0]
    with sqlite3.connect(path) as connection:
        connection.execute("ALTER TABLE cards RENAME COLUMN estate TO state")
    book.drill_answer(-1, "a", "recall", 3, True, 900, NOON, "", due(NOON + timedelta(days=1)))
    book.card_put("b", "recall", due(NOON)).result(10)
    assert book.due(NOON) == ["b"]
    assert set(book.cards()) == {"a", "b"}
    book.close()
    assert len(told) == 1
