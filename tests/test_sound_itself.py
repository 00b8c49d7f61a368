"""The tests' own sound: what is played into the mouth is heard, what is silent is not."""

from __future__ import annotations

import subprocess
import wave
from pathlib import Path

import pytest

from sound import SoundSystem, loudness, speak_to_file, voices

pytestmark = pytest.mark.sound


def test_what_a_program_plays_is_recorded_and_silence_is_silent(sound: SoundSystem) -> None:
    speech = sound.recording(voices()[0], "flaps twenty")
    length, peak = loudness(speech)
    assert length > 0.4 and peak > 0.05
    with sound.recorded("played") as played:
        subprocess.run(["paplay", str(speech)], check=True)
    heard, loudest = loudness(played)
    assert heard == pytest.approx(length, abs=0.15)
    assert loudest > 0.05
    with sound.recorded("silent") as silent:
        pass
    assert loudness(silent) == (0.0, 0.0)


def test_every_voice_says_every_text_differently_and_only_once(recordings: Path) -> None:
    if not voices():
        pytest.skip("neither flite nor festival has a voice here")
    files = {speak_to_file(voice, "low blower", recordings) for voice in voices()}
    assert len(files) == len(voices())
    for file in files:
        with wave.open(str(file)) as opened:
            assert opened.getnchannels() == 1
    made = {file: file.stat().st_mtime_ns for file in files}
    again = {speak_to_file(voice, "low blower", recordings) for voice in voices()}
    assert {file: file.stat().st_mtime_ns for file in again} == made


def test_what_is_said_into_the_mouth_comes_out_of_the_microphone_alone(
    sound: SoundSystem, tmp_path: Path
) -> None:
    file = tmp_path / "mic.wav"
    with subprocess.Popen(
        [
            "parec",
            "--file-format=wav",
            "--channels=1",
            "--rate=16000",
            "--latency-msec=20",
            str(file),
        ]
    ) as recorder:
        with sound.recorded("ears") as ears:
            sound.answer(voices()[0], "high blower")
        recorder.terminate()
    assert loudness(file)[1] > 0.05
    assert loudness(ears) == (0.0, 0.0)
