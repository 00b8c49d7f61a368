"""A logbook taken elsewhere: all of it comes along, and nothing that was altered comes in."""

from __future__ import annotations

import json
import shutil
import sqlite3
from contextlib import closing, suppress
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from logbook_content import drilled, export, filled, flown, logbook, of_kind, store
from runner.errors import RunnerError
from runner.logbook.importing import import_lines
from runner.logbook.lines import BadLine, read_line, write_line
from runner.logbook.opening import open_logbook
from runner.logbook.store import Logbook

Capture = pytest.CaptureFixture[str]


@pytest.fixture
def book(tmp_path: Path) -> Path:
    return filled(tmp_path / "book.sqlite3")


def take(
    capsys: Capture, lines: list[str], into: Path, status: int = 0
) -> tuple[list[str], list[str]]:
    """Import these lines; what was printed and what was complained of."""
    file = into.with_suffix(".in")
    file.write_text("".join(f"{line}\n" for line in lines), "utf-8")
    told = logbook(capsys, "import", file, "--logbook", into)
    assert told.status == status, told.errors
    return told.out, [line.removeprefix(f"{file}:") for line in told.errors]


def rewritten(line: str, **changes: object) -> str:
    """A line with other content and the checksum that belongs to it."""
    record = json.loads(line)
    del record["check"]
    return write_line(record | changes).rstrip("\n")


def test_what_is_exported_and_imported_is_exported_again_the_same(
    book: Path, tmp_path: Path, capsys: Capture
) -> None:
    lines = export(capsys, book)
    other = tmp_path / "other.sqlite3"
    out, _ = take(capsys, lines, other)
    assert out == ["Imported 2 runs, 2 drills, 3 cards; 0 were here already."]
    assert export(capsys, other) == lines
    assert logbook(capsys, "check", "--logbook", other).status == 0


def test_importing_again_changes_nothing(book: Path, tmp_path: Path, capsys: Capture) -> None:
    lines = export(capsys, book)
    for into in (book, tmp_path / "other.sqlite3"):
        take(capsys, lines, into)
        before = export(capsys, into)
        out, _ = take(capsys, lines, into)
        assert out == ["Imported 0 runs, 0 drills, 0 cards; 7 were here already."]
        assert export(capsys, into) == before


def test_one_run_comes_with_the_text_of_its_files(
    book: Path, tmp_path: Path, capsys: Capture
) -> None:
    file = tmp_path / "one.jsonl"
    assert logbook(capsys, "export", file, "--run", "2", "--logbook", book).status == 0
    other = tmp_path / "other.sqlite3"
    out, _ = take(capsys, file.read_text().splitlines(), other)
    assert out == ["Imported 1 run, 0 drills, 0 cards; 0 were here already."]
    here, there = Logbook(book), Logbook(other)
    assert there.events(1) == here.events(2)
    here.close()
    there.close()


def test_a_run_that_has_gone_on_since_gets_what_is_new_of_it(
    book: Path, tmp_path: Path, capsys: Capture
) -> None:
    other = tmp_path / "other.sqlite3"
    shutil.copy(book, other)
    events = flown(4, answers=8)
    going_on = Logbook(book)
    stored = len(going_on.events(2))
    for number in range(stored, len(events)):
        going_on.append(2, number, events[number]).result(10)
    going_on.finish(2, "open").result(10)
    going_on.close()
    lines = export(capsys, book)
    out, _ = take(capsys, lines, other)
    assert out[0].startswith("Imported 1 run, 0 drills")
    assert export(capsys, other) == lines
    # The other way round there is nothing to add, and nothing is taken away.
    take(capsys, export(capsys, filled(tmp_path / "third.sqlite3")), tmp_path / "fourth.sqlite3")
    take(capsys, lines, book)
    assert export(capsys, book) == lines


def test_a_run_that_differs_from_the_one_here_is_left_out(book: Path, capsys: Capture) -> None:
    lines = export(capsys, book)
    place = of_kind(lines, "event")[2]
    record = json.loads(lines[place])
    lines[place] = rewritten(
        lines[place], event=record["event"] | {"at": record["event"]["at"] + 1}
    )
    _, told = take(capsys, lines, book, status=2)
    head = of_kind(lines, "run")[0] + 1
    assert told == [
        f"{head}: the run of 2026-05-03T12:00:00+00:00: this logbook has the same run with other "
        "events; it is left out"
    ]


