"""V1 between stopping and going on, held against SciPy's roots of both."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.figures import field
from runner.figures.decision_speed import DecisionSpeed, decision_speed, distance_by_speed
from runner.figures.tables import CalculationError

VMCG, VR = 84.0, 108.0


def stop(speed: float, going: float = 0.2, stopping: float = 0.28) -> float:
    return field.accelerate_stop_distance(speed, going, stopping, 2.0)


def go(speed: float, engine_out: float = 0.12) -> float:
    return field.accelerate_go_distance(speed, 112.0, 0.2, engine_out, 700.0)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("engine_out", "stopping"),
    [
        pytest.param(out, brakes, id=f"{out} g going on, {brakes} g stopping: SciPy 1 brentq")
        for out, brakes in ((0.12, 0.28), (0.13, 0.32), (0.1, 0.25), (0.14, 0.4))
    ],
)
def test_v1_and_its_range_are_scipys_roots(engine_out: float, stopping: float) -> None:
    from scipy.optimize import brentq

    def stops(speed: float) -> float:
        return stop(speed, 0.2, stopping)

    def goes(speed: float) -> float:
        return go(speed, engine_out)

    balanced = brentq(lambda speed: stops(speed) - goes(speed), 20, 112)
    runway = stops(balanced) + 150
    found = decision_speed(runway, stops, goes, 20, 112)
    assert found.chosen_kt == pytest.approx(balanced)
    assert found.lowest_kt == pytest.approx(brentq(lambda v: goes(v) - runway, 20, balanced))
    assert found.highest_kt == pytest.approx(brentq(lambda v: stops(v) - runway, balanced, 112))
    assert found.margin_ft == pytest.approx(150)


@given(st.floats(3000, 12_000))
def test_any_v1_of_the_range_fits_and_none_is_out_of_bounds(runway: float) -> None:
    try:
        found = decision_speed(runway, stop, go, VMCG, VR)
    except CalculationError as told:
        assert "too short" in str(told)
        assert all(max(stop(v), go(v)) > runway for v in (VMCG, 90, 95, 100, 105, VR))
        return
    assert VMCG <= found.lowest_kt <= found.chosen_kt <= found.highest_kt <= VR
    for speed in (found.lowest_kt, found.chosen_kt, found.highest_kt):
        assert max(stop(speed), go(speed)) <= runway * (1 + 1e-6)


@given(st.floats(VMCG, VR))
def test_no_other_v1_leaves_more_runway(other: float) -> None:
    found = decision_speed(9000, stop, go, VMCG, VR)
    assert max(stop(other), go(other)) >= max(found.stop_ft, found.go_ft) - 1e-6


def test_v1_is_not_below_vmcg_where_stopping_takes_longer_from_there() -> None:
    found = decision_speed(9000, stop, lambda _: 2000.0, VMCG, VR)
    assert found.chosen_kt == found.lowest_kt == VMCG


def test_v1_is_not_above_vr_where_going_on_takes_longer_from_there() -> None:
    found = decision_speed(9000, lambda speed: 20 * speed, lambda _: 8000.0, VMCG, VR)
    assert found.chosen_kt == found.highest_kt == VR


def test_a_runway_too_short_is_told_by_how_much() -> None:
    enough: DecisionSpeed = decision_speed(20_000, stop, go, VMCG, VR)
    takes = max(enough.stop_ft, enough.go_ft)
    with pytest.raises(CalculationError, match=r"is 500 ft too short: at the best V1, \d+ kt"):
        decision_speed(takes - 500, stop, go, VMCG, VR)


class TestTables:
    ROWS = ((80.0, 3000.0), (90.0, 3700.0), (100.0, 4500.0), (110.0, 5400.0))
    GOES = ((80.0, 5200.0), (110.0, 4000.0))

    def test_it_is_linear_between_rows(self) -> None:
        assert distance_by_speed(self.ROWS)(95) == pytest.approx(4100)

    def test_v1_of_two_tables(self) -> None:
        found = decision_speed(
            5000, distance_by_speed(self.ROWS), distance_by_speed(self.GOES), 85, 108
        )
        assert found.stop_ft == pytest.approx(found.go_ft)
        # 3700 + 80 (v - 90) = 5200 - 40 (v - 80)
        assert found.chosen_kt == pytest.approx(11_900 / 120)

    def test_it_is_not_taken_beyond_its_rows(self) -> None:
        with pytest.raises(CalculationError, match="reach from 80 to 110 kt, not 70 kt"):
            decision_speed(
                5000, distance_by_speed(self.ROWS), distance_by_speed(self.GOES), 70, 108
            )

    @pytest.mark.parametrize("rows", [((80.0, 1.0),), ((90.0, 1.0), (80.0, 2.0))])
    def test_rows_increase(self, rows: tuple[tuple[float, float], ...]) -> None:
        with pytest.raises(CalculationError, match="at increasing speeds"):
            distance_by_speed(rows)


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: decision_speed(0, stop, go, 84, 108), "a runway must be more than 0 ft"),
        (lambda: decision_speed(9000, stop, go, 110, 108), "VMCG, 110 kt, is above VR, 108 kt"),
        (lambda: decision_speed(9000, stop, go, -1, 108), "VMCG must be more than 0 kt, not -1"),
        (lambda: decision_speed(9000, lambda v: -v, go, 84, 108), "stopping must take more"),
        (lambda: decision_speed(9000, stop, lambda v: v, 84, 108), "going on must take less"),
        (lambda: decision_speed(9000, stop, go, 84, float("nan")), "is above VR, nan kt"),
    ],
)
def test_what_cannot_be_is_one_clear_line(call: Callable[[], object], says: str) -> None:
    with pytest.raises(CalculationError) as told:
        call()
    assert says in str(told.value) and "\n" not in str(told.value)
