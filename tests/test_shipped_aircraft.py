"""The shipped aircraft is invented, and obeys the laws of physics all the same.

The laws are worked out here by themselves, from the numbers of the file alone.
"""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runner.checklist.load import load_aircraft
from runner.figures.model import Table
from runner.figures.sheet import Sheet, Worked

AIRCRAFT = load_aircraft("whimbrel-four-aircraft.yaml")
SHEET = Sheet(AIRCRAFT)

CHARTS = ("takeoff_chart", "meto_chart", "climb_chart", "cruise_chart")
THROTTLES = ("takeoff", "meto", "climb", "cruise")
SPEED_TABLES = ("takeoff_speeds_flaps_ten", "takeoff_speeds_flaps_twenty", "flap_speeds")
LANDING_TABLE = "landing_speeds"

WEIGHTS = st.integers(52000, 91500)
ALTITUDES = st.integers(-1500, 9500)
TEMPERATURES = st.integers(-45, 45)
FLAPS = st.sampled_from(("ten", "twenty"))
SURFACES = st.sampled_from(("dry", "wet", "icy"))
POWERS = st.sampled_from(("wet", "dry"))


def value(worked: Worked, name: str) -> float:
    number = worked.figures[name].value
    assert isinstance(number, float)
    return number


def constant(name: str) -> float:
    return AIRCRAFT.constants[name].value


def standard_pressure(altitude: float) -> float:
    """Pressure in inHg in the standard troposphere, altitude in ft.

    ICAO Doc 7488, Manual of the ICAO Standard Atmosphere (from memory): 1013.25 hPa and
    288.15 K at sea level, 6.5 K less for each kilometre, g 9.80665 m/s2, R 287.05287 J/kg/K;
    1 inHg is 33.8639 hPa.
    """
    kelvin = 288.15 - 0.0065 * altitude * 0.3048
    return 1013.25 * (kelvin / 288.15) ** (9.80665 / (287.05287 * 0.0065)) / 33.8639


def column(table: Table, name: str) -> list[tuple[float, float]]:
    """Pairs of row and value of one column of a table of one axis."""
    names = [column for column, _ in table.columns]
    values = table.values[names.index(name) :: len(names)]
    return [
        (float(row), cell) for row, cell in zip(table.axes[0].rows, values, strict=True) if cell
    ]


def rows_of(chart: Table) -> list[tuple[str, float, list[tuple[float, float]]]]:
    """Block, altitude, and pairs of temperature and pressure; rows of holes left out."""
    blocks, altitudes, temperatures = (axis.rows for axis in chart.axes)
    cells = iter(chart.values)
    found = []
    for block in blocks:
        for altitude in altitudes:
            row = [(float(t), next(cells)) for t in temperatures]
            full = [(t, cell) for t, cell in row if cell is not None]
            assert len(full) in (0, len(row))
            if full:
                found.append((str(block), float(altitude), full))
    return found


def test_everything_in_it_is_marked_as_invented() -> None:
    assert "invented" in AIRCRAFT.about
    assert "not for flight" in AIRCRAFT.about
    assert all("invented" in table.source for table in AIRCRAFT.tables.values())


