"""The envelope against Shapely's geometry, and stations against their limits."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.figures.envelope import Envelope, Load, Station, arm_after_change, loaded
from runner.figures.tables import CalculationError

INVENTED = (
    (15.0, 50_000.0),
    (15.0, 70_000.0),
    (19.0, 90_000.0),
    (33.0, 90_000.0),
    (35.0, 50_000.0),
)
ENVELOPE = Envelope(INVENTED, "% MAC")


@pytest.mark.outside
@pytest.mark.parametrize(
    "weight",
    [
        pytest.param(weight, id=f"limits at {weight:.0f} lb: Shapely 2, line through the polygon")
        for weight in (50_000, 61_250, 70_000, 77_777, 85_000, 90_000)
    ],
)
def test_limits_are_where_a_line_meets_the_polygon(weight: float) -> None:
    shapely = pytest.importorskip("shapely")
    line = shapely.LineString([(0, weight), (100, weight)])
    west, _, east, _ = shapely.Polygon(INVENTED).intersection(line).bounds
    assert ENVELOPE.limits(weight) == pytest.approx((west, east))


@pytest.mark.outside
@pytest.mark.parametrize(
    ("place", "weight"),
    [
        pytest.param(place, weight, id=f"{place} at {weight} lb: Shapely 2, covers")
        for place, weight in (
            (24.0, 70_000),
            (15.5, 80_000),
            (18.0, 84_000),
            (34.9, 51_000),
            (34.9, 60_000),
            (14.9, 60_000),
        )
    ],
)
def test_inside_is_what_the_polygon_covers(place: float, weight: float) -> None:
    shapely = pytest.importorskip("shapely")
    polygon = shapely.Polygon(INVENTED)
    if not polygon.covers(shapely.Point(place, weight)):
        with pytest.raises(CalculationError, match=r"% MAC (ahead of|behind) the"):
            ENVELOPE.room(place, weight)
        return
    room = ENVELOPE.room(place, weight)
    _, low, _, high = polygon.intersection(shapely.LineString([(place, 0), (place, 1e6)])).bounds
    assert (room.below_lb, room.above_lb) == pytest.approx((weight - low, high - weight))


class TestOutside:
    @pytest.mark.parametrize(
        ("place", "weight", "says"),
        [
            (12.5, 60_000, "at 12.5 % MAC is 2.5 % MAC ahead of the forward limit, 15 % MAC"),
            (34.0, 90_000, "at 34 % MAC is 1 % MAC behind the aft limit, 33 % MAC at 90000 lb"),
            (20.0, 91_500, "91500 lb is 1500 lb above the envelope's heaviest, 90000 lb"),
            (20.0, 40_000, "40000 lb is 10000 lb below the envelope's lightest, 50000 lb"),
            (float("nan"), 60_000, "a centre of gravity must be a number % MAC, not nan"),
            (20.0, float("nan"), "a weight must be a number lb, not nan"),
        ],
    )
    def test_it_is_told_by_how_much_and_on_which_side(
        self, place: float, weight: float, says: str
    ) -> None:
        with pytest.raises(CalculationError) as told:
            ENVELOPE.room(place, weight)
        assert says in str(told.value)

    def test_on_the_side_is_inside(self) -> None:
        room = ENVELOPE.room(15.0, 60_000)
        assert (room.forward, room.below_lb, room.above_lb) == (0.0, 10_000.0, 10_000.0)


@pytest.mark.parametrize(
    "corners",
    [
        pytest.param(((0, 0), (1, 1)), id="two corners"),
        pytest.param(((0, 5), (1, 5), (2, 5)), id="one weight"),
        pytest.param(((0, 0), (10, 0), (0, 10), (10, 10)), id="crosses itself"),
        pytest.param(((0, 0), (0, 10), (5, 4), (10, 10), (10, 0)), id="two tops"),
        pytest.param(((0, 0), (5, 10), (0, 0)), id="no width"),
        pytest.param(((0, -5), (0, 10), (10, 10)), id="a negative weight"),
    ],
)
def test_corners_that_draw_no_envelope_are_refused(
    corners: tuple[tuple[float, float], ...],
) -> None:
    with pytest.raises(CalculationError, match="envelope"):
        Envelope(corners)


@given(st.floats(15, 35), st.floats(50_000, 90_000))
def test_room_is_never_negative_and_spans_the_limits(place: float, weight: float) -> None:
    forward, aft = ENVELOPE.limits(weight)
    if forward <= place <= aft:
        room = ENVELOPE.room(place, weight)
        assert min(room.forward, room.aft, room.above_lb, room.below_lb) >= 0
        assert room.forward + room.aft == pytest.approx(aft - forward)
    else:
        with pytest.raises(CalculationError):
            ENVELOPE.room(place, weight)


def test_either_way_round_is_the_same_envelope() -> None:
    assert Envelope(INVENTED[::-1], "% MAC").limits(77_000) == ENVELOPE.limits(77_000)


class TestStations:
    HOLD = Station("forward hold", 210.0, 4_000.0)
    EMPTY = Station("empty aircraft", 460.0)

    def test_loads_of_one_station_count_together(self) -> None:
        loads = [Load(self.EMPTY, 50_000), Load(self.HOLD, 2_500), Load(self.HOLD, 1_800)]
        with pytest.raises(CalculationError, match="4300 lb on forward hold is 300 lb over its"):
            loaded(loads)

    def test_weight_and_arm_of_what_fits(self) -> None:
        weight, arm = loaded([Load(self.EMPTY, 50_000), Load(self.HOLD, 4_000)])
        assert weight == 54_000
        assert arm == pytest.approx((50_000 * 460 + 4_000 * 210) / 54_000)

    def test_no_weight_is_negative(self) -> None:
        with pytest.raises(CalculationError, match="on forward hold must be 0 or more lb, not -5"):
            loaded([Load(self.HOLD, -5)])

    def test_nothing_has_no_centre(self) -> None:
        with pytest.raises(CalculationError, match="above 0 lb, not 0 lb"):
            loaded([])


@given(st.floats(1000, 90_000), st.floats(100, 700), st.floats(1, 500), st.floats(0, 900))
def test_taking_out_what_was_put_in_leaves_the_centre(
    total: float, arm: float, change: float, at: float
) -> None:
    after = arm_after_change(total, arm, change, at)
    assert arm_after_change(total + change, after, -change, at) == pytest.approx(arm, abs=1e-6)


def test_more_cannot_be_taken_out_than_is_there() -> None:
    with pytest.raises(CalculationError, match="a total weight is above 0 lb"):
        arm_after_change(100, 50, -100, 50)
