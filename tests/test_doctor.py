"""``runner doctor`` says what works and names the command that mends what does not."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from sound import SoundSystem, sound_system


def doctor() -> list[str]:
    done = subprocess.run(
        [sys.executable, "-m", "runner", "doctor"],
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
        env={**os.environ, "COLUMNS": "80"},
    )
    assert not done.stderr
    return done.stdout.splitlines()


@pytest.fixture
def sound(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[SoundSystem]:
    with sound_system(tmp_path / "sound", monkeypatch) as system:
        yield system


def test_without_a_sound_card_the_missing_parts_are_named_with_their_remedy(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    for name in ("PULSE_SERVER", "PULSE_RUNTIME_PATH"):
        monkeypatch.setenv(name, str(tmp_path / "nobody"))
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path))
    monkeypatch.delenv("RUNNER_VOSK_MODEL", raising=False)
    lines = doctor()
    text = " ".join(lines)
    assert "Synthesiser: works." in text
    assert "PocketSphinx: works." in text
    assert "Vosk: does not work." in text
    for part in ("Vosk", "Terminal"):
        place = next(i for i, line in enumerate(lines) if line.startswith(f"{part}: does not"))
        assert any("To mend it: " in line for line in lines[place : place + 4])
    assert max(map(len, (line for line in lines if "To mend it" not in line))) <= 80


@pytest.mark.sound
@pytest.mark.usefixtures("sound")
def test_with_devices_they_are_named_and_a_silent_microphone_is_called_silent() -> None:
    text = " ".join(doctor())
    assert "Loudspeaker: works. There is" in text
    assert "Microphone: does not work." in text
    assert "nothing but silence" in text