class TestSpeeds:
    """From memory: lift is half the density times speed squared times area and coefficient,
    so at the stall speed goes with the square root of weight."""

    @pytest.mark.parametrize("name", [*SPEED_TABLES, LANDING_TABLE])
    def test_above_its_floor_every_speed_goes_with_the_square_root_of_weight(
        self, name: str
    ) -> None:
        table = AIRCRAFT.tables[name]
        for speed, _ in table.columns:
            rows = column(table, speed)
            floor = rows[0][1]
            free = [(weight, knots) for weight, knots in rows if knots > floor]
            assert len(free) >= 10
            least = max((knots - 1) / math.sqrt(weight) for weight, knots in free)
            most = min(knots / math.sqrt(weight) for weight, knots in free)
            assert least < most, f"no square-root law, rounded up to a knot, gives {speed}"
            assert all(knots <= floor for weight, knots in rows if weight < free[0][0])

    @pytest.mark.parametrize(
        ("table", "speed", "times", "control"),
        [
            ("takeoff_speeds_flaps_ten", "rotate_speed", 1.05, "minimum_control_speed_air"),
            ("takeoff_speeds_flaps_twenty", "rotate_speed", 1.05, "minimum_control_speed_air"),
            ("takeoff_speeds_flaps_ten", "safety_speed", 1.10, "minimum_control_speed_air"),
            ("takeoff_speeds_flaps_twenty", "safety_speed", 1.10, "minimum_control_speed_air"),
            ("flap_speeds", "flaps_ten_speed", 1.15, "minimum_control_speed_air"),
            ("flap_speeds", "flaps_up_speed", 1.20, "minimum_control_speed_air"),
            ("landing_speeds", "reference_speed", 1.10, "minimum_control_speed_landing"),
        ],
    )
    def test_no_speed_is_below_its_margin_over_minimum_control(
        self, table: str, speed: str, times: float, control: str
    ) -> None:
        rows = column(AIRCRAFT.tables[table], speed)
        floor = times * constant(control)
        assert min(knots for _, knots in rows) == math.ceil(floor)

    def test_a_weight_between_rows_takes_the_heavier_row(self) -> None:
        between = SHEET.work_out({"gross_weight": 74310.0})
        heavier = SHEET.work_out({"gross_weight": 76000.0})
        lighter = SHEET.work_out({"gross_weight": 74000.0})
        for name in ("rotate_speed", "safety_speed", "flaps_up_speed"):
            assert value(between, name) == value(heavier, name) > value(lighter, name)

    @given(WEIGHTS, FLAPS, SURFACES)
    def test_decision_is_not_above_rotation_and_rotation_is_below_the_safety_speed(
        self, weight: int, flap: str, surface: str
    ) -> None:
        worked = SHEET.work_out(
            {"gross_weight": float(weight), "takeoff_flap": flap, "runway_surface": surface}
        )
        assert constant("minimum_control_speed_ground") <= value(worked, "decision_speed")
        assert value(worked, "decision_speed") <= value(worked, "rotate_speed")
        assert value(worked, "rotate_speed") < value(worked, "safety_speed")
        assert value(worked, "safety_speed") < value(worked, "flaps_up_speed")

    @given(WEIGHTS, FLAPS)
    def test_a_worse_surface_never_gives_a_higher_decision_speed(
        self, weight: int, flap: str
    ) -> None:
        inputs = {"gross_weight": float(weight), "takeoff_flap": flap}
        dry, wet, icy = (
            value(SHEET.work_out({**inputs, "runway_surface": surface}), "decision_speed")
            for surface in ("dry", "wet", "icy")
        )
        assert dry > wet >= icy

    @given(WEIGHTS)
    def test_more_flap_never_needs_more_speed(self, weight: int) -> None:
        ten, twenty = (
            SHEET.work_out({"gross_weight": float(weight), "takeoff_flap": flap})
            for flap in ("ten", "twenty")
        )
        for name in ("rotate_speed", "safety_speed"):
            assert value(twenty, name) <= value(ten, name)

    @given(st.integers(44000, 91500), st.integers(0, 50))
    def test_the_approach_adds_half_the_headwind_from_five_to_fifteen_knots(
        self, weight: int, wind: int
    ) -> None:
        """Common practice."""
        worked = SHEET.work_out({"landing_weight": float(weight), "landing_headwind": float(wind)})
        added = value(worked, "approach_speed") - value(worked, "reference_speed")
        assert added == math.ceil(min(max(wind / 2, 5), 15))

    def test_a_landing_weight_above_the_maximum_has_no_margin_and_says_so(self) -> None:
        worked = SHEET.work_out({"landing_weight": 80000.0})
        assert "landing_weight_margin" not in worked.figures
        assert "landing_weight_margin" in worked.problems


