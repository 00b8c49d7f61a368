"""Intervals and tests against SciPy's own (https://docs.scipy.org, scipy.stats)."""

from __future__ import annotations

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from runner.debrief.chances import at_least, permutation_test, sign_test, wilson


@given(st.integers(1, 400).flatmap(lambda of: st.tuples(st.integers(0, of), st.just(of))))
def test_the_interval_of_a_share_is_wilson_s(pair: tuple[int, int]) -> None:
    hits, of = pair
    found = stats.binomtest(hits, of).proportion_ci(0.95, method="wilson")
    assert wilson(hits, of) == pytest.approx((found.low, found.high), abs=1e-9)


def test_nothing_asked_bears_nothing() -> None:
    assert wilson(0, 0) == (0.0, 1.0)
    assert sign_test(0, 0) == 1.0
    assert permutation_test([], [1.0]) == 1.0


@given(st.integers(0, 40), st.integers(0, 40))
def test_the_sign_test_is_the_binomial_test_of_a_half(more: int, less: int) -> None:
    if more + less:
        assert sign_test(more, less) == pytest.approx(
            stats.binomtest(more, more + less, 0.5).pvalue
        )
        assert at_least(more, more + less) == pytest.approx(
            stats.binomtest(more, more + less, 0.5, alternative="greater").pvalue
        )


def test_shuffling_agrees_with_scipy_s_shuffling() -> None:
    rng = random.Random(7)
    for shift in (0.0, 0.4, 0.8):
        before = [rng.gauss(2, 0.5) for _ in range(12)]
        after = [rng.gauss(2 + shift, 0.5) for _ in range(12)]
        wanted = stats.permutation_test(
            (before, after),
            lambda x, y, axis: y.mean(axis=axis) - x.mean(axis=axis),
            vectorized=True,
            n_resamples=20000,
            rng=1,
        ).pvalue
        assert permutation_test(before, after) == pytest.approx(wanted, abs=0.035)
