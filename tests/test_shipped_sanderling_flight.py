"""The shipped light single's procedures are flown by one pilot, to their end, by typed answers."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from flying import fly
from runner.checklist.check import check_files
from runner.checklist.load import load_procedures
from runner.checklist.model import Item, Reading, Spoken, Text, Words
from runner.phrasing.pattern import Pattern, parse
from shipped_answers import figures, flight_answers, list_answers

PROCEDURES = load_procedures("sanderling.yaml")
FIGURES = figures(PROCEDURES)
LAST = PROCEDURES.phases[-1]
LISTS = [one for phase in PROCEDURES.phases for one in phase.lists] + list(PROCEDURES.abnormal)


def words_of(item: Item) -> Words | None:
    response = item.response.words if isinstance(item.response, Reading) else item.response
    return response if isinstance(response, Words) else None


def pattern(text: Text) -> Pattern:
    """A pattern with a word in place of each figure."""
    return parse("".join(p if isinstance(p, str) else "nought" for p in text.parts))


def test_they_are_marked_as_invented_and_for_simulation_only() -> None:
    assert "invented" in PROCEDURES.about.lower()
    assert "manual decides" in " ".join(PROCEDURES.about.split())
    assert "stand on no map" in " ".join(PROCEDURES.scenario.split())


def test_they_load_without_errors_and_without_advice() -> None:
    lines, usable = check_files(["sanderling.yaml", "sanderling-aircraft.yaml"])
    assert usable
    assert lines[-1].endswith("no errors, no advice"), lines


@pytest.mark.parametrize(
    "wanted",
    ["engine-failure", "engine-fire", "carburettor-ice", "electrical-failure", "go-around"],
)
def test_the_usual_abnormal_lists_are_there(wanted: str) -> None:
    assert wanted in {one.id for one in PROCEDURES.abnormal}


def test_nothing_in_them_names_an_engine_by_number() -> None:
    assert not [one.id for one in LISTS if one.argument]


def test_an_answer_says_what_is_and_never_only_that_somebody_looked() -> None:
    for item in (item for one in LISTS for item in one.items):
        words = words_of(item)
        if words is None:
            assert isinstance(item.response, Spoken) or item.who == "pilot"
            continue
        assert words.confusable, item.id
        for said in pattern(words.pattern).texts():
            assert len(said.split()) >= 2, f"{item.id}: {said}"
            assert not re.search(r"\b(checked?|required|verified)\b", said), item.id


def test_the_whole_flight_is_flown_by_voice_alone(tmp_path: Path) -> None:
    said = list(flight_answers(PROCEDURES, FIGURES))
    flown = fly(tmp_path / "logbook.sqlite3", said, "sanderling")
    assert flown.status == 0, flown.lines[-5:]
    assert not [line for line in flown.said if line.startswith("expected")]
    for phase in PROCEDURES.phases:
        for checklist in phase.lists:
            if checklist.kind != "callouts":
                assert any(f"{checklist.title} complete" in line for line in flown.said)


@pytest.mark.parametrize("checklist", PROCEDURES.abnormal, ids=lambda one: one.id)
def test_every_abnormal_list_is_flown_to_its_end_and_hands_back(checklist, tmp_path: Path) -> None:
    answers = [
        f"{checklist.title} list",
        *list_answers(checklist, FIGURES),
        *list_answers(LAST.lists[0], FIGURES),
    ]
    flown = fly(tmp_path / "logbook.sqlite3", answers, "sanderling", "--phase", LAST.id)
    assert flown.status == 0, flown.lines[-5:]
    assert not [line for line in flown.said if line.startswith("expected")]
    assert any(f"{checklist.title} complete" in line for line in flown.said)


def test_a_wrong_answer_is_not_taken(tmp_path: Path) -> None:
    said = list(list_answers(LAST.lists[0], FIGURES))
    flown = fly(
        tmp_path / "logbook.sqlite3",
        ["brake released", *said],
        "sanderling",
        "--phase",
        LAST.id,
    )
    assert any("expected brake set" in line.lower() for line in flown.said), flown.said[:3]
    assert flown.status == 0
