"""The matcher through real sound devices, with people as the pilot: not enrolled, and enrolled.

The people are those of ``RUNNER_SPEECH_DATA`` on whom nothing was fitted. Their state words
answer a list made for it; at every item the opposite is said first. No recording serves both
to enrol and to answer. What moves the list on where a person's takes do not is, enrolled, one
of the takes that were enrolled, and else a synthetic voice; neither is counted.
"""

from __future__ import annotations

import subprocess
import sys
import wave
from array import array
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

import speech_data
from sound import SoundSystem, voices
from take_people import Person, people
from voice_crew import Decision, VoiceFlight, table

pytestmark = pytest.mark.sound

AIRCRAFT = """\
runner: 1
aircraft: Plover One
about: Invented, for simulation and training only, not for flight.
roles: captain
engines: 1
"""

HEAD = """\
runner: 1
procedures: Plover One, tests
about: Invented, for simulation and training only.
aircraft: plover-aircraft.yaml
phases:
  - phase: ground
    name: Ground
    lists:
      - list: cockpit
        title: Cockpit
        kind: challenge and response
        items:
"""

CHALLENGES = {
    "on": "Master",
    "off": "Cabin light",
    "up": "Trim",
    "down": "Gear lever",
    "yes": "Doors closed",
    "no": "Frost",
    "stop": "Fuel flow",
    "go": "Signal",
    "left": "Selector",
    "right": "Turn",
}
SHORT = ("on", "off", "up", "down")
HELPERS = 6


@dataclass(frozen=True)
class Pilot:
    """A person: files to enrol and files to answer with, by word."""

    name: str
    enrolled: dict[str, list[Path]]
    further: dict[str, list[Path]]


def pilots(folder: Path, words: tuple[str, ...]) -> list[Pilot]:
    """Everybody who said each of the words often enough."""
    home = speech_data.home()
    if home is None:
        pytest.skip("RUNNER_SPEECH_DATA names no folder of recordings")
    found = [
        as_files(name, person, words, folder / name)
        for name, person in people(home, fitting=False).items()
        if all(person.further.get(word) for word in words)
    ]
    if not found:
        pytest.skip("RUNNER_SPEECH_DATA holds nobody who said every word four times")
    return found


def as_files(name: str, person: Person, words: tuple[str, ...], folder: Path) -> Pilot:
    """A person's takes as WAV files with a little of their own noise around them."""
    parts: list[dict[str, list[Path]]] = []
    for part, takes in (("enrol", person.enrolled), ("answer", person.further)):
        files: dict[str, list[Path]] = {}
        for word in words:
            place = folder / part / word
            place.mkdir(parents=True)
            files[word] = [
                written(place / f"{number}.wav", sound) for number, sound in enumerate(takes[word])
            ]
        parts.append(files)
    return Pilot(name, *parts)


def written(file: Path, sound: bytes) -> Path:
    """A recording as a file, with a third of a second of its own quiet before and after."""
    samples = np.frombuffer(sound, dtype="<i2").astype(np.float64)
    power = np.convolve(samples**2, np.ones(800) / 800, "valid")
    quiet = float(np.sqrt(max(1.0, power.min())))
    noise = np.random.default_rng(len(samples)).normal(0, quiet, 10_600)
    whole = np.concatenate([noise[:5_300], samples, noise[5_300:]])
    with wave.open(str(file), "wb") as made:
        made.setnchannels(1)
        made.setsampwidth(2)
        made.setframerate(16_000)
        made.writeframes(array("h", np.clip(whole, -32_767, 32_767).astype(int)).tobytes())
    return file


def procedures(folder: Path, words: tuple[str, ...]) -> Path:
    """A list that these words answer, each in turn."""
    (folder / "plover-aircraft.yaml").write_text(AIRCRAFT)
    file = folder / "plover.yaml"
    items = [
        f"          - challenge: {CHALLENGES[word]}\n"
        f"            response: {word}\n"
        f"            not: {speech_data.OPPOSITE[word]}\n"
        for word in words
    ]
    file.write_text(HEAD + "".join(items))
    return file


