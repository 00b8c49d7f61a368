"""``runner voice enrol`` from end to end: a recorded voice as the pilot, and folders of files."""

from __future__ import annotations

import os
import pty
import queue
import random
import re
import shutil
import stat
import subprocess
import sys
import termios
import threading
import time
import wave
from array import array
from collections import Counter
from pathlib import Path

import pytest

import speech_data
from runner.voice.takes import Takes
from sound import SoundSystem, voices

AIRCRAFT = """\
runner: 1
aircraft: Plover One
about: Invented, for simulation and training only, not for flight.
roles: captain
engines: 1
"""

PROCEDURES = """\
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
          - challenge: Master
            response: on
            not: off
          - challenge: Trim
            response: up
            not: down
          - challenge: Clear
            response: yes / right
            not: no
"""


COMMAND = [sys.executable, "-u", "-m", "runner", "voice", "enrol"]


@pytest.fixture
def procedures(tmp_path: Path) -> Path:
    (tmp_path / "plover-aircraft.yaml").write_text(AIRCRAFT)
    file = tmp_path / "plover.yaml"
    file.write_text(PROCEDURES)
    return file


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A user's data folder for this test alone; gives where takes are."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    return tmp_path / "data" / "runner" / "takes"


def enrol(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [*COMMAND, *map(str, arguments)],
        capture_output=True,
        text=True,
        check=False,
        stdin=subprocess.DEVNULL,
        timeout=120,
    )


