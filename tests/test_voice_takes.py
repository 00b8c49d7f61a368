"""A pilot's takes: kept as sound, private, whole after a fault, each under its phrase."""

from __future__ import annotations

import json
import os
import stat
import wave
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.errors import RunnerError
from runner.phrasing.normal import normalise
from runner.voice import takes as takes_module
from runner.voice.takes import MOST_HEARD, Takes, takes_folder

SOUND = bytes(range(256)) * 125


def other(number: int) -> bytes:
    return bytes([number, 0]) * 8_000


def test_what_was_added_is_read_back_by_a_later_program(tmp_path: Path) -> None:
    takes = Takes(tmp_path / "anna")
    assert [takes.add("Three green!", other(n)) for n in (1, 2, 3)] == [1, 2, 3]
    takes.add("Flaps 20", SOUND)
    later = Takes(tmp_path / "anna")
    assert later.phrases() == ("three green", "flaps twenty")
    assert later.takes("three GREEN") == (other(1), other(2), other(3))
    assert later.takes("flaps twenty") == (SOUND,)
    assert later.takes("flaps up") == ()
    assert later.troubles == ()


def test_takes_are_sixteen_kilohertz_mono_files_that_anybody_can_play(tmp_path: Path) -> None:
    Takes(tmp_path / "anna").add("off", SOUND)
    with wave.open(str(tmp_path / "anna" / "off" / "1.wav")) as sound:
        assert (sound.getframerate(), sound.getnchannels(), sound.getsampwidth()) == (16_000, 1, 2)
        assert sound.readframes(sound.getnframes()) == SOUND


def test_takes_are_private(tmp_path: Path) -> None:
    folder = tmp_path / "takes" / "anna"
    takes = Takes(folder)
    takes.add("off", SOUND)
    takes.replace("off", 1, other(4))
    paths = [folder.parent, *folder.parent.rglob("*")]
    assert len(paths) == 5
    for path in paths:
        mode = stat.S_IMODE(path.stat().st_mode)
        assert mode == (0o700 if path.is_dir() else 0o600), path


def test_a_take_is_replaced_and_a_phrase_forgotten(tmp_path: Path) -> None:
    takes = Takes(tmp_path / "anna")
    takes.add("off", other(1))
    takes.add("off", other(2))
    takes.replace("off", 1, other(3))
    assert takes.takes("off") == (other(3), other(2))
    with pytest.raises(RunnerError, match="no take 3"):
        takes.replace("off", 3, SOUND)
    takes.remove("off")
    takes.remove("never said")
    assert takes.phrases() == Takes(takes.folder).phrases() == ()
    assert not (takes.folder / "off").exists()


def test_a_damaged_take_is_named_in_one_line_left_out_and_recorded_anew(tmp_path: Path) -> None:
    takes = Takes(tmp_path / "anna")
    for number in (1, 2, 3, 4):
        takes.add("off", other(number))
    place = takes.folder / "off"
    (place / "1.wav").write_bytes(b"RIFF")
    (place / "3.wav").write_bytes((place / "3.wav").read_bytes()[:500])
    (place / "4.wav").write_bytes(b"")
    later = Takes(takes.folder)
    assert later.takes("off") == (other(2),)
    assert later.takes("off") == (other(2),)
    assert len(later.troubles) == 3
    assert all(
        "\n" not in line and ".wav: this take is left out" in line for line in later.troubles
    )
    assert later.add("off", other(9)) == 1
    assert later.takes("off") == (other(9), other(2))


