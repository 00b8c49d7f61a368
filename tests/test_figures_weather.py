"""METARs against the published format's own examples and its explanations.

The examples of ICAO Annex 3 stand, decoded, in the World Meteorological Organization's
repository wmo-im/iwxxm (files metar-A3-1.xml and speci-A3-2.xml); their station is invented.
Groups explained elsewhere are put in a report of that station.
"""

from __future__ import annotations

import re
import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.errors import RunnerError
from runner.figures.weather import Weather, read_metar

METRES_A_SECOND = 3600 / 1852
"""Knots."""


@pytest.mark.outside
@pytest.mark.parametrize(
    ("text", "direction", "speed", "gust", "temperature", "dew_point", "qnh"),
    [
        pytest.param(
            "METAR YUDO 221630Z 24004MPS 0600 R12/1000U DZ FG SCT010 OVC020 17/16 Q1018 "
            "BECMG TL1700 0800 FG BECMG AT1800 9999 NSW",
            240,
            4 * METRES_A_SECOND,
            None,
            17,
            16,
            1018,
            id="ICAO Annex 3 (Amd 77) example A3-1, decoded in WMO iwxxm metar-A3-1.xml",
        ),
        pytest.param(
            "SPECI YUDO 151115Z 05025G37KT 3000 1200NE +TSRA BKN005CB 25/22 Q1008 "
            "TEMPO TL1200 0600 BECMG AT1200 8000 NSW NSC",
            50,
            25,
            37,
            25,
            22,
            1008,
            id="ICAO Annex 3 (Amd 77) example A3-2, decoded in WMO iwxxm speci-A3-2.xml",
        ),
    ],
)
def test_the_standard_s_examples_are_read_as_it_decodes_them(
    text: str,
    direction: float,
    speed: float,
    gust: float | None,
    temperature: float,
    dew_point: float,
    qnh: float,
) -> None:
    weather = read_metar(text)
    assert weather.station == "YUDO"
    assert weather.wind_direction_deg == direction
    assert weather.wind_variable is False
    assert weather.wind_speed_kt == pytest.approx(speed, abs=0.001)
    assert weather.wind_gust_kt == gust
    assert (weather.temperature_c, weather.dew_point_c) == (temperature, dew_point)
    assert weather.qnh_hpa == qnh


AIM = "FAA Aeronautical Information Manual, 7-1, wind"
NAVY = "U.S. Navy training, NAVEDTRA 14269, wind"
P304 = "U.S. Navy flight training P-304, group 4"


@pytest.mark.outside
@pytest.mark.parametrize(
    ("group", "direction", "speed", "gust"),
    [
        pytest.param("13008KT", 130, 8, None, id=f"{AIM}, 13008KT"),
        pytest.param("08032G45KT", 80, 32, 45, id=f"{AIM}, 08032G45KT"),
        pytest.param("VRB04KT", None, 4, None, id=f"{AIM}, VRB04KT"),
        pytest.param("00000KT", 0, 0, None, id=f"{AIM}, 00000KT is calm"),
        pytest.param("210103G130KT", 210, 103, 130, id=f"{AIM}, 210103G130KT"),
        pytest.param("27025G40KT", 270, 25, 40, id=f"{NAVY}, 27025G40KT"),
        pytest.param("270112KT", 270, 112, None, id=f"{P304}, 270112KT"),
        pytest.param("14015G28KT", 140, 15, 28, id=f"{P304}, 14015G28KT"),
        pytest.param("33065G105KT", 330, 65, 105, id=f"{P304}, 33065G105KT"),
    ],
)
def test_a_wind_group_means_what_its_explanation_says(
    group: str, direction: float | None, speed: float, gust: float | None
) -> None:
    weather = read_metar(f"METAR YUDO 221630Z {group} 10SM CLR 18/16 A2992")
    assert weather.wind_direction_deg == direction
    assert weather.wind_variable is (direction is None)
    assert (weather.wind_speed_kt, weather.wind_gust_kt) == (speed, gust)
    assert (weather.wind_from_deg, weather.wind_to_deg) == (None, None)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("group", "speed", "low", "high"),
    [
        pytest.param("32012G22KT 280V350", 12, 280, 350, id=f"{AIM}, 32012G22KT 280V350"),
        pytest.param(
            "21012KT 160V250",
            12,
            160,
            250,
            id="U.S. Navy training 14342A, wind group, 21012KT 160V250",
        ),
    ],
)
def test_a_wind_that_swings_has_its_extremes(
    group: str, speed: float, low: float, high: float
) -> None:
    weather = read_metar(f"METAR YUDO 221630Z {group} 10SM CLR 18/16 A2992")
    assert weather.wind_direction_deg == float(group[:3])
    assert weather.wind_speed_kt == speed
    assert (weather.wind_from_deg, weather.wind_to_deg) == (low, high)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("remark", "body", "temperature", "dew_point"),
    [
        pytest.param(
            "T01820159",
            "18/16",
            18.2,
            15.9,
            id="FAA Aeronautical Information Manual, key to METAR, T01820159",
        ),
        pytest.param(
            "T01280083", "13/08", 12.8, 8.3, id="mail-archive.com usma 36625, T01280083 explained"
        ),
    ],
)
def test_tenths_of_temperature_come_from_the_remarks(
    remark: str, body: str, temperature: float, dew_point: float
) -> None:
    text = f"METAR YUDO 091955Z COR 22015G25KT 3/4SM TSRA OVC010CB {body} A2992 RMK SLP045 {remark}"
    weather = read_metar(text)
    assert (weather.temperature_c, weather.dew_point_c) == (temperature, dew_point)
    # The peak and the remarks change no other group.
    assert (weather.wind_speed_kt, weather.wind_gust_kt) == (15, 25)
    assert weather.qnh_inhg == 29.92
    assert weather.qnh_hpa == pytest.approx(1013.2, abs=0.05)


