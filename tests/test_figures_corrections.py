"""Book distances corrected for the day, against notes of charts and rules worked in print."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.figures.corrections import FORMULAS, Corrections, corrected, distance_fits
from runner.figures.tables import CalculationError

CHART_NOTE = Corrections(per_kt_of_headwind=-10 / 9, per_kt_of_tailwind=10 / 2)
"""A take-off chart's note: 10 % off for each 9 kt ahead, 10 % on for each 2 kt behind."""

LEAFLET = Corrections(
    per_percent_up=5, per_percent_down=0, per_1000_ft=10, surfaces=(("dry grass", 20), ("snow", 25))
)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("distance", "by", "wind", "printed"),
    [
        pytest.param(
            700,
            Corrections(per_kt_of_tailwind=5),
            -10,
            1050,
            id="700 ft in 10 kt behind at 5 %/kt, 1050 ft: studylib.net 7016248, tip 2",
        ),
        pytest.param(
            1000,
            CHART_NOTE,
            18,
            800,
            id="18 kt ahead is 0.80 of it: airlinepilotforums.com 32608, take-off chart",
        ),
        pytest.param(
            1000, CHART_NOTE, 9, 900, id="9 kt ahead is 10 % off: humbleaviation.com, chart note"
        ),
        pytest.param(
            1000, CHART_NOTE, -2, 1100, id="2 kt behind is 10 % on: humbleaviation.com, chart note"
        ),
    ],
)
def test_wind_by_the_knot(distance: float, by: Corrections, wind: float, printed: float) -> None:
    assert corrected(distance, by, headwind_kt=wind).distance_ft == pytest.approx(printed)


def test_corrections_multiply_and_each_is_told() -> None:
    got = corrected(2000, LEAFLET, slope_percent=2, above_ft=3000, surface="dry grass")
    assert got.distance_ft == pytest.approx(2000 * 1.1 * 1.3 * 1.2)
    assert got.working == (
        "2000 ft from the book",
        "slope +10 %: 2200 ft",
        "density altitude +30 %: 2860 ft",
        "dry grass +20 %: 3432 ft",
    )


def test_better_air_and_an_unmentioned_condition_change_nothing() -> None:
    assert corrected(2000, LEAFLET, headwind_kt=15, above_ft=-4000).distance_ft == 2000


@given(st.floats(500, 9000), st.floats(0, 25), st.floats(0, 25))
def test_a_tailwind_never_shortens_and_more_of_it_lengthens(
    distance: float, less: float, more: float
) -> None:
    low, high = sorted((less, more))
    one = corrected(distance, CHART_NOTE, headwind_kt=-low).distance_ft
    two = corrected(distance, CHART_NOTE, headwind_kt=-high).distance_ft
    assert distance <= one * (1 + 1e-12) and one <= two * (1 + 1e-12)


def test_the_margin_is_signed_and_a_distance_that_fits_has_one() -> None:
    assert FORMULAS["runway_margin"].rule(5320, 5000) == -320
    assert distance_fits("take-off", 4600, 5000) == 400


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (
            lambda: distance_fits("take-off", 5320, 5000),
            "a runway of 5000 ft is 320 ft too short for the take-off, 5320 ft",
        ),
        (lambda: distance_fits("landing", -1, 5000), "a distance required must be 0 or more ft"),
        (lambda: distance_fits("landing", 1, 0), "a runway must be more than 0 ft, not 0 ft"),
        (lambda: corrected(0, LEAFLET), "a distance must be more than 0 ft, not 0 ft"),
        (lambda: corrected(1, LEAFLET, surface="mud"), "there is for dry grass, snow"),
        (lambda: corrected(1, CHART_NOTE, surface="mud"), "there is for none"),
        (lambda: corrected(1, LEAFLET, slope_percent=20), "must be -10 to 10 %, not 20 %"),
        (lambda: corrected(1, LEAFLET, headwind_kt=float("nan")), "must be -100 to 100 kt"),
        (lambda: corrected(1, CHART_NOTE, headwind_kt=95), "for headwind leaves nothing"),
    ],
)
def test_what_cannot_be_is_one_clear_line(call: Callable[[], object], says: str) -> None:
    with pytest.raises(CalculationError) as told:
        call()
    assert says in str(told.value) and "\n" not in str(told.value)
