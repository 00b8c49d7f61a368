"""``runner doctor`` says what works and names the command that mends what does not."""

from __future__ import annotations

import importlib.util
import os
import re
import subprocess
import sys
import threading
import time
from array import array
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from runner.voice.probe import probe
from runner.voice.waves import write_wav
from sound import SoundSystem, voices

COMMANDS = ("pip install ", "sudo apt install ", "runner ", "export ", "set ")

PARTS = ["synthesiser", "PocketSphinx", "Vosk", "loudspeaker", "microphone", "game controller"]


def doctor(columns: int = 80) -> list[str]:
    done = subprocess.run(
        [sys.executable, "-m", "runner", "doctor"],
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
        env={**os.environ, "COLUMNS": str(columns)},
    )
    assert not done.stderr
    return done.stdout.splitlines()


@pytest.fixture
def silent_machine(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    for name in ("PULSE_SERVER", "PULSE_RUNTIME_PATH"):
        monkeypatch.setenv(name, str(tmp_path / "nobody"))
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path))
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.delenv("RUNNER_VOSK_MODEL", raising=False)


def model(folder: Path, *, closed: bool) -> Path:
    """A folder with the files by which a Vosk model is known."""
    (folder / "am").mkdir(parents=True)
    (folder / "am" / "final.mdl").touch()
    if closed:
        (folder / "graph").mkdir()
        for name in ("Gr.fst", "HCLr.fst"):
            (folder / "graph" / name).touch()
    return folder


@pytest.mark.usefixtures("silent_machine")
def test_each_missing_part_is_named_with_the_command_that_mends_it() -> None:
    lines = doctor()
    text = " ".join(lines)
    assert "Synthesiser: works." in text
    assert "PocketSphinx: works." in text
    for part in ("Vosk", "Terminal"):
        place = next(i for i, line in enumerate(lines) if line.startswith(f"{part}: does not"))
        mends = [line for line in lines[place : place + 4] if line.startswith("  To mend it: ")]
        assert mends
    for line in lines:
        if "To mend it: " in line:
            assert line.partition("To mend it: ")[2].startswith(COMMANDS)


@pytest.mark.usefixtures("silent_machine")
@pytest.mark.parametrize("columns", [40, 80])
def test_sentences_end_where_the_terminal_does_and_no_path_is_cut(columns: int) -> None:
    lines = [line for line in doctor(columns) if "To mend it" not in line]
    for line in lines:
        assert len(line) <= columns or len(line.split()) == 1, line
    assert any(word.endswith("logbook.sqlite3,") for line in lines for word in line.split())


@pytest.mark.usefixtures("silent_machine")
def test_a_probe_never_raises_whatever_is_missing(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("miniaudio", "pocketsphinx", "vosk", "sdl2"):
        monkeypatch.setitem(sys.modules, name, None)
    monkeypatch.setattr(sys, "executable", "/nowhere/python")
    found = probe()
    assert [part for part, *_ in found] == PARTS
    for part, works, what, remedy in found:
        assert not works, part
        assert what.endswith(".") and "\n" not in what
        assert remedy.startswith("pip install "), part


@pytest.mark.usefixtures("silent_machine")
def test_a_model_that_cannot_be_told_what_to_listen_for_is_said_to_be_so(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    told = "It cannot be told what to listen for."
    for closed in (True, False):
        folder = model(tmp_path / f"model-{closed}", closed=closed)
        monkeypatch.setenv("RUNNER_VOSK_MODEL", str(folder))
        _, works, what, _ = next(found for found in probe() if found[0] == "Vosk")
        assert works and folder.name in what
        assert (told in what) is not closed


@pytest.mark.usefixtures("silent_machine")
def test_the_models_in_the_users_folder_are_found_and_an_empty_folder_is_none(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    for name in ("one", "two"):
        model(tmp_path / "data" / "runner" / "models" / name, closed=True)
    _, works, what, _ = next(found for found in probe() if found[0] == "Vosk")
    assert works
    assert what == "The model one is used. Also there: two."
    (tmp_path / "empty").mkdir()
    monkeypatch.setenv("RUNNER_VOSK_MODEL", str(tmp_path / "empty"))
    _, works, what, remedy = next(found for found in probe() if found[0] == "Vosk")
    assert not works
    assert "holds no model" in what and remedy.endswith("RUNNER_VOSK_MODEL=FOLDER")


@pytest.mark.skipif(importlib.util.find_spec("sdl2") is None, reason="SDL is not installed")
@pytest.mark.usefixtures("silent_machine")
def test_a_controller_is_named() -> None:
    from runner.voice.controller import load_sdl, quit_sdl

    sdl = load_sdl()
    sdl.SDL_JoystickAttachVirtual(sdl.SDL_JOYSTICK_TYPE_GAMECONTROLLER, 2, 8, 0)
    try:
        assert probe()[-1] == ("game controller", True, "There is Virtual Controller.", "")
    finally:
        sdl.SDL_JoystickDetachVirtual(0)
        quit_sdl(sdl)


@pytest.mark.sound
@pytest.mark.usefixtures("sound")
def test_with_devices_they_are_named_and_a_silent_microphone_is_called_silent() -> None:
    text = " ".join(" ".join(doctor()).split())
    assert "Loudspeaker: works. There is" in text
    assert "Microphone: does not work." in text
    assert "nothing but silence (-120 dBFS in 2 seconds): unmute it" in text


@contextmanager
def played_without_end(sound: SoundSystem, file: Path) -> Iterator[None]:
    """Play a file into the microphone again and again while the block lasts."""
    over = threading.Event()

    def play() -> None:
        while not over.is_set():
            sound.play(file)

    playing = threading.Thread(target=play)
    playing.start()
    try:
        time.sleep(0.5)
        yield
    finally:
        over.set()
        playing.join()


@pytest.mark.sound
def test_a_microphone_that_hears_somebody_works_and_its_level_is_told(sound: SoundSystem) -> None:
    speech = sound.recording(voices()[0], "the weather looks better in the north this morning")
    with played_without_end(sound, speech):
        text = " ".join(" ".join(doctor()).split())
    assert "Microphone: works. There is" in text
    level = re.search(r"gives (-\d+) dBFS in 2 seconds", text)
    assert level is not None and -45 < int(level[1]) < -10


@pytest.mark.sound
def test_a_microphone_that_clips_is_told_to_be_lowered(sound: SoundSystem, tmp_path: Path) -> None:
    tone = [32_767 if at // 40 % 2 else -32_767 for at in range(16_000 * 3)]
    write_wav(tmp_path / "loud.wav", array("h", tone).tobytes(), 16_000)
    with played_without_end(sound, tmp_path / "loud.wav"):
        text = " ".join(" ".join(doctor()).split())
    assert "Microphone: does not work." in text
    assert "clips (" in text and "at full scale): lower its recording level" in text
    assert "To mend it: runner doctor" in text
