"""Inputs of an aircraft from a weather report, in the aircraft's own units."""

from __future__ import annotations

import pytest

from figures_aircraft import aircraft, choice, number
from runner.errors import RunnerError
from runner.figures.weather_inputs import given_from_metar

FOREIGN = aircraft(
    (
        number("wind_direction", "deg"),
        number("wind_speed", "mph"),
        number("outside_temperature", "degF"),
        number("dew_point", "degC"),
        number("qnh", "hPa"),
    )
)


def test_values_come_in_the_inputs_own_units() -> None:
    made = given_from_metar(FOREIGN, "XXXX 121250Z 24010KT 9999 20/M05 A2992")
    assert made.given == {
        "wind_direction": 240.0,
        "wind_speed": pytest.approx(11.508, abs=0.001),
        "outside_temperature": pytest.approx(68.0),
        "dew_point": -5.0,
        "qnh": pytest.approx(1013.2, abs=0.05),
    }
    assert made.left == {}


def test_inches_reported_are_inches_set() -> None:
    inches = aircraft((number("qnh", "inHg"),))
    assert given_from_metar(inches, "XXXX 121250Z 24010KT A2992").given == {"qnh": 29.92}


def test_a_variable_wind_sets_no_direction() -> None:
    made = given_from_metar(FOREIGN, "XXXX 121250Z VRB03KT 9999 20/05 Q1013")
    assert "wind_direction" not in made.given
    assert made.left == {
        "wind_direction": "the METAR gives a variable wind; wind direction is left as it was"
    }


def test_what_the_report_lacks_is_left_alone_and_told() -> None:
    made = given_from_metar(FOREIGN, "XXXX 121250Z Q1013")
    assert list(made.given) == ["qnh"]
    assert list(made.left.values()) == [
        "the METAR gives no wind direction; wind direction is left as it was",
        "the METAR gives no wind speed; wind speed is left as it was",
        "the METAR gives no temperature; outside temperature is left as it was",
        "the METAR gives no dew point; dew point is left as it was",
    ]


@pytest.mark.parametrize(
    ("one", "message"),
    [
        (number("weight", "lb"), "Test Piece takes nothing from a METAR; it has no input wind_dir"),
        (number("qnh", "kt"), "qnh cannot be set from a METAR: a pressure (hPa) is not a speed"),
        (choice("wind_speed", ("calm", "strong")), "wind_speed is one of calm, strong; no METAR"),
    ],
)
def test_an_input_that_no_report_fits(one: object, message: str) -> None:
    with pytest.raises(RunnerError) as caught:
        given_from_metar(aircraft((one,)), "XXXX 121250Z 24010KT 20/05 Q1013")  # type: ignore[arg-type]
    assert str(caught.value).startswith(message)
    assert "\n" not in str(caught.value)