def test_an_altered_line_is_named_its_run_left_out_and_the_rest_kept(
    book: Path, tmp_path: Path, capsys: Capture
) -> None:
    lines = export(capsys, book)
    place = of_kind(lines, "event")[3]
    lines[place] = lines[place].replace('"at":', '"at":1')
    other = tmp_path / "other.sqlite3"
    out, told = take(capsys, lines, other, status=2)
    assert told == [
        f"{place + 1}: altered since it was exported (its checksum is another); the run of "
        "2026-05-03T12:00:00+00:00 is left out"
    ]
    assert out == [
        "Imported 1 run, 2 drills, 3 cards; 0 were here already; the rest of the file is kept."
    ]
    assert logbook(capsys, "check", "--logbook", other).status == 0


@pytest.mark.parametrize(
    "foreign",
    [
        "",
        "nonsense",
        "[]",
        '{"a": 1}',
        '{"is": "run"}',
        '{"is": "card", "changed": NaN, "check": "0"}',
        "[" * 100_000,
        '{"is": "x", "heard": "\\ud800", "check": "0"}',
    ],
)
def test_a_foreign_line_is_one_line_of_complaint(
    book: Path, tmp_path: Path, capsys: Capture, foreign: str
) -> None:
    lines = export(capsys, book)
    lines.insert(of_kind(lines, "run")[1], foreign)
    _, told = take(capsys, lines, tmp_path / "other.sqlite3", status=2)
    # The foreign line, and that there is a line more than was exported.
    assert len(told) == 2
    assert "not a line of an exported logbook" in told[0] and "are here" in told[1]


def test_a_file_that_was_never_a_logbook_is_refused_whole(tmp_path: Path, capsys: Capture) -> None:
    other = tmp_path / "other.sqlite3"
    for content in (b"runner: 1\nprocedures: x\n", b"\xff\xfe\x00" * 999, b'{"is":"run"}\n'):
        file = tmp_path / "foreign"
        file.write_bytes(content)
        with (
            closing(open_logbook(other)) as connection,
            file.open(errors="replace") as lines,
            pytest.raises(RunnerError, match=r"foreign:1: .*nothing was imported") as caught,
        ):
            import_lines(connection, lines, str(file))
        assert "\n" not in str(caught.value)
    (tmp_path / "foreign").write_bytes(b"")
    assert logbook(capsys, "import", tmp_path / "foreign", "--logbook", other).status == 2


def test_a_file_that_ends_early_keeps_what_is_whole(
    book: Path, tmp_path: Path, capsys: Capture
) -> None:
    lines = export(capsys, book)
    cut = of_kind(lines, "event")[-1]
    out, told = take(capsys, lines[:cut], tmp_path / "other.sqlite3", status=2)
    assert out[0].startswith("Imported 1 run, 0 drills, 0 cards")
    assert "it is left out" in told[0] and "ends early" in told[1]


def test_a_run_without_the_text_of_its_files_is_left_out(
    book: Path, tmp_path: Path, capsys: Capture
) -> None:
    lines = [line for line in export(capsys, book) if json.loads(line)["is"] != "file"]
    out, told = take(capsys, lines, tmp_path / "other.sqlite3", status=2)
    assert out[0].startswith("Imported 0 runs, 2 drills")
    assert "the text of tests.yaml is neither here nor in the logbook" in told[0]


