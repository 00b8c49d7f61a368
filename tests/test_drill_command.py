"""The whole program drilled on typed answers: every kind, what it keeps, and bad input."""

from __future__ import annotations

import itertools
import json
import os
import re
import sqlite3
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

ENGINE_FIRE = (
    "fully closed",
    "pushed and feathered",
    "idle cut off",
    "handle pulled",
)
"""The memory items of the shipped list, as its file has them."""

TAXI = ("brakes", "nose wheel steering", "turn instruments", "heading indicator")
TAXI_ANSWERS = (
    "holding evenly",
    "steering normally",
    "turning and reading",
    "agrees with compass",
)


@dataclass(frozen=True)
class Drilled:
    """How a drill ended and what it printed."""

    status: int
    lines: list[str]
    errors: str

    @property
    def said(self) -> list[str]:
        return [line.removeprefix("Runner: ") for line in self.lines if line.startswith("Runner: ")]


@pytest.fixture
def logbook(tmp_path: Path) -> Path:
    return tmp_path / "logbook.sqlite3"


def drill(logbook: Path, lines: tuple[str, ...] | list[str] | bytes, *more: str) -> Drilled:
    typed = lines if isinstance(lines, bytes) else "".join(f"{line}\n" for line in lines).encode()
    done = subprocess.run(
        [
            *(sys.executable, "-m", "runner", "drill", "--screen", "plain", "--speak", "none"),
            *("--listen", "text:-", "--clock", "fast", "--logbook", str(logbook)),
            *("--seed", "7", *more),
        ],
        input=typed,
        capture_output=True,
        timeout=60,
        env=os.environ | {"PYTHONUNBUFFERED": "1"},
        check=False,
    )
    assert b"Traceback" not in done.stderr, done.stderr.decode()
    return Drilled(done.returncode, done.stdout.decode().splitlines(), done.stderr.decode())


class TestResponse:
    def test_right_wrong_silent_and_unknown_answers(self, logbook: Path) -> None:
        lines = ["in place", "pins in", "", "mumble mumble", "I don't know"]
        drilled = drill(
            logbook, lines, "--kind", "response", "--list", "walk-round", "--questions", "5"
        )
        assert drilled.status == 0, drilled.errors
        assert drilled.said[0] == "Drill. 0 due, 12 new. Walk-round. Chocks"
        assert drilled.said[1].startswith("right. Walk-round. Gear pins")
        assert drilled.said[2].startswith("expected three removed, heard pins in.")
        assert drilled.said[3].startswith("it is both removed.")
        assert drilled.said[4].startswith("expected lock removed, heard mumble mumble.")
        assert "it is good condition. Drill complete. 1 of 5 right" in drilled.said[5]
        assert "To learn: Walk-round. Gear pins: three removed" in drilled.lines

    def test_hints_are_spoken_first_a_word_then_more(self, logbook: Path) -> None:
        lines = ["in place", "hint", "give me a hint", "three removed"]
        drilled = drill(
            logbook, lines, "--kind", "response", "--list", "walk-round", "--questions", "2"
        )
        assert drilled.said[2:4] == ["three …", "three removed"]
        assert "2 of 2 right" in drilled.said[-1]
        rows = answers(logbook)
        assert [rating for _, rating, _ in rows] == [3, 1]

    def test_each_answer_differs_from_the_one_before(self, logbook: Path) -> None:
        drilled = drill(logbook, ["tell me"] * 100, "--kind", "response", "--questions", "100")
        told = [said for said in drilled.said if said.startswith("it is ")]
        wanted = [said.removeprefix("it is ").partition(".")[0] for said in told]
        assert len(wanted) == 100
        assert not [one for one, other in itertools.pairwise(wanted) if one == other]

    def test_the_answer_is_measured_from_the_end_of_the_question(self, logbook: Path) -> None:
        drill(logbook, ["in place"], "--kind", "response", "--questions", "1")
        # Two words at 365 milliseconds each, on a virtual clock.
        assert [ms for _, _, ms in answers(logbook)] == [730]


def answers(logbook: Path) -> list[tuple[str, int, int]]:
    with sqlite3.connect(logbook) as connection:
        return connection.execute(
            "SELECT card, rating, answer_ms FROM drill_answers ORDER BY drill, number"
        ).fetchall()


