"""The shipped light single is invented, and obeys the laws of physics all the same.

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
from runner.figures.schedule import work_schedule
from runner.figures.sheet import Sheet, Worked

AIRCRAFT = load_aircraft("sanderling-aircraft.yaml")
SHEET = Sheet(AIRCRAFT)

WEIGHTS = st.integers(1510, 2450)
FIELDS = st.integers(0, 4000)
TEMPERATURES = st.integers(-25, 35)

GRAVITY = 32.174
"""ft/s2."""


def worked(**given: float | str) -> Worked:
    return SHEET.work_out(given)


def value(sheet: Worked, name: str) -> float:
    """The figure before it is rounded."""
    number = sheet.values[name]
    assert isinstance(number, float), sheet.problems.get(name)
    return number


def column(name: str, of: str) -> list[tuple[float, float]]:
    """Pairs of row and value of one column of a table of one axis."""
    table = AIRCRAFT.tables[name]
    names = [one for one, _ in table.columns]
    cells = table.values[names.index(of) :: len(names)]
    return [
        (float(row), cell)
        for row, cell in zip(table.axes[0].rows, cells, strict=True)
        if cell is not None
    ]


def cells(table: Table) -> dict[tuple[float, ...], float]:
    """Every cell that is not a hole by its rows."""
    places: list[tuple[float, ...]] = [()]
    for axis in table.axes:
        places = [(*place, float(row)) for place in places for row in axis.rows]
    return {p: v for p, v in zip(places, table.values, strict=True) if v is not None}


def density_share(altitude: float, temperature: float) -> float:
    """Density over that of sea level, by pressure altitude in ft and temperature in degC.

    ICAO Doc 7488, Manual of the ICAO Standard Atmosphere (from memory): 288.15 K at sea
    level, 6.5 K less for each kilometre, the 5.2559th power for the pressure.
    """
    pressure = (1 - 0.0065 * altitude * 0.3048 / 288.15) ** 5.2559
    return pressure * 288.15 / (temperature + 273.15)


def standard_share(altitude: float) -> float:
    """Density over that of sea level in standard air."""
    return density_share(altitude, 15 - 1.9812 * altitude / 1000)


def test_everything_in_it_is_marked_as_invented() -> None:
    assert "invented" in AIRCRAFT.about.lower()
    assert "not for flight" in " ".join(AIRCRAFT.about.split())
    assert all("invented" in table.source for table in AIRCRAFT.tables.values())


def test_it_has_one_engine_and_one_pilot() -> None:
    assert AIRCRAFT.engines == 1
    assert AIRCRAFT.roles == ("pilot",)


class TestSpeeds:
    """From memory: lift is half the density times speed squared times area and coefficient,
    so a speed of one angle of attack goes with the square root of weight."""

    @pytest.mark.parametrize("flap", ["flaps_up", "flaps_ten", "flaps_twenty", "flaps_thirty"])
    def test_stall_speeds_go_with_the_square_root_of_weight(self, flap: str) -> None:
        rows = column("stall_speeds", flap)
        heavy, fast = rows[-1]
        for weight, knots in rows:
            assert knots == pytest.approx(fast * math.sqrt(weight / heavy), rel=0.002)

    def test_each_step_of_flap_lowers_the_stall_speed(self) -> None:
        for row in AIRCRAFT.tables["stall_speeds"].axes[0].rows:
            steps = [
                dict(column("stall_speeds", name))[float(row)]
                for name in ("flaps_up", "flaps_ten", "flaps_twenty", "flaps_thirty")
            ]
            assert steps == sorted(steps, reverse=True)
            assert len(set(steps)) == 4

    @pytest.mark.parametrize("name", ["best_glide_speed", "manoeuvring_speed", "best_angle_speed"])
    @given(weight=WEIGHTS)
    @settings(deadline=None, max_examples=30)
    def test_in_calibrated_airspeed_so_do_the_speeds_on_the_card(
        self, name: str, weight: int
    ) -> None:
        indicated = column("indicated_speeds", "flaps_up")

        def calibrated(knots: float) -> float:
            for (one, low), (two, high) in pairwise(indicated):
                if low <= knots <= high:
                    return one + (knots - low) / (high - low) * (two - one)
            raise AssertionError(knots)

        heavy = calibrated(value(worked(gross_weight=2450.0), name))
        now = calibrated(value(worked(gross_weight=float(weight)), name))
        assert now == pytest.approx(heavy * math.sqrt(weight / 2450), rel=0.01)

    @given(weight=WEIGHTS, flap=st.sampled_from(("up", "ten")))
    @settings(deadline=None, max_examples=30)
    def test_fifty_feet_is_passed_at_a_fifth_above_the_stall_or_more(
        self, weight: int, flap: str
    ) -> None:
        """CS-23 amendment 4, 23.51(b) (from memory): at least 1.2 times the stall speed."""
        sheet = worked(gross_weight=float(weight), takeoff_flap=flap)
        calibration = column("indicated_speeds", "flaps_up" if flap == "up" else "flaps_down")
        least = 1.2 * value(sheet, "takeoff_stall_speed")
        (one, low), (two, high) = next(p for p in pairwise(calibration) if p[1][0] >= least)
        said = sheet.figures["obstacle_speed"].value
        assert isinstance(said, float)
        assert said >= low + (least - one) / (two - one) * (high - low)

    @given(weight=WEIGHTS)
    @settings(deadline=None, max_examples=30)
    def test_full_control_at_manoeuvring_speed_pulls_no_more_than_the_limit_load(
        self, weight: int
    ) -> None:
        """CS-23 amendment 4, 23.337 (from memory): 3.8 g in the normal category; load goes
        with the square of speed over stall speed."""
        sheet = worked(gross_weight=float(weight))
        said = sheet.figures["manoeuvring_speed"].value
        assert isinstance(said, float)
        stall = 52.0 * math.sqrt(weight / 2450)
        assert (said / stall) ** 2 <= 3.8 * 1.03


class TestTakeoff:
    RUNS = ("takeoff_runs_flaps_up", "takeoff_runs_flaps_ten")

    @pytest.mark.parametrize("flap", ["up", "ten"])
    @pytest.mark.parametrize("what", ["runs", "distances"])
    def test_it_grows_with_weight_altitude_and_temperature(self, what: str, flap: str) -> None:
        table = AIRCRAFT.tables[f"takeoff_{what}_flaps_{flap}"]
        found = cells(table)
        for number, axis in enumerate(table.axes):
            after = {float(a): float(b) for a, b in pairwise(axis.rows)}
            for place, feet in found.items():
                above = (*place[:number], after.get(place[number], math.nan), *place[number + 1 :])
                assert found.get(above, math.inf) > feet, (place, above)

    @pytest.mark.parametrize("name", RUNS)
    def test_the_run_grows_with_the_square_of_weight_at_the_least(self, name: str) -> None:
        """From memory: speed squared and mass each go with weight, and what is left of the
        thrust falls with it."""
        table = AIRCRAFT.tables[name]
        found = cells(table)
        for light, heavy in pairwise(float(row) for row in table.axes[0].rows):
            for (weight, *rest), feet in found.items():
                more = found.get((heavy, *rest))
                if weight == light and more is not None:
                    least = (heavy / light) ** 2
                    assert (more + 5) / (feet - 5) >= least

    @pytest.mark.parametrize("name", RUNS)
    def test_the_run_grows_faster_than_the_air_thins(self, name: str) -> None:
        """From memory: the true speed squared goes with one over density, and the engine and
        the propeller lose thrust besides."""
        for (weight, altitude, degrees), feet in cells(AIRCRAFT.tables[name]).items():
            sea = cells(AIRCRAFT.tables[name])[weight, 0.0, 15.0]
            share = density_share(altitude, degrees)
            if share < 0.97:
                assert feet + 5 >= sea / share**1.9
            elif share > 1.03:
                assert feet - 5 <= sea / share**1.9

    @pytest.mark.parametrize("name", RUNS)
    def test_air_of_one_density_gives_one_run(self, name: str) -> None:
        """Cold and high or warm and low: what counts is the density."""
        found = [
            (density_share(h, t), feet)
            for (w, h, t), feet in cells(AIRCRAFT.tables[name]).items()
            if w == 2450
        ]
        for (thin, far), (thick, near) in pairwise(sorted(found)):
            assert far >= near - 10, (thin, thick)

    @pytest.mark.parametrize("flap", ["up", "ten"])
    def test_the_engine_is_strong_enough_for_it(self, flap: str) -> None:
        """Energy at lift-off is below what 156 hp gives in the time of the run."""
        for (weight, altitude, degrees), feet in cells(
            AIRCRAFT.tables[f"takeoff_runs_flaps_{flap}"]
        ).items():
            stall = {"up": 52.0, "ten": 49.5}[flap] * math.sqrt(weight / 2450)
            speed = 1.1 * stall * 1.68781 / math.sqrt(density_share(altitude, degrees))
            mean = speed**2 / (2 * feet)
            power = weight / GRAVITY * mean * speed / 2 / 550
            assert power < 0.8 * 156 * density_share(altitude, degrees) * 2400 / 2700

    @given(headwind=st.integers(1, 30), weight=WEIGHTS)
    @settings(deadline=None, max_examples=30)
    def test_a_headwind_counts_for_half_and_a_tailwind_for_half_as_much_again(
        self, headwind: int, weight: int
    ) -> None:
        """14 CFR 25.105(d)(1) (from memory), taken over for the single."""
        still = worked(gross_weight=float(weight), wind_speed=0.0)
        run, lift_off = value(still, "takeoff_run"), value(still, "lift_off_airspeed")
        for direction, counted in ((70.0, 0.5 * headwind), (250.0, -1.5 * headwind)):
            windy = worked(
                gross_weight=float(weight), wind_speed=float(headwind), wind_direction=direction
            )
            if "takeoff_headwind" in windy.problems:
                assert direction == 250
                assert headwind > 10
            else:
                expected = run * (1 - counted / lift_off) ** 2
                assert value(windy, "takeoff_run") == pytest.approx(expected, rel=1e-6)

    @pytest.mark.memory
    @pytest.mark.parametrize(
        ("surface", "condition", "factor"),
        [("paved", "dry", 1.0), ("grass", "dry", 1.2), ("grass", "wet", 1.3)],
    )
    def test_grass_makes_the_run_longer(self, surface: str, condition: str, factor: float) -> None:
        """UK CAA Safety Sense Leaflet 7, Aeroplane Performance (from memory)."""
        sheet = worked(runway_surface=surface, runway_condition=condition)
        paved = worked(runway_surface="paved", runway_condition="dry")
        assert value(sheet, "takeoff_run") == pytest.approx(value(paved, "takeoff_run") * factor)

    @pytest.mark.memory
    @pytest.mark.parametrize(
        ("surface", "condition", "factor"),
        [("paved", "wet", 1.15), ("grass", "dry", 1.15), ("grass", "wet", 1.35)],
    )
    def test_grass_and_water_make_the_landing_run_longer(
        self, surface: str, condition: str, factor: float
    ) -> None:
        """UK CAA Safety Sense Leaflet 7, Aeroplane Performance (from memory)."""
        sheet = worked(landing_runway_surface=surface, landing_runway_condition=condition)
        assert value(sheet, "landing_run") == pytest.approx(value(worked(), "landing_run") * factor)

    @pytest.mark.memory
    def test_the_distances_required_hold_the_usual_reserve(self) -> None:
        """UK CAA Safety Sense Leaflet 7 (from memory): 1.33 for take-off, 1.43 for landing."""
        sheet = worked()
        for what, factor in (("takeoff", 1.33), ("landing", 1.43)):
            distance = value(sheet, f"{what}_distance")
            assert value(sheet, f"{what}_distance_required") == pytest.approx(distance * factor)

    @given(slope=st.floats(-4, 4), weight=WEIGHTS)
    @settings(deadline=None, max_examples=30)
    def test_uphill_is_longer_by_what_gravity_takes(self, slope: float, weight: int) -> None:
        flat = worked(gross_weight=float(weight), runway_slope=0.0)
        sloping = worked(gross_weight=float(weight), runway_slope=slope)
        mean = value(flat, "takeoff_acceleration")
        expected = value(flat, "takeoff_run") * mean / (mean - slope / 100)
        assert value(sloping, "takeoff_run") == pytest.approx(expected, rel=1e-6)

    def test_seven_tenths_of_the_speed_is_there_at_half_of_the_run(self) -> None:
        """Common practice: 70 per cent of the speed by half; speed squared goes with distance."""
        sheet = worked(wind_speed=0.0)
        assert value(sheet, "check_point") == pytest.approx(value(sheet, "takeoff_run") / 2)
        assert (value(sheet, "check_speed") / value(sheet, "rotate_speed")) ** 2 == pytest.approx(
            0.5, abs=0.011
        )


class TestClimb:
    def test_it_falls_with_altitude_and_with_weight(self) -> None:
        table = AIRCRAFT.tables["climb_rates"]
        found = cells(table)
        heights, weights = (list(map(float, axis.rows)) for axis in table.axes)
        for weight in weights:
            assert all(found[b, weight] < found[a, weight] for a, b in pairwise(heights))
        for height in heights:
            assert all(found[height, b] < found[height, a] for a, b in pairwise(weights))

    def test_it_runs_out_at_the_ceiling(self) -> None:
        found = cells(AIRCRAFT.tables["climb_rates"])
        assert 550 < found[0.0, 2450.0] < 900
        assert 0 <= found[16000.0, 2450.0] < 100
        assert "climb_rate" in worked(gross_weight=2450.0, pressure_altitude=14000.0).problems

    def test_it_falls_almost_straight_to_the_ceiling(self) -> None:
        """From memory: with a fixed pitch the excess falls nearly linearly with height."""
        found = cells(AIRCRAFT.tables["climb_rates"])
        heights = sorted({h for h, _ in found if h >= 0})
        steps = [found[a, 2450.0] - found[b, 2450.0] for a, b in pairwise(heights)]
        assert max(steps) / min(steps) < 1.35

    def test_the_climb_takes_less_power_than_the_engine_has(self) -> None:
        """Weight times rate is below four fifths of the power left in thin air."""
        for (altitude, weight), rate in cells(AIRCRAFT.tables["climb_rates"]).items():
            left = 1.132 * standard_share(altitude) - 0.132
            assert weight * rate / 33000 < 0.8 * 156 * left

    def test_the_fastest_climb_comes_nearer_to_the_steepest_with_height(self) -> None:
        fastest, steepest = (column("climb_speeds", name) for name in ("rate", "angle"))
        gaps = [a - b for (_, a), (_, b) in zip(fastest, steepest, strict=True)]
        assert all(gap >= 0 for gap in gaps)
        assert all(two < one for one, two in pairwise(gaps))

    def test_the_schedule_gives_a_rate_for_each_step_that_falls(self) -> None:
        done = work_schedule(SHEET, worked(), AIRCRAFT.schedules["climb"])
        rates = [row.figures["climb_rate"].value for row in done.rows]
        assert len(rates) >= 6
        assert rates == sorted(rates, reverse=True)


class TestCruise:
    @pytest.mark.parametrize("name", ["cruise_powers", "cruise_speeds"])
    def test_it_rises_with_rpm(self, name: str) -> None:
        found = cells(AIRCRAFT.tables[name])
        rpm = list(map(float, AIRCRAFT.tables[name].axes[1].rows))
        for height in {h for h, _ in found}:
            row = [found[height, n] for n in rpm if (height, n) in found]
            assert all(b > a for a, b in pairwise(row))

    def test_at_one_rpm_it_takes_less_power_in_thin_air(self) -> None:
        found = cells(AIRCRAFT.tables["cruise_powers"])
        for (height, rpm), share in found.items():
            above = found.get((height + 2000, rpm))
            assert above is None or above < share

    def test_power_goes_nearly_with_the_cube_of_rpm(self) -> None:
        """From memory: a fixed-pitch propeller in level flight takes power with the third power
        of its RPM where the parasitic drag is most of it, less below."""
        found = cells(AIRCRAFT.tables["cruise_powers"])
        for height in (-4000.0, 0.0, 4000.0):
            exponent = math.log(found[height, 2600.0] / found[height, 2400.0]) / math.log(26 / 24)
            assert 2.4 < exponent < 3.1

    def test_the_throttle_is_wide_open_where_the_table_ends(self) -> None:
        """The power in the table never passes what is left at full throttle (the rule of Gagg
        and Farrar, from memory), and passes it nearly where the table has no more."""
        found = cells(AIRCRAFT.tables["cruise_powers"])
        for (height, rpm), share in found.items():
            left = 100 * rpm / 2700 * (1.132 * standard_share(height) - 0.132)
            assert share <= left * 1.01
        highest = 12000.0, 2600.0
        assert highest not in found
        left = 100 * 2600 / 2700 * (1.132 * standard_share(12000) - 0.132)
        assert found[10000.0, 2600.0] > 0.94 * left

    def test_the_power_is_what_the_drag_takes(self) -> None:
        """Parasitic and induced drag of 170 ft2 at 2450 lb, at a propeller's efficiency."""
        powers, speeds = (cells(AIRCRAFT.tables[n]) for n in ("cruise_powers", "cruise_speeds"))
        for (height, rpm), share in powers.items():
            speed = speeds[height, rpm] * 1.68781
            pressure = 0.5 * 0.0023769 * standard_share(height) * speed**2 * 170
            lift = 2450 / pressure
            drag = pressure * (0.031 + lift**2 / (math.pi * 0.74 * 7.0))
            assert 0.65 < drag * speed / 550 / (156 * share / 100) < 0.85

    @pytest.mark.parametrize("mixture", ["lean", "rich"])
    def test_fuel_goes_with_power_and_rich_takes_more(self, mixture: str) -> None:
        rows = [(share, flow) for share, flow in column("fuel_flows", mixture) if share <= 85]
        assert all(b > a for (_, a), (_, b) in pairwise(rows))
        for share, flow in rows:
            consumption = flow * 6 / (156 * share / 100)
            assert 0.40 < consumption < 0.58
        rich = dict(column("fuel_flows", "rich"))
        assert all(flow <= rich[share] for share, flow in rows)

    @given(direction=st.integers(0, 360), speed=st.integers(0, 40))
    @settings(deadline=None, max_examples=40)
    def test_the_groundspeed_closes_the_wind_triangle(self, direction: int, speed: int) -> None:
        sheet = worked(winds_aloft_direction=float(direction), winds_aloft_speed=float(speed))
        heading = math.radians(45 + value(sheet, "wind_correction"))
        through, wind = value(sheet, "cruise_true_airspeed"), math.radians(direction)
        east = through * math.sin(heading) - speed * math.sin(wind)
        north = through * math.cos(heading) - speed * math.cos(wind)
        assert math.hypot(east, north) == pytest.approx(value(sheet, "cruise_groundspeed"))
        assert math.degrees(math.atan2(east, north)) == pytest.approx(45)

    def test_the_reserve_is_three_quarters_of_an_hour(self) -> None:
        sheet = worked()
        assert value(sheet, "reserve_fuel") == pytest.approx(
            value(sheet, "cruise_fuel_flow") * 0.75
        )
        hours = (216 / 6 - 1.2) / value(sheet, "cruise_fuel_flow")
        assert value(sheet, "endurance") == pytest.approx(60 * hours - 45)


class TestLanding:
    @pytest.mark.parametrize("name", ["landing_runs", "landing_distances"])
    def test_it_grows_with_weight_and_as_the_air_thins(self, name: str) -> None:
        found = cells(AIRCRAFT.tables[name])
        heights, weights = (list(map(float, a.rows)) for a in AIRCRAFT.tables[name].axes)
        for h, w in found:
            assert h == heights[-1] or found[h + 2000, w] > found[h, w]
        for h in heights:
            assert all(found[h, b] > found[h, a] for a, b in pairwise(weights))

    def test_the_run_goes_with_the_square_of_the_touchdown_speed(self) -> None:
        """From memory: energy goes with speed squared, which goes with weight over density."""
        found = cells(AIRCRAFT.tables["landing_runs"])
        for (height, weight), feet in found.items():
            expected = found[0.0, 2450.0] * weight / 2450 / standard_share(height)
            assert feet == pytest.approx(expected, rel=0.015, abs=5)