def test_a_take_of_another_rate_is_left_out(tmp_path: Path) -> None:
    takes = Takes(tmp_path / "anna")
    takes.add("off", SOUND)
    with wave.open(str(takes.folder / "off" / "1.wav"), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(8_000)
        out.writeframes(SOUND)
    assert takes.takes("off") == ()
    assert "16-bit mono at 16000 Hz" in takes.troubles[0]


@pytest.mark.parametrize(
    "content",
    [
        "",
        "{",
        "[]",
        '{"version": 9}',
        '{"version": 1, "phrases": {"off": "../../elsewhere"}}',
        "\0",
    ],
)
def test_a_damaged_index_costs_one_line_and_no_take(tmp_path: Path, content: str) -> None:
    takes = Takes(tmp_path / "anna")
    takes.add("three green", SOUND)
    (takes.folder / "index.json").write_text(content)
    later = Takes(takes.folder)
    assert later.phrases() == ("three green",)
    assert later.takes("three green") == (SOUND,)
    assert len(later.troubles) == 1
    assert "index.json" in later.troubles[0]
    later.add("off", SOUND)
    assert Takes(takes.folder).phrases() == ("three green", "off")
    assert Takes(takes.folder).troubles == ()


def test_a_folder_that_cannot_be_written_is_one_clear_line(tmp_path: Path) -> None:
    (tmp_path / "anna").write_text("a file where the folder should be")
    takes = Takes(tmp_path / "anna")
    assert takes.phrases() == ()
    with pytest.raises(RunnerError, match="cannot be written"):
        takes.add("off", SOUND)


def test_everybody_who_has_takes_is_listed(tmp_path: Path) -> None:
    for name in ("bo", "anna"):
        Takes(tmp_path / name).add("off", SOUND)
    (tmp_path / "nobody").mkdir()
    assert Takes(tmp_path / "cleo").people() == ("anna", "bo")


def test_takes_live_in_the_users_own_data_folder_by_name() -> None:
    assert takes_folder("anna").parts[-3:] == ("runner", "takes", "anna")
    assert Takes().folder == takes_folder("pilot")
    for name in ("", "../x", "a/b", ".", "x" * 50, "a."):
        with pytest.raises(RunnerError, match="--name"):
            takes_folder(name)


@given(st.lists(st.text(min_size=1, max_size=90).filter(normalise), max_size=6))
def test_every_phrase_finds_its_own_takes_again(
    tmp_path_factory: pytest.TempPathFactory, phrases: list[str]
) -> None:
    takes = Takes(tmp_path_factory.mktemp("takes") / "anna")
    kept: dict[str, list[bytes]] = {}
    for number, phrase in enumerate(phrases):
        takes.add(phrase, other(number))
        kept.setdefault(normalise(phrase), []).append(other(number))
    later = Takes(takes.folder)
    assert {phrase: list(later.takes(phrase)) for phrase in later.phrases()} == kept
    if kept:
        index = json.loads((takes.folder / "index.json").read_text("utf-8"))
        assert len(set(index["phrases"].values())) == len(kept)


def test_takes_heard_in_flight_stand_behind_the_enrolled_ones_and_are_few(tmp_path: Path) -> None:
    takes = Takes(tmp_path / "anna")
    with pytest.raises(RunnerError, match="'off' was never enrolled"):
        takes.keep_heard("off", SOUND)
    for number in (1, 2, 3):
        takes.add("off", other(number))
    for number in range(4, 4 + MOST_HEARD + 2):
        takes.keep_heard("off", other(number))
    later = Takes(takes.folder)
    assert later.enrolled("off") == (other(1), other(2), other(3))
    assert later.takes("off") == (*later.enrolled("off"), other(6), other(7), other(8))
    assert later.troubles == ()
    assert later.forget_heard("off", 5) == 1
    assert [number for number, _ in later.heard("off")] == [3, 4]
    assert later.forget_heard() == 2
    assert later.takes("off") == later.enrolled("off")
    for path in [takes.folder, *takes.folder.rglob("*")]:
        mode = stat.S_IMODE(path.stat().st_mode)
        assert mode == (0o700 if path.is_dir() else 0o600), path


def test_takes_heard_in_flight_are_bounded_on_disk_and_the_oldest_make_room(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(takes_module, "HEARD_LIMIT", 3 * (len(other(1)) + 44))
    takes = Takes(tmp_path / "anna")
    for number, phrase in enumerate(("on", "off", "up", "down"), 1):
        takes.add(phrase, other(9))
        takes.keep_heard(phrase, other(number))
        file = takes.folder / phrase / "heard-1.wav"
        os.utime(file, (number, number))
    takes.keep_heard("on", other(7))
    assert takes.heard("off") == ()
    kept = [takes.heard(phrase) for phrase in ("on", "up", "down")]
    assert kept == [((1, other(7)),), ((1, other(3)),), ((1, other(4)),)]
    assert [takes.enrolled(phrase) for phrase in ("on", "off", "up")] == [(other(9),)] * 3


def test_nothing_is_kept_of_a_flight_unless_the_pilot_agreed(tmp_path: Path) -> None:
    takes = Takes(tmp_path / "anna")
    assert not takes.retuned
    takes.retune(True)
    assert Takes(takes.folder).retuned
    takes.retune(False)
    assert not Takes(takes.folder).retuned
    for content in ("", "[]", '{"keep_heard": "yes"}', '{"keep_heard": 1}', "\0"):
        (takes.folder / "settings.json").write_text(content)
        assert not takes.retuned, content


def test_everything_of_a_pilot_is_forgotten_and_nothing_of_somebody_else(tmp_path: Path) -> None:
    takes = Takes(tmp_path / "anna")
    for phrase in ("off", "three green"):
        takes.add(phrase, SOUND)
        takes.keep_heard(phrase, SOUND)
    takes.retune(True)
    (takes.folder / "off" / "1.wav").write_bytes(b"damaged")
    (takes.folder / "off" / "notes.txt").write_text("the pilot's own")
    Takes(tmp_path / "bo").add("off", SOUND)
    takes.clear()
    assert [p.name for p in takes.folder.rglob("*")] == ["off", "notes.txt"]
    assert Takes(takes.folder).phrases() == ()
    assert Takes(tmp_path / "bo").phrases() == ("off",)
    (takes.folder / "off" / "notes.txt").unlink()
    (takes.folder / "off").rmdir()
    takes.clear()
    assert not takes.folder.exists()