class TestNext:
    def test_the_order_of_a_list_from_memory(self, logbook: Path) -> None:
        lines = ["chocks", "the pitot covers", "fuel caps", "fuel caps"]
        drilled = drill(
            logbook, lines, "--kind", "next", "--list", "walk-round", "--questions", "4"
        )
        assert drilled.status == 0, drilled.errors
        asked = re.findall(r"(?:After [^.]+|The first item)$", "\n".join(drilled.said), re.M)
        assert asked[0] == "The first item"
        # What was just named is not asked from next: its name would be the answer's echo.
        assert asked[1] == "After Gear pins"
        assert drilled.said[1].startswith("right. ")
        assert drilled.said[2].startswith("right. ")


class TestNumbers:
    def test_the_figure_of_the_data_card_for_that_load_and_day_is_right(
        self, logbook: Path
    ) -> None:
        asked = drill(logbook, [], "--kind", "numbers", "--questions", "1").said[0]
        weight = re.search(r"[Gg]ross weight (\d+) lb", asked)
        flap = re.search(r"take-off flap (\w+)", asked)
        assert weight and flap and "Rotation speed, within" in asked
        card = subprocess.run(
            [
                *(sys.executable, "-m", "runner", "card", "--format", "json"),
                *("--set", f"gross_weight={weight[1]}lb", "--set", f"takeoff_flap={flap[1]}"),
            ],
            capture_output=True,
            check=True,
            timeout=60,
        )
        figure = round(_figure(json.loads(card.stdout), "rotate_speed"))
        for value, right in ((figure, 1), (figure + 5, 1), (figure + 7, 0), (figure - 7, 0)):
            book = logbook.with_name(f"{value}.sqlite3")
            drilled = drill(book, [str(value)], "--kind", "numbers", "--questions", "1")
            assert f"{right} of 1 right" in drilled.said[-1], (value, drilled.said)
            if not right:
                assert f"expected {figure} kt, heard {value} kt" in drilled.said[-1]


def _figure(plain: object, name: str) -> float:
    if isinstance(plain, dict):
        if plain.get("name") == name:
            return float(plain["value"])
        if name in plain:
            found = plain[name]
            return float(found["value"] if isinstance(found, dict) else found)
        plain = list(plain.values())
    if isinstance(plain, list):
        for one in plain:
            try:
                return _figure(one, name)
            except KeyError:
                continue
    raise KeyError(name)


class TestWrong:
    def test_wrong_answers_are_caught_and_right_ones_let_pass(self, logbook: Path) -> None:
        silent = drill(logbook, [""] * 12, "--kind", "wrong", "--questions", "12")
        was_wrong = [said.startswith("that was wrong") for said in silent.said[1:]]
        assert 2 <= sum(was_wrong) <= 10
        book = logbook.with_name("other.sqlite3")
        lines = [
            "I disagree" if wrong else ("check", "")[n % 2] for n, wrong in enumerate(was_wrong)
        ]
        caught = drill(book, lines, "--kind", "wrong", "--questions", "12")
        assert "12 of 12 right" in caught.said[-1]
        book = logbook.with_name("third.sqlite3")
        never = drill(book, ["I disagree"] * 12, "--kind", "wrong", "--questions", "12")
        assert f"{sum(was_wrong)} of 12 right" in never.said[-1]

    def test_a_hint_is_the_right_answers_first_word(self, logbook: Path) -> None:
        drilled = drill(logbook, ["hint", "check"], "--kind", "wrong", "--questions", "1")
        assert re.match(r"Drill\. .*\. Walk-round\. Chocks, ", drilled.said[0])
        assert drilled.said[1] == "in …"


class TestMemory:
    def test_the_items_in_order_from_memory_against_the_clock(self, logbook: Path) -> None:
        drilled = drill(
            logbook, ENGINE_FIRE, "--kind", "memory", "--list", "engine-fire", "--questions", "1"
        )
        assert drilled.status == 0, drilled.errors
        assert re.match(
            r"Drill. 0 due, 1 new. Engine fire, engine \d. Memory items", drilled.said[0]
        )
        assert re.match(r"right. \d+ seconds, allowed 32. Drill complete. 1 of 1", drilled.said[1])

    def test_items_in_the_wrong_order_are_told_and_not_right(self, logbook: Path) -> None:
        lines = [ENGINE_FIRE[1], ENGINE_FIRE[1], ENGINE_FIRE[2], ENGINE_FIRE[3]]
        drilled = drill(
            logbook, lines, "--kind", "memory", "--list", "engine-fire", "--questions", "1"
        )
        assert "heard pushed and feathered" in drilled.said[1]
        assert drilled.said[1].startswith("expected Throttle, engine")
        assert "0 of 1 right" in drilled.said[-1]

    def test_who_was_told_one_is_asked_for_the_next(self, logbook: Path) -> None:
        lines = ["mumble", *ENGINE_FIRE[1:]]
        drilled = drill(
            logbook, lines, "--kind", "memory", "--list", "engine-fire", "--questions", "1"
        )
        assert drilled.said[1].endswith("heard mumble. And then")
        assert "0 of 1 right" in drilled.said[2]

    def test_who_is_too_slow_is_told_and_rated_hard(self, logbook: Path) -> None:
        lines = [*ENGINE_FIRE[:3], "", *ENGINE_FIRE]
        late = drill(
            logbook, lines, "--kind", "memory", "--list", "engine-fire", "--questions", "1"
        )
        assert "it is Firewall shut-off" in " ".join(late.said)
        assert "0 of 1 right" in late.said[-1]


