"""Templates made on this machine: kept as points alone, whole or not at all, and of use."""

from __future__ import annotations

import os
import shutil
import stat
import subprocess
import sys
import threading
import time
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import speech_data
from runner.voice import made_templates, template_voices
from runner.voice.embedding import Embedder, to_samples
from runner.voice.made_templates import ENDING, LARGEST_FILE, MadeTemplates, default_folder
from runner.voice.prototypes import Prototypes, transform
from runner.voice.template_voices import ESPEAK, Crew, Speaker, speakers
from runner.voice.warping import Bank
from runner.voice.waves import read_wav
from sound import speak_to_file, voices

TWO = tuple(Speaker("pyttsx3", voice, rate) for voice, rate in ESPEAK[:2])
SIX = tuple(Speaker("pyttsx3", voice, rate) for voice, rate in ESPEAK)
MINUTE = 60.0


@pytest.fixture(scope="module")
def embedder() -> Embedder:
    return Embedder()


@pytest.fixture
def made(embedder: Embedder, tmp_path: Path) -> Iterator[MadeTemplates]:
    templates = MadeTemplates(embedder, tmp_path / "templates", of=TWO)
    yield templates
    templates.close()


def test_a_phrase_of_unknown_words_has_templates_once_it_is_made(made: MadeTemplates) -> None:
    assert Prototypes().paths("zorbing valve shut") == ()
    assert made.paths("zorbing valve shut") == ()
    began = time.monotonic()
    made.make(["zorbing valve shut", "zorbing valve open"])
    assert time.monotonic() - began < 0.1, "nobody waits for it"
    assert made.wait(MINUTE)
    paths = made.paths("zorbing valve shut")
    assert len(paths) == len(TWO)
    dimensions = transform().matrix.shape[1]
    assert all(path.shape[1] == dimensions and path.dtype == np.float32 for path in paths)
    assert all(np.allclose(np.linalg.norm(path, axis=1), 1, atol=0.05) for path in paths)
    assert made.made == 2


def test_another_program_finds_what_was_made_and_makes_nothing_again(
    made: MadeTemplates, embedder: Embedder, tmp_path: Path
) -> None:
    made.make(["zorbing valve shut"])
    assert made.wait(MINUTE)
    later = MadeTemplates(embedder, tmp_path / "templates", of=TWO)
    assert len(later.paths("zorbing valve shut")) == 2
    later.make(["zorbing valve shut"])
    assert later.wait(0.0)
    assert later.made == 0


def test_files_are_private_hold_no_sound_and_are_small(made: MadeTemplates, tmp_path: Path) -> None:
    made.make(["zorbing valve shut"])
    assert made.wait(MINUTE)
    folder = tmp_path / "templates"
    (file,) = folder.iterdir()
    assert file.suffix == ENDING
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    assert file.stat().st_size < 5_000
    assert b"RIFF" not in file.read_bytes()


@pytest.mark.parametrize("damage", ["cut", "changed", "emptied", "other", "huge", "nonsense"])
def test_a_damaged_file_is_ignored_and_made_anew(
    made: MadeTemplates, tmp_path: Path, damage: str
) -> None:
    made.make(["zorbing valve shut"])
    assert made.wait(MINUTE)
    (file,) = (tmp_path / "templates").iterdir()
    good = file.read_bytes()
    bad = {
        "cut": good[:-7],
        "changed": good[:-1] + bytes([good[-1] ^ 1]),
        "emptied": b"",
        "other": good.replace(b"valve", b"halve", 1),
        "huge": good + bytes(LARGEST_FILE),
        "nonsense": b'{"text": "zorbing valve shut", "lengths": "x", "sha256": 1}\n',
    }[damage]
    file.write_bytes(bad)
    assert made.paths("zorbing valve shut") == ()
    made.make(["zorbing valve shut"])
    assert made.wait(MINUTE)
    assert len(made.paths("zorbing valve shut")) == 2
    assert abs(file.stat().st_size - len(good)) < 0.2 * len(good), "the same voices say it"


def test_what_is_being_made_is_given_up_when_the_program_ends(made: MadeTemplates) -> None:
    def working() -> set[threading.Thread]:
        return {one for one in threading.enumerate() if one.name == made_templates.THREAD}

    before = working()
    made.make(["zorbing valve shut", "zorbing valve open"])
    assert working() > before
    made.close()
    assert working() <= before