class TestManifoldPressure:
    @pytest.mark.parametrize("name", CHARTS)
    def test_it_goes_with_the_square_root_of_the_absolute_carburettor_temperature(
        self, name: str
    ) -> None:
        """From memory: at one pressure and volume the mass of a charge goes with the inverse
        of its temperature, and the flow through the throttle with its square root."""
        for _, _, row in rows_of(AIRCRAFT.tables[name]):
            ratios = [pressure / math.sqrt(t + 273.15) for t, pressure in row]
            rounding = 0.051 / math.sqrt(row[0][0] + 273.15)
            assert max(ratios) - min(ratios) <= 2 * rounding

    @pytest.mark.parametrize("name", CHARTS)
    def test_for_one_power_it_falls_with_altitude(self, name: str) -> None:
        rows = rows_of(AIRCRAFT.tables[name])
        for (block, low, below), (above_block, high, above) in pairwise(rows):
            if block == above_block:
                assert high > low
                assert all(b < a for (_, a), (_, b) in zip(below, above, strict=True))

    @pytest.mark.parametrize("name", ["meto_chart", "climb_chart", "cruise_chart"])
    def test_the_high_gear_needs_more_pressure_for_the_same_power(self, name: str) -> None:
        rows = {(block, altitude): row for block, altitude, row in rows_of(AIRCRAFT.tables[name])}
        both = [
            altitude for block, altitude in rows if block == "low" and ("high", altitude) in rows
        ]
        assert both
        for altitude in both:
            low, high = rows["low", altitude], rows["high", altitude]
            assert all(a < b for (_, a), (_, b) in zip(low, high, strict=True))

    @pytest.mark.parametrize("rating", THROTTLES)
    def test_full_throttle_is_a_pressure_ratio_over_the_ambient_air(self, rating: str) -> None:
        """The ratio of a blower grows a little as the air gets colder with altitude."""
        table = AIRCRAFT.tables[f"{rating}_full_throttle"]
        altitudes = [float(row) for row in table.axes[0].rows]
        for gear in (0, 1):
            pressures = table.values[gear::2]
            ratios = [
                pressure / standard_pressure(altitude)
                for altitude, pressure in zip(altitudes, pressures, strict=True)
                if pressure is not None
            ]
            assert len(ratios) == len(altitudes)
            assert 1.2 < ratios[0] < ratios[-1] < 3.5
            assert all(b > a - 0.01 for a, b in pairwise(ratios))
        assert all(
            low < high for low, high in zip(table.values[::2], table.values[1::2], strict=True)
        )

    @given(ALTITUDES, TEMPERATURES, POWERS)
    def test_it_is_never_more_than_full_throttle_gives(
        self, altitude: int, temperature: int, power: str
    ) -> None:
        worked = SHEET.work_out(
            {
                "pressure_altitude": float(altitude),
                "carburettor_temperature": float(temperature),
                "takeoff_power": power,
            }
        )
        rows = [float(row) for row in AIRCRAFT.tables["takeoff_full_throttle"].axes[0].rows]
        below = max(row for row in rows if row <= altitude)
        available = AIRCRAFT.tables["takeoff_full_throttle"].values[2 * rows.index(below)]
        assert available is not None
        assert value(worked, "takeoff_manifold_pressure") <= available

    def test_the_high_gear_has_no_figures_near_the_ground(self) -> None:
        worked = SHEET.work_out({"pressure_altitude": 1000.0, "blower": "high"})
        for name in ("meto_manifold_pressure", "climb_manifold_pressure"):
            assert name not in worked.figures
            assert name in worked.problems
        assert "takeoff_manifold_pressure" in worked.figures

    def test_above_the_take_off_chart_there_is_no_take_off_power(self) -> None:
        worked = SHEET.work_out({"pressure_altitude": 12000.0})
        assert "takeoff_manifold_pressure" not in worked.figures
        assert "climb_manifold_pressure" in worked.figures


class TestPower:
    @pytest.mark.parametrize("rating", ["takeoff", "meto", "climb", "cruise"])
    @given(altitude=ALTITUDES, temperature=TEMPERATURES)
    def test_it_is_bmep_times_displacement_times_rpm_over_792000(
        self, rating: str, altitude: int, temperature: int
    ) -> None:
        """From memory: a four-stroke engine fires every other turn, a horsepower is
        33,000 foot-pounds a minute and a foot has 12 inches: 33,000 x 12 x 2 = 792,000."""
        worked = SHEET.work_out(
            {
                "pressure_altitude": float(altitude),
                "carburettor_temperature": float(temperature),
                "cruise_altitude": max(4000.0, float(altitude)),
            }
        )
        swept = constant("displacement") * value(worked, f"{rating}_rpm") / 792000
        least = value(worked, f"{rating}_bmep") * swept
        assert least - 1 < value(worked, f"{rating}_horsepower") < least + swept

    @settings(deadline=None)
    @given(ALTITUDES, TEMPERATURES, POWERS)
    def test_meto_is_below_take_off_and_climb_below_meto(
        self, altitude: int, temperature: int, power: str
    ) -> None:
        worked = SHEET.work_out(
            {
                "pressure_altitude": float(altitude),
                "carburettor_temperature": float(temperature),
                "takeoff_power": power,
                "cruise_altitude": max(4000.0, float(altitude)),
                "cruise_carburettor_temperature": float(temperature),
            }
        )
        for quantity in ("horsepower", "rpm", "bmep", "manifold_pressure"):
            ratings = [value(worked, f"{rating}_{quantity}") for rating in THROTTLES]
            assert all(a > b for a, b in pairwise(ratings)), (quantity, ratings)

    @given(ALTITUDES, TEMPERATURES)
    def test_fluid_gives_more_power_than_none(self, altitude: int, temperature: int) -> None:
        wet, dry = (
            SHEET.work_out(
                {
                    "pressure_altitude": float(altitude),
                    "carburettor_temperature": float(temperature),
                    "takeoff_power": power,
                }
            )
            for power in ("wet", "dry")
        )
        for name in ("takeoff_horsepower", "takeoff_manifold_pressure", "takeoff_bmep"):
            assert value(wet, name) >= value(dry, name)
        assert value(SHEET.work_out({"takeoff_power": "wet"}), "takeoff_bmep") > value(
            SHEET.work_out({"takeoff_power": "dry"}), "takeoff_bmep"
        )

    @pytest.mark.parametrize("rating", ["meto", "climb"])
    def test_the_blowers_are_shifted_where_the_high_gear_gives_more(self, rating: str) -> None:
        shift = constant("blower_shift_altitude")

        def power(altitude: float, gear: str) -> float:
            inputs = {"pressure_altitude": altitude, "blower": gear}
            return value(SHEET.work_out(inputs), f"{rating}_horsepower")

        assert power(shift, "high") > power(shift, "low")
        below, above = (
            SHEET.work_out({"pressure_altitude": shift - 1}),
            SHEET.work_out({"pressure_altitude": shift}),
        )
        assert below.figures["blower"].value == "low"
        assert above.figures["blower"].value == "high"

    @given(ALTITUDES)
    def test_the_static_check_is_made_at_field_barometric_pressure(self, altitude: int) -> None:
        """Common practice."""
        worked = SHEET.work_out({"pressure_altitude": float(altitude)})
        said = value(worked, "static_check_manifold_pressure")
        assert said == pytest.approx(standard_pressure(altitude), abs=0.06)

    def test_the_descent_keeps_an_inch_for_each_hundred_rpm(self) -> None:
        """Common practice."""
        worked = SHEET.work_out({})
        least = value(worked, "minimum_descent_manifold_pressure")
        assert least == math.ceil(value(worked, "descent_rpm") / 100)

    def test_less_than_the_fluid_of_one_take_off_is_told(self) -> None:
        worked = SHEET.work_out({"injection_fluid": 19.0})
        assert "injection_fluid_margin" in worked.problems
        dry = SHEET.work_out({"injection_fluid": 0.0, "takeoff_power": "dry"})
        assert "injection_fluid_margin" not in dry.problems


