"""The order of cards: due before new, all of them, and equal answers kept apart."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from itertools import pairwise, permutations, product

from hypothesis import given, settings
from hypothesis import strategies as st

from runner.practice.queue import Waiting, arrange, pick, tiers
from runner.practice.spacing import Progress, reviewed

NOW = datetime(2030, 6, 1, 9, 0, tzinfo=UTC)


def cards(answers: str, prefix: str = "") -> list[Waiting]:
    return [Waiting(f"{prefix}{number}", answer) for number, answer in enumerate(answers)]


def clashes(order: list[Waiting]) -> int:
    return sum(a.answer == b.answer for a, b in pairwise(order))


def fewest(*groups: list[Waiting]) -> int:
    """The fewest equal neighbours of any order that keeps the groups in order."""
    orders = product(*(permutations(group) for group in groups))
    return min(clashes([one for group in order for one in group]) for order in orders)


few = st.text("abc", max_size=4)


class TestEqualAnswersAreKeptApart:
    @settings(max_examples=300)
    @given(st.text("abcd", max_size=6))
    def test_no_order_of_one_tier_keeps_them_further_apart(self, answers: str) -> None:
        waiting = cards(answers)
        assert clashes(arrange([waiting])) == fewest(waiting)

    @settings(max_examples=300)
    @given(few, few)
    def test_nor_of_due_and_new_together(self, due: str, new: str) -> None:
        groups = cards(due, "due"), cards(new, "new")
        assert clashes(arrange(groups)) == fewest(*groups)

    @settings(max_examples=100)
    @given(st.text("ab", max_size=3), st.text("ab", max_size=3), st.text("ab", max_size=3))
    def test_nor_of_all_three_tiers(self, due: str, new: str, early: str) -> None:
        groups = cards(due, "due"), cards(new, "new"), cards(early, "early")
        assert clashes(arrange(groups)) == fewest(*groups)

    @given(st.text("abc", min_size=1, max_size=6), st.sampled_from("abc"))
    def test_the_answer_just_given_counts_too(self, answers: str, last: str) -> None:
        before = Waiting("before", last)
        waiting = cards(answers)
        assert clashes([before, *arrange([waiting], before)]) == min(
            clashes([before, *order]) for order in permutations(waiting)
        )

    def test_what_is_most_due_comes_first_where_nothing_clashes(self) -> None:
        waiting = cards("abcabc")
        assert arrange([waiting]) == waiting

    def test_two_lists_that_ask_for_the_same_thing_are_kept_apart_where_it_costs_nothing(
        self,
    ) -> None:
        waiting = [
            Waiting("1", "half open", "cowl flaps"),
            Waiting("2", "fully open", "cowl flaps"),
            Waiting("3", "full cold", "carburettor heat"),
        ]
        assert [one.card for one in arrange([waiting])] == ["1", "3", "2"]


class TestTheOrderOfTiers:
    @given(few, few, few)
    def test_every_card_is_given_once_and_due_ones_before_new_ones(
        self, due: str, new: str, early: str
    ) -> None:
        groups = cards(due, "due"), cards(new, "new"), cards(early, "early")
        order = arrange(groups)
        assert sorted(one.card for one in order) == sorted(
            one.card for group in groups for one in group
        )
        kinds = [one.card.rstrip("0123456789") for one in order]
        assert kinds == sorted(kinds, key=["due", "new", "early"].index)

    def test_nothing_waits_gives_nothing(self) -> None:
        assert pick([[], []], None) is None

    @given(st.lists(st.sampled_from([None, -2, -1, 0, 1, 5]), max_size=12))
    def test_a_card_is_due_from_its_time_on_and_new_before_its_first_answer(
        self, days: list[int | None]
    ) -> None:
        deck = cards("a" * len(days))
        known = {
            deck[place].card: Progress(NOW + timedelta(days=day), NOW - timedelta(days=9))
            for place, day in enumerate(days)
            if day is not None
        }
        due, new, early = tiers(deck, known, NOW)
        assert {one.card for one in new} == {one.card for one in deck} - set(known)
        assert all(known[one.card].due <= NOW for one in due)
        assert all(known[one.card].due > NOW for one in early)
        assert len(due) + len(new) + len(early) == len(deck)

    def test_of_those_due_the_least_surely_known_comes_first(self) -> None:
        deck = cards("abc")
        begun = NOW - timedelta(days=30)
        known = {}
        for card, rating in zip(deck, (4, 1, 3), strict=True):
            known[card.card] = reviewed(None, rating, begun, right=True, answer_ms=1000)
        due, _, _ = tiers(deck, known, NOW)
        assert [one.card for one in due] == ["1", "2", "0"]

    def test_two_cards_taken_for_each_other_are_not_begun_together(self) -> None:
        deck = [
            Waiting("1", "half open", twin="cowl flaps"),
            Waiting("2", "fully open", twin="cowl flaps"),
            Waiting("3", "full cold", twin="carburettor heat"),
        ]
        assert [one.card for one in tiers(deck, {}, NOW)[1]] == ["1", "3", "2"]
        unsure = {"1": Progress(NOW, NOW, stability=2.0)}
        assert [one.card for one in tiers(deck, unsure, NOW)[1]] == ["3", "2"]
        sure = {"1": Progress(NOW, NOW, stability=9.0)}
        assert [one.card for one in tiers(deck, sure, NOW)[1]] == ["2", "3"]
