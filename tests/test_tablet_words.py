"""What the page of the second screen is told, in words."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from runner.engine.view import HeardView, MemberView, View
from runner.screen.wording import plain_text
from runner.tablet.guard import host_of, plain_address, same_page
from runner.tablet.words import heard, parts_of, question_of, wanted, who_is_to_answer
from screen_views import abnormal, choosing, finished_open, mid_list, offering, waiting

ROWAN = MemberView("Rowan", ("captain",))
HAZEL = MemberView("Hazel", ("flight engineer",))


@pytest.mark.parametrize(
    ("view", "large", "below"),
    [
        (mid_list(), "Blowers?", "Answer low blower, critical"),
        (choosing(), "Runway surface?", "Choose dry, wet or icy, critical"),
        (offering(), "Flaps up, after take-off list?", "Answer yes or no"),
        (waiting(), "Next, tank change", "Say its name to begin it."),
        (replace(mid_list(), standing_by=True), "Blowers?", "Standing by. Say “continue”."),
        (
            finished_open(),
            "2 items left open",
            "Gust lock: lock in place; Pitot covers: both fitted.",
        ),
        (replace(finished_open(), open_items=(), complete=True), "Complete", ""),
    ],
)
def test_what_is_asked_and_wanted_is_told_without_the_keys_of_a_keyboard(
    view: View, large: str, below: str
) -> None:
    assert parts_of(view)["asked"] == large
    assert plain_text(wanted(view)) == below


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({}, "To answer: flight engineer."),
        (
            {
                "crew": (ROWAN, replace(HAZEL, answers=True)),
                "role_wanted": "flight engineer",
            },
            "To answer: Hazel, flight engineer.",
        ),
        (
            {"crew": (replace(ROWAN, answers=True), replace(HAZEL, answers=True))},
            "To answer: Rowan and Hazel, flight engineer.",
        ),
        (
            {"crew": (ROWAN,), "role_wanted": "flight engineer"},
            "To answer: flight engineer; nobody here has this role.",
        ),
        ({"standing_by": True}, ""),
    ],
)
def test_who_is_to_answer_is_told_by_name_in_a_crew_and_by_role_alone(
    changes: dict[str, object], told: str
) -> None:
    assert plain_text(who_is_to_answer(replace(mid_list(), **changes))) == told  # type: ignore[arg-type]


def test_what_was_heard_names_who_said_it() -> None:
    assert plain_text(heard(None)) == ""
    assert plain_text(heard(HeardView("low", "right", 1))) == "Heard “low”: right."
    told = plain_text(heard(HeardView("low", "right", 1, "Hazel")))
    assert told == "Heard from Hazel “low”: right."
    assert plain_text(heard(HeardView("", "nothing heard", 1, "Hazel"))) == "Hazel: nothing heard."


def test_every_part_can_be_sent_and_states_are_words() -> None:
    parts = json.loads(json.dumps(parts_of(abnormal())))
    told = ["".join(words for words, _ in text) for text, _ in parts["items"]]
    assert told[2] == "Feather button, engine 3: pressed and feathering, done"
    assert told[3] == "Mixture, engine 3: idle cut off, now, critical, from memory"
    assert [now for _, now in parts["items"]].count(True) == 1
    assert json.loads(json.dumps(parts_of(View("", ""))))["items"] == []


def test_a_key_is_about_another_question_once_anything_else_is_asked() -> None:
    question = question_of(mid_list())
    assert question == question_of(replace(mid_list(), at=99_000, muted=True, last_said="x"))
    for other in (
        waiting(),
        replace(mid_list(), current=mid_list().list.items[6]),  # type: ignore[union-attr]
        replace(mid_list(), standing_by=True),
        replace(mid_list(), finished=True),
    ):
        assert question_of(other) != question


@pytest.mark.parametrize(
    ("asked_for", "host"),
    [
        (["LOCALHOST:8000"], "localhost:8000"),
        (["[::1]:8000"], "[::1]:8000"),
        (["192.168.1.5"], "192.168.1.5"),
        (["192.168.1.6"], ""),
        (["localhost.attacker.example"], ""),
        (["localhost", "localhost"], ""),
        ([], ""),
        (["localhost:8000; script-src *"], ""),
        (["localhost:123456"], ""),
    ],
)
def test_only_this_machines_names_are_answered_to(asked_for: list[str], host: str) -> None:
    names = ("localhost", "::1", "::ffff:192.168.1.5")
    assert host_of(asked_for, names) == host


def test_only_the_page_itself_may_open_the_link() -> None:
    assert same_page(["http://localhost:8000"], "localhost:8000")
    for origins in ([], ["null"], ["http://localhost"], ["http://localhost:8000"] * 2):
        assert not same_page(origins, "localhost:8000")
    assert plain_address("::ffff:10.0.0.1") == "10.0.0.1"
