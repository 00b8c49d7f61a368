"""States are told by words first: without any style nothing is lost."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from textual.content import Content

import screen_views
from runner.engine.view import ItemView, PhaseView
from runner.screen.calling import find_call, matching, split_argument
from runner.screen.exchange import without_challenge
from runner.screen.items import first_line
from runner.screen.letters import letters
from runner.screen.panel import wrapped
from runner.screen.wording import (
    and_list,
    answer_text,
    challenge_words,
    heard_text,
    item_text,
    list_lead,
    microphone_words,
    phases_text,
    plain_text,
    sentence,
)

ITEM = ItemView("blowers", "Blowers", "low blower", "waiting")


@pytest.mark.parametrize(
    ("status", "words"),
    [
        ("waiting", "Blowers: low blower"),
        ("current", "Blowers: low blower, now"),
        ("done", "Blowers: low blower, done"),
        ("left open", "Blowers: low blower, left open"),
        ("not applicable", "Blowers: low blower, not applicable"),
        ("ask again", "Blowers: low blower, to be asked again"),
    ],
)
def test_each_state_has_its_words(status: str, words: str) -> None:
    assert plain_text(item_text(replace(ITEM, status=status))) == words  # type: ignore[arg-type]


def test_answer_other_than_the_canonical_one_is_told() -> None:
    done = replace(ITEM, status="done", answered="four in low")
    assert plain_text(item_text(done)) == "Blowers: low blower, done, answered four in low"
    same = replace(ITEM, status="done", answered="Low blower")
    assert plain_text(item_text(same)) == "Blowers: low blower, done"


def test_critical_item_that_was_left_open_says_so() -> None:
    left = replace(ITEM, status="left open", critical=True)
    assert plain_text(item_text(left)).endswith("left open, critical")


def test_item_without_a_response_is_its_challenge() -> None:
    assert plain_text(item_text(replace(ITEM, response=""))) == "Blowers"


def test_abnormal_list_names_itself_and_what_waits() -> None:
    assert plain_text(list_lead(screen_views.abnormal())) == (
        "Abnormal: Engine fire, engine 3, 3 of 9 done. "
        "Waiting underneath: Climb power, at Cowl flaps."
    )


def test_two_lists_wait_underneath() -> None:
    view = replace(screen_views.abnormal(), interrupted=("Climb power, at Gear", "Carburettor ice"))
    assert plain_text(list_lead(view)).endswith(
        "Waiting underneath: Climb power, at Gear; Carburettor ice."
    )


def test_items_that_do_not_apply_are_not_counted() -> None:
    view = screen_views.mid_list()
    assert view.list is not None
    rows = tuple(
        replace(item, status="not applicable") if item.id == "cowl-flaps" else item
        for item in view.list.items
    )
    lead = plain_text(list_lead(replace(view, list=replace(view.list, items=rows))))
    assert lead == "Before take-off, 4 of 15 done."


@pytest.mark.parametrize("width", [60, 76, 110, 300])
@pytest.mark.parametrize("current", range(18))
def test_phases_fit_one_line_and_name_the_current_one(current: int, width: int) -> None:
    text = plain_text(phases_text(screen_views.phases(current), width))
    assert len(text) <= width
    assert screen_views.PHASE_NAMES[current].lower() in text
    assert f"phase {current + 1} of 18" in text


def test_phase_left_open_is_named() -> None:
    phases = (PhaseView("taxi", "Taxi", "left open"), PhaseView("climb", "Climb", "current"))
    assert "Taxi left open." in plain_text(phases_text(phases, 76))


def test_all_phases_done() -> None:
    phases = tuple(replace(phase, status="done") for phase in screen_views.phases(0))
    assert plain_text(phases_text(phases, 76)) == "All phases done."


def test_answer_wanted_names_who_answers() -> None:
    wanted = plain_text(answer_text(screen_views.mid_list()))
    assert wanted == "Flight engineer answers low blower"


def test_number_wanted_without_a_known_answer() -> None:
    view = screen_views.mid_list()
    assert view.current is not None
    view = replace(view, current=replace(view.current, response=""), wants_number=True)
    assert plain_text(answer_text(view)) == "Say or type a number"


@pytest.mark.parametrize(
    ("activity", "wanted"),
    [
        ("asking", "Flight engineer answers low blower"),
        ("offering", "Answer yes or no"),
        ("asking which engine", "Say or press the engine’s number"),
        ("confirming the engine", "Answer yes or no, or the right engine"),
        (
            "waiting for a list to be called",
            "Say its name or press y to begin it; press l for others.",
        ),
        (
            "waiting for the flow",
            "Do it from memory, then say “flow complete” or press space.",
        ),
        ("briefing", "Then say “briefing complete” or press space."),
        ("paused", "Paused"),
    ],
)
def test_what_is_wanted_follows_what_is_asked(activity: str, wanted: str) -> None:
    view = replace(screen_views.mid_list(), activity=activity)
    assert plain_text(answer_text(view)) == wanted


def test_item_that_is_read_and_done_is_not_answered() -> None:
    view = screen_views.mid_list()
    assert view.list is not None
    view = replace(view, list=replace(view.list, kind="read and do"))
    assert plain_text(answer_text(view)) == "Do low blower, then say “done”"
    said = replace(view, prompt="Blowers, low blower")
    assert challenge_words(said) == "Blowers"


@pytest.mark.parametrize(
    ("said", "rest"),
    [
        ("Blowers?", ""),
        ("Blowers", ""),
        ("Before take-off checklist. Blowers", "Before take-off checklist."),
        ("Mixtures, auto rich.", "Mixtures, auto rich."),
        ("", ""),
    ],
)
def test_challenge_is_not_shown_twice(said: str, rest: str) -> None:
    assert without_challenge(said, "Blowers?") == rest


def test_judgement_is_a_sentence() -> None:
    heard = heard_text(screen_views.wrong_answer().heard)
    assert plain_text(heard) == "Heard “high blower”: asked again."
    assert plain_text(heard_text(None)) == ""


@pytest.mark.parametrize(
    ("dbfs", "word"), [(-60, "very faint"), (-40, "faint"), (-20, "good level"), (-1, "too loud")]
)
def test_level_is_a_word(dbfs: float, word: str) -> None:
    words = microphone_words(dbfs, "hearing speech")
    assert words == f"Microphone open, hearing speech, {word}"


def test_unknown_microphone_state_is_shown_as_it_comes() -> None:
    assert microphone_words(-20, "held for push-to-talk") == "Held for push-to-talk"
    assert microphone_words(-20, "") == ""


@pytest.mark.parametrize(
    ("names", "phrase"),
    [((), ""), (("a",), "a"), (("a", "b"), "a and b"), (("a", "b", "c"), "a, b and c")],
)
def test_names_become_a_phrase(names: tuple[str, ...], phrase: str) -> None:
    assert and_list(names) == phrase


@given(st.text())
def test_sentence_ends_with_a_mark(text: str) -> None:
    result = sentence(text)
    assert result == "" or result[-1] in ".?!:"


@pytest.mark.parametrize(
    ("typed", "split"),
    [
        ("engine fire 3", ("engine fire", "3")),
        ("engine fire, number 3", ("engine fire", "3")),
        ("engine fire engine 3", ("engine fire", "3")),
        ("fire3", ("fire", "3")),
        ("engine fire", ("engine fire", "")),
        ("engine 3", ("engine", "3")),
        ("", ("", "")),
    ],
)
def test_engine_number_behind_a_name(typed: str, split: tuple[str, str]) -> None:
    assert split_argument(typed) == split


def test_lists_are_found_by_parts_of_their_words() -> None:
    lists = screen_views.CALLABLE
    assert [title for _, title, _ in matching(lists, "take")] == [
        "Before take-off",
        "Rejected take-off",
    ]
    assert len(matching(lists, "abnormal")) == 8
    assert len(matching(lists, "")) == len(lists)


def test_full_title_wins_over_a_longer_one() -> None:
    lists = (("cruise", "Cruise", False), ("cruise-2", "Cruise 2", False))
    call = find_call(lists, "cruise")
    assert call is not None
    assert call.id == "cruise"
    call = find_call(lists, "Cruise 2")
    assert call is not None
    assert (call.id, call.argument) == ("cruise-2", "")
    assert find_call(lists, "cr") is None


def test_letters_are_three_rows_of_the_same_width() -> None:
    rows = letters("Blowers?", 76, 1)
    assert len(rows) == 3
    assert len({len(row) for row in rows}) == 1
    assert 0 < len(rows[0]) <= 76


def test_letters_take_a_second_line_where_one_is_allowed() -> None:
    assert letters("Flaps up, after take-off list?", 72, 1) == []
    assert len(letters("Flaps up, after take-off list?", 72, 2)) == 7


def test_two_lines_of_letters_are_about_equally_long() -> None:
    rows = letters("Flaps up, after take-off list?", 110, 2)
    first, second = rows[0], rows[4]
    assert abs(len(first.rstrip()) - len(second.rstrip())) < 25


def test_what_has_no_large_form_is_not_drawn_large() -> None:
    assert letters("Höhenmesser?", 300, 2) == []
    assert letters("", 300, 2) == []


@given(st.integers(1, 60), st.integers(1, 30), st.data())
def test_current_line_is_always_in_view(total: int, height: int, data: st.DataObject) -> None:
    current = data.draw(st.integers(0, total - 1))
    top = first_line(current, total, height)
    assert 0 <= top <= current < top + height


@given(st.text(st.characters(codec="ascii", categories=("L", "Zs")), max_size=80))
def test_no_word_is_lost_in_wrapping(text: str) -> None:
    lines: list[Content] = wrapped(((text, "bold"),), 12, indent=2, hang=2)
    assert "".join(line.plain for line in lines).replace(" ", "") == text.replace(" ", "")


def test_value_is_not_parted_from_its_unit() -> None:
    lines = wrapped((("speed 104\N{NO-BREAK SPACE}kt", ""),), 10)
    assert [line.plain.strip() for line in lines] == ["speed", "104 kt"]
