"""What is kept of a voice: only after a yes what is heard in flight, and nothing against a no."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from runner.voice.takes import Takes
from test_voice_enrol_command import AIRCRAFT, PROCEDURES, noise_file


@pytest.fixture
def procedures(tmp_path: Path) -> Path:
    (tmp_path / "plover-aircraft.yaml").write_text(AIRCRAFT)
    file = tmp_path / "plover.yaml"
    file.write_text(PROCEDURES)
    return file


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A user's data folder for this test alone; gives where takes are."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    return tmp_path / "data" / "runner" / "takes"


def command(*arguments: str | Path, answer: str = "") -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "runner", "voice", *map(str, arguments)],
        capture_output=True,
        text=True,
        check=False,
        input=answer,
        timeout=60,
    )


@pytest.fixture
def enrolled(home: Path) -> Takes:
    """A pilot called anna, who recorded two phrases; one was heard in flight as well."""
    takes = Takes(home / "anna")
    for phrase in ("on", "three green"):
        takes.add(phrase, bytes(range(250)) * 64)
    takes.keep_heard("on", bytes(range(200)) * 64)
    return takes


@pytest.mark.parametrize(
    ("how", "answer", "agreed"),
    [("yes", "", True), ("no", "", False), ("ask", "yes\n", True), ("ask", "", False)],
)
def test_answers_are_kept_in_flight_only_when_the_pilot_says_yes(
    enrolled: Takes, procedures: Path, tmp_path: Path, how: str, answer: str, agreed: bool
) -> None:
    folder = tmp_path / "recordings"
    folder.mkdir()
    noise_file(folder / "up_1.wav")
    assert not enrolled.retuned
    enrolled.retune(not agreed)
    ended = command(
        *("enrol", procedures, "--name", "anna", "--from-folder", folder, "--retune", how),
        answer=answer,
    )
    assert enrolled.retuned is agreed
    assert ("Sure answers will be kept" in ended.stdout) is agreed
    assert ("Nothing that is heard in flight is kept" in ended.stdout) is not agreed
    assert ("Type yes to agree" in ended.stdout) is (how == "ask")


def test_a_phrase_is_forgotten_after_a_question(enrolled: Takes) -> None:
    asked = ("forget", "--name", "anna", "--phrase", "On")
    refused = command(*asked, answer="no\n")
    assert refused.returncode == 1
    assert refused.stdout.startswith("Delete 'on' (2 takes)? Type yes to delete:")
    assert "Nothing was deleted." in refused.stdout
    assert command(*asked).returncode == 1, "nobody answered"
    assert len(Takes(enrolled.folder).takes("on")) == 2
    assert command(*asked, answer="yes\n").returncode == 0
    assert Takes(enrolled.folder).phrases() == ("three green",)
    assert not list(enrolled.folder.glob("on/*"))


def test_what_was_heard_in_flight_is_forgotten_alone(enrolled: Takes) -> None:
    done = command("forget", "--name", "anna", "--heard", answer="y\n")
    assert (done.returncode, done.stdout.count("Deleted.")) == (0, 1)
    assert done.stdout.startswith("Delete 1 take heard in flight?")
    later = Takes(enrolled.folder)
    assert later.phrases() == ("on", "three green")
    assert later.heard("on") == ()


def test_everything_is_forgotten_without_a_question_when_told_so(enrolled: Takes) -> None:
    assert command("forget", "--name", "anna", "--all", "--yes").stdout == "Deleted.\n"
    assert not enrolled.folder.exists()


@pytest.mark.parametrize(
    ("arguments", "wrong"),
    [
        (["--all", "--name", "bo"], "--name bo: nothing is kept in"),
        (["--phrase", "off", "--name", "anna"], "--phrase 'off': nothing is kept of it in"),
        (["--all", "--name", "../x"], "--name '../x'"),
    ],
)
@pytest.mark.usefixtures("enrolled")
def test_what_cannot_be_forgotten_is_one_line(arguments: list[str], wrong: str) -> None:
    ended = command("forget", *arguments, "--yes")
    assert ended.returncode == 2
    assert wrong in ended.stderr
    assert ended.stderr.count("\n") == 1


def test_what_to_forget_has_to_be_said() -> None:
    ended = command("forget")
    assert ended.returncode == 2
    assert "--phrase --heard --all" in ended.stderr
    assert "runner voice forget --heard" in command("forget", "--help").stdout
