"""The data card: origins of inputs, margins from limits, schedules and warnings."""

from __future__ import annotations

import csv
import io
import json
import re
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from figures_aircraft import aircraft, choice, figure, number
from plot_aircraft import INPUTS, craft
from runner.figures.card import WARNING, Card, card_schedules, data_card, margin_of
from runner.figures.card_formats import card_csv, card_json
from runner.figures.card_table import WIDTH, card_lines, print_card
from runner.figures.model import Aircraft
from runner.figures.sheet import Sheet

LIMITED = aircraft(
    (number("speed", "kt", default=100.0, decimals=2), choice("way", ("up", "down"), "up")),
    (
        figure("near", "speed", "kt", round_="up", low="90.5 kt", high="103.7 kt", group="Speeds"),
        figure("at_top", "speed", "kt", high="100 kt", group="Speeds"),
        figure("past", "speed", "kt", high="80 kt", group="Speeds"),
        figure("after", "past + 1 kt", "kt", group="Speeds"),
        figure("free", "speed", "kt"),
        figure("word", "way"),
        figure("only_down", "speed", "kt", if_="way == down"),
    ),
)


def card_of(whole: Aircraft, **values: float | str) -> Card:
    sheet = Sheet(whole)
    worked = sheet.work_out(values)
    return data_card(worked, card_schedules(sheet, worked))


class Terminal(io.StringIO):
    """A file that says that it is a terminal."""

    def isatty(self) -> bool:
        return True


