"""Whisper: what its transcripts are worth, and the real model on people and on cockpit phrases."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

import speech_data
from runner.cli import main
from runner.engine.effects import Candidate, Listen, NumberWanted
from runner.errors import RunnerError
from runner.phrasing.style import Form
from runner.voice.judge import judge
from runner.voice.recogniser import RATE, Recogniser, choose
from runner.voice.utterance import FRAME_BYTES
from runner.voice.vosk_model import models_home
from runner.voice.waves import read_wav
from runner.voice.whisper import (
    LEAST,
    LEAST_NUMBER,
    NUMBER_SHARE,
    WhisperRecogniser,
    margin_of,
    missing_parts,
    model_folder,
    weigh,
)
from sound import speak_to_file, voices
from whisper_model import real_whisper

FLAPS = Listen(
    1,
    (
        Candidate("answer", "answer", "cowl flaps open"),
        Candidate("wrong:0", "competitor", "cowl flaps closed"),
        Candidate("control:stand_by", "control", "stand by"),
    ),
)
STATE = Listen(
    2, (Candidate("answer", "answer", "left"), Candidate("wrong:0", "competitor", "right"))
)
SPEED = Listen(3, (), NumberWanted(Form("speed", 0, "kt"), 60, 200))


@pytest.fixture(scope="module")
def model(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return real_whisper(tmp_path_factory.mktemp("whisper"))


@pytest.fixture(scope="module")
def recogniser(model: Path) -> Recogniser:
    return WhisperRecogniser(model)


def spoken(folder: Path, voice: str, text: str) -> bytes:
    """A recorded voice, with a quarter of a second of silence around it."""
    return bytes(RATE // 2) + read_wav(speak_to_file(voice, text, folder), RATE) + bytes(RATE // 2)


def accepted(recogniser: Recogniser, listen: Listen, sound: bytes) -> str | float | None:
    """What the judge accepts: a candidate or a number's value."""
    recogniser.prepare(listen)
    recogniser.begin()
    for at in range(0, len(sound), FRAME_BYTES):
        recogniser.feed(sound[at : at + FRAME_BYTES])
    verdict = judge(recogniser.propose(), listen)
    if verdict.decision != "accept":
        return None
    return verdict.candidate if verdict.value is None else verdict.value


def test_transcripts_that_are_the_same_candidate_are_added_up() -> None:
    found = weigh((("Left.", 0.3), ("let", 0.2), (" left", 0.1), ("Right!", 0.05)), STATE)
    assert [(name, text) for name, _, text, _ in found] == [
        ("answer", "left"),
        ("wrong:0", "right"),
    ]
    assert [probability for *_, probability in found] == pytest.approx([0.4, 0.05])


def test_transcripts_of_one_number_are_added_up_however_it_is_written() -> None:
    found = weigh((("118", 0.3), ("one one eight", 0.2), ("1-1-8", 0.1), ("180", 0.2)), SPEED)
    assert [(name, value) for name, value, *_ in found] == [("number", 118), ("number", 180)]
    assert found[0][3] == pytest.approx(0.6)


def test_a_margin_falls_with_the_probability_and_with_what_others_have() -> None:
    assert margin_of(1.0, 0.0) == 1.0
    assert margin_of(LEAST, 0.0) == pytest.approx(0.7)
    assert margin_of(LEAST / 2, 0.0) < 0.7
    assert margin_of(0.3, 0.3) == pytest.approx(0.5)
    assert margin_of(0.0, 0.0) == margin_of(0.0, 0.5) == 0.0


def test_a_number_that_may_be_another_one_is_not_accepted() -> None:
    least = (LEAST_NUMBER, NUMBER_SHARE)
    assert margin_of(0.6, 0.05, *least) > 0.7
    assert margin_of(0.5, 0.2, *least) == 0.0
    assert margin_of(0.15, 0.0, *least) == 0.0


def test_phrases_of_the_cockpit_are_heard_as_what_they_are(
    recogniser: Recogniser, tmp_path: Path
) -> None:
    found = {
        (voice, text): accepted(recogniser, FLAPS, spoken(tmp_path, voice, text))
        for voice in voices()[::2]
        for text in ("cowl flaps open", "cowl flaps closed", "fuel on", "cowl flaps")
    }
    if not found:
        pytest.skip("neither flite nor festival has a voice here")
    rights = {"cowl flaps open": "answer", "cowl flaps closed": "wrong:0"}
    for (voice, text), taken in found.items():
        assert taken in (None, rights.get(text)), f"{voice}: {text}"
    kept = [taken for (_, text), taken in found.items() if text in rights]
    assert sum(map(bool, kept)) >= 0.75 * len(kept), found


def test_a_number_is_heard_with_its_value(recogniser: Recogniser, tmp_path: Path) -> None:
    if not voices():
        pytest.skip("neither flite nor festival has a voice here")
    taken = [accepted(recogniser, SPEED, spoken(tmp_path, v, "one one eight")) for v in voices()]
    assert set(taken) <= {118, None}
    assert taken.count(118) >= 0.75 * len(taken)


