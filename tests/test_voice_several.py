"""Two microphones in one room: what both hear is said by whoever is nearer to theirs."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

from crew_people import until
from runner.engine.effects import Candidate, Listen
from runner.voice.client import VoiceProcess
from runner.voice.settings import VoiceSettings
from runner.voice.several import Voices
from sound import speak_to_file

WINDOW = Listen(
    1,
    (
        Candidate("answer", "answer", "closed and locked"),
        Candidate("wrong:0", "competitor", "still open"),
    ),
)


def said(folder: Path, recordings: Path, text: str, volume: float, before: float = 0.5) -> Path:
    """A WAV file of what a microphone hears of a text, after so many seconds of quiet."""
    file = folder / f"{text}-{volume}.wav".replace(" ", "-")
    spoken = speak_to_file("flite:slt", text, recordings)
    loud = ("vol", str(volume), "pad", str(before), "0.3")
    subprocess.run(["sox", str(spoken), "-r", "16000", str(file), *loud], check=True)
    return file


async def heard(anna: Path, ben: Path) -> list[tuple[str, str | None]]:
    """Who is taken to have said what, where each microphone hears its file."""
    files = {"Anna": anna, "Ben": ben}
    two = Voices(
        {
            name: VoiceProcess(VoiceSettings(speak="none", listen=f"wav:{file}", takes=""))
            for name, file in files.items()
        }
    )
    found: list[tuple[str, str | None]] = []
    two.on_heard = lambda _window, _began, _ended, _proposals, verdict, name: found.append(
        (name, verdict.candidate)
    )
    ended: list[str] = []
    for name, process in two._all.items():
        process.on_input_ended = lambda name=name: ended.append(name)
    await two.start()
    try:
        await two.wait_ready(60)
        two.listen(WINDOW)
        await until(lambda: len(ended) == 2, 30, "the files were not heard to their ends")
    finally:
        await two.stop()
    return found


needs_voices = pytest.mark.skipif(
    not (shutil.which("flite") and shutil.which("sox")), reason="no flite or no sox here"
)


@needs_voices
@pytest.mark.parametrize("nearer", ["Anna", "Ben"])
async def test_what_two_microphones_hear_is_said_by_whom_it_is_loudest_at(
    tmp_path: Path, recordings: Path, nearer: str
) -> None:
    near = said(tmp_path, recordings, "closed and locked", 0.8)
    far = said(tmp_path, recordings, "closed and locked", 0.2)
    files = (near, far) if nearer == "Anna" else (far, near)
    assert await heard(*files) == [(nearer, "answer")]


@needs_voices
async def test_one_after_the_other_each_is_heard(tmp_path: Path, recordings: Path) -> None:
    first = said(tmp_path, recordings, "closed and locked", 0.8)
    later = said(tmp_path, recordings, "still open", 0.2, before=4.0)
    assert await heard(first, later) == [("Anna", "answer"), ("Ben", "wrong:0")]
