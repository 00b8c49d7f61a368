"""Rounding to the safe side never crosses it."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.figures.model import Rounding
from runner.figures.rounding import decimals_of, round_safe, round_to_step, shown

STEPS = st.sampled_from([0.01, 0.1, 0.25, 0.5, 1.0, 5.0, 10.0, 100.0])
VALUES = st.floats(-1e6, 1e6)


@given(VALUES, STEPS)
def test_up_is_never_below_the_value_nor_a_step_above_it(value: float, step: float) -> None:
    rounded = round_safe(value, Rounding("up", step))
    slack = 1e-9 * max(abs(value), step) * 1.01
    assert value - slack <= rounded < value + step + slack


@given(VALUES, STEPS)
def test_down_is_never_above_the_value_nor_a_step_below_it(value: float, step: float) -> None:
    rounded = round_safe(value, Rounding("down", step))
    slack = 1e-9 * max(abs(value), step) * 1.01
    assert value - step - slack < rounded <= value + slack


@given(VALUES, STEPS)
def test_nearest_is_at_most_half_a_step_away(value: float, step: float) -> None:
    rounded = round_safe(value, Rounding("nearest", step))
    assert abs(rounded - value) <= step / 2 + 1e-9 * max(abs(value), step) * 1.01


@given(st.integers(-10_000, 10_000), STEPS, st.sampled_from(["up", "down", "nearest"]))
def test_a_value_on_a_step_stays_there_in_spite_of_noise(
    count: int, step: float, direction: str
) -> None:
    on = count * step
    for noisy in (on, on * (1 + 1e-12), on * (1 - 1e-12), on + 1e-13):
        assert round_to_step(noisy, step, direction) == pytest.approx(on, rel=1e-15)  # type: ignore[arg-type]


@given(VALUES, STEPS)
def test_what_is_shown_is_exactly_what_was_rounded(value: float, step: float) -> None:
    rounded = round_safe(value, Rounding("up", step))
    assert float(f"{rounded:.{decimals_of(step)}f}") == rounded


@pytest.mark.parametrize(
    ("value", "direction", "step", "expected"),
    [
        (88.0000000001, "up", 1.0, 88.0),
        (88.00001, "up", 1.0, 89.0),
        (87.9999999999, "down", 1.0, 88.0),
        (87.9999, "down", 1.0, 87.0),
        (0.1 + 0.2, "up", 0.1, 0.3),
        (44.25, "nearest", 0.5, 44.5),
        (2.4999999999999, "nearest", 1.0, 3.0),
        (-2.5, "nearest", 1.0, -2.0),
        (-0.4, "up", 1.0, 0.0),
        (1e-14, "up", 1.0, 0.0),
        (2_000_000_000_001.5, "up", 1.0, 2_000_000_000_002.0),
    ],
)
def test_worked_examples(value: float, direction: str, step: float, expected: float) -> None:
    assert round_to_step(value, step, direction) == expected  # type: ignore[arg-type]


def test_rounding_to_zero_gives_no_negative_zero() -> None:
    assert math.copysign(1.0, round_to_step(-0.4, 1.0, "up")) == 1.0
    assert shown(-0.0) == "0"


def test_a_number_beyond_all_steps_is_left_as_it_is() -> None:
    assert round_to_step(1e308, 1e-3, "up") == 1e308


def test_a_step_tells_its_decimals() -> None:
    assert [decimals_of(step) for step in (0.25, 0.1, 1.0, 50.0, 1e-3)] == [2, 1, 0, 0, 3]


def test_numbers_are_shown_plainly() -> None:
    texts = [shown(value) for value in (74310.0, 29.92, 1234567.0, 1.0 / 3.0, 1e-7)]
    assert texts == ["74310", "29.92", "1234567", "0.333333", "1e-07"]