class TestFlow:
    def test_a_flow_named_whole_is_then_verified_by_the_list(self, logbook: Path) -> None:
        lines = [*TAXI, "flow complete", *TAXI_ANSWERS]
        drilled = drill(logbook, lines, "sanderling", "--kind", "flow", "--questions", "1")
        assert drilled.status == 0, drilled.errors
        assert drilled.said[0].endswith("Taxi out, from memory")
        assert "none missed. Now verify" in drilled.said
        assert [said for said in drilled.said if "Brakes" in said][-1].endswith("Brakes")
        assert "1 of 1 right" in drilled.said[-1]

    def test_what_was_missed_or_out_of_order_is_named(self, logbook: Path) -> None:
        lines = [TAXI[2], TAXI[0], "flow complete", *TAXI_ANSWERS]
        drilled = drill(logbook, lines, "sanderling", "--kind", "flow", "--questions", "1")
        told = next(said for said in drilled.said if said.startswith("missed"))
        assert told == (
            "missed: Nose wheel steering; Heading indicator. Not in order: Brakes. Now verify"
        )
        assert "0 of 1 right" in drilled.said[-1]

    def test_a_wrong_answer_in_the_verification_counts(self, logbook: Path) -> None:
        lines = [*TAXI, "flow complete", "no pressure", *TAXI_ANSWERS]
        drilled = drill(logbook, lines, "sanderling", "--kind", "flow", "--questions", "1")
        assert any("expected holding evenly, heard no pressure" in said for said in drilled.said)
        assert "0 of 1 right" in drilled.said[-1]


class TestMixedAndKept:
    def test_kinds_take_turns_and_every_answer_is_kept(self, logbook: Path) -> None:
        drilled = drill(logbook, ["I don't know"] * 60, "sanderling", "--questions", "5")
        assert drilled.status == 0, drilled.errors
        rows = answers(logbook)
        assert len(rows) == 5
        assert len({card.split("/")[1] for card, _, _ in rows}) >= 4
        assert all(card.startswith("sanderling/") for card, _, _ in rows)

    def test_what_was_missed_is_due_again_and_comes_before_anything_new(
        self, logbook: Path
    ) -> None:
        kind = ("--kind", "response", "--list", "walk-round")
        drill(logbook, ["pins in"] * 3, *kind, "--questions", "3")
        make_due(logbook)
        due = drill(logbook, [], *kind, "--due")
        assert due.lines == ["Whimbrel Four, mail run: 3 due, 9 new"]
        again = drill(logbook, ["hint"] * 9, *kind, "--questions", "4")
        assert again.said[0].startswith("Drill. 3 due, 9 new. ")
        asked = [card for card, _, _ in answers(logbook)]
        more = drill(logbook, ["tell me"] * 4, *kind, "--questions", "4")
        assert more.status == 0
        assert set([card for card, _, _ in answers(logbook)][len(asked) :][:3]) == set(asked[:3])

    def test_what_is_due_is_told_by_kind_and_when_the_next_comes(self, logbook: Path) -> None:
        drill(logbook, ["tell me"] * 2, "--list", "walk-round", "--questions", "2")
        told = drill(logbook, [], "--list", "walk-round", "--due").lines
        assert re.match(r"Whimbrel Four, mail run: 0 due, \d+ new$", told[0])
        counts = {line.split(":")[0].strip(): line for line in told[1:-1]}
        assert set(counts) == {"response", "next", "wrong", "flow"}
        assert told[-1].startswith("The next is due on ")
        make_due(logbook)
        told = drill(logbook, [], "--list", "walk-round", "--due").lines
        assert ": 2 due, " in told[0]
        assert sum(" 1 due, " in line for line in told[1:]) == 2
        assert not told[-1].startswith("The next")

    def test_a_file_of_other_procedures_has_cards_of_its_own(self, logbook: Path) -> None:
        drill(logbook, ["x"] * 3, "--kind", "response", "--questions", "3")
        make_due(logbook)
        other = drill(logbook, [], "sanderling", "--kind", "response", "--due")
        assert ": 0 due, " in other.lines[0]

    def test_minutes_end_a_drill(self, logbook: Path) -> None:
        drilled = drill(logbook, [""] * 500, "--kind", "response", "--minutes", "2")
        assert drilled.status == 0
        # Fifteen seconds of silence and a question of a few words each, on a virtual clock.
        assert 5 <= len(answers(logbook)) <= 9


