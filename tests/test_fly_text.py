"""The whole program on typed answers: right, wrong, missing and mistaken ones, and bad input."""

from __future__ import annotations

from pathlib import Path

import pytest

from flying import ANSWERS, CHALLENGES, WEIGHT, Flown, before_takeoff, fly


@pytest.fixture
def logbook(tmp_path: Path) -> Path:
    return tmp_path / "logbook.sqlite3"


def changed(place: int, *instead: str) -> list[str]:
    return [*ANSWERS[:place], *instead, *ANSWERS[place + 1 :]]


class TestRightAnswers:
    def test_a_list_answered_rightly_is_complete(self, logbook: Path) -> None:
        flown = before_takeoff(logbook, ANSWERS)
        assert flown.status == 0, flown.errors
        assert flown.said[0] == "Before take-off checklist. Runway surface"
        assert flown.said[1 : len(CHALLENGES)] == list(CHALLENGES[1:])
        assert flown.said[-1].startswith("Before take-off complete")

    def test_the_figures_of_the_weight_given_are_printed(self, logbook: Path) -> None:
        flown = before_takeoff(logbook, ANSWERS)
        for line in ("Rotate: 96 kt", "Decision speed: 92 kt", "Safety speed: 105 kt"):
            assert line in flown.lines
        assert any(
            line.startswith("Before take-off") and "rotation speed 96 kt" in line
            for line in flown.lines
        )

    def test_another_weight_gives_other_figures(self, logbook: Path) -> None:
        heavy = fly(logbook, ANSWERS, "--phase", "before-takeoff", "--set", "gross_weight=91500lb")
        assert heavy.status == 1
        assert "Rotate: 96 kt" not in heavy.lines
        assert any("expected 101 kt, heard 92 kt" in said for said in heavy.said)

    def test_a_weight_in_kilograms_is_the_same_weight(self, logbook: Path) -> None:
        flown = fly(
            logbook, ANSWERS, "--phase", "before-takeoff", "--set", "gross_weight=33706.45kg"
        )
        assert flown.status == 0
        assert "Rotate: 96 kt" in flown.lines


class TestWrongAnswers:
    def test_the_opposite_state_is_named_and_asked_again(self, logbook: Path) -> None:
        flown = before_takeoff(logbook, changed(5, "high blower", "low blower"))
        assert flown.status == 0
        assert "expected low blower, heard high blower. Blowers" in flown.said

    def test_a_wrong_number_is_read_back_and_asked_again(self, logbook: Path) -> None:
        flown = before_takeoff(logbook, changed(15, "six nine", "nine six"))
        assert flown.status == 0
        assert "expected 96 kt, heard 69 kt. Rotate" in flown.said

    @pytest.mark.parametrize("near_miss", ["one six", "nine five", "nine seven", "six nine"])
    def test_no_near_miss_of_a_speed_passes(self, logbook: Path, near_miss: str) -> None:
        flown = before_takeoff(logbook, changed(15, near_miss))
        assert flown.status == 1
        assert "Rotate: 96 kt" not in flown.lines

    def test_another_items_answer_does_not_pass(self, logbook: Path) -> None:
        flown = before_takeoff(logbook, changed(5, "half open"))
        assert flown.status == 1
        assert not any(line.startswith("Blowers: low") for line in flown.lines)

    def test_a_list_left_unanswered_ends_with_what_is_open(self, logbook: Path) -> None:
        flown = before_takeoff(logbook, ANSWERS[:-1])
        assert flown.status == 1
        assert flown.lines[-1] == "left open: Safety speed"

    def test_nothing_is_accepted_by_silence(self, logbook: Path) -> None:
        flown = fly(
            logbook,
            ["", "", "", "", ""],
            *("--phase", "before-takeoff", "--set", WEIGHT, "--clock", "fast"),
        )
        assert flown.status == 1
        assert flown.said.count("Runway surface?") == 5
        assert not any(line.startswith("Runway surface: ") for line in flown.lines)


class TestControls:
    def test_an_item_left_open_is_asked_again_at_the_end(self, logbook: Path) -> None:
        answers = changed(4, "come back to it")
        flown = before_takeoff(logbook, [*answers, "fully rich"])
        assert flown.status == 0
        assert "Mixtures: left open" in flown.lines
        assert flown.said.index("Safety speed") < max(
            place for place, said in enumerate(flown.said) if said.startswith("Mixtures")
        )

    def test_standing_by_holds_everything_until_continue(self, logbook: Path) -> None:
        flown = before_takeoff(
            logbook, changed(4, "stand by", "fully rich", "continue the checklist", "fully rich")
        )
        assert flown.status == 0
        held = flown.lines.index("Runner: standing by")
        assert "Mixtures: fully rich" not in flown.lines[held : held + 3]
        assert any("Flight controls, full and free" in said for said in flown.said)

    def test_an_abnormal_list_hands_back_to_the_item_it_interrupted(self, logbook: Path) -> None:
        flown = before_takeoff(logbook, changed(5, "engine fire number three", "low blower"))
        assert flown.status == 1
        assert any(said.startswith("Engine fire, engine 3") for said in flown.said)
        assert "Blowers: low blower" not in flown.lines


