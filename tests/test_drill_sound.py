"""A drill by voice alone, through real audio devices."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from sound import SoundSystem

pytestmark = pytest.mark.sound

VOICE = "flite:slt"
ANSWERS = {"Chocks": "in place", "Gear pins": "three removed"}
"""Spoken in answer to these challenges; the rest is left to be told."""


def test_a_card_is_asked_heard_and_counted(sound: SoundSystem, tmp_path: Path) -> None:
    lines: list[str] = []
    drill = subprocess.Popen(
        [
            *(sys.executable, "-u", "-m", "runner", "drill", "--screen", "plain"),
            *("--kind", "response", "--list", "walk-round", "--questions", "2", "--seed", "7"),
            *("--logbook", str(tmp_path / "logbook.sqlite3")),
        ],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        env=os.environ | dict(sound.environment),
    )

    def collect() -> None:
        assert drill.stdout is not None
        for line in drill.stdout:
            lines.append(line.rstrip())

    threading.Thread(target=collect, daemon=True).start()
    try:
        end = time.monotonic() + 90
        seen = 0
        while drill.poll() is None and time.monotonic() < end:
            said = [line for line in lines[seen:] if line.startswith("Runner: ")]
            for challenge, answer in ANSWERS.items():
                if any(challenge in line for line in said):
                    seen = len(lines)
                    time.sleep(2.0)
                    sound.play(sound.recording(VOICE, answer))
            time.sleep(0.1)
        assert drill.poll() == 0, lines
        assert any("2 of 2 right" in line or "1 of 2 right" in line for line in lines), lines
    finally:
        if drill.poll() is None:
            drill.kill()
        drill.wait()