def printed(card: Card, monkeypatch: pytest.MonkeyPatch, columns: int) -> str:
    for name in ("NO_COLOR", "FORCE_COLOR", "TTY_COMPATIBLE", "TTY_INTERACTIVE"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.setenv("COLUMNS", str(columns))
    file = Terminal()
    print_card(card, file)
    return file.getvalue()


def test_the_margin_of_a_figure_is_that_from_its_nearer_limit() -> None:
    near = card_of(LIMITED).figures[0]
    assert [(one.way, one.value, one.margin) for one in near.limits] == [
        ("at least", 90.5, 9.0),
        ("at most", 103.7, 3.0),
    ]
    assert near.margin == 3.0
    assert near.nearest is not None and near.nearest.source == "103.7 kt"


def test_the_margin_is_that_of_the_figure_as_it_is_said() -> None:
    near = card_of(LIMITED, speed=101.2).figures[0]
    assert near.figure is not None and near.figure.value == 102.0
    assert near.margin == 1.0


@given(
    st.floats(0.0, 1e5, allow_nan=False),
    st.integers(0, 3),
)
def test_a_margin_is_never_overstated(gap: float, decimals: int) -> None:
    margin = margin_of(gap, decimals)
    step = 10.0**-decimals
    assert margin <= gap + 1e-9 * max(step, gap)
    assert margin > gap - step - 1e-9 * gap
    assert f"{margin:.{decimals}f}" == f"{margin:.{decimals + 3}f}"[: len(f"{margin:.{decimals}f}")]


def test_floating_point_does_not_cost_a_margin_its_last_place() -> None:
    assert 46.0 - 41.2 < 4.8
    assert margin_of(46.0 - 41.2, 1) == 4.8


def test_a_figure_at_its_limit_and_one_past_it_are_warned_of() -> None:
    card = card_of(LIMITED)
    assert card.warnings == (
        "no past: comes to 100 kt, above its limit of 80 kt (at most 80 kt)",
        "no after: needs past, which cannot be worked out",
        "at top is at its limit, at most 100 kt",
    )
    past = card.figures[2]
    assert past.figure is None and past.margin is None and past.nearest is None
    assert past.limits[0].value == 80.0


def test_what_is_to_be_mended_is_told_before_what_follows_from_it() -> None:
    whole = aircraft(
        (number("speed", "kt", default=100.0),),
        (figure("after", "past + 1 kt", "kt"), figure("past", "speed", "kt", high="80 kt")),
    )
    assert [one[:9] for one in card_of(whole).warnings] == ["no past: ", "no after:"]


def test_figures_that_do_not_apply_are_left_out() -> None:
    assert [one.name for one in card_of(LIMITED).figures][-2:] == ["free", "word"]
    assert [one.name for one in card_of(LIMITED, way="down").figures][-1] == "only_down"


def test_a_limit_that_cannot_be_worked_out_is_told_as_the_figures_problem() -> None:
    whole = aircraft(
        (number("speed", "kt", default=100.0), number("top", "kt")),
        (figure("fast", "speed", "kt", high="top"),),
    )
    card = card_of(whole)
    assert card.figures[0].limits == ()
    assert card.warnings == ("no fast: needs top, which is not given",)
    assert [(one.name, one.origin) for one in card.inputs] == [
        ("speed", "default"),
        ("top", "not given"),
    ]


def test_each_input_says_where_it_comes_from() -> None:
    sheet = Sheet(craft())
    worked = sheet.work_out({"weight": 4000.0, "qnh": 29.5})
    origins = {one.name: one.origin for one in data_card(worked, reported={"qnh"}).inputs}
    assert origins["weight"] == "given"
    assert origins["qnh"] == "report"
    assert origins["gear"] == "worked out"
    assert origins["altitude"] == "default"
    assert "wind_direction" not in origins


def test_an_input_whose_default_is_wrong_is_warned_of() -> None:
    card = card_of(aircraft((number("speed", "kt", 0.0, 50.0, 100.0),)))
    assert card.inputs[0].origin == "not given"
    assert card.warnings == ("no speed: its default should be from 0 to 50 kt, not 100 kt",)


def test_the_card_shows_the_schedules_and_their_changes() -> None:
    lines = card_lines(card_of(craft()))
    at = lines.index("Planned climb")
    assert lines[at + 1].split() == ["altitude", "pressure", "draught", "spare"]
    assert lines[at + 3].split() == ["1000", "low", "41.0", "2", "11.0"]
    assert "Changes to call, planned climb" in lines
    assert "  at 4000 ft: gear high, was low" in lines


def test_a_schedule_without_changes_has_no_heading_for_them() -> None:
    whole = craft(pictures=())
    quiet = replace(whole.schedules["climb"], figures=("draught",), changes=())
    lines = card_lines(card_of(replace(whole, schedules={"climb": quiet})))
    assert "Planned climb" in lines
    assert not any(line.startswith("Changes") for line in lines)


def test_a_schedule_that_fails_at_some_steps_says_at_which() -> None:
    card = card_of(craft(), top=10000.0)
    assert (
        "planned climb: no pressure from 9000 to 10000 ft: table power_chart covers altitude "
        "from 0 to 8000 ft, not 9000 ft"
    ) in card.warnings
    card = card_of(craft(), top=9000.0)
    assert any("no pressure at 9000 ft" in one for one in card.warnings)


def test_a_schedule_that_cannot_be_worked_out_is_warned_of() -> None:
    whole = craft(
        inputs=[replace(one, default=None) if one.name == "top" else one for one in INPUTS]
    )
    card = card_of(whole)
    assert card.schedules[0].worked is None
    assert any(one.startswith("no planned climb: schedule climb: ") for one in card.warnings)
    assert "Planned climb" not in card_lines(card)
    assert json.loads(card_json(card))["schedules"][0]["rows"] == []


def test_the_card_in_plain_lines() -> None:
    assert card_lines(card_of(LIMITED)) == [
        "Test Piece: take-off and landing data card",
        WARNING,
        "3 warnings stand at the end.",
        "",
        "Inputs      value  unit  from",
        "  speed    100.00  kt    default",
        "  way      up            default",
        "",
        "Speeds      value  unit  margin",
        "  near        100  kt    3 below 103.7",
        "  at top      100  kt    at 100 limit",
        "  past     none          see warnings",
        "  after    none          see warnings",
        "",
        "Figures     value  unit  margin",
        "  free        100  kt",
        "  word     up",
        "",
        "Warnings",
        "  no past: comes to 100 kt, above its limit of 80 kt (at most 80 kt)",
        "  no after: needs past, which cannot be worked out",
        "  at top is at its limit, at most 100 kt",
        "",
        WARNING,
    ]


def test_an_empty_card_still_says_that_the_approved_manual_decides() -> None:
    assert WARNING == "For simulation and training, not for flight; the approved manual decides."
    assert card_lines(card_of(aircraft())) == [
        "Test Piece: take-off and landing data card",
        WARNING,
        "",
        "No warnings.",
        "",
        WARNING,
    ]


def test_one_warning_is_told_in_the_singular() -> None:
    whole = aircraft(
        (number("speed", "kt", default=100.0),), (figure("top", "speed", "kt", high="100 kt"),)
    )
    assert card_lines(card_of(whole))[2] == "1 warning stands at the end."


def test_figures_stand_under_the_headings_of_their_groups() -> None:
    whole = aircraft(
        (),
        (
            figure("a", "1 kt", "kt", group="Take-off"),
            figure("b", "2 kt", "kt", group="Landing"),
            figure("c", "3 kt", "kt", group="Take-off"),
        ),
    )
    words = [line.split() for line in card_lines(card_of(whole))[3:10]]
    assert words == [
        ["Take-off", "value", "unit", "margin"],
        ["a", "1", "kt"],
        ["c", "3", "kt"],
        [],
        ["Landing", "value", "unit", "margin"],
        ["b", "2", "kt"],
        [],
    ]


LONG = aircraft(
    (
        number("a_very_long_name_of_an_input_that_says_much_too_much", "degC", default=12345.5),
        choice("state", ("a_word_that_is_far_too_long_for_a_column", "b"), "b"),
    ),
    (figure("f", "12345.6 lb*in", "lb*in", decimals=1, step=0.1, high="99999 lb*in"),),
)


@pytest.mark.parametrize("width", [30, 47, 48, 60, 80])
@pytest.mark.parametrize("state", ["b", "a_word_that_is_far_too_long_for_a_column"])
def test_no_line_is_wider_than_asked_and_no_number_is_cut(width: int, state: str) -> None:
    lines = card_lines(card_of(LONG, state=state), width)
    assert max(map(len, lines)) <= width
    text = " ".join(lines)
    assert "12346" in text or "12345" in text
    assert "12345.6" in text and "lb*in" in text
    assert "99999" in text


def test_on_a_narrow_terminal_a_row_is_a_sentence() -> None:
    lines = card_lines(card_of(LIMITED), 40)
    assert "  speed: 100.00 kt, default" in lines
    assert "  near: 100 kt, margin 3 below 103.7" in lines
    assert "  past: none, see warnings" in lines
    assert "  word: up" in lines


@pytest.mark.parametrize("columns", [40, 80, 200])
def test_on_a_terminal_there_is_weight_and_no_colour(
    monkeypatch: pytest.MonkeyPatch, columns: int
) -> None:
    text = printed(card_of(craft()), monkeypatch, columns)
    assert set(re.findall(r"\x1b\[[\d;]*m", text)) == {"\x1b[1m", "\x1b[0m"}
    bare = re.sub(r"\x1b\[[\d;]*m", "", text)
    assert max(len(line.rstrip()) for line in bare.splitlines()) <= min(columns, WIDTH)
    assert [line.rstrip() for line in bare.splitlines()] == card_lines(
        card_of(craft()), min(columns, WIDTH)
    )


def test_away_from_a_terminal_there_are_no_styles(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("FORCE_COLOR", raising=False)
    monkeypatch.delenv("TTY_COMPATIBLE", raising=False)
    file = io.StringIO()
    print_card(card_of(craft()), file)
    assert file.getvalue().splitlines() == card_lines(card_of(craft()))


def test_square_brackets_of_a_file_are_not_taken_for_styles() -> None:
    whole = aircraft((), (replace(figure("a", "1 kt", "kt"), title="[bold]a[/bold] :warning:"),))
    assert any("[bold]a[/bold] :warning:" in line for line in card_lines(card_of(whole)))


def test_the_card_as_json() -> None:
    made = json.loads(card_json(card_of(LIMITED)))
    assert list(made) == [
        "card",
        "aircraft",
        "warning",
        "inputs",
        "figures",
        "schedules",
        "warnings",
    ]
    assert (made["card"], made["aircraft"], made["warning"]) == (1, "Test Piece", WARNING)
    assert made["inputs"][0] == {
        "name": "speed",
        "title": "speed",
        "value": 100.0,
        "unit": "kt",
        "shown": "100.00",
        "origin": "default",
    }
    assert made["figures"][0] == {
        "name": "near",
        "title": "near",
        "group": "Speeds",
        "value": 100.0,
        "unit": "kt",
        "shown": "100",
        "limits": {"at least": 90.5, "at most": 103.7},
        "margin": 3.0,
        "problem": "",
    }
    past = made["figures"][2]
    assert (past["value"], past["shown"], past["margin"], past["unit"]) == (None, None, None, "kt")
    assert past["problem"].startswith("comes to 100 kt")
    assert len(made["warnings"]) == 3


def test_schedules_as_json() -> None:
    (climb,) = json.loads(card_json(card_of(craft())))["schedules"]
    assert (climb["name"], climb["varies"], climb["problem"]) == ("climb", "altitude", "")
    assert climb["rows"][0]["at"] == {"value": 1000.0, "unit": "ft", "shown": "1000"}
    assert climb["rows"][0]["figures"]["gear"] == {"value": "low", "unit": "", "shown": "low"}
    assert climb["changes"][0]["name"] == "gear"
    assert climb["changes"][0]["after"]["value"] == "high"


def test_the_card_as_csv_has_one_row_a_figure() -> None:
    rows = list(csv.DictReader(io.StringIO(card_csv(card_of(LIMITED)))))
    assert [row["name"] for row in rows] == ["near", "at_top", "past", "after", "free", "word"]
    assert rows[0] == {
        "name": "near",
        "title": "near",
        "group": "Speeds",
        "value": "100",
        "unit": "kt",
        "at_least": "90.5",
        "at_most": "103.7",
        "margin": "3",
        "problem": "",
        "use": WARNING,
    }
    assert (rows[2]["value"], rows[2]["margin"]) == ("", "")
    assert rows[2]["problem"].startswith("comes to 100 kt")
