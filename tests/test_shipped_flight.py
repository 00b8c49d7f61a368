"""The shipped flight is flown to its end by typed answers, and so is every abnormal list."""

from __future__ import annotations

from pathlib import Path

import pytest

from flying import fly
from shipped_answers import figures, flight_answers, list_answers, shipped

PROCEDURES = shipped()
FIGURES = figures(PROCEDURES)
SECURE = next(phase for phase in PROCEDURES.phases if phase.id == "secure")


def test_the_whole_flight_is_flown_by_voice_alone(tmp_path: Path) -> None:
    said = list(flight_answers(PROCEDURES, FIGURES))
    flown = fly(tmp_path / "logbook.sqlite3", said)
    assert flown.status == 0, flown.lines[-5:]
    assert not [line for line in flown.said if line.startswith("expected")]
    for phase in PROCEDURES.phases:
        for checklist in phase.lists:
            if checklist.kind != "callouts":
                assert any(f"{checklist.title} complete" in line for line in flown.said)


@pytest.mark.parametrize("checklist", PROCEDURES.abnormal, ids=lambda one: one.id)
def test_every_abnormal_list_is_flown_to_its_end_and_hands_back(checklist, tmp_path: Path) -> None:
    call = (
        f"{checklist.title} list" if not checklist.argument else f"{checklist.title} number three"
    )
    answers = [call, *list_answers(checklist, FIGURES), *list_answers(SECURE.lists[0], FIGURES)]
    flown = fly(tmp_path / "logbook.sqlite3", answers, "--phase", "secure")
    assert flown.status == 0, flown.lines[-5:]
    assert not [line for line in flown.said if line.startswith("expected")]
    assert any(f"{checklist.title}" in line and "complete" in line for line in flown.said)
    assert flown.said[-1].startswith("Securing the aircraft complete")