def make_due(logbook: Path) -> None:
    """Turn the clock: all cards in the file come back now."""
    with sqlite3.connect(logbook) as connection:
        for card, state in connection.execute("SELECT card, state FROM cards").fetchall():
            plain = json.loads(state) | {"due": "2020-01-01T00:00:00+00:00"}
            connection.execute(
                "UPDATE cards SET due = 0, state = ? WHERE card = ?", (json.dumps(plain), card)
            )


class TestBadInput:
    @pytest.mark.parametrize(
        ("arguments", "told"),
        [
            (["nowhere.yaml"], "nowhere"),
            (["--list", "no-such-list"], "has no such list; it has"),
            (["--phase", "no-such-phase"], "has no such phase; it has"),
            (["--questions", "-1"], "--questions -1"),
            (["--questions", "99999"], "--questions 99999"),
            (["--minutes", "-2"], "--minutes -2"),
            (["--minutes", "nan"], "--minutes nan"),
            (["--kind", "memory", "--list", "walk-round"], "nothing of this kind to drill"),
            (["--listen", "telepathy"], "there is no such way to listen"),
            (["--listen", "text:"], "names no file"),
            (["--listen", "text:/nowhere/answers.txt"], "cannot be read"),
            (["--set", "gross_weight=1lb"], "gross_weight"),
            (["--set", "nonsense"], "say it as name=value"),
            (["--kind", "everything"], "invalid choice"),
        ],
    )
    def test_one_line_says_what_is_wrong(
        self, logbook: Path, arguments: list[str], told: str
    ) -> None:
        drilled = drill(logbook, [], *arguments)
        assert drilled.status == 2
        assert told in drilled.errors
        if "invalid choice" not in told:
            assert len(drilled.errors.strip().splitlines()) == 1

    def test_a_logbook_that_is_none_is_refused_in_one_line(self, tmp_path: Path) -> None:
        book = tmp_path / "logbook.sqlite3"
        book.write_bytes(b"this is no database, whatever its name says" * 99)
        drilled = drill(book, ["x"], "--questions", "1")
        assert drilled.status == 2
        assert len(drilled.errors.strip().splitlines()) == 1

    def test_a_logbook_that_cannot_be_written_is_told_and_the_drill_goes_on(
        self, tmp_path: Path
    ) -> None:
        (tmp_path / "file").write_text("in the way")
        book = tmp_path / "file" / "logbook.sqlite3"
        drilled = drill(book, ["in place"], "--kind", "response", "--questions", "1")
        assert drilled.status == 0, drilled.errors
        assert any("what is learned now is not kept" in line for line in drilled.lines)
        assert "1 of 1 right" in drilled.said[-1]

    def test_a_card_that_cannot_be_read_begins_anew(self, logbook: Path) -> None:
        kind = ("--kind", "response", "--list", "walk-round")
        drill(logbook, ["in place"], *kind, "--questions", "1")
        with sqlite3.connect(logbook) as connection:
            connection.execute("UPDATE cards SET state = '{\"due\": 3}'")
        drilled = drill(logbook, ["in place"], *kind, "--questions", "1")
        assert drilled.status == 0
        assert any("1 cards of the logbook cannot be read" in line for line in drilled.lines)
        assert "0 due, 12 new" in " ".join(drilled.said)

    def test_bytes_that_are_no_text_are_an_answer_like_any_other(self, logbook: Path) -> None:
        drilled = drill(logbook, b"\xff\xfe\x00\nin place\n" * 3, "--questions", "2")
        assert drilled.status in (0, 1)

    def test_an_input_that_ends_stops_the_drill_and_keeps_what_was_answered(
        self, logbook: Path
    ) -> None:
        drilled = drill(logbook, ["in place"], "--kind", "response", "--questions", "9")
        assert drilled.status == 1
        assert "Drill stopped. 1 of 1 right" in drilled.said[-1]
        assert len(answers(logbook)) == 1