BAD = {
    "a weight beyond the range": (
        ["--set", "gross_weight=200000lb"],
        "gross_weight is from 52000 to 91500 lb, not 200000 lb",
    ),
    "a unit of another kind": (
        ["--set", "gross_weight=3degC"],
        "is not a mass (lb)",
    ),
    "an unknown unit": (["--set", "gross_weight=3foo"], "foo"),
    "no number": (["--set", "gross_weight=heavy"], "gross_weight=heavy"),
    "no value": (["--set", "gross_weight"], "name=value"),
    "an unknown input": (["--set", "gros_weight=3lb"], "did you mean gross_weight?"),
    "a figure that is worked out": (["--set", "rotate_speed=3"], "worked out"),
    "an unknown choice": (["--set", "runway_surface=muddy"], "dry, wet"),
    "an unknown phase": (["--phase", "before-takeof"], "has no such phase"),
    "an unknown voice": (["--voice", "nope"], "there is no such file"),
    "a missing file": (["nope.yaml"], "nope.yaml: there is no such file"),
    "an unknown way to speak": (["--speak", "loudly"], "speaker, none or wav:DIR"),
    "an unknown way to listen": (["--listen", "loudly"], "text:FILE or wav:FILE"),
    "a missing script": (["--listen", "text:/nope/answers"], "/nope/answers"),
    "nothing to resume": (["--resume"], "no unfinished run"),
    "a terminal that is none": (["--screen", "full"], "--screen plain"),
}


@pytest.mark.parametrize("case", BAD)
def test_bad_input_is_one_line_and_status_2(logbook: Path, case: str) -> None:
    options, wanted = BAD[case]
    flown: Flown = fly(logbook, [], *options)
    assert flown.status == 2
    assert wanted in flown.errors
    assert len(flown.errors.strip().splitlines()) == 1
    assert "Traceback" not in flown.errors


def test_a_broken_procedures_file_gives_every_error_with_its_place(
    logbook: Path, tmp_path: Path
) -> None:
    broken = tmp_path / "broken.yaml"
    broken.write_text(
        "runner: 1\nprocedures: Broken\naircraft: whimbrel-four-aircraft.yaml\nphases:\n"
        "  - phase: one\n    name: One\n    lists:\n      - list: first\n        title: First\n"
        "        kind: chalenge and response\n        items:\n"
        "          - challenge: Rotate at <rotate_sped>\n            response: set\n",
        encoding="utf-8",
    )
    flown = fly(logbook, [], str(broken))
    assert flown.status == 2
    lines = flown.errors.strip().splitlines()
    assert len(lines) == 2
    assert lines[0].startswith(f"{broken}:10:15: ")
    assert lines[1].startswith(f"{broken}:12:")
    assert "rotate_speed" in lines[1]


class TestWorking:
    def test_why_prints_the_working_of_the_items_figure(self, logbook: Path) -> None:
        place = next(n for n, name in enumerate(CHALLENGES) if name == "Rotate")
        flown = before_takeoff(logbook, changed(place, "why", ANSWERS[place]))
        assert flown.status == 0
        at = flown.lines.index("rotation speed: 96 kt")
        working = "\n".join(flown.lines[at : at + 12])
        for part in ("takeoff_speeds_flaps_twenty", "next row up, row 76000 lb", "rounded up"):
            assert part in working


class TestOptionsThatWouldDoNothing:
    @pytest.mark.parametrize(
        ("options", "message"),
        [
            (("--controller", "stick"), "none of its buttons does anything"),
            (("--button", "foo=0"), "a button can be talk, done,"),
            (("--button", "call=3"), "a button can be talk, done,"),
            (("--button", "talk"), "say it as what=number"),
            (("--talk", "hold"), "there is no microphone to open"),
        ],
    )
    def test_they_are_one_clear_line(
        self, logbook: Path, options: tuple[str, ...], message: str
    ) -> None:
        flown = fly(logbook, [], *options)
        assert flown.status == 2
        assert message in flown.errors and flown.errors.count("\n") == 1


class TestWeather:
    def test_a_metar_sets_the_inputs_that_it_reports(self, logbook: Path) -> None:
        report = "XXXX 121250Z 24015KT 9999 SCT030 31/11 Q1009"
        flown = fly(logbook, [], "--phase", "before-takeoff", "--metar", report)
        assert any("take-off manifold pressure 52.6 inHg" in line for line in flown.lines)
        set_wins = fly(
            logbook, [], "--phase", "before-takeoff", "--metar", report,
            "--set", "outside_temperature=12degC",
        )  # fmt: skip
        assert any("take-off manifold pressure 51." in line for line in set_wins.lines)

    @pytest.mark.parametrize("report", ["", "nonsense", "XXXX 121250Z 999KT"])
    def test_what_is_no_metar_is_one_clear_line(self, logbook: Path, report: str) -> None:
        flown = fly(logbook, [], "--metar", report)
        assert flown.status == 2 and flown.errors.count("\n") == 1