def test_templates_of_another_version_or_another_space_are_not_used(
    made: MadeTemplates, monkeypatch: pytest.MonkeyPatch
) -> None:
    made.make(["zorbing valve shut"])
    assert made.wait(MINUTE)
    with monkeypatch.context() as patch:
        patch.setattr(made_templates, "__version__", "0.0.0")
        assert made.paths("zorbing valve shut") == ()
    with monkeypatch.context() as patch:
        patch.setattr(made_templates, "_space", lambda: "other")
        assert made.paths("zorbing valve shut") == ()
    assert made.paths("zorbing valve shut")


def test_the_folder_is_kept_small_and_the_phrases_unused_for_longest_go(
    embedder: Embedder, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "templates"
    folder.mkdir()
    for number in range(10):
        file = folder / f"{number}{ENDING}"
        file.write_bytes(bytes(1000))
        os.utime(file, (number, number))
    (folder / "notes.txt").write_text("not ours")
    monkeypatch.setattr(made_templates, "DISK_LIMIT", 3_000)
    templates = MadeTemplates(embedder, folder, of=TWO)
    templates.make(["zorbing"])
    assert templates.wait(MINUTE)
    templates.close()
    assert {file.name for file in folder.glob("[0-9]*")} == {f"{n}{ENDING}" for n in (7, 8, 9)}
    assert (folder / "notes.txt").exists()
    assert templates.paths("zorbing")


def test_what_is_asked_for_last_is_made_first(
    made: MadeTemplates, monkeypatch: pytest.MonkeyPatch
) -> None:
    order: list[str] = []
    free = threading.Event()

    def say(_: object, text: str, __: Path) -> list[bytes]:
        order.append(text)
        free.wait(10)
        return []

    monkeypatch.setattr(Crew, "say", say)
    made.make(["one"])
    while not order:
        time.sleep(0.01)
    made.make(["two", "three"])
    made.make(["four", "two"])
    free.set()
    assert made.wait(10)
    assert order == ["one", "four", "two", "three"]
    made.make(["two"])
    assert made.wait(0.0), "what nobody can say is not tried again"


def test_a_machine_without_a_voice_makes_nothing_and_goes_on(
    embedder: Embedder, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "executable", str(tmp_path / "nosuch"))
    templates = MadeTemplates(embedder, tmp_path / "templates", of=TWO)
    templates.make(["zorbing"])
    assert templates.wait(MINUTE)
    assert templates.paths("zorbing") == ()
    templates.close()


def test_a_folder_that_cannot_be_written_costs_the_templates_alone(
    embedder: Embedder, tmp_path: Path
) -> None:
    (tmp_path / "file").write_text("where the folder should be")
    templates = MadeTemplates(embedder, tmp_path / "file", of=TWO)
    templates.make(["zorbing"])
    assert templates.wait(MINUTE)
    assert templates.paths("zorbing") == ()
    templates.close()


def test_a_phrase_that_is_too_long_or_empty_is_not_made(made: MadeTemplates) -> None:
    made.make(["", "word " * 40])
    assert made.wait(0.0)


def test_a_synthesiser_that_stops_or_hangs_is_started_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(template_voices, "SECONDS", 0.5)
    real = subprocess.Popen
    starts: list[int] = []

    def start(call: Sequence[str], **more: Any) -> subprocess.Popen[bytes]:
        starts.append(1)
        if len(starts) == 1:
            return real([sys.executable, "-c", "import time; time.sleep(60)"], **more)
        if len(starts) == 2:
            return real([sys.executable, "-c", ""], **more)
        monkeypatch.setattr(template_voices, "SECONDS", 20)
        return real(call, **more)

    monkeypatch.setattr(subprocess, "Popen", start)
    crew = Crew(TWO)
    assert len(crew.say("zorbing", tmp_path)) == 2
    crew.close()
    assert len(starts) == 3


def test_the_machines_voices_are_those_of_the_prototypes_as_far_as_they_are_there(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    found = [f"{s.program}:{s.voice}" for s in speakers() if s.program != "pyttsx3"]
    flite = [voice for voice in voices() if voice.startswith("flite")]
    assert found == (flite or list(voices()))
    assert len({(s.voice, s.rate) for s in speakers() if s.program == "pyttsx3"}) >= 3
    real = shutil.which
    monkeypatch.setattr(shutil, "which", lambda name: None if name == "flite" else real(name))
    assert {s.program for s in speakers()} <= {"pyttsx3", "festival"}
    monkeypatch.undo()
    monkeypatch.setenv("PATH", "")
    assert {s.program for s in speakers()} == {"pyttsx3"}
    assert {s.voice for s in speakers("ko")} == {"ko"}


def test_every_voice_of_this_machine_says_a_phrase_in_its_own_way(tmp_path: Path) -> None:
    crew = Crew(speakers())
    sounds = crew.say("zorbing valve -o shut", tmp_path)
    crew.close()
    assert len(set(sounds)) == len(speakers())
    assert all(len(sound) > 16_000 for sound in sounds)


def test_templates_are_in_the_users_cache_folder() -> None:
    assert default_folder().parts[-2:] == ("runner", "templates")


def nearest(path: Any, templates: dict[str, tuple[Any, ...]]) -> str:
    """The phrase whose nearer half of voices is nearest."""

    def far(paths: tuple[Any, ...]) -> float:
        ordered = np.sort(Bank(paths, cosine=True).distances(path))
        return float(ordered[: max(1, len(ordered) // 2)].mean())

    return min(templates, key=lambda text: far(templates[text]))


GROUPS = (
    ("low blower", "high blower"),
    ("flaps twenty", "flaps up", "flaps ten", "flaps forty"),
    ("set to both", "set to left", "set to right"),
    ("full cold", "full hot", "heat on"),
    ("auto rich", "auto lean", "idle cut off", "fully rich"),
    ("brake set", "brake released"),
    ("pressure normal", "pressure low", "pressure rising", "no pressure"),
    ("selector closed", "selector open"),
    ("say again", "stand by", "go back", "i disagree", "disregard", "continue"),
)
"""Answers of the shipped procedures that are heard beside one another, and control phrases."""


@pytest.mark.slow
@pytest.mark.sound
def test_made_templates_find_a_phrase_among_those_heard_beside_it(
    embedder: Embedder, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # Synthetic voices of another make say the phrases: no recordings of people hold them.
    others = voices()
    if not others:
        pytest.skip("neither flite nor festival has a voice here")
    templates = MadeTemplates(embedder, tmp_path / "templates", of=SIX)
    templates.make([text for group in GROUPS for text in group])
    assert templates.wait(2 * MINUTE)
    known = Prototypes()
    right = ready = of = 0
    for group in GROUPS:
        made = {text: templates.paths(text) for text in group}
        shipped = {text: known.paths(text)[-len(SIX) :] for text in group}
        for text in group:
            for voice in others:
                sound = read_wav(speak_to_file(voice, text, tmp_path), 16_000)
                path = transform()(embedder.path(to_samples(sound)).embedded)
                right += nearest(path, made) == text
                ready += all(shipped.values()) and nearest(path, shipped) == text
                of += 1
    templates.close()
    with capsys.disabled():
        print(
            f"\n{of} phrases by {len(others)} other voices: {right} found by made templates ",
            end="",
        )
        print(f"({right / of:.1%}), {ready} by the shipped ones of the same voices")
    assert right >= 0.93 * of


def test_made_templates_serve_people_as_shipped_ones_of_the_same_voices_do(
    embedder: Embedder, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    home = speech_data.home()
    if home is None or not (home / "states").is_dir():
        pytest.skip("RUNNER_SPEECH_DATA names no folder of recordings with states/")
    templates = MadeTemplates(embedder, tmp_path / "templates", of=SIX)
    templates.make(speech_data.OPPOSITE)
    assert templates.wait(MINUTE)
    known = Prototypes()
    made = {word: templates.paths(word) for word in speech_data.OPPOSITE}
    shipped = {word: known.paths(word)[-len(SIX) :] for word in speech_data.OPPOSITE}
    templates.close()
    counts = {"made": 0, "shipped": 0}
    reported = [
        one
        for one in speech_data.states(home)
        if one.known and not speech_data.for_fitting(one.speaker, home)
    ][::2]
    for one in reported:
        path = transform()(embedder.path(to_samples(read_wav(one.file, 16_000))).embedded)
        pair = (one.word, speech_data.OPPOSITE[one.word])
        for kind, all_of in (("made", made), ("shipped", shipped)):
            counts[kind] += nearest(path, {w: all_of[w] for w in pair}) == one.word
    with capsys.disabled():
        print(f"\n{len(reported)} state words of people against their opposites: ", end="")
        print(", ".join(f"{kind} {n} ({n / len(reported):.1%})" for kind, n in counts.items()))
    assert counts["made"] >= 0.93 * len(reported)
    assert counts["made"] >= counts["shipped"] - 0.02 * len(reported)
