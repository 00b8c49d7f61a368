"""The shipped light single's load and balance, and what it says to input that cannot be."""

from __future__ import annotations

import pytest

from runner.checklist.load import load_aircraft
from runner.errors import RunnerError
from runner.figures.sheet import Sheet, Worked

SHEET = Sheet(load_aircraft("sanderling-aircraft.yaml"))


def worked(**given: float | str) -> Worked:
    return SHEET.work_out(given)


def value(sheet: Worked, name: str) -> float:
    """The figure before it is rounded."""
    number = sheet.values[name]
    assert isinstance(number, float), sheet.problems.get(name)
    return number


class TestLoad:
    def test_the_balance_is_the_sum_of_the_moments(self) -> None:
        stations = [(1420, 85.2), (170 + 150, 84), (140, 118), (40, 142), (216, 95)]
        weight = sum(pounds for pounds, _ in stations)
        moment = sum(pounds * arm for pounds, arm in stations)
        sheet = worked()
        assert value(sheet, "loaded_weight") == weight
        assert value(sheet, "centre_of_gravity") == pytest.approx(moment / weight)

    def test_fuel_given_by_weight_or_by_volume_is_the_same_fuel(self) -> None:
        by_weight, by_volume = worked(fuel_on_board=180.0), worked(fuel_volume=30.0)
        for name in ("fuel_gallons", "gross_weight", "centre_of_gravity", "endurance"):
            assert by_weight.figures[name] == by_volume.figures[name]

    def test_behind_the_aft_limit_is_told_with_the_limit(self) -> None:
        sheet = worked(
            pilot_weight=120.0,
            front_passenger_weight=0.0,
            rear_passengers_weight=380.0,
            baggage_weight=150.0,
        )
        assert "centre_of_gravity" not in sheet.figures
        assert "above its limit of 95 in" in sheet.problems["centre_of_gravity"]
        assert value(sheet, "aft_margin") < 0

    def test_ahead_of_the_forward_limit_is_told_with_the_limit(self) -> None:
        sheet = worked(
            pilot_weight=300.0,
            front_passenger_weight=300.0,
            rear_passengers_weight=0.0,
            baggage_weight=0.0,
            fuel_volume=48.0,
        )
        assert "below its limit of" in sheet.problems["centre_of_gravity"]
        assert value(sheet, "forward_margin") < 0

    def test_too_heavy_a_load_gives_no_speed_and_no_distance(self) -> None:
        sheet = worked(rear_passengers_weight=500.0, fuel_volume=48.0)
        assert "above its limit of 2450 lb" in sheet.problems["loaded_weight"]
        assert not {"rotate_speed", "takeoff_distance", "climb_rate"} & sheet.figures.keys()


class TestBadInput:
    @pytest.mark.parametrize(
        ("name", "wrong"),
        [
            ("pilot_weight", -170.0),
            ("baggage_weight", 400.0),
            ("fuel_volume", 90.0),
            ("outside_temperature", 200.0),
            ("runway_length", 0.0),
            ("cruise_rpm", 3400.0),
            ("airfield_elevation", 20000.0),
            ("runway_slope", 30.0),
            ("trip_distance", -5.0),
        ],
    )
    def test_an_impossible_value_is_one_line_that_names_the_range(
        self, name: str, wrong: float
    ) -> None:
        with pytest.raises(RunnerError, match=f"^{name} is from .* to .*, not ") as caught:
            SHEET.work_out({name: wrong})
        assert "\n" not in str(caught.value)

    @pytest.mark.parametrize(
        ("given", "figure", "limit"),
        [
            ({"runway_length": 1200.0}, "runway_margin", "below its limit of 0 ft"),
            ({"landing_runway_length": 900.0}, "landing_runway_margin", "below its limit of 0 ft"),
            ({"fuel_on_board": 60.0}, "fuel_margin", "below its limit of 0 gal"),
            ({"wind_speed": 30.0, "wind_direction": 160.0}, "takeoff_crosswind", "16 kt"),
            ({"wind_speed": 20.0, "wind_direction": 250.0}, "takeoff_headwind", "-10 kt"),
            ({"wind_speed": 20.0, "wind_gust": 10.0}, "takeoff_crosswind", "a gust is at least"),
            ({"cruise_rpm": 2600.0, "cruise_altitude": 2000.0}, "cruise_power", "75 %"),
            ({"cruise_rpm": 2600.0, "cruise_altitude": 12500.0}, "cruise_power", "hole"),
            (
                {"airfield_elevation": 5000.0, "outside_temperature": 35.0},
                "runway_margin",
                "below its limit of 0 ft",
            ),
            (
                {"airfield_elevation": 8000.0, "outside_temperature": 40.0},
                "book_takeoff_distance",
                "hole",
            ),
        ],
    )
    def test_what_does_not_fit_is_a_warning_with_its_limit(
        self, given: dict[str, float], figure: str, limit: str
    ) -> None:
        sheet = SHEET.work_out(given)
        assert limit in sheet.problems[figure]
        assert figure not in sheet.figures

    def test_on_the_ground_a_take_off_is_never_left_out_without_a_word(self) -> None:
        """The highest field in the lowest pressure still lies within the take-off tables."""
        sheet = worked(airfield_elevation=8000.0, qnh=28.0, outside_temperature=45.0)
        assert "runway_margin" in sheet.problems
