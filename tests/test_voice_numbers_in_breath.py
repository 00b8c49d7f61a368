"""Numbers said in one breath, by recorded voices at another pitch: deaf rather than wrong.

Without pauses two words sound like one of them: "one one five" was taken for fifteen.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest

from matching import controls
from pilots import samples
from runner.engine.effects import Listen, NumberWanted
from runner.phrasing.style import Form
from runner.voice.judge import judge
from runner.voice.number_recogniser import NumberRecogniser
from sound import changed, speak_to_file, voices

SPEED = NumberWanted(Form("speed", 0, "kt"), 0, 500)
RPM = NumberWanted(Form("rpm", 0, "rpm"), 0, 9999)

SAID = (
    ("flite:rms", -80, "one one five", SPEED, 115.0),
    ("flite:slt", -80, "one one four", SPEED, 114.0),
    ("flite:awb", -200, "one one five", SPEED, 115.0),
    ("flite:awb", -80, "one five five zero", RPM, 1550.0),
    ("flite:awb", 100, "two three five zero", RPM, 2350.0),
    ("flite:awb", -250, "one oh five", SPEED, 105.0),
)


@pytest.fixture(scope="module")
def numbers() -> NumberRecogniser:
    return NumberRecogniser()


@pytest.mark.parametrize(("voice", "pitch", "text", "wanted", "value"), SAID)
def test_a_number_in_one_breath_is_taken_rightly_or_asked_again(
    numbers: NumberRecogniser,
    tmp_path: Path,
    voice: str,
    pitch: int,
    text: str,
    wanted: NumberWanted,
    value: float,
) -> None:
    if voice not in voices() or shutil.which("sox") is None:
        pytest.skip(f"no sox, or no voice {voice} here")
    right = 0
    for tempo in (0.85, 1.18):
        file = changed(speak_to_file(voice, text, tmp_path), tmp_path, pitch, tempo)
        sound = np.pad(samples(file), (3_200, 4_800))
        hiss = np.random.default_rng(round(tempo * 100)).normal(0, 6, len(sound))
        listen = Listen(1, controls(), wanted)
        numbers.prepare(listen)
        numbers.begin()
        numbers.feed((sound + hiss).astype("<i2").tobytes())
        verdict = judge(numbers.propose(), listen)
        assert verdict.decision != "accept" or verdict.value == value, (tempo, verdict)
        right += verdict.decision == "accept"
    print(f"{voice} {pitch} {text!r}: right {right} of 2")