class TestPressureAltitude:
    @given(st.integers(-200, 8000), st.integers(2800, 3100))
    def test_it_comes_from_elevation_and_altimeter_setting(
        self, elevation: int, hundredths: int
    ) -> None:
        """An altimeter set to QNH shows elevation on the ground (common practice): the scale
        of the instrument is the standard atmosphere's, shifted by the setting."""
        qnh = hundredths / 100
        worked = SHEET.work_out({"airfield_elevation": float(elevation), "qnh": qnh})
        altitude = value(worked, "pressure_altitude")
        assert altitude == pytest.approx(elevation + (29.92 - qnh) * 1000, abs=120)
        power = 0.0065 * 287.05287 / 9.80665
        shown = 288.15 / 0.0065 / 0.3048 * (qnh**power - standard_pressure(altitude) ** power)
        assert shown / standard_pressure(0) ** power == pytest.approx(elevation, abs=5)


class TestSafeSides:
    @pytest.mark.parametrize(
        ("names", "direction"),
        [
            (
                "rotate_speed safety_speed flaps_ten_speed flaps_up_speed climb_speed "
                "reference_speed approach_speed three_engine_reference_speed "
                "minimum_takeoff_bmep minimum_descent_manifold_pressure static_check_rpm "
                "cruise_fuel_flow top_of_descent",
                "up",
            ),
            (
                "decision_speed takeoff_manifold_pressure takeoff_rpm meto_manifold_pressure "
                "meto_rpm climb_manifold_pressure climb_rpm cruise_manifold_pressure "
                "go_around_manifold_pressure gear_speed landing_weight_margin endurance",
                "down",
            ),
            ("static_check_manifold_pressure", "nearest"),
        ],
    )
    def test_what_is_flown_above_is_rounded_up_and_limits_down(
        self, names: str, direction: str
    ) -> None:
        for name in names.split():
            assert AIRCRAFT.figures[name].rounding.direction == direction, name


@settings(max_examples=200, deadline=None)
@given(st.data())
def test_any_inputs_within_their_ranges_give_figures_or_reasons(data: st.DataObject) -> None:
    inputs: dict[str, float | str] = {}
    for one in AIRCRAFT.inputs.values():
        if one.formula is not None and one.name != "gross_weight":
            continue
        if one.choices:
            inputs[one.name] = data.draw(st.sampled_from(one.choices), label=one.name)
        else:
            inputs[one.name] = data.draw(st.floats(one.low, one.high), label=one.name)
    worked = SHEET.work_out(inputs)
    assert not worked.missing
    for name in AIRCRAFT.inputs:
        assert name in worked.figures
    allowed = {"decision_speed", "injection_fluid_margin", "endurance", "lean_cruise_fuel_flow"}
    allowed |= {"carburettor_heat_margin"}
    allowed |= {
        name
        for name, rule in AIRCRAFT.figures.items()
        if rule.group in ("Load", "Runway and wind", "Climb", "Fuel and time", "Landing")
    }
    assert set(worked.problems) <= allowed, worked.problems
    assert all(problem and "\n" not in problem for problem in worked.problems.values())
