"""``runner card``: what it prints, what it draws, and what it refuses in one line."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest

from plot_aircraft import craft
from runner import cli
from runner.figures.card import WARNING
from runner.figures.model import Aircraft

METAR = "XXXX 121250Z 24015G25KT 9999 SCT030 18/11 Q1009"


@pytest.fixture
def whole() -> Aircraft:
    return craft()


@pytest.fixture(autouse=True)
def _its_file(monkeypatch: pytest.MonkeyPatch, whole: Aircraft) -> None:
    monkeypatch.setattr("runner.checklist.cache.load_aircraft_cached", lambda _: whole)


def run(*words: str) -> int:
    return cli.main(["card", *words])


def test_the_card_is_a_table_unless_asked_otherwise(capsys: pytest.CaptureFixture[str]) -> None:
    assert run() == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == "Test Piece: take-off and landing data card"
    assert lines[1] == lines[-1] == WARNING
    assert "Planned climb" in lines


def test_the_card_as_json_and_csv(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("--format", "json", "--set", "weight=4900lb") == 0
    made = json.loads(capsys.readouterr().out)
    assert made["inputs"][0]["value"] == 4900.0
    assert run("--format", "csv") == 0
    rows = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    assert [row["name"] for row in rows] == ["rotate", "pressure", "draught", "spare"]


def test_the_working_of_several_figures(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("--why", "rotate", "--why", "weight") == 0
    first, second = capsys.readouterr().out.split("\n\n")
    assert first.startswith("rotate: 78 kt\n")
    assert second == "weight: 4200 lb, the aircraft's default\n"


def test_a_report_sets_the_inputs(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("--metar", METAR) == 0
    out = capsys.readouterr().out
    rows = [line.split() for line in out.splitlines()]
    assert ["wind", "direction", "240", "deg", "report"] in rows
    assert ["wind", "gust", "25", "kt", "report"] in rows
    assert ["outside", "temperature", "18.0", "degC", "report"] in rows
    assert ["qnh", "29.80", "inHg", "report"] in rows
    assert "No warnings." in out


def test_what_is_set_wins_over_the_report(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("--metar", METAR, "--set", "wind_gust=31kt") == 0
    rows = [line.split() for line in capsys.readouterr().out.splitlines()]
    assert ["wind", "gust", "31", "kt", "given"] in rows
    assert ["wind", "speed", "15", "kt", "report"] in rows


def test_what_a_report_leaves_alone_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("--metar", "XXXX 121250Z 24015KT 9999 18/11 Q1009") == 0
    out = capsys.readouterr().out
    assert "  the METAR gives no gust; wind gust is left as it was\n" in out
    assert run("--metar", "XXXX 121250Z 24015KT 18/11 Q1009", "--why", "wind_gust") == 0
    told = capsys.readouterr()
    assert told.out == "wind gust: 0 kt, the aircraft's default\n"
    assert told.err == "the METAR gives no gust; wind gust is left as it was\n"
    assert run("--metar", "XXXX 121250Z 24015KT 18/11 Q1009", "--set", "wind_gust=20") == 0
    assert "left as it was" not in capsys.readouterr().out


def test_one_picture_as_text(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("--chart", "power") == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == "climb power; up: pressure, inHg"
    assert lines[-1] == WARNING
    assert max(map(len, lines)) <= 80


def test_a_picture_of_a_schedule_is_a_chart_for_each_unit(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert run("--chart", "steps") == 0
    lines = capsys.readouterr().out.splitlines()
    assert [line for line in lines if line.startswith("power in the climb")] == [
        "power in the climb; up: inHg",
        "power in the climb; up: draught, kt",
    ]


def test_pictures_are_drawn_into_a_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "today.svg"
    assert run("--plot", str(file)) == 0
    assert capsys.readouterr().out == f"{file}: 4 pictures\n"
    assert file.read_text(encoding="utf-8").count(WARNING) == 2


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("--set", "weight=-5lb"), "weight is from 2000 to 9000 lb, not -5 lb"),
        (("--set", "outside_temperature=200degC"), "outside_temperature is from -60 to 50 degC"),
        (("--set", "weight=5furlongs"), "furlongs"),
        (("--metar", "hello"), "'HELLO' is not a METAR"),
        (("--metar", "XXXX 121250Z 24015KT 9999 55/11 Q1009"), "outside_temperature is from"),
        (("--why", "rotat"), "has no figure rotat; did you mean rotate?"),
        (("--chart", "powr"), "has no picture powr; did you mean power?"),
        (("--chart", "zzz"), "it has power, speeds, balance, steps"),
        (("--plot", "today.pdf"), "--plot today.pdf: its name should end in .png or .svg"),
        (("--plot", ""), "its name should end in .png or .svg"),
        (("--plot", "/no/such/folder/a.png"), "cannot be written: "),
    ],
)
def test_what_is_wrong_is_one_line(
    words: tuple[str, ...], message: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(*words) == 2
    told = capsys.readouterr()
    assert message in told.err
    assert told.err.count("\n") == 1
    assert told.out == ""


@pytest.mark.parametrize("whole", [craft(pictures=())])
@pytest.mark.parametrize("words", [("--chart", "power"), ("--plot", "a.png")])
def test_an_aircraft_without_pictures(
    words: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(*words) == 2
    assert capsys.readouterr().err.endswith("Test Piece has no pictures\n")
