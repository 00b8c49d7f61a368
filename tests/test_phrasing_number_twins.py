"""Which numbers are easily heard for one another (common practice: why radio digits are as they
are; the pairs in which "-ty" is a "two" were heard so in engine noise)."""

from __future__ import annotations

from runner.phrasing.number_twins import twins, twos


def test_twins_differ_by_the_ending_of_one_word_or_lack_the_first_or_the_last() -> None:
    assert set(twins("fifteen thousand")) == {
        "fifty thousand",
        "five thousand",
        "fifteen",
        "thousand",
    }
    assert set(twins("six")) == {"sixteen", "sixty"}


def test_a_ty_before_a_digit_may_be_a_two_and_a_two_a_ty() -> None:
    assert twos("ninety six") == ("nine two six",)
    assert twos("nine two six") == ("ninety six",)
    assert twos("one twenty five") == ("one two two five",)
    assert set(twos("nine two six")) < set(twins("nine two six"))


def test_there_is_no_such_twin_without_a_digit_after_it_or_before_the_two() -> None:
    assert twos("ninety") == twos("nine two") == twos("two six") == ()
    assert twos("one two six") == twos("zero two six") == twos("twenty fifty") == ()