@pytest.mark.parametrize(
    ("kind", "changes", "why"),
    [
        ("run", {"run": "mine"}, "without a name"),
        ("run", {"started": "yesterday"}, "without a name or a time"),
        ("run", {"finished": "crashed"}, "ended in no known way"),
        ("run", {"events": -1}, "events is -1"),
        ("run", {"procedures": "other.yaml"}, "other files than its first event"),
        ("event", {"event": {"is": "Nothing", "at": 0}}, "is left out"),
        ("event", {"event": 3}, "is none"),
        ("event", {"number": 17}, "out of its order"),
        ("drill", {"length": 1e400}, "checksum|no JSON"),
        ("drill", {"ended": 2}, "ended is 2"),
        ("answer", {"rating": 0}, "not 1 to 4"),
        ("answer", {"at": "then"}, "at no time"),
        ("answer", {"answer_ms": 2**70}, "not a whole number"),
        ("card", {"state": "no json"}, "cannot be read"),
        ("card", {"changed": "now"}, "at no time"),
        ("card", {"changed": 1e300}, "cannot be read"),
        ("file", {"text": "other"}, "not what its hash says"),
        ("end", {"lines": 3}, "3 lines were exported"),
    ],
)
def test_a_line_whose_content_makes_no_sense_is_refused_also_with_a_right_checksum(
    book: Path, tmp_path: Path, capsys: Capture, kind: str, changes: dict[str, object], why: str
) -> None:
    import re

    lines = export(capsys, book)
    place = of_kind(lines, kind)[0]
    lines[place] = rewritten(lines[place], **changes)
    other = tmp_path / "other.sqlite3"
    _, told = take(capsys, lines, other, status=2)
    assert re.search(why, told[0]), told
    assert logbook(capsys, "check", "--logbook", other).status == 0


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(data=st.data())
def test_no_change_of_a_character_comes_in_unseen(data: st.DataObject) -> None:
    record = {"is": "answer", "heard": "low blower é", "number": 3, "at": "2026-05-03T12:00:00"}
    line = write_line(record).rstrip("\n")
    place = data.draw(st.integers(0, len(line) - 1))
    other = data.draw(st.characters(codec="utf-8", exclude_characters=line[place]))
    changed = line[:place] + other + line[place + 1 :]
    with suppress(BadLine):
        assert read_line(changed) == record


def test_of_a_card_the_newer_state_stays(tmp_path: Path, capsys: Capture) -> None:
    old, new = tmp_path / "old.sqlite3", tmp_path / "new.sqlite3"
    for path, days in ((old, (3,)), (new, (3, 9))):
        written = Logbook(path)
        for day in days:
            drilled(written, day, {"f/response/flaps": 3})
        written.close()
    newest = [line for line in export(capsys, new) if json.loads(line)["is"] == "card"]
    for into, lines in ((old, export(capsys, new)), (new, export(capsys, old))):
        take(capsys, lines, into)
        assert [n for n in export(capsys, into) if json.loads(n)["is"] == "card"] == newest


def test_an_imported_run_that_was_stopped_is_not_taken_for_the_newest(
    tmp_path: Path, capsys: Capture
) -> None:
    here, there = tmp_path / "here.sqlite3", tmp_path / "there.sqlite3"
    for path, day in ((here, 20), (there, 2)):
        book = Logbook(path)
        store(book, flown(day))
        book.close()
    take(capsys, export(capsys, there), here)
    book = Logbook(here)
    newest = book.latest_unfinished()
    assert newest is not None and newest.started.startswith("2026-05-20")
    assert book.run() == newest
    book.close()


def test_an_export_overwrites_nothing_unasked_and_leaves_no_half_file(
    book: Path, tmp_path: Path, capsys: Capture
) -> None:
    file = tmp_path / "out.jsonl"
    file.write_text("mine")
    told = logbook(capsys, "export", file, "--logbook", book)
    assert told.status == 2 and "--force" in told.errors[0]
    assert file.read_text() == "mine"
    told = logbook(capsys, "export", tmp_path / "no" / "where", "--logbook", book)
    assert told.status == 2 and len(told.errors) == 1
    told = logbook(capsys, "export", tmp_path / "x", "--run", "99", "--logbook", book)
    assert told.status == 2 and "no run 99" in told.errors[0]
    assert not (tmp_path / "x").exists() and not list(tmp_path.glob(".*part"))


def test_the_list_shows_runs_and_drills_newest_first(book: Path, capsys: Capture) -> None:
    told = logbook(capsys, "list", "--logbook", book)
    numbers = [line.split()[0] for line in told.out if line.startswith("     ")]
    assert numbers == ["2", "1", "2", "1"]
    assert told.out[-1].endswith("response, 1 of 2 right")
    short = logbook(capsys, "list", "--last", "1", "--logbook", book)
    assert sum("and 1 earlier" in line for line in short.out) == 2
    assert logbook(capsys, "list", "--last", "-1", "--logbook", book).status == 2


def test_a_logbook_that_is_not_there_is_told(tmp_path: Path, capsys: Capture) -> None:
    for command in ("list", "check"):
        told = logbook(capsys, command, "--logbook", tmp_path / "none.sqlite3")
        assert told.status == 2 and "no logbook here yet" in told.errors[0]
    file = tmp_path / "no.sqlite3"
    file.write_bytes(b"not one" * 999)
    with closing(sqlite3.connect(tmp_path / "empty.sqlite3")):
        pass
    told = logbook(capsys, "list", "--logbook", file)
    assert told.status == 2 and len(told.errors) == 1
