"""``runner check``: errors before advice, and one line at the end that sums up."""

from __future__ import annotations

from pathlib import Path

import pytest

from checklist_files import AIRCRAFT, PROCEDURES, VOICE
from runner.checklist.check import check_files
from runner.checklist.files import shipped_files
from runner.engine.opposites import opposite_texts


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "p.yaml").write_text(
        PROCEDURES.replace("voice: cockpit", f"voice: {tmp_path}/v.yaml")
    )
    (tmp_path / "sandpiper-aircraft.yaml").write_text(AIRCRAFT)
    (tmp_path / "v.yaml").write_text(VOICE)
    return tmp_path


def change(path: Path, old: str, new: str) -> Path:
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new, 1))
    return path


def test_good_procedures_are_summed_up_in_one_line(folder: Path) -> None:
    lines, good = check_files([folder / "p.yaml"])
    assert good
    assert lines == [f"{folder}/p.yaml: procedures, 6 lists, 20 items: no errors, no advice"]


def test_errors_stand_before_advice_and_the_summary_last(folder: Path) -> None:
    change(folder / "p.yaml", "              wet: wet / damp\n", "")
    change(folder / "p.yaml", "kind: flow", "kind: flows")
    lines, good = check_files([folder / "p.yaml"])
    assert not good
    assert "did you mean 'flow'" in lines[0]
    assert "advice: nothing is said for wet of 'runway_surface'" in lines[1]
    assert lines[2].endswith(": 1 error, 1 piece of advice")
    assert len(lines) == 3


def test_an_error_in_a_file_that_is_named_twice_is_told_once(folder: Path) -> None:
    change(folder / "sandpiper-aircraft.yaml", "kind: weight", "kind: heavy")
    lines, good = check_files([folder / "p.yaml", folder / "sandpiper-aircraft.yaml"])
    assert not good
    assert len(lines) == 2


@pytest.mark.parametrize(
    ("old", "new", "advice"),
    [
        ("response: up\n", "response: stand by\n", "'stand by' is the answer and the control"),
        ("calls: line up list", "calls: repeat", "'repeat' is a call for the list and the control"),
        ("wet: wet / damp", "wet: try", "'dry' and 'try' sound alike"),
        ("response: ten / (flaps)? ten set\n            not: [up,",
         "response: gear on\n            not: [gear off,", "'gear on' and 'gear off' sound alike"),
    ],
)  # fmt: skip
def test_what_could_mislead_gives_advice(folder: Path, old: str, new: str, advice: str) -> None:
    lines, good = check_files([change(folder / "p.yaml", old, new)])
    assert good
    assert [line for line in lines if f"advice: {advice}" in line]


def alike(path: Path) -> list[str]:
    lines, good = check_files([path], opposite_texts)
    assert good, lines
    return [line.partition("advice: ")[2] for line in lines if "sound alike" in line]


def test_an_answer_is_compared_with_the_opposites_that_are_listened_for(folder: Path) -> None:
    path = folder / "p.yaml"
    assert [line.partition(" sound")[0] for line in alike(path)] == ["'off' and 'on'"]
    assert "no advice" in check_files([path])[0][0], "nothing is known of opposites"
    change(path, "response: off\n", "response: off\n        not: fuel runs\n")
    assert alike(path) == [], "the file says what is wrong"


def test_choices_of_an_input_that_is_asked_for_are_compared(folder: Path) -> None:
    lamp = "inputs:\n  lamp: {title: lamp, choices: [lamp_on, lamp_off], ask: Lamp?}\n"
    change(folder / "sandpiper-aircraft.yaml", "inputs:\n", lamp)
    change(folder / "p.yaml", "enter: gross_weight", "enter: lamp")
    assert any(
        line.startswith("'lamp on' and 'lamp off' sound alike") for line in alike(folder / "p.yaml")
    )


def test_shipped_answers_do_not_sound_like_their_opposites() -> None:
    lines, _ = check_files(shipped_files(), opposite_texts)
    assert not [line for line in lines if "sound alike" in line]


def test_a_voice_that_is_not_there_or_not_good_is_an_error(folder: Path) -> None:
    lines, good = check_files([change(folder / "p.yaml", "/v.yaml", "/w.yaml")])
    assert not good
    assert lines[0].startswith(f"{folder}/p.yaml:5:8: voice '{folder}/w.yaml': there is no such")
    change(folder / "v.yaml", "numbers: icao", "numbers: roman")
    lines, good = check_files([change(folder / "p.yaml", "/w.yaml", "/v.yaml")])
    assert not good
    assert lines[0].startswith(f"{folder}/v.yaml:4:10: ")


def test_the_default_voice_is_that_of_the_cockpit(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = change(folder / "p.yaml", f"voice: {folder}/v.yaml\n", "")
    assert check_files([path])[1]
    monkeypatch.setattr("runner.checklist.procedures.DEFAULT_VOICE", "no-such-voice")
    lines, good = check_files([path])
    assert not good
    assert f"{path}:1:1: voice 'no-such-voice'" in lines[0]


def test_a_voice_that_leaves_control_phrases_out_gets_advice(folder: Path) -> None:
    lines, good = check_files([folder / "v.yaml"])
    assert good
    assert "there is no control phrase for resume" in lines[0]
    change(
        folder / "v.yaml", "control:\n  say_again: say again / repeat\n  stand_by: stand by\n", ""
    )
    assert (
        f"{folder}/v.yaml:1:1: advice: there is no control phrase for say_again"
        in check_files([folder / "v.yaml"])[0][0]
    )


def test_figures_that_the_defaults_do_not_give_get_advice(folder: Path) -> None:
    path = folder / "sandpiper-aircraft.yaml"
    assert check_files([path])[0] == [f"{path}: aircraft, 4 figures: no errors, no advice"]
    change(path, "      20000: 84\n      25000: 90\n", "      29000: 84\n")
    change(path, "at most: 120 kt", "at most: 80 kt")
    lines, good = check_files([path])
    assert good
    assert "advice: 'rotate_speed' cannot be worked out from the inputs' defaults" in lines[0]


def test_an_input_that_cannot_be_worked_out_from_the_defaults_is_the_pilots_to_give(
    folder: Path,
) -> None:
    path = change(
        folder / "sandpiper-aircraft.yaml",
        "from: outside_temperature + 5 degC",
        "from: outside_temperature + 50 degC",
    )
    lines, good = check_files([path])
    assert good
    assert not [line for line in lines if "'carburettor_temperature' cannot" in line]


@pytest.mark.parametrize(
    ("content", "message"),
    [
        ("runner: 1\nname: x\n", "none of the keys 'procedures', 'aircraft', 'voice' and 'feed'"),
        ("hello", "has no keys"),
        ("procedures: x\nphases: []\n", "needs the key 'aircraft'"),
    ],
)
def test_a_file_of_no_kind_is_an_error(folder: Path, content: str, message: str) -> None:
    (folder / "x.yaml").write_text(content)
    lines, good = check_files([folder / "x.yaml"])
    assert not good
    assert any(message in line for line in lines)


def test_a_missing_file_is_an_error_and_the_others_are_checked(folder: Path) -> None:
    lines, good = check_files([folder / "none.yaml", folder / "p.yaml"])
    assert not good
    assert lines[0] == f"{folder}/none.yaml: there is no such file"
    assert "procedures, 6 lists" in lines[-1]


def test_every_shipped_file_is_without_error() -> None:
    lines, good = check_files(shipped_files())
    assert good, lines
