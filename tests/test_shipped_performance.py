"""What the Whimbrel Four's load, runway, climb and fuel have to obey, whatever its numbers are."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runner.checklist.load import find_file, load_aircraft
from runner.errors import RunnerError
from runner.figures.given import read_given
from runner.figures.sheet import Sheet, Worked

AIRCRAFT = load_aircraft(find_file("whimbrel-four-aircraft", ("checklists",)))
SHEET = Sheet(AIRCRAFT)


def worked(*given_as: str) -> Worked:
    return SHEET.work_out(read_given(AIRCRAFT, given_as))


def value(sheet: Worked, name: str) -> float:
    found = sheet.figures[name].value
    assert isinstance(found, float)
    return found


class TestRunway:
    @settings(max_examples=150, deadline=None)
    @given(
        st.floats(52000, 91500),
        st.floats(2500, 14000),
        st.floats(-30, 40),
        st.sampled_from(("dry", "wet", "icy")),
        st.floats(0, 360),
        st.floats(0, 25),
    )
    def test_at_the_decision_speed_both_stopping_and_going_on_fit(
        self, weight: float, length: float, degrees: float, surface: str, wind: float, knots: float
    ) -> None:
        sheet = SHEET.work_out(
            {
                "gross_weight": weight,
                "runway_length": length,
                "outside_temperature": degrees,
                "runway_surface": surface,
                "wind_direction": wind,
                "wind_speed": knots,
            }
        )
        if "decision_speed" not in sheet.figures:
            assert sheet.problems["decision_speed"]
            return
        decision = value(sheet, "decision_speed")
        assert decision <= value(sheet, "rotate_speed")
        assert decision >= value(sheet, "ground_control_speed")
        # The distances are worked out from the unrounded speed, to the next 50 ft above.
        assert value(sheet, "stopping_distance") <= length + 50
        assert value(sheet, "going_distance") <= length + 50

    def test_a_worse_runway_a_heavier_load_and_a_tailwind_each_need_more(self) -> None:
        usual = worked()
        for change in (
            "runway_slope=2%",
            "gross_weight=88000lb",
            "wind_direction=60deg",
            "outside_temperature=38degC",
            "takeoff_power=dry",
        ):
            other = worked(change, "wind_speed=5kt")
            calm = worked("wind_speed=5kt")
            assert value(other, "takeoff_distance") > value(calm, "takeoff_distance"), change
        assert value(usual, "runway_margin") > 0

    def test_minimum_control_speeds_rise_with_power_and_not_with_weight(self) -> None:
        table = AIRCRAFT.tables["minimum_control_speeds"]
        ground, air = table.values[0::2], table.values[1::2]
        assert list(ground) == sorted(ground) and list(air) == sorted(air)
        light, heavy = worked("gross_weight=60000lb"), worked("gross_weight=90000lb")
        assert value(light, "ground_control_speed") == value(heavy, "ground_control_speed")
        assert value(worked("takeoff_power=dry"), "ground_control_speed") < value(
            light, "ground_control_speed"
        )

    @pytest.mark.parametrize(
        ("given_as", "figure", "reason"),
        [
            ("runway_length=2500ft", "going_limit_speed", "too short to take off"),
            ("wind_direction=60deg", "takeoff_headwind", "below its limit of -10 kt"),
            ("wind_direction=330deg", "takeoff_crosswind", "above its limit of 25 kt"),
            ("cargo_aft=7000lb", "centre_of_gravity", "above its limit"),
            ("fuel_on_board=4000lb", "fuel_margin", "below its limit of 0 lb"),
            ("landing_runway_length=3000ft", "landing_runway_margin", "below its limit of 0 ft"),
            ("cargo_forward=9000lb", "zero_fuel_weight", ""),
        ],
    )
    def test_what_does_not_fit_is_told_and_has_no_figure(
        self, given_as: str, figure: str, reason: str
    ) -> None:
        more = ["wind_speed=28kt"] if "wind" in given_as else []
        more += ["cargo_forward=0lb"] if "aft" in given_as else []
        more += ["cargo_aft=7000lb"] if "forward" in given_as else []
        sheet = worked(given_as, *more)
        assert figure not in sheet.figures
        assert reason in sheet.problems[figure]


class TestLoad:
    def test_the_gross_weight_is_that_of_the_load_unless_it_is_given(self) -> None:
        assert value(worked("cargo_centre=7640lb"), "gross_weight") == pytest.approx(
            value(worked(), "gross_weight") + 1000
        )
        assert value(worked("gross_weight=70000lb"), "gross_weight") == 70000

    def test_cargo_moved_aft_moves_the_centre_aft(self) -> None:
        fore = worked("cargo_forward=5200lb", "cargo_aft=3000lb")
        aft = worked("cargo_forward=3200lb", "cargo_aft=5000lb")
        assert value(fore, "gross_weight") == value(aft, "gross_weight")
        # 2,000 lb by 340 in at 74,300 lb on a chord of 160 in.
        shift = 2000 * 340 / 74300 / 160 * 100
        found = value(aft, "centre_of_gravity") - value(fore, "centre_of_gravity")
        assert found == pytest.approx(shift, abs=0.11)

    def test_a_gross_weight_that_is_not_the_load_s_has_no_centre(self) -> None:
        sheet = worked("gross_weight=85000lb")
        assert "centre_of_gravity" not in sheet.figures
        assert "centre_of_gravity" in sheet.absent

    @pytest.mark.parametrize(
        "given_as", ["cargo_forward=-5lb", "cargo_aft=90000lb", "outside_temperature=200degC"]
    )
    def test_what_cannot_be_is_refused_with_its_range(self, given_as: str) -> None:
        with pytest.raises(RunnerError) as error:
            worked(given_as)
        assert "range" in str(error.value) or " to " in str(error.value)


class TestClimb:
    def test_three_engines_climb_less_with_weight_heat_and_height(self) -> None:
        usual = value(worked(), "engine_out_gradient")
        for change in ("gross_weight=85000lb", "outside_temperature=35degC", "takeoff_power=dry"):
            assert value(worked(change), "engine_out_gradient") < usual, change

    def test_the_climb_falls_off_with_height(self) -> None:
        sheet = worked()
        assert value(sheet, "climb_rate") > value(sheet, "climb_rate_at_cruise")

    def test_reduced_power_asks_for_less_of_everything(self) -> None:
        normal, reduced = worked(), worked("climb_power=reduced")
        for name in ("climb_manifold_pressure", "climb_bmep", "climb_horsepower", "climb_rate"):
            assert value(reduced, name) < value(normal, name), name

    def test_best_glide_speed_is_linear_in_weight(self) -> None:
        light, middle, heavy = (
            SHEET.work_out({"gross_weight": weight}) for weight in (60000.0, 70000.0, 80000.0)
        )
        speeds = [float(one.values["best_glide_speed"]) for one in (light, middle, heavy)]
        assert speeds[1] - speeds[0] == pytest.approx(speeds[2] - speeds[1])
        # Within 4 % of the root of weight, which a glide at one angle of attack goes with.
        assert speeds[2] / speeds[0] == pytest.approx(math.sqrt(80 / 60), rel=0.04)


class TestFuel:
    def test_fuel_and_time_add_up(self) -> None:
        sheet = worked()
        parts = sum(value(sheet, name) for name in ("climb_time", "cruise_time", "descent_time"))
        assert value(sheet, "flight_time") == pytest.approx(parts, abs=3)
        left = value(sheet, "fuel_on_board") - value(sheet, "planned_fuel") - 2600
        assert value(sheet, "fuel_margin") == pytest.approx(left, abs=11)

    def test_a_headwind_costs_time_and_fuel(self) -> None:
        calm, into = worked("cruise_headwind=0kt"), worked("cruise_headwind=60kt")
        assert value(into, "cruise_time") > value(calm, "cruise_time")
        assert value(into, "planned_fuel") > value(calm, "planned_fuel")

    def test_leaning_saves_fuel_at_a_little_less_power(self) -> None:
        sheet = worked()
        assert value(sheet, "lean_cruise_fuel_flow") < value(sheet, "cruise_fuel_flow")
        assert 0.9 < value(sheet, "lean_cruise_bmep") / value(sheet, "cruise_bmep") < 1
