"""FSRS as it is used here, and how an answer is rated."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.practice.rating import AGAIN, EASY, GOOD, HARD, rate
from runner.practice.spacing import LEVELS, Progress, retrievability, reviewed

NOW = datetime(2030, 6, 1, 9, 0, tzinfo=UTC)
ratings = st.lists(st.tuples(st.integers(1, 4), st.integers(1, 40)), min_size=1, max_size=12)


def after(answers: list[tuple[int, int]]) -> Progress:
    """A card after answers, each a rating and the days after the one before."""
    known: Progress | None = None
    at = NOW
    for rating, days in answers:
        at += timedelta(days=days)
        known = reviewed(known, rating, at, right=rating > 1, answer_ms=2000)
    assert known is not None
    return known


class TestSpacing:
    @pytest.mark.memory
    def test_the_published_parameters_give_the_published_first_stabilities(self) -> None:
        # From memory: FSRS-6, default parameters w0 to w3, in days.
        for rating, days in ((1, 0.212), (2, 1.2931), (3, 2.3065), (4, 8.2956)):
            assert after([(rating, 1)]).stability == pytest.approx(days)

    def test_at_its_stability_a_card_is_known_nine_times_in_ten(self) -> None:
        # The definition of stability in FSRS: the days after which recall has fallen to 90 %.
        known = Progress(NOW, NOW, state=2, step=None, stability=10.0, difficulty=5.0)
        assert retrievability(known, NOW + timedelta(days=10)) == pytest.approx(0.9)

    @given(ratings)
    def test_a_stored_card_is_the_card(self, answers: list[tuple[int, int]]) -> None:
        known = after(answers)
        assert Progress.from_json(known.to_json()) == known

    @given(ratings)
    def test_a_better_rating_never_brings_a_card_back_sooner(
        self, answers: list[tuple[int, int]]
    ) -> None:
        known = after(answers)
        at = known.last + timedelta(days=3)
        days = [
            reviewed(known, rating, at, right=rating > 1, answer_ms=2000).due
            for rating in (1, 2, 3, 4)
        ]
        assert days == sorted(days)

    def test_a_wrong_answer_brings_a_card_back_sooner_but_not_within_the_session(self) -> None:
        known = after([(3, 1), (3, 1), (3, 5)])
        assert known.due - known.last > timedelta(days=5)
        missed = reviewed(known, 1, known.due, right=False, answer_ms=9000)
        assert timedelta(days=1) <= missed.due - known.due < timedelta(days=5)
        first = reviewed(None, 1, NOW, right=False, answer_ms=9000)
        assert first.due - NOW == timedelta(days=1)

    @pytest.mark.parametrize(
        "text", ["", "[]", "{}", "null", '{"due": 3}', "\x00", '{"times": [], "state": "x"}']
    )
    def test_what_is_no_card_is_refused(self, text: str) -> None:
        with pytest.raises(ValueError):
            Progress.from_json(text)

    def test_difficulty_grows_with_right_answers_in_a_row_and_falls_at_a_wrong_one(self) -> None:
        known: Progress | None = None
        levels = []
        for day in range(8):
            at = NOW + timedelta(days=day)
            known = reviewed(known, 3, at, right=True, answer_ms=2000)
            levels.append(known.level)
        assert levels == sorted(levels)
        assert (levels[0], levels[-1]) == (0, LEVELS - 1)
        assert known is not None
        missed = reviewed(known, 1, NOW + timedelta(days=9), right=False, answer_ms=1)
        assert missed.level == 0

    def test_an_answer_after_a_hint_makes_nothing_harder(self) -> None:
        known = after([(3, 1)])
        hinted = reviewed(known, 2, NOW, right=True, answer_ms=2000, hinted=True)
        assert hinted.streak == known.streak


def rated(**changes: object) -> int:
    usual: dict[str, object] = {
        "right": True,
        "hints": 0,
        "answer_ms": 3000,
        "past": (3000, 3000, 3000),
        "limit_ms": 12000,
        "streak": 5,
    }
    return rate(**(usual | changes))  # type: ignore[arg-type]


class TestRating:
    def test_wrong_is_again_however_fast(self) -> None:
        assert rated(right=False, answer_ms=1) == AGAIN

    def test_a_hint_of_one_word_is_hard_and_of_more_is_again(self) -> None:
        assert rated(hints=1) == HARD
        assert rated(hints=2) == AGAIN

    def test_time_is_held_against_ones_own_past(self) -> None:
        assert rated(answer_ms=3000) == GOOD
        assert rated(answer_ms=4600) == HARD
        assert rated(answer_ms=2000) == EASY
        assert rated(answer_ms=4600, past=(9000, 9000, 9000)) == EASY

    def test_fast_is_easy_only_after_several_right_answers_in_a_row(self) -> None:
        assert rated(answer_ms=2000, streak=1) == GOOD

    def test_without_a_past_the_time_allowed_decides(self) -> None:
        assert rated(answer_ms=7900, past=()) == GOOD
        assert rated(answer_ms=8100, past=()) == HARD
