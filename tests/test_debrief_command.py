"""``runner debrief`` as a program: what it prints and writes, and what it says of bad input."""

from __future__ import annotations

import json
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from debrief_flights import OPTIONS, SLOW, before_takeoffs
from flying import ANSWERS, fly
from runner.figures.card import WARNING


def debrief(logbook: Path, *more: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "runner", "debrief", "--logbook", str(logbook), *more]
    return subprocess.run(command, capture_output=True, text=True, check=False, timeout=60)


@pytest.fixture(scope="module")
def logbook(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Eight runs of a pilot who is slow with three items."""
    path = tmp_path_factory.mktemp("pilot") / "logbook.sqlite3"
    before_takeoffs(path, 8, seed=3)
    return path


def test_what_matters_stands_at_the_top_in_eighty_columns(logbook: Path) -> None:
    done = debrief(logbook)
    lines = done.stdout.splitlines()
    assert done.returncode == 0
    assert lines[0] == WARNING
    assert lines[2].startswith("Run 8, ")
    assert "17 of 17 items done" in done.stdout
    assert "in 7 flights before it" in " ".join(done.stdout.split())
    assert max(map(len, lines)) <= 80
    assert done.stderr == ""


def test_the_slow_items_are_named_with_their_numbers(logbook: Path) -> None:
    text = " ".join(debrief(logbook).stdout.split())
    found = text[text.index("These 3 items take you") :]
    named = found[: found.index(". ")]
    assert all(item in named for item in SLOW)
    assert "(median of 8 answers)" in found
    assert "From this flight and 7 flights before it." in found
    assert "runner drill whimbrel-four --kind response --list before-takeoff" in found


def test_a_first_flight_bears_no_advice(logbook: Path) -> None:
    done = debrief(logbook, "1")
    assert "None: nothing in the record so far bears any" in done.stdout
    assert "before it" not in done.stdout


def test_two_runs_are_told_side_by_side(logbook: Path) -> None:
    done = debrief(logbook, "8", "--compare", "1")
    assert "Run 8 against run 1" in done.stdout
    assert "items done 17 of 17 17 of 17" in " ".join(done.stdout.split())
    assert "items timed in both" in done.stdout


def test_a_trend_of_few_flights_is_not_told_as_one(logbook: Path) -> None:
    assert "too few to speak of a trend" in debrief(logbook, "7", "--trends").stdout
    assert "in the earlier 4 flights" in " ".join(debrief(logbook, "8", "--trends").stdout.split())


def test_all_of_it_as_json(logbook: Path) -> None:
    plain = json.loads(debrief(logbook, "--json", "-", "--compare", "1", "--trends").stdout)
    assert plain["warning"] == WARNING
    assert plain["run"]["id"] == 8
    assert len(plain["record"]["items"]) == 17
    assert plain["flights_before"] == [7, 6, 5, 4, 3, 2, 1]
    assert len(plain["trend"]) == 8
    assert plain["advice"][0]["ground"]


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (["99"], "no run 99"),
        (["--compare", "99"], "no run 99"),
        (["8", "--compare", "8"], "that is the run itself"),
        (["--html", "/no/such/folder/page.html"], "cannot be written"),
        (["--html", "-"], "name one"),
        (["--readings", "/no/such/file.jsonl"], "--record-feed"),
        (["--readings", __file__], "it is of another run"),
    ],
)
def test_bad_input_is_one_clear_line(logbook: Path, options: list[str], says: str) -> None:
    done = debrief(logbook, *options)
    assert done.returncode == 2
    assert says in done.stderr
    assert len(done.stderr.splitlines()) == 1


def test_where_there_is_no_logbook_none_is_made(tmp_path: Path) -> None:
    missing = tmp_path / "none.sqlite3"
    done = debrief(missing)
    assert done.returncode == 2
    assert "there is no logbook here yet" in done.stderr
    assert not missing.exists()


def test_a_run_that_is_cut_short_and_a_damaged_one(tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite3"
    fly(path, [*ANSWERS[:4], "high blower"], *OPTIONS)
    fly(path, list(ANSWERS), *OPTIONS)
    done = debrief(path, "1")
    assert "ended with items open" in done.stdout
    assert "Blowers, critical" in done.stdout
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute("DELETE FROM summaries")
        connection.execute("DELETE FROM events WHERE run = 1 AND number = 3")
    done = debrief(path, "2")
    assert done.returncode == 0
    assert "Left out" in done.stdout
    assert "run 1 has events missing" in " ".join(done.stdout.split())
    assert debrief(path, "1").returncode == 2


def test_a_run_stepped_by_other_rules_says_so(tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite3"
    fly(path, list(ANSWERS), *OPTIONS)
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute(
            "UPDATE events SET event = json_set(event, '$.rules', 1) WHERE number = 0"
        )
        connection.execute("DELETE FROM summaries")
    done = debrief(path)
    assert done.returncode == 2
    assert "stepped differently (rules 1, now" in done.stderr


def test_a_logbook_that_cannot_be_written_is_read_all_the_same(tmp_path: Path) -> None:
    folder = tmp_path / "disk"
    folder.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=4m", "none", str(folder)]
    if subprocess.run(mount, capture_output=True, check=False).returncode:
        pytest.skip("no file system can be mounted here")
    try:
        path = folder / "logbook.sqlite3"
        fly(path, list(ANSWERS), *OPTIONS)
        fly(path, list(ANSWERS), *OPTIONS)
        with closing(sqlite3.connect(path)) as connection, connection:
            connection.execute("DELETE FROM summaries")
        subprocess.run(["mount", "-o", "remount,ro", str(folder)], check=True)
        done = debrief(path)
        assert done.returncode == 0, done.stderr
        assert "17 of 17 items done" in done.stdout
    finally:
        subprocess.run(["umount", "-l", str(folder)], check=False)


@pytest.mark.parametrize("library", ["matplotlib", "jinja2"])
def test_without_the_libraries_of_the_page_the_summary_is_there(
    logbook: Path, tmp_path: Path, library: str
) -> None:
    (tmp_path / f"{library}.py").write_text(
        f"raise ModuleNotFoundError('not here', name='{library}')"
    )
    program = (
        f"import sys; sys.path.insert(0, {str(tmp_path)!r}); from runner.cli import main; "
        f"sys.exit(main(['debrief', '--logbook', {str(logbook)!r}, *sys.argv[1:]]))"
    )
    plain = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=False
    )
    assert plain.returncode == 0
    page = tmp_path / "page.html"
    done = subprocess.run(
        [sys.executable, "-c", program, "--html", str(page)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 2
    assert f"made with {library}" in done.stderr
    assert "runner-checklists[plot]" in done.stderr
    assert not page.exists()
