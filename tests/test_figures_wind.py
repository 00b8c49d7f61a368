"""Wind on a runway and on a track, held against handbooks, printed answers and MetPy.

A chart or a flight computer is read to a whole knot and a whole degree in the sources, so
half of one is the tolerance there; a value printed with decimals has its own rounding.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.figures import wind
from runner.figures.tables import CalculationError

READ = 0.5 + 1e-9
"""Half of the whole knot or degree to which a chart or a flight computer is read."""

PHAK = "FAA-H-8083-25B chapter 11, sample problem 10 (crosswind chart)"
FAA_TEST = (
    "FAA private pilot knowledge test, wind 220 at 30 on runway 18, as redhorseaviation prints"
)
E6B = "e6b.noseapp.ca, crosswind example"
EASA = "EASA ECQB, as atplquestions.com prints"

directions = st.floats(0.0, 360.0)
speeds = st.floats(0.0, 80.0)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("runway", "blows_from", "speed", "head", "across"),
    [
        pytest.param(17, 140, 25, 22, None, id=f"headwind 22 kt: {PHAK}"),
        pytest.param(17, 140, 25, None, -13, id=f"crosswind 13 kt: {PHAK}"),
        pytest.param(18, 220, 30, 23, None, id=f"headwind 23 kt: {FAA_TEST}"),
        pytest.param(18, 220, 30, None, 19, id=f"crosswind 19 kt: {FAA_TEST}"),
        pytest.param(35, 330, 15, 14, None, id=f"headwind 14 kt: {E6B}"),
        pytest.param(35, 330, 15, None, -5, id=f"crosswind 5 kt from the left: {E6B}"),
        pytest.param(
            25,
            210,
            25,
            None,
            -16,
            id="crosswind 16 kt from the left: clearflight.co.uk, CRP-1 lesson, 210/25",
        ),
        pytest.param(
            36, 39, 30, None, 19, id="crosswind 19 kt at 39 deg: clearflight.co.uk, CRP-1 lesson"
        ),
        pytest.param(
            27, 210, 16, None, -14, id="crosswind 14 kt: PPL theory, Andersen 2025, 7.9.2.12"
        ),
        pytest.param(21, 90, 30, None, -26, id=f"crosswind 26 kt: {EASA}, performance 8"),
        pytest.param(20, 255, 20.75, None, 17, id=f"crosswind 17 kt: {EASA}, performance 16"),
        pytest.param(36, 60, 20, 10, None, id=f"headwind 10 kt: {EASA}, general navigation 19"),
        pytest.param(36, 60, 40, None, 35, id=f"crosswind 35 kt: {EASA}, general navigation 19"),
    ],
)
def test_components_are_those_of_the_crosswind_chart(
    runway: float, blows_from: float, speed: float, head: float | None, across: float | None
) -> None:
    track = wind.runway_direction(runway)
    if head is not None:
        assert abs(wind.headwind(blows_from, speed, track) - head) <= READ
    if across is not None:
        assert abs(wind.crosswind(blows_from, speed, track) - across) <= READ


@pytest.mark.outside
@pytest.mark.parametrize(
    ("track", "true_airspeed", "blows_from", "speed", "correction", "groundspeed"),
    [
        pytest.param(180, 180, 100, 18, -6, None, id=f"6 deg left: {EASA}, navigation 3"),
        pytest.param(180, 180, 100, 18, None, 176, id=f"176 kt: {EASA}, navigation 3"),
        pytest.param(271, 135, 340, 20, 8, None, id=f"8 deg right: {EASA}, flight planning 10"),
        pytest.param(271, 135, 340, 20, None, 127, id=f"127 kt: {EASA}, flight planning 10"),
        pytest.param(353, 160, 260, 35, -13, None, id=f"13 deg left: {EASA}, navigation 3 of 20"),
        pytest.param(353, 160, 260, 35, None, 158, id=f"158 kt: {EASA}, navigation 3 of 20"),
        pytest.param(255, 100, 200, 10, -5, None, id=f"5 deg left: {EASA}, PPL(H) navigation 17"),
        pytest.param(360, 90, 270, 10, -6, None, id="6 deg left: e6b.noseapp.ca, heading example"),
        pytest.param(360, 90, 270, 10, None, 89.4, id="89.4 kt: e6b.noseapp.ca, heading example"),
    ],
)
def test_the_wind_triangle_is_that_of_a_flight_computer(
    track: float,
    true_airspeed: float,
    blows_from: float,
    speed: float,
    correction: float | None,
    groundspeed: float | None,
) -> None:
    if correction is not None:
        got = wind.wind_correction_angle(blows_from, speed, track, true_airspeed)
        assert abs(got - correction) <= READ
    if groundspeed is not None:
        got = wind.groundspeed(blows_from, speed, track, true_airspeed)
        assert abs(got - groundspeed) <= (0.05 if groundspeed % 1 else READ)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("runway", "blows_from", "speed"),
    [
        pytest.param(r, w, s, id=f"runway {r:03}, {w:03}/{s}: MetPy 1.7 wind_components")
        for r, w, s in (
            (90, 60, 18),
            (270, 60, 18),
            (360, 345, 42.5),
            (10, 190, 7),
            (225, 315, 31),
            (130, 275, 12),
        )
    ],
)
def test_components_are_metpys_east_and_north_turned_to_the_runway(
    runway: float, blows_from: float, speed: float
) -> None:
    wind_components = pytest.importorskip("metpy.calc").wind_components
    units = pytest.importorskip("metpy.units").units
    parts = wind_components(speed * units.knot, blows_from * units.degree)
    east, north = (part.to("knot").magnitude for part in parts)
    turn = math.radians(runway)
    head = -(east * math.sin(turn) + north * math.cos(turn))
    from_right = -(east * math.cos(turn) - north * math.sin(turn))
    assert wind.headwind(blows_from, speed, runway) == pytest.approx(head, abs=1e-6)
    assert wind.crosswind(blows_from, speed, runway) == pytest.approx(from_right, abs=1e-6)


class TestGusts:
    def test_a_gust_adds_to_a_crosswind_and_never_to_a_headwind(self) -> None:
        assert wind.usable_headwind(60, 20, 34, 90) == wind.usable_headwind(60, 20, 0, 90)
        assert wind.worst_crosswind(60, 20, 34, 90) == pytest.approx(17.0)

    def test_a_gust_adds_to_a_tailwind(self) -> None:
        assert wind.usable_headwind(270, 6, 11, 90) == pytest.approx(-11.0)

    @given(directions, directions, speeds, st.floats(0.0, 40.0))
    def test_counting_gusts_is_never_kinder(
        self, runway: float, blows_from: float, steady: float, more: float
    ) -> None:
        gust = steady + more
        assert wind.usable_headwind(blows_from, steady, gust, runway) <= wind.headwind(
            blows_from, steady, runway
        )
        assert wind.worst_crosswind(blows_from, steady, gust, runway) >= abs(
            wind.crosswind(blows_from, steady, runway)
        )


class TestLaws:
    @given(directions, directions, speeds)
    def test_parts_make_the_whole(self, runway: float, blows_from: float, speed: float) -> None:
        along = wind.headwind(blows_from, speed, runway)
        across = wind.crosswind(blows_from, speed, runway)
        assert math.hypot(along, across) == pytest.approx(speed, abs=1e-6)

    @given(st.floats(0.0, 180.0), directions, speeds)
    def test_the_other_end_of_the_runway_has_head_for_tail(
        self, runway: float, blows_from: float, speed: float
    ) -> None:
        here, there = runway, runway + 180.0
        assert wind.headwind(blows_from, speed, here) == pytest.approx(
            -wind.headwind(blows_from, speed, there), abs=1e-6
        )
        assert wind.crosswind(blows_from, speed, here) == pytest.approx(
            -wind.crosswind(blows_from, speed, there), abs=1e-6
        )

    @given(directions, st.floats(90, 400), directions, speeds)
    def test_heading_and_wind_together_make_the_track(
        self, track: float, speed: float, blows_from: float, wind_speed: float
    ) -> None:
        correction = wind.wind_correction_angle(blows_from, wind_speed, track, speed)
        heading, down = math.radians(track + correction), math.radians(blows_from + 180.0)
        east = speed * math.sin(heading) + wind_speed * math.sin(down)
        north = speed * math.cos(heading) + wind_speed * math.cos(down)
        over_ground = wind.groundspeed(blows_from, wind_speed, track, speed)
        assert math.hypot(east, north) == pytest.approx(over_ground, abs=1e-6)
        assert math.cos(math.atan2(east, north) - math.radians(track)) == pytest.approx(1.0)

    def test_calm_has_no_parts(self) -> None:
        assert wind.headwind(220, 0, 180) == wind.crosswind(220, 0, 180) == 0.0
        assert wind.groundspeed(220, 0, 180, 130) == pytest.approx(130.0)


class TestWhatCannotBe:
    @pytest.mark.parametrize(
        ("call", "says"),
        [
            (lambda: wind.headwind(361, 10, 90), "from 0 to 360 deg, not 361 deg"),
            (lambda: wind.crosswind(10, 10, -1), "a runway is from 0 to 360 deg, not -1 deg"),
            (lambda: wind.headwind(90, -5, 90), "a wind is from 0 to 250 kt, not -5 kt"),
            (lambda: wind.headwind(math.nan, 5, 90), "from 0 to 360 deg, not nan deg"),
            (lambda: wind.headwind(90, math.nan, 90), "from 0 to 250 kt, not nan kt"),
            (lambda: wind.usable_headwind(90, 20, 15, 90), "a gust is at least the wind, 20 kt"),
            (lambda: wind.worst_crosswind(90, 20, 15, 90), "a gust is at least the wind, 20 kt"),
            (lambda: wind.runway_direction(37), "a runway's number is from 1 to 36, not 37"),
            (lambda: wind.runway_direction(9.5), "a runway's number is from 1 to 36, not 9.5"),
            (lambda: wind.groundspeed(180, 60, 90, 60), "cannot hold a track in 60 kt across"),
            (lambda: wind.groundspeed(90, 75, 90, 60), "makes no way against this wind"),
        ],
    )
    def test_it_is_one_line_with_what_would_do(self, call: Callable[[], float], says: str) -> None:
        with pytest.raises(CalculationError, match=says) as told:
            call()
        assert "\n" not in str(told.value)


def test_formulas_take_their_arguments_in_order() -> None:
    values = {"wind direction": 140.0, "wind": 25.0, "gust": 30.0, "runway": 170.0, "track": 170.0}
    values["true airspeed"] = 120.0
    for name, formula in wind.FORMULAS.items():
        got = formula.rule(*(values[argument] for argument, _ in formula.arguments))
        named = {
            "headwind": 25 * math.cos(math.radians(30)),
            "crosswind": -12.5,
            "usable_headwind": 25 * math.cos(math.radians(30)),
            "worst_crosswind": 15.0,
            "wind_correction_angle": -math.degrees(math.asin(12.5 / 120)),
            "groundspeed": math.sqrt(120**2 - 12.5**2) - 25 * math.cos(math.radians(30)),
        }
        assert got == pytest.approx(named[name]), name