@pytest.mark.outside
@pytest.mark.parametrize(
    "text",
    [
        pytest.param(text, id=f"metar-taf-parser-mivek 1.13, {text.split(' ', 2)[2]}")
        for text in (
            "YUDO 221630Z 24015G27KT 9999 SCT010 M02/M05 Q0987",
            "YUDO 221630Z 36008KT 10SM CLR 31/24 A3006",
            "YUDO 221630Z 05012MPS CAVOK 08/M01 Q1032",
        )
    ],
)
def test_a_second_library_reads_the_same(text: str) -> None:
    parser = pytest.importorskip("metar_taf_parser.parser.parser")
    reference = parser.MetarParser().parse(text)
    weather = read_metar(text)
    to_knots = {"KT": 1, "MPS": METRES_A_SECOND}[reference.wind.unit]
    assert weather.wind_direction_deg == reference.wind.degrees
    assert weather.wind_speed_kt == pytest.approx(reference.wind.speed * to_knots, abs=0.001)
    assert weather.wind_gust_kt == reference.wind.gust
    assert weather.temperature_c == reference.temperature
    assert weather.dew_point_c == reference.dew_point
    # The library drops the fraction of a hectopascal.
    assert weather.qnh_hpa is not None and int(weather.qnh_hpa) == reference.altimeter


def test_groups_that_are_missing_are_none() -> None:
    weather = read_metar("METAR YUDO 221630Z /////KT //// // ////// M05/ Q////")
    assert weather == Weather(
        station="YUDO",
        wind_direction_deg=None,
        wind_variable=False,
        wind_from_deg=None,
        wind_to_deg=None,
        wind_speed_kt=None,
        wind_gust_kt=None,
        temperature_c=-5,
        dew_point_c=None,
        qnh_hpa=None,
        qnh_inhg=None,
    )


def test_a_direction_that_was_not_observed_is_not_a_variable_wind() -> None:
    weather = read_metar("METAR YUDO 221630Z ///05KT 9999 17/16 Q1018")
    assert (weather.wind_direction_deg, weather.wind_variable) == (None, False)
    assert weather.wind_speed_kt == 5


def test_a_pilot_may_type_the_groups_alone_in_small_letters_and_on_two_lines() -> None:
    weather = read_metar(" 24015g25kt 17/16\n q1018= ")
    assert weather.station is None
    assert (weather.wind_direction_deg, weather.wind_gust_kt) == (240, 25)
    assert weather.qnh_hpa == 1018
    assert weather.qnh_inhg == pytest.approx(30.06, abs=0.005)


def test_a_setting_in_both_units_is_taken_as_first_written() -> None:
    weather = read_metar("METAR YUDO 221630Z 24015KT 9999 17/16 Q1018 A3006")
    assert (weather.qnh_hpa, round(weather.qnh_inhg or 0, 2)) == (1018, 30.06)


def test_the_trend_of_a_wind_is_not_the_wind() -> None:
    weather = read_metar("METAR YUDO 221630Z 24015KT 9999 17/16 Q1018 BECMG FM1700 30040G55KT")
    assert (weather.wind_speed_kt, weather.wind_gust_kt) == (15, None)


