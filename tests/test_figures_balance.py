"""Weight and balance against worked examples of handbooks, schools and examinations."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.figures import balance
from runner.figures.tables import CalculationError


@pytest.mark.outside
@pytest.mark.parametrize(
    ("moved", "distance", "total", "shift"),
    [
        pytest.param(
            100, 120, 8000, 1.5, id="FAA-H-8083-25A chapter 9: 100 lb from 30 to 150 at 8000 lb"
        ),
        pytest.param(100, 90, 4000, 2.25, id="groundscholar.com PHAK 9 example 1: 2.25 in aft"),
        pytest.param(100, 50, 2450, 2.04, id="runup.ca weight shift: 100 lb by 50 in at 2450 lb"),
        pytest.param(150, 60, 2400, 3.75, id="ajdesigner.com weight shift: 3.75 in aft"),
    ],
)
def test_the_centre_moves_as_the_weight_does(
    moved: float, distance: float, total: float, shift: float
) -> None:
    assert balance.shift_of_centre(moved, distance, total) == pytest.approx(shift, abs=0.0051)
    found = balance.weight_to_move(shift, distance, total)
    assert found == pytest.approx(moved, rel=0.0051 / shift)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("moment", "weight", "arm"),
    [
        pytest.param(616_000, 8000, 77.0, id="FAA-H-8083-25A chapter 9: before the shift, 77.0"),
        pytest.param(628_000, 8000, 78.5, id="FAA-H-8083-25A chapter 9: after the shift, 78.5"),
        pytest.param(
            28_083_000, 43_500, 645.59, id="pprune.org 1240419: 41000 at 663 and 2500 at 360"
        ),
    ],
)
def test_the_centre_is_moment_over_weight(moment: float, weight: float, arm: float) -> None:
    assert balance.arm_of_moment(moment, weight) == pytest.approx(arm, abs=0.0051)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("stations", "weight", "arm"),
    [
        pytest.param(
            ((41_000, 663), (2_500, 360)), 43_500, 645.59, id="pprune.org 1240419: cargo added"
        ),
        pytest.param(
            ((8_000, 77), (-100, 30), (100, 150)),
            8_000,
            78.5,
            id="FAA-H-8083-25A chapter 9: moved is taken out and put in again",
        ),
        pytest.param(
            ((4_000, 80), (-100, 55), (100, 145)),
            4_000,
            82.25,
            id="groundscholar.com PHAK 9 example 1: new centre 82.25",
        ),
    ],
)
def test_the_centre_of_all_stations(
    stations: tuple[tuple[float, float], ...], weight: float, arm: float
) -> None:
    total, centre = balance.centre_of_gravity(stations)
    assert total == weight
    assert centre == pytest.approx(arm, abs=0.0051)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("arm", "leading", "chord", "percent"),
    [
        pytest.param(663, 625.6, 134.5, 27.8, id="pprune.org 1240419: 663 is 27.8 % MAC"),
        pytest.param(645.586, 625.6, 134.5, 14.86, id="pprune.org 1240419: 645.6 is 14.86 % MAC"),
    ],
)
def test_percent_of_the_mean_chord(
    arm: float, leading: float, chord: float, percent: float
) -> None:
    found = balance.chord_share(arm, leading, chord)
    digits = 0.051 if percent == 27.8 else 0.0051
    assert found * 100 == pytest.approx(percent, abs=digits)
    assert balance.arm_of_chord_share(found, leading, chord) == pytest.approx(arm)


LOADS = st.lists(st.tuples(st.floats(1, 20_000), st.floats(-200, 900)), min_size=1, max_size=12)


@given(LOADS)
def test_the_centre_lies_among_the_stations(stations: list[tuple[float, float]]) -> None:
    _, centre = balance.centre_of_gravity(stations)
    arms = [arm for _, arm in stations]
    assert min(arms) - 1e-6 <= centre <= max(arms) + 1e-6


@given(LOADS, st.floats(10, 500), st.floats(-100, 100))
def test_moving_a_weight_is_taking_it_out_and_putting_it_in(
    stations: list[tuple[float, float]], moved: float, distance: float
) -> None:
    total, centre = balance.centre_of_gravity([*stations, (moved, 0.0)])
    _, after = balance.centre_of_gravity([*stations, (moved, distance)])
    assert after - centre == pytest.approx(
        balance.shift_of_centre(moved, distance, total), abs=1e-6
    )


def test_ballast_brings_the_centre_where_it_is_wanted() -> None:
    pounds = balance.ballast(3000, 92, 90, 40)
    _, centre = balance.centre_of_gravity([(3000, 92), (pounds, 40)])
    assert centre == pytest.approx(90)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: balance.arm_of_moment(100, 0), "a total weight is above 0 lb, not 0 lb"),
        (lambda: balance.arm_of_moment(100, -3), "not -3 lb"),
        (lambda: balance.centre_of_gravity([(5, 2), (-5, 1)]), "above 0 lb, not 0 lb"),
        (lambda: balance.chord_share(1, 2, 0), "chord is above 0 in, not 0 in"),
        (lambda: balance.shift_of_centre(500, 10, 400), "from 0 to the total, 400 lb, not 500"),
        (lambda: balance.weight_to_move(1, 0, 100), "moved over no distance"),
        (lambda: balance.weight_to_move(10, -5, 100), "cannot move the centre by 10 in"),
        (lambda: balance.ballast(100, 90, 80, 80), "moves nothing"),
        (lambda: balance.ballast(100, 90, 80, 120), "cannot move the centre from 90 to 80 in"),
    ],
)
def test_what_cannot_be_balanced_is_one_clear_line(call, message: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(CalculationError) as error:
        call()
    assert message in str(error.value)
