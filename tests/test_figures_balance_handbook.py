"""Weight and balance against more worked examples of handbooks and examinations.

Tolerance is half of the last figure that the source prints.
"""

from __future__ import annotations

import pytest

from runner.figures import balance
from runner.figures.envelope import Load, Station, arm_after_change, loaded

LOADING = "FAA-H-8083-25B chapter 10, computational method (figure 10-5)"
ROD = "Nicholls's Seamanship and Nautical Knowledge, shift of centre of gravity"

Stations = tuple[tuple[float, float], ...]


def example() -> tuple[float, float]:
    """The handbook's light aircraft: empty, two rows of seats, 75 gal of fuel, baggage."""
    places = ((2100, 78.3), (340, 85.0), (350, 121.0), (450, 75.0), (80, 150.0))
    return loaded(Load(Station(f"station {arm}", arm), float(pounds)) for pounds, arm in places)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("printed", "half"),
    [
        pytest.param("weight 3320", 0.5, id=f"total weight 3,320 lb: {LOADING}"),
        pytest.param("moment 281430", 0.5, id=f"total moment 281,430 lb-in: {LOADING}"),
        pytest.param("arm 84.8", 0.05, id=f"CG 84.8 in: {LOADING}"),
    ],
)
def test_the_handbooks_loading(printed: str, half: float) -> None:
    weight, arm = example()
    what, value = printed.split()
    got = {"weight": weight, "moment": weight * arm, "arm": arm}[what]
    assert abs(got - float(value)) <= half


@pytest.mark.outside
@pytest.mark.parametrize(
    ("stations", "arm", "half"),
    [
        pytest.param(
            ((4, 2), (6, 5), (10, 7)),
            5.4,
            0.05,
            id=f"three weights on a rod, 5.4 ft: {ROD}, p. 497",
        ),
        pytest.param(
            ((4, 2), (10, 4), (6, 5)),
            3.9,
            0.05,
            id=f"weight moved 3 ft left, 3.9 ft: {ROD}, p. 498",
        ),
        pytest.param(
            ((10, 4), (6, 5)), 4.38, 0.0051, id=f"weight lifted off, 4.38 ft: {ROD}, p. 499"
        ),
        pytest.param(((10, 2), (5, 8)), 4, 1e-9, id=f"two loads on a rod, 4 ft: {ROD}, p. 499"),
        pytest.param(
            ((1000, 0), (24_000, 10)),
            9.6,
            0.05,
            id="nose and main wheels, 9.6 m behind the nose: pprune.org 7066754",
        ),
        pytest.param(
            ((340, -78), (1666, 0)),
            -13.2,
            0.05,
            id="nosewheel 340 of 2006 lb, -13.2 in: FAA-H-8083-1B chapter 10, figure 10-2",
        ),
    ],
)
def test_the_centre_of_weights(stations: Stations, arm: float, half: float) -> None:
    assert abs(balance.centre_of_gravity(stations)[1] - arm) <= half


@pytest.mark.outside
@pytest.mark.parametrize(
    ("shift", "distance", "total", "moved", "half"),
    [
        pytest.param(
            1.0,
            120,
            7800,
            65,
            0.5,
            id="81.5 to 80.5 in at 7800 lb, 65 lb: FAA-H-8083-25 chapter 9, weight shift",
        ),
        pytest.param(
            1.5, 25, 3200, 192, 0.5, id="1.5 in at 3200 lb, 192 lb: humbleaviation.com, example two"
        ),
    ],
)
def test_the_weight_that_moves_the_centre(
    shift: float, distance: float, total: float, moved: float, half: float
) -> None:
    assert abs(balance.weight_to_move(shift, distance, total) - moved) <= half


@pytest.mark.outside
@pytest.mark.parametrize(
    ("moved", "distance", "total", "shift", "half"),
    [
        pytest.param(
            180,
            32,
            2700,
            2.13,
            0.005,
            id="180 lb by 32 in, 2.13 in: humbleaviation.com, example one",
        ),
        pytest.param(10, -3, 20, -1.5, 0.05, id=f"10 lb by 3 ft left, 1.5 ft: {ROD}, p. 498"),
    ],
)
def test_the_shift_of_the_centre(
    moved: float, distance: float, total: float, shift: float, half: float
) -> None:
    assert abs(balance.shift_of_centre(moved, distance, total) - shift) <= half


@pytest.mark.outside
@pytest.mark.parametrize(
    ("total", "centre", "wanted", "at", "pounds", "half"),
    [
        pytest.param(
            2900,
            115,
            116,
            130,
            207.1,
            0.05,
            id="most at station 130 before the aft limit, 207.1 lb: FAA knowledge test, "
            "as jetcareers.com 72797 prints",
        ),
        pytest.param(
            4954,
            30.5,
            32.0,
            162,
            57.16,
            0.005,
            id="least ballast at +162 for the forward limit, 57.16 lb: FAA airframe knowledge "
            "test, as passetra.com prints",
        ),
    ],
)
def test_ballast_brings_the_centre_to_a_limit(
    total: float, centre: float, wanted: float, at: float, pounds: float, half: float
) -> None:
    got = balance.ballast(total, centre, wanted, at)
    assert abs(got - pounds) <= half
    assert arm_after_change(total, centre, got, at) == pytest.approx(wanted)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("total", "arm", "change", "at", "after"),
    [
        pytest.param(15, 4, 10, 7, 5.2, id=f"load added to a rod, 130/25 ft: {ROD}, p. 499"),
        pytest.param(20, 3.9, -4, 2, 4.38, id=f"load lifted off a rod, 4.38 ft: {ROD}, p. 499"),
    ],
)
def test_the_centre_after_a_change(
    total: float, arm: float, change: float, at: float, after: float
) -> None:
    assert abs(arm_after_change(total, arm, change, at) - after) <= 0.0051


@pytest.mark.outside
@pytest.mark.parametrize(
    ("behind", "chord", "percent"),
    [
        pytest.param(
            20, 100, 20, id="20 in behind the edge of 100 in, 20 %: scribd.com 688368926, MTC note"
        )
    ],
)
def test_percent_of_the_mean_chord(behind: float, chord: float, percent: float) -> None:
    assert balance.chord_share(500 + behind, 500, chord) * 100 == pytest.approx(percent)
