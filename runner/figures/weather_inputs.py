"""A weather report's values as inputs of an aircraft, in the inputs' own units.

An aircraft takes from a report the inputs that it has under the names ``wind_direction``,
``wind_speed``, ``wind_gust``, ``outside_temperature``, ``dew_point`` and ``qnh``. A report
gives its wind from *true* north, and so does the input that is set from it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from runner.errors import RunnerError
from runner.figures.model import Aircraft
from runner.figures.units import UnitError, convert
from runner.figures.weather import Weather, read_metar


@dataclass(frozen=True, slots=True)
class Reported:
    """Inputs set from a report, in their own units; ``left`` tells of each input that the
    report does not set why not, in one line."""

    given: Mapping[str, float | str]
    left: Mapping[str, str]


def given_from_metar(aircraft: Aircraft, text: str) -> Reported:
    """The aircraft's inputs from the METAR ``text``.

    Raises RunnerError in one line where ``text`` is no METAR, or where the aircraft has
    none of those inputs. Ranges are the sheet's to check.
    """
    weather = read_metar(text)
    given: dict[str, float | str] = {}
    left: dict[str, str] = {}
    found = _values(weather)
    if not any(name in aircraft.inputs for name in found):
        raise RunnerError(
            f"{aircraft.name} takes nothing from a METAR; it has no input {', '.join(found)}"
        )
    for name, (value, unit, missing) in found.items():
        one = aircraft.inputs.get(name)
        if one is None:
            continue
        if value is None:
            left[name] = f"the METAR {missing}; {one.title or name} is left as it was"
            continue
        if one.choices:
            raise RunnerError(f"{name} is one of {', '.join(one.choices)}; no METAR can say that")
        if name == "qnh" and one.unit == "inHg" and weather.qnh_inhg is not None:
            given[name] = weather.qnh_inhg
            continue
        try:
            given[name] = convert(value, unit, one.unit)
        except UnitError as error:
            raise RunnerError(f"{name} cannot be set from a METAR: {error}") from error
    return Reported(given, left)


def _values(weather: Weather) -> dict[str, tuple[float | None, str, str]]:
    """For each input its value, its unit, and what the report does where there is none."""
    direction = "gives a variable wind" if weather.wind_variable else "gives no wind direction"
    return {
        "wind_direction": (weather.wind_direction_deg, "deg", direction),
        "wind_speed": (weather.wind_speed_kt, "kt", "gives no wind speed"),
        "wind_gust": (weather.wind_gust_kt, "kt", "gives no gust"),
        "outside_temperature": (weather.temperature_c, "degC", "gives no temperature"),
        "dew_point": (weather.dew_point_c, "degC", "gives no dew point"),
        "qnh": (weather.qnh_hpa, "hPa", "gives no altimeter setting"),
    }