def report(groups: str) -> str:
    return f"METAR YUDO 221630Z {groups}"


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "'' gives neither wind nor temperature nor pressure"),
        ("hello", "'HELLO' is not a METAR: cannot read 'HELLO'; it is such as METAR XXXX"),
        ("WIND", "'WIND' gives neither wind nor temperature nor pressure"),
        (report("NIL"), "gives neither wind nor temperature nor pressure"),
        ("x" * 2000, "is too long for a METAR"),
        ("x" * 500, "XXX...' is not a METAR: cannot read 'XXX"),
        (report("24015KT 9999 17/16 Q1018 30040KT"), "cannot read '30040KT'"),
        (report("40015KT 9999 17/16 Q1018"), "is not a METAR; it is such as"),
        (report("24015 9999 17/16 Q1018"), "in digits with its unit, such as 24015G25KT"),
        (report("240105 9999 17/16 Q1018"), "in digits with its unit, such as 24015G25KT"),
        (report("2401OKT 9999 17/16 Q1018"), "in digits with its unit, such as 24015G25KT"),
        (
            report("24015KT 9999 SCT010 30020KT 17/16 Q1018"),
            "has one wind, not 24015KT and 30020KT",
        ),
        (report("240P99KT 9999 17/16 Q1018"), "240P99KT gives no wind speed, only one that it is"),
        (report("24040GP99KT 9999 17/16 Q1018"), "24040GP99KT gives no wind speed"),
        (report("240P49MPS 9999 17/16 Q1018"), "240P49MPS gives no wind speed"),
        (report("24025G15KT 9999 17/16 Q1018"), "the gust of 24025G15KT is below its wind"),
        (report("240300KT 9999 17/16 Q1018"), "at most 250 kt, not 300 kt"),
        (report("24015KT 9999 99/16 Q1018"), "temperature is from -90 to 60 degC, not 99 degC"),
        (report("24015KT 9999 17/M99 Q1018"), "dew point is from -90 to 60 degC, not -99 degC"),
        (report("24015KT 9999 16/17 Q1018"), "dew point is at most its temperature, 16 degC"),
        (report("24015KT 9999 17/16 1018"), "altimeter setting is written such as Q1018"),
        (report("24015KT 9999 17/16 Q1O18"), "altimeter setting is written such as Q1018"),
        (report("24015KT 9999 17/16 Q0101"), "from Q0847 to Q1117 or A2500 to A3300, not Q0101"),
        (report("24015KT 9999 17/16 A9292"), "from Q0847 to Q1117 or A2500 to A3300, not A9292"),
        (report("24015KT 9999 17/16 Q1018 A2992"), "Q1018 and A2992 are not the same"),
    ],
)
def test_what_is_no_metar_is_one_clear_line(text: str, message: str) -> None:
    with pytest.raises(RunnerError) as error:
        read_metar(text)
    assert message in str(error.value)
    assert "\n" not in str(error.value) and len(str(error.value)) < 300


@given(
    st.integers(0, 36).map(lambda tens: tens * 10),
    st.integers(0, 99),
    st.none() | st.integers(0, 60),
    st.integers(-60, 50),
    st.integers(0, 30),
    st.integers(870, 1080),
)
def test_what_is_written_is_read_back(
    direction: int, speed: int, gust: int | None, temperature: int, spread: int, qnh: int
) -> None:
    dew_point = temperature - spread
    peak = "" if gust is None else f"G{speed + gust:02d}"
    celsius = "/".join(f"{'M' if t < 0 else ''}{abs(t):02d}" for t in (temperature, dew_point))
    weather = read_metar(report(f"{direction:03d}{speed:02d}{peak}KT 9999 {celsius} Q{qnh:04d}"))
    assert (weather.wind_direction_deg, weather.wind_speed_kt) == (direction, speed)
    assert weather.wind_gust_kt == (None if gust is None else speed + gust)
    assert (weather.temperature_c, weather.dew_point_c) == (temperature, dew_point)
    assert weather.qnh_hpa == qnh


WHOLE = (
    "METAR YUDO 221630Z 24015G25KT 180V270 0600 R12/1000U DZ FG SCT010 OVC020 M17/M18 Q1018 "
    "BECMG TL1700 0800 FG RMK AO2 SLP045 T11701180 PK WND 28045/1955"
)


@given(
    st.integers(0, len(WHOLE) - 1),
    st.integers(0, 8),
    st.text("0123456789/QAKTMPSVRBG =\nO", max_size=8),
)
def test_a_mistyped_metar_is_read_or_is_one_clear_line(at: int, gone: int, put: str) -> None:
    try:
        weather = read_metar(WHOLE[:at] + put + WHOLE[at + gone :])
    except RunnerError as error:
        assert "\n" not in str(error)
        return
    assert weather.wind_speed_kt is None or 0 <= weather.wind_speed_kt <= 250
    assert weather.qnh_inhg is None or 25 <= weather.qnh_inhg <= 33


def test_the_library_is_loaded_only_when_a_metar_is_read() -> None:
    code = "import sys, runner.figures.weather; print('metar' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert re.fullmatch(r"False\s*", done.stdout)