def test_people_are_heard_and_no_opposite_is_taken(recogniser: Recogniser) -> None:
    """The whole table: ``tests/bench/hearing_whisper.py``."""
    home = speech_data.home()
    if home is None:
        pytest.skip("RUNNER_SPEECH_DATA names no folder of recordings")
    one_each: dict[tuple[str, str], bytes] = {}
    for recording in speech_data.states(home):
        if recording.word in ("left", "right"):
            sound = bytes(RATE // 2) + read_wav(recording.file, RATE) + bytes(RATE // 2)
            one_each.setdefault((recording.word, recording.speaker), sound)
    some = sorted(one_each.items())[::4]
    taken = [(word, accepted(recogniser, STATE, sound)) for (word, _), sound in some]
    wrong = [one for one in taken if one in (("left", "wrong:0"), ("right", "answer"))]
    assert not wrong
    assert sum(one is not None for _, one in taken) >= 0.8 * len(taken), taken


def test_silence_and_less_than_a_word_are_nothing(recogniser: Recogniser) -> None:
    for sound in (b"", bytes(200), bytes(3 * RATE * 2)):
        assert accepted(recogniser, FLAPS, sound) is None


def test_an_answer_said_for_longer_than_the_short_look_is_heard_whole(
    recogniser: Recogniser, tmp_path: Path
) -> None:
    if not voices():
        pytest.skip("neither flite nor festival has a voice here")
    sound = bytes(10 * RATE * 2) + spoken(tmp_path, voices()[-1], "cowl flaps closed")
    assert accepted(recogniser, FLAPS, sound) in ("wrong:0", None)
    recogniser.prepare(Listen(4, ()))
    assert "closed" in recogniser.propose()[0].text


@pytest.fixture
def no_model(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """A data folder of the test's own, without models; gives where they would be."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.delenv("RUNNER_WHISPER_MODEL", raising=False)
    return models_home()


def listed(capsys: pytest.CaptureFixture[str]) -> str:
    """What ``runner voice list`` says of Whisper and of who listens."""
    assert main(["voice", "list"]) == 0
    return " ".join(capsys.readouterr().out.partition("Synthesiser")[0].split())


def test_without_a_model_it_is_one_clear_line(
    no_model: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert model_folder() is None
    with pytest.raises(
        RunnerError, match=r"^--recogniser whisper: there is no model; name its folder"
    ):
        choose("whisper", None, ())
    assert "whisper: has no model; name its folder in RUNNER_WHISPER_MODEL." in listed(capsys)
    empty = tmp_path / "empty"
    empty.mkdir()
    monkeypatch.setenv("RUNNER_WHISPER_MODEL", str(empty))
    with pytest.raises(RunnerError, match="holds no Whisper model for faster-whisper") as refused:
        choose("whisper", None, ())
    assert "\n" not in str(refused.value)
    assert "whisper" not in [one.capabilities.name for one in choose("auto", None, ())]
    text = listed(capsys)
    assert f"whisper: model {empty}: does not work: no model.bin" in text
    assert "not with whisper:" in text
    assert not no_model.exists()


def test_a_damaged_model_is_one_clear_line(model: Path, tmp_path: Path) -> None:
    damaged = tmp_path / "damaged"
    shutil.copytree(model, damaged)
    (damaged / "model.bin").write_bytes((model / "model.bin").read_bytes()[:1_000_000])
    with pytest.raises(RunnerError, match="cannot load this model") as refused:
        WhisperRecogniser(damaged)
    assert "\n" not in str(refused.value)


def test_a_language_that_is_none_is_one_clear_line(model: Path) -> None:
    with pytest.raises(RunnerError, match="'xx' is not a valid language code") as refused:
        WhisperRecogniser(model, "xx")
    assert "\n" not in str(refused.value)


def test_without_its_tokenizer_a_model_is_refused_rather_than_completed_from_the_net(
    model: Path, tmp_path: Path
) -> None:
    for name in ("model.bin", "config.json", "vocabulary.json"):
        (tmp_path / name).symlink_to(model / name)
    assert missing_parts(tmp_path) == ("tokenizer.json",)
    with pytest.raises(RunnerError, match=r"there is no tokenizer\.json"):
        WhisperRecogniser(tmp_path)


def test_a_model_in_the_users_folder_is_found_named_and_used(
    model: Path,
    no_model: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    no_model.mkdir(parents=True)
    (no_model / "small").symlink_to(model)
    (no_model / "unfinished").mkdir()
    (no_model / "unfinished" / "model.bin").touch()
    assert model_folder() == no_model / "small"
    (made,) = choose("whisper", None, ())
    assert (made.capabilities.name, made.capabilities.model) == ("whisper", "small")
    made.close()
    assert "whisper" in [one.capabilities.name for one in choose("auto", None, ())]
    text = listed(capsys)
    assert "whisper: model small: writes down whatever is said, used." in text
    assert "and whisper (all answers)" in text
    monkeypatch.setenv("RUNNER_WHISPER_MODEL", "small")
    assert model_folder() == no_model / "small"