class Enrolment:
    """The running command; ``keys`` are lines of its standard input."""

    def __init__(self, *arguments: str | Path) -> None:
        self.lines: list[str] = []
        self._news: queue.SimpleQueue[str] = queue.SimpleQueue()
        self.process = subprocess.Popen(
            [*COMMAND, *map(str, arguments)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self.lines.append(line.rstrip())
            self._news.put(line.rstrip())

    def next(self, wanted: str, seconds: float = 30.0) -> str:
        """The next line that has ``wanted`` in it; lines before it are passed over."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            try:
                line = self._news.get(timeout=0.1)
            except queue.Empty:
                continue
            if re.search(wanted, line):
                return line
        raise AssertionError(f"never printed: {wanted}\n" + "\n".join(self.lines))

    def key(self, key: str) -> None:
        """Press a key."""
        assert self.process.stdin is not None
        self.process.stdin.write(key + "\n")
        self.process.stdin.flush()

    def finish(self) -> int:
        """Its exit status."""
        return self.process.wait(60)


def wanted_phrase(line: str) -> str:
    found = re.search(r"say '(.+)'", line)
    assert found
    return found[1]


@pytest.mark.sound
def test_a_pilot_is_walked_through_stops_resumes_and_repeats_a_wrong_take(
    sound: SoundSystem, procedures: Path, home: Path
) -> None:
    voice = voices()[0]

    def say_takes(run: Enrolment, places: tuple[int, ...] = (1, 2, 3), wrong: str = "") -> str:
        phrase = ""
        for place in places:
            phrase = wanted_phrase(run.next(f"take {place} of 3"))
            time.sleep(0.3)
            sound.answer(voice, wrong if wrong and place == places[-1] else phrase)
        return phrase

    run = Enrolment(procedures, "--name", "anna", "--phrases", "4", "--microphone-name", "mic")
    run.next("needs 4 phrases, 3 takes each; 0 are recorded")
    first = say_takes(run)
    run.next("good")
    run.key("p")
    run.key("")
    run.next("2 of 4")
    run.next("take 1 of 3")
    run.key("q")
    run.next("Stopped")
    run.next("1 of 4 phrases are recorded; the same command goes on with")
    assert run.finish() == 1
    takes = Takes(home / "anna")
    assert {phrase: len(takes.takes(phrase)) for phrase in takes.phrases()} == {first: 3}

    run = Enrolment(procedures, "--name", "anna", "--phrases", "4", "--microphone-name", "mic")
    run.next("1 are recorded")
    run.next("2 of 4")
    say_takes(run)
    run.next("good")
    run.key("")
    # What is said in the place of the third take is another phrase.
    third = say_takes(run, wrong=first)
    run.next("take 3 does not sound like the others, nearer to")
    run.key("r")
    say_takes(run, places=(3,))
    run.next("good")
    run.key("")
    run.next("4 of 4")
    run.next("take 1 of 3")
    run.key("s")
    run.next("left for later")
    run.next("3 of 4 phrases are recorded")
    assert run.finish() == 1
    later = Takes(home / "anna")
    assert [len(later.takes(phrase)) for phrase in later.phrases()] == [3, 3, 3]
    assert third in later.phrases()
    for path in [home, *home.rglob("*")]:
        mode = stat.S_IMODE(path.stat().st_mode)
        assert mode == (0o700 if path.is_dir() else 0o600), path

    run = Enrolment(procedures, "--name", "anna", "--phrases", "4", "--microphone-name", "mic")
    say_takes(run)
    run.next("good")
    run.key("")
    run.next("Testing 4 phrases, 12 takes")
    run.next("Of 12 takes .* 0 as something else")
    run.next("Every phrase is told from all others")
    assert run.finish() == 0
    assert "4 are recorded" in enrol(procedures, "--name", "anna", "--phrases", "4").stdout


@pytest.mark.sound
def test_a_quiet_voice_and_nothing_at_all_are_said_and_nothing_is_kept(
    sound: SoundSystem, procedures: Path, home: Path, tmp_path: Path
) -> None:
    run = Enrolment(procedures, "--phrases", "1")
    phrase = wanted_phrase(run.next("take 1 of 3"))
    run.next("not taken: the microphone gives nothing but silence")
    run.next("take 1 of 3")
    time.sleep(0.3)
    sound.play(_shortened(sound.recording(voices()[0], phrase), tmp_path))
    run.next("not taken: too short")
    run.key("q")
    assert run.finish() == 1
    assert Takes(home / "pilot").phrases() == ()


def _shortened(file: Path, folder: Path) -> Path:
    """The loudest tenth of a second of a recording, between two pauses."""
    with wave.open(str(file)) as sound:
        rate = sound.getframerate()
        samples = array("h", sound.readframes(sound.getnframes()))
    length = rate // 10
    starts = range(0, len(samples) - length, length)
    start = max(starts, key=lambda at: sum(map(abs, samples[at : at + length])))
    pause = array("h", bytes(rate))
    short = folder / "short.wav"
    with wave.open(str(short), "wb") as out:
        out.setparams((1, 2, rate, 0, "NONE", ""))
        out.writeframes((pause + samples[start : start + length] + pause).tobytes())
    return short


@pytest.mark.sound
@pytest.mark.usefixtures("sound")
def test_on_a_terminal_single_keys_count_and_the_level_is_one_line_drawn_again(
    procedures: Path, home: Path
) -> None:
    ours, theirs = pty.openpty()
    before = termios.tcgetattr(theirs)
    command = [*COMMAND, str(procedures)]
    process = subprocess.Popen(command, stdin=theirs, stdout=theirs, stderr=theirs)
    shown = b""
    while b"#" not in shown and b"[---" not in shown:
        shown += os.read(ours, 4096)
    os.write(ours, b"x")
    while b"s skip, q stop\r\n" not in shown.partition(b"[-")[2]:
        shown += os.read(ours, 4096)
    os.write(ours, b"q")
    while b"goes on with" not in shown:
        shown += os.read(ours, 4096)
    assert process.wait(20) == 1
    assert re.search(rb"\r  \[[#-]{30}\]\x1b\[K", shown)
    assert b"Stopped." in shown
    assert termios.tcgetattr(theirs) == before
    os.close(ours)
    os.close(theirs)
    assert not home.exists()


@pytest.mark.sound
def test_a_microphone_that_goes_is_one_line_and_what_was_recorded_stays(
    sound: SoundSystem, procedures: Path, home: Path
) -> None:
    run = Enrolment(procedures, "--phrases", "1")
    phrase = wanted_phrase(run.next("take 1 of 3"))
    time.sleep(0.3)
    sound.answer(voices()[0], phrase)
    run.next("take 2 of 3")
    sound.stop()
    run.next("gives no sound any more; plug it in and start again")
    assert run.finish() == 3
    assert len(Takes(home / "pilot").takes(phrase)) == 1


@pytest.mark.sound
def test_with_nobody_at_the_keys_it_goes_on_by_itself(
    sound: SoundSystem, procedures: Path, home: Path
) -> None:
    run = Enrolment(procedures, "--phrases", "2")
    assert run.process.stdin is not None
    run.process.stdin.close()
    for _ in range(6):
        phrase = wanted_phrase(run.next("say '"))
        time.sleep(0.3)
        sound.answer(voices()[0], phrase)
    assert run.finish() == 0
    assert len(Takes(home / "pilot").phrases()) == 2


@pytest.mark.usefixtures("sound")
def test_a_microphone_that_is_not_there_is_one_line_and_status_three(
    procedures: Path, home: Path
) -> None:
    ended = enrol(procedures, "--microphone-name", "nosuch")
    assert ended.returncode == 3
    assert ended.stderr.startswith("no microphone has 'nosuch' in its name")
    assert ended.stderr.count("\n") == 1
    assert not home.exists()


@pytest.mark.parametrize(
    ("arguments", "wrong"),
    [
        (["nosuch"], "nosuch: there is no such file"),
        (["--name", "../else"], "--name '../else'"),
        (["--phrases", "-2"], "--phrases -2"),
        (["--from-folder", "nosuch"], "--from-folder nosuch: there is no such folder"),
        (["--from-folder", "."], "there are no WAV files"),
        (["--for", "nosuch"], "--for nosuch: there is no such list or phase; phases: preflight"),
        (["--again", "nosuch"], "--again 'nosuch': that is not among the phrases needed"),
    ],
)
def test_what_is_wrong_with_the_command_is_one_line_and_status_two(
    arguments: list[str], wrong: str, tmp_path: Path, home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "empty").mkdir()
    monkeypatch.chdir(tmp_path / "empty")
    ended = enrol(*arguments)
    assert ended.returncode == 2
    assert wrong in ended.stderr
    assert ended.stderr.count("\n") == 1
    assert not home.exists()


def test_help_says_how_a_folder_is_laid_out() -> None:
    shown = " ".join(enrol("--help").stdout.split())
    assert "DIR/PHRASE/anything.wav" in shown
    assert "DIR/PHRASE_1.wav" in shown
    assert "runner voice enrol --from-folder recordings" in shown


@pytest.fixture
def people() -> dict[str, list[Path]]:
    """Of one speaker who said every word that the procedures need: files by word."""
    data = speech_data.home()
    if data is None:
        pytest.skip("RUNNER_SPEECH_DATA names no folder of recordings")
    words = ("on", "off", "up", "down", "yes", "no", "right", "stop")
    known = [r for r in speech_data.states(data) if r.known and r.word in words]
    three = Counter((r.speaker, r.word) for r in known)
    speaker = next(
        speaker
        for speaker in sorted({r.speaker for r in known})
        if all(three[speaker, word] >= 4 for word in words)
    )
    return {w: [r.file for r in known if (r.speaker, r.word) == (speaker, w)] for w in words}


def test_a_persons_recordings_are_taken_from_a_folder(
    people: dict[str, list[Path]], procedures: Path, home: Path, tmp_path: Path
) -> None:
    folder = tmp_path / "recordings"
    (folder / "on").mkdir(parents=True)
    for number, file in enumerate(people["on"][:3]):
        shutil.copy(file, folder / "on" / f"take-{number}.wav")
    for word in ("off", "up", "down", "yes", "no", "right"):
        for number, file in enumerate(people[word][:3], 1):
            shutil.copy(file, folder / f"{word}_{number}.wav")
    shutil.copy(people["off"][3], folder / "on" / "a-slip.wav")
    shutil.copy(people["stop"][0], folder / "stop_1.wav")
    (folder / "up_9.wav").write_bytes(b"no sound")
    (folder / "down_9.wav").write_bytes((folder / "down_1.wav").read_bytes())
    (folder / "notes.txt").write_text("no recording")
    ended = enrol(procedures, "--name", "bo", "--from-folder", folder)
    print(ended.stdout)
    assert ended.returncode == 1, "control phrases are not in the folder"
    assert "not taken: 'stop' is not among the phrases needed: 1 file" in ended.stdout
    assert f"not taken: {folder / 'up_9.wav'}: is not a WAV file that can be read" in ended.stdout
    assert re.search(r"not taken: .*down_\d.wav: the same recording as another one", ended.stdout)
    assert re.search(r"not taken: .*a-slip.wav: does not sound like the others", ended.stdout)
    takes = Takes(home / "bo")
    assert {"on", "off", "up", "down", "yes", "no", "right"} == set(takes.phrases())
    assert len(takes.takes("on")) == 3
    again = enrol(procedures, "--name", "bo", "--from-folder", folder)
    assert "taken: 0 files" in again.stdout
    anew = enrol(procedures, "--name", "bo", "--from-folder", folder, "--again", "On")
    assert "taken: 3 files: on (3)" in anew.stdout
    assert Counter(len(takes.takes(phrase)) for phrase in takes.phrases())[3] >= 5


def test_the_self_test_names_phrases_that_were_recorded_alike(
    people: dict[str, list[Path]], procedures: Path, home: Path, tmp_path: Path
) -> None:
    folder = tmp_path / "recordings"
    folder.mkdir()
    for word, files in people.items():
        for number, file in enumerate(files[:2], 1):
            shutil.copy(file, folder / f"{word}_{number}.wav")
    # Under "on" stand an "on" and an "off", and so they do under "off".
    shutil.copy(people["on"][2], folder / "off_2.wav")
    shutil.copy(people["off"][2], folder / "on_2.wav")
    ended = enrol(procedures, "--from-folder", folder)
    assert re.search(r"'(on|off)' is (taken for|refused).*: say the item's name", ended.stdout)
    assert "not told apart safely" in ended.stdout
    assert home.exists()


def test_one_lists_phrases_are_recorded_alone(home: Path, tmp_path: Path) -> None:
    folder = tmp_path / "recordings"
    folder.mkdir()
    noise_file(folder / "auto-lean_1.wav")
    noise_file(folder / "three-green_1.wav")
    ended = enrol("--for", "before-takeoff", "--from-folder", folder)
    assert re.match(r"before-takeoff needs \d+ phrases, 3 takes each; 0 are", ended.stdout)
    assert "not taken: 'three green' is not among the phrases needed" in ended.stdout
    assert ended.returncode == 1
    assert len(Takes(home / "pilot").takes("auto lean")) == 1


def noise_file(file: Path, seconds: float = 0.8) -> None:
    """A burst that is as loud and as long as a phrase."""
    source = random.Random(str(file))
    loud = [round(source.gauss(0, 4000)) for _ in range(round(seconds * 16_000))]
    samples = array("h", [0] * 8000 + loud + [0] * 8000)
    with wave.open(str(file), "wb") as out:
        out.setparams((1, 2, 16_000, 0, "NONE", ""))
        out.writeframes(samples.tobytes())
