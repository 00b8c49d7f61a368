"""A METAR read into the wind, temperatures and QNH that a take-off needs, in pilots' units.

Format: WMO-No. 306, *Manual on Codes*, volume I.1, FM 15 METAR, and the U.S. form of it in
the Federal Meteorological Handbook No. 1, chapter 12. The groups are decoded by the library
``metar``; what it would guess at (a wind without its unit, a pressure without its letter) is
refused here instead. It works on the text alone, with no network.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from runner.errors import RunnerError
from runner.figures.air import INCH_OF_MERCURY

if TYPE_CHECKING:
    from metar.Datatypes import direction, speed, temperature
    from metar.Metar import Metar

LONGEST = 1000
"""Characters of a METAR; a report with every group and remark has about 400."""

TEMPERATURES = (-90.0, 60.0)
"""degC: what has ever been measured, with a margin."""

SETTINGS = (25.0, 33.0)
"""inHg: what a pressure altitude is worked out for."""

STRONGEST_WIND = 250.0
"""Knots."""

_HECTOPASCAL = INCH_OF_MERCURY / 100
"""In an inch of mercury."""

_EXAMPLE = "such as METAR XXXX 221630Z 24015G25KT 9999 SCT010 17/16 Q1018"
_WIND = re.compile(r"(?:\d{3}|VRB|///)P?\d{2,3}(?:G(?:P?\d{2,3}|//))?(?:KT|MPS|KMH)", re.ASCII)
_SETTING = re.compile(r"[AQ]\d{4}", re.ASCII)
_UNREAD = re.compile(r"Unparsed groups in body '(.*?)'")
_BODY_ENDS = frozenset({"RMK", "RMKS", "TEMPO", "BECMG", "NOSIG", "FCST", "NOSPECI"})


@dataclass(frozen=True, slots=True)
class Weather:
    """What a METAR reports; None where the group is missing.

    Directions are degrees *true*, from which the wind blows; None where it is variable, and
    ``wind_from_deg`` to ``wind_to_deg``, clockwise, are the extremes of one that swings.
    Speeds are knots, temperatures degC. The altimeter setting is both in hPa and in inHg: one
    was reported, the other is converted.
    """

    station: str | None
    wind_direction_deg: float | None
    wind_variable: bool
    wind_from_deg: float | None
    wind_to_deg: float | None
    wind_speed_kt: float | None
    wind_gust_kt: float | None
    temperature_c: float | None
    dew_point_c: float | None
    qnh_hpa: float | None
    qnh_inhg: float | None


def read_metar(text: str) -> Weather:
    """The weather of a METAR or SPECI; the word itself, station and time may be left out.

    Temperatures are in tenths where the remarks give them so (FMH-1, chapter 12, T group).
    Raises RunnerError, one line, where the text is not a METAR, says nothing of wind,
    temperature or pressure, or says what no weather is.
    """
    groups = text.upper().strip().rstrip("= ").split()
    line = " ".join(groups)
    if len(line) > LONGEST:
        raise RunnerError(f"'{_short(line)}' is too long for a METAR, {_EXAMPLE}")
    metar = _decoded(line)
    if metar.wind_speed is None and metar.temp is None and metar.press is None:
        raise RunnerError(
            f"'{_short(line)}' gives neither wind nor temperature nor pressure; "
            f"a METAR does, {_EXAMPLE}"
        )
    end = next((place for place, group in enumerate(groups) if group in _BODY_ENDS), None)
    body = groups[:end]
    group = _wind_group(metar, body)
    wind_speed, wind_gust = _knots(metar.wind_speed), _knots(metar.wind_gust)
    if wind_speed is not None and wind_gust is not None and wind_gust < wind_speed:
        raise RunnerError(f"the gust of {group} is below its wind")
    temperature_c, dew_point_c = _temperatures(metar)
    hectopascal, inches = _setting(metar, body)
    return Weather(
        station=metar.station_id,
        wind_direction_deg=_degrees(metar.wind_dir),
        wind_variable=group is not None and group.startswith("VRB"),
        wind_from_deg=_degrees(metar.wind_dir_from),
        wind_to_deg=_degrees(metar.wind_dir_to),
        wind_speed_kt=wind_speed,
        wind_gust_kt=wind_gust,
        temperature_c=temperature_c,
        dew_point_c=dew_point_c,
        qnh_hpa=hectopascal,
        qnh_inhg=inches,
    )


def _decoded(line: str) -> Metar:
    from metar.Metar import Metar, ParserError

    try:
        # The month is of no use here, and the library would guess it from today's date.
        return Metar(line, month=1, year=2000)
    except ParserError as error:
        unread = _UNREAD.search(str(error))
        reason = f": cannot read '{_short(unread[1])}'" if unread else ""
        raise RunnerError(f"'{_short(line)}' is not a METAR{reason}; it is {_EXAMPLE}") from None


def _wind_group(metar: Metar, body: list[str]) -> str | None:
    """The wind as it is written; the library would take one that has no unit in m/s."""
    if metar.wind_speed is None:
        return None
    written = [group for group in body if _WIND.fullmatch(group)]
    if not written:
        raise RunnerError(
            "a METAR's wind is written in digits with its unit, such as 24015G25KT or 24008MPS"
        )
    if len(written) > 1:
        raise RunnerError(f"a METAR has one wind, not {' and '.join(written)}")
    if "P" in written[0].removesuffix("MPS"):
        raise RunnerError(f"{written[0]} gives no wind speed, only one that it is above")
    return written[0]


def _temperatures(metar: Metar) -> tuple[float | None, float | None]:
    """Temperature and dew point in degC."""
    found = _celsius(metar.temp), _celsius(metar.dewpt)
    for name, value in zip(("temperature", "dew point"), found, strict=True):
        if value is not None and not TEMPERATURES[0] <= value <= TEMPERATURES[1]:
            raise RunnerError(
                f"a METAR's {name} is from {TEMPERATURES[0]:.0f} to {TEMPERATURES[1]:.0f} degC, "
                f"not {value:g} degC"
            )
    if found[0] is not None and found[1] is not None and found[1] > found[0]:
        raise RunnerError(
            f"a METAR's dew point is at most its temperature, {found[0]:g} degC, "
            f"not {found[1]:g} degC"
        )
    return found


def _setting(metar: Metar, body: list[str]) -> tuple[float | None, float | None]:
    """The altimeter setting in hPa and in inHg, by the first group where both are written."""
    if metar.press is None:
        return None, None
    written = [group for group in body if _SETTING.fullmatch(group)]
    if not written:
        raise RunnerError("a METAR's altimeter setting is written such as Q1018 or A2992")
    pairs = [_pair(group) for group in written]
    for group, (hectopascal, inches) in zip(written, pairs, strict=True):
        if not SETTINGS[0] <= inches <= SETTINGS[1]:
            raise RunnerError(
                f"an altimeter setting is from Q0847 to Q1117 or A2500 to A3300, not {group}"
            )
        # Each is rounded down to its own last digit.
        if abs(hectopascal - pairs[0][0]) > 1.5:
            raise RunnerError(f"{written[0]} and {group} are not the same altimeter setting")
    return pairs[0]


def _pair(group: str) -> tuple[float, float]:
    number = float(group[1:])
    if group.startswith("Q"):
        return number, number / _HECTOPASCAL
    return number / 100 * _HECTOPASCAL, number / 100


def _knots(value: speed | None) -> float | None:
    if value is None:
        return None
    knots = value.value("KT")
    if knots > STRONGEST_WIND:
        raise RunnerError(f"a METAR's wind is at most {STRONGEST_WIND:.0f} kt, not {knots:.0f} kt")
    return knots


def _degrees(value: direction | None) -> float | None:
    return None if value is None else value.value()


def _celsius(value: temperature | None) -> float | None:
    return None if value is None else value.value("C")


def _short(text: str) -> str:
    return text if len(text) <= 60 else text[:57] + "..."
