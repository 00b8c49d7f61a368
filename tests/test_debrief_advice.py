"""Advice needs enough of a record, carries its numbers, and is not drawn from chance."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace

import pytest

from runner.debrief.advice import ENOUGH_READINGS, Advice, advise
from runner.debrief.comparison import compare, trend_words
from runner.debrief.past import ItemPast, Past, RunTold
from runner.debrief.record import Held, ItemRecord, Record, Try

EMPTY = Record("", "Sandpiper Two", "Sandpiper", 60_000, True, True, (), (), (), (), ())


def item(
    number: int, answer_ms: int | None = 1000, *tries: Try, status: str = "done"
) -> ItemRecord:
    return ItemRecord(
        f"list.item-{number}", "list", f"Item {number}", status, answer_ms=answer_ms, tries=tries
    )


def record(*items: ItemRecord, held: tuple[Held, ...] = ()) -> Record:
    return replace(EMPTY, items=items, held=held)


def past(runs: int, times: dict[int, Sequence[int]], **counts: int) -> Past:
    items = {
        f"list.item-{number}": ItemPast(f"Item {number}", list(each), asked=runs)
        for number, each in times.items()
    }
    for name, count in counts.items():
        setattr(items["list.item-0"], name, count)
    return Past(tuple(range(runs)), items)


def advised(this: Record, before: Past, due: int = 0) -> tuple[Advice, ...]:
    return advise(this, before, due, "sandpiper")


def usual(runs: int) -> dict[int, Sequence[int]]:
    return {number: [1000] * runs for number in range(12)}


def test_the_factor_is_that_of_the_medians() -> None:
    times = usual(9) | {0: [4000] * 9, 1: [4200] * 9, 2: [3900] * 9}
    this = record(item(0, 4000), item(1, 4200), item(2, 3900), *map(item, range(3, 12)))
    (one,) = advised(this, past(9, times))
    assert one.text == (
        "These 3 items take you 4.0 times as long as the rest: Item 1, Item 0 and Item 2."
    )
    assert "Item 1 4.2 s (median of 10 answers)" in one.ground
    assert "the other 9 items 1.0 s (of 90 answers)" in one.ground
    assert "this flight and 9 flights before it" in one.ground


@pytest.mark.parametrize(
    ("runs", "slow", "why"),
    [
        (3, 9000, "four answers are too few"),
        (9, 1900, "less than twice the rest"),
    ],
)
def test_an_item_is_not_called_slow_too_early(runs: int, slow: int, why: str) -> None:
    times = usual(runs) | {0: [slow] * runs}
    this = record(item(0, slow), *map(item, range(1, 12)))
    assert advised(this, past(runs, times)) == (), why


def test_few_other_items_are_no_rest_to_hold_against() -> None:
    times = {number: [1000] * 9 for number in range(7)} | {0: [9000] * 9}
    this = record(item(0, 9000), *map(item, range(1, 7)))
    assert advised(this, past(9, times)) == ()


def test_items_that_differ_by_chance_alone_are_rarely_called_slow() -> None:
    """Sixty items with the same distribution of times: no more than one pilot in twenty."""
    rng = random.Random(5)
    told = 0
    for _ in range(100):
        times = {n: [round(rng.lognormvariate(7, 0.6)) for _ in range(8)] for n in range(60)}
        this = record(*(item(n, round(rng.lognormvariate(7, 0.6))) for n in range(60)))
        told += bool(advised(this, past(8, times)))
    assert told <= 5


def test_a_miss_is_a_habit_only_when_it_came_again() -> None:
    wrong = item(0, 1000, Try(1, "wrong", "high", "low"))
    this = record(wrong, *map(item, range(1, 12)))
    assert advised(this, past(6, usual(6))) == ()
    (one,) = advised(this, past(6, usual(6), wrong=1))
    assert one.text.startswith("Wrong more than once: Item 0.")
    assert "Item 0 in 2 of 7 flights" in one.ground
    assert one.command == "runner drill sandpiper --kind wrong --list list"
    assert advised(this, past(3, usual(3), wrong=1)) == (), "four flights are too few"


def test_what_is_not_understood_is_to_be_recorded_and_what_is_left_open_is_named() -> None:
    this = record(*map(item, range(12)))
    unclear, left = advised(this, past(8, usual(8), unclear=3, open=2))
    assert unclear.command == "runner voice enrol"
    assert "Item 0 in 3 of 9 flights" in unclear.ground
    assert left.text == "Left open more than once: Item 0."


def test_due_cards_are_counted() -> None:
    (one,) = advised(record(item(0)), past(0, {}), due=1)
    assert one.text == "Drill what is due: 1 card."


def held(values: Sequence[float]) -> Held:
    points = tuple((1000 * n, value) for n, value in enumerate(values))
    return Held("Climb", "climb RPM", "rpm", 0, ((0, 2250.0),), ((3, points),))


def test_a_reading_off_its_target_half_of_the_time_is_told_with_its_engine() -> None:
    (one,) = advised(record(item(0), held=(held([2250.0] * 10 + [2400.0] * 10),)), past(0, {}))
    assert one.text == "Climb: hold climb RPM of engine 3 nearer to its target."
    assert one.ground.startswith("10 of 20 readings (50 %) were more than 3 % off; furthest 2400")
    for values in ([2250.0] * 11 + [2400.0] * 9, [2400.0] * (ENOUGH_READINGS - 1)):
        assert advised(record(item(0), held=(held(values),)), past(0, {})) == ()


def test_of_two_runs_that_differ_by_chance_none_is_called_quicker() -> None:
    first = record(*(item(n, 1000 + 300 * (n % 2)) for n in range(12)))
    second = record(*(item(n, 1000 + 300 * ((n + 1) % 2)) for n in range(12)))
    assert "Chance alone would often do that." in compare(first, second).verdict
    quick = record(*(item(n, 500) for n in range(12)))
    verdict = compare(first, quick).verdict
    assert "12 were answered quicker this time, 0 slower, 0 alike" in verdict
    assert "in fewer than 1 of 100 cases" in verdict
    assert "too few" in compare(record(item(0)), record(item(0))).verdict


def test_an_item_in_one_run_alone_has_no_change() -> None:
    told = compare(record(item(0), item(1)), record(item(1), item(2, None, status="left open")))
    assert [pair.change_ms for pair in told.pairs] == [0, None, None]


def run(number: int, answered: int | None) -> RunTold:
    return RunTold(number, "", "complete", 60_000, 17, 0, number % 2, answered)


def test_a_trend_is_told_only_where_chance_would_rarely_make_it() -> None:
    falling = [run(n, 3000 - 150 * n) for n in range(16)]
    assert "chance alone would do that in fewer than 1 of 100 cases" in trend_words(falling)
    rng = random.Random(3)
    level = [run(n, round(rng.lognormvariate(7, 0.3))) for n in range(16)]
    assert "The time to answer" in trend_words(level)
    assert trend_words(level).count("chance alone would often do that") == 2
    assert "too few" in trend_words([run(n, None) for n in range(20)])