def enrol(pilot: Pilot, file: Path, folder: Path) -> None:
    """Enrol a person's takes as the pilot of this machine."""
    command = [sys.executable, "-m", "runner", "voice", "enrol", str(file)]
    done = subprocess.run(
        [*command, "--from-folder", str(folder / pilot.name / "enrol")],
        capture_output=True,
        text=True,
        check=False,
        stdin=subprocess.DEVNULL,
        timeout=120,
    )
    # 1: the control phrases have no takes.
    assert done.returncode in (0, 1), done.stdout + done.stderr
    assert "taken: " in done.stdout, done.stdout


def answer(
    sound: SoundSystem, folder: Path, file: Path, pilot: Pilot, enrolled: bool
) -> list[Decision]:
    """Fly the list, the opposite first at every item; gives every decision on the person."""
    flight = VoiceFlight(sound, folder / "run", str(file), "--recogniser", "matcher")
    found: list[Decision] = []
    crew = voices()
    try:
        flight.wait_for("Runner: Cockpit checklist")
        flight.wait_until_heard(30)
        for word in pilot.further:
            challenge, opposite = CHALLENGES[word], speech_data.OPPOSITE[word]
            turns = [("opposite", opposite, one) for one in pilot.further[opposite][:2]]
            turns += [("right answer", word, one) for one in pilot.further[word]]
            for kind, said, take in turns:
                found.append(flight.play(challenge, kind, take, said, pilot.name))
                if found[-1].decided == "accepted":
                    break
            if found[-1].decided == "accepted":
                continue
            for turn in range(HELPERS):
                helper = sound.recording(crew[turn % len(crew)], word)
                if enrolled:
                    helper = pilot.enrolled[word][turn % len(pilot.enrolled[word])]
                if flight.play(challenge, "helper", helper, word).decided == "accepted":
                    break
        flight.wait_for("Cockpit complete", 10)
    finally:
        flight.stop()
        print(f"\n{pilot.name}, {'enrolled' if enrolled else 'not enrolled'}\n{table(found)}")
        for d in found:
            print(f"{d.challenge:<14} {d.kind:<14} {d.said!r}: {d.decided} {d.heard}")
    return found


def hold(found: list[Decision], least: float) -> None:
    """Nothing wrong was taken, and so many right answers of those said first were accepted."""
    assert not [d for d in found if d.kind == "opposite" and d.decided in ("accepted", "acted")]
    rights = [d for d in found if d.kind == "right answer"]
    # Said and taken for its opposite, an answer would be named wrong.
    assert not [d for d in rights if d.decided in ("named", "acted")]
    items = {(d.voice, d.challenge) for d in rights}
    taken = {(d.voice, d.challenge) for d in rights if d.decided == "accepted"}
    print(f"{len(taken)} of {len(items)} items answered by the person")
    assert len(taken) >= least * len(items)


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A user's data folder for this test alone."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))


@pytest.mark.usefixtures("home")
def test_an_enrolled_persons_words_move_on_and_opposites_do_not(
    sound: SoundSystem, tmp_path: Path
) -> None:
    pilot, *_ = pilots(tmp_path, SHORT)
    file = procedures(tmp_path, SHORT)
    enrol(pilot, file, tmp_path)
    hold(answer(sound, tmp_path, file, pilot, enrolled=True), 0.5)


@pytest.mark.usefixtures("home")
def test_a_strangers_words_move_on_and_opposites_do_not(sound: SoundSystem, tmp_path: Path) -> None:
    pilot, *_ = pilots(tmp_path, SHORT)
    file = procedures(tmp_path, SHORT)
    hold(answer(sound, tmp_path, file, pilot, enrolled=False), 0.25)


@pytest.mark.slow
@pytest.mark.usefixtures("home")
@pytest.mark.parametrize("enrolled", [True, False], ids=["enrolled", "not enrolled"])
def test_everybodys_ten_words_move_on_and_opposites_do_not(
    sound: SoundSystem, tmp_path: Path, enrolled: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    words = tuple(CHALLENGES)
    found: list[Decision] = []
    for number, pilot in enumerate(pilots(tmp_path, words)):
        own = tmp_path / f"pilot{number}"
        own.mkdir()
        monkeypatch.setenv("XDG_DATA_HOME", str(own / "data"))
        file = procedures(own, words)
        if enrolled:
            enrol(pilot, file, tmp_path)
        found += answer(sound, own, file, pilot, enrolled)
    hold(found, 0.6 if enrolled else 0.4)
