"""A sound system for tests: PulseAudio of their own, recorded voices, a virtual microphone.

What Runner plays goes to the sink ``ears`` and can be recorded from its monitor; what is
played into the sink ``mouth`` is what Runner's microphone ``mic`` hears. Each further person has
the same: ``ears-NAME``, ``mouth-NAME`` and ``mic-NAME``, which hear nothing of one another.
"""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import subprocess
import time
import wave
from array import array
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

import pytest

PROGRAMS = ("pulseaudio", "pactl", "paplay", "parec")

FLITE_VOICES = ("slt", "kal", "awb", "rms")
FESTIVAL_VOICES = ("kal_diphone", "cmu_us_slt_arctic_hts")

SAME_SPEAKER = (
    {"flite:slt", "festival:cmu_us_slt_arctic_hts"},
    {"flite:kal", "festival:kal_diphone"},
)
"""Recordings of one speaker in two programs, or twice in one."""


def same_speaker(voice: str) -> frozenset[int]:
    """The places among ``voices`` of a voice and of the same speaker's other recordings."""
    same = next((group for group in SAME_SPEAKER if voice in group), {voice})
    return frozenset(place for place, name in enumerate(voices()) if name in same)


def why_not() -> str:
    """Why sound cannot be tested on this machine; empty where it can."""
    missing = [program for program in PROGRAMS if shutil.which(program) is None]
    if missing:
        return f"not installed: {', '.join(missing)}"
    if not voices():
        return "neither flite nor festival has a voice here"
    return ""


def voices() -> tuple[str, ...]:
    """The recorded voices of this machine, as ``flite:NAME`` and ``festival:NAME``."""
    found: list[str] = []
    if shutil.which("flite"):
        listed = subprocess.run(["flite", "-lv"], capture_output=True, text=True, check=False)
        names = listed.stdout.partition(":")[2].split()
        found += [f"flite:{name}" for name in FLITE_VOICES if name in names]
    if shutil.which("text2wave"):
        folders = [Path("/usr/share/festival/voices"), Path("/usr/local/share/festival/voices")]
        there = {path.name for folder in folders for path in folder.glob("*/*")}
        found += [f"festival:{name}" for name in FESTIVAL_VOICES if name in there]
    return tuple(found)


def strangers() -> tuple[str, ...]:
    """The recorded voices at another pitch and tempo, because as they are the matcher has
    templates of them; empty without sox."""
    if shutil.which("sox") is None:
        return ()
    ways = ("150@1.08", "-150@0.93", "220@1.0", "-90@1.15")
    return tuple(f"{voice}@{ways[place % len(ways)]}" for place, voice in enumerate(voices()))


def speak_to_file(voice: str, text: str, folder: Path) -> Path:
    """A WAV file of ``voice`` saying ``text``, made once in a folder."""
    name = re.sub(r"[^a-z0-9]+", "-", f"{voice} {text}".lower())[:80]
    file = folder / f"{name}-{hashlib.sha256(f'{voice} {text}'.encode()).hexdigest()[:8]}.wav"
    if file.exists():
        return file
    program, _, chosen = voice.partition(":")
    if program == "flite":
        subprocess.run(
            ["flite", "-voice", chosen, "-t", text, "-o", str(file)],
            check=True,
            stdout=subprocess.DEVNULL,
        )
    else:
        subprocess.run(
            ["text2wave", "-eval", f"(voice_{chosen})", "-o", str(file)],
            input=text.encode(),
            check=True,
            stderr=subprocess.DEVNULL,
        )
    return file


def changed(file: Path, folder: Path, pitch: int = 0, tempo: float = 1.0) -> Path:
    """The same speech by somebody else, at 16 kHz: ``pitch`` in hundredths of a semitone,
    ``tempo`` as a factor. Needs sox."""
    made = folder / f"{file.stem}-{pitch}-{tempo:.2f}.wav"
    if not made.exists():
        command = ["sox", str(file), "-r", "16000", "-c", "1", "-b", "16", str(made)]
        subprocess.run(
            [*command, "pitch", str(pitch), "tempo", "-s", f"{tempo:.2f}"],
            check=True,
            stderr=subprocess.DEVNULL,
        )
    return made


def loudness(file: Path) -> tuple[float, float]:
    """Seconds between the first and last audible sample of a mono WAV file, and its peak, 0-1."""
    with wave.open(str(file)) as sound:
        rate = sound.getframerate()
        samples = array("h", sound.readframes(sound.getnframes()))
    loud = [index for index in range(0, len(samples), 16) if abs(samples[index]) > 200]
    if not loud:
        return 0.0, 0.0
    return (loud[-1] - loud[0]) / rate, max(map(abs, samples)) / 32_768


class SoundSystem:
    """PulseAudio in a folder of its own; ``environment`` makes a program use it."""

    def __init__(self, folder: Path, recordings: Path | None = None) -> None:
        self.folder = folder
        self.recordings = recordings or folder / "recordings"
        self.recordings.mkdir(parents=True, exist_ok=True)
        runtime = folder / "run"
        runtime.mkdir(mode=0o700, parents=True)
        self.environment: dict[str, str] = {
            "XDG_RUNTIME_DIR": str(runtime),
            "PULSE_RUNTIME_PATH": str(runtime),
            "PULSE_STATE_PATH": str(runtime),
            "PULSE_COOKIE": str(runtime / "cookie"),
            "PULSE_SERVER": f"unix:{runtime}/native",
            "PULSE_SINK": "ears",
            "PULSE_SOURCE": "mic",
        }
        quiet = subprocess.DEVNULL
        self._server = subprocess.Popen(
            [
                "pulseaudio",
                "--exit-idle-time=-1",
                "-n",
                f"--load=module-native-protocol-unix socket={runtime}/native",
                "--load=module-null-sink sink_name=ears rate=48000",
                "--load=module-null-sink sink_name=mouth rate=48000",
                "--load=module-virtual-source source_name=mic master=mouth.monitor",
            ],
            env=self._all(),
            stdin=quiet,
            stdout=quiet,
            stderr=quiet,
        )
        self._wait_until_up()

    def _all(self) -> dict[str, str]:
        return {**os.environ, **self.environment}

    def _wait_until_up(self) -> None:
        for _ in range(100):
            listed = subprocess.run(
                ["pactl", "list", "short", "sources"],
                env=self._all(),
                capture_output=True,
                text=True,
                check=False,
            )
            if "\tmic\t" in listed.stdout:
                return
            if self._server.poll() is not None:
                break
            time.sleep(0.05)
        self.stop()
        pytest.skip("PulseAudio does not start here")

    def seat(self, name: str) -> None:
        """Give a person a loudspeaker ``ears-NAME`` and a microphone ``mic-NAME`` of their own."""
        for kind, module, device, more in (
            ("sink", "module-null-sink", f"ears-{name}", ("rate=48000",)),
            ("sink", "module-null-sink", f"mouth-{name}", ("rate=48000",)),
            ("source", "module-virtual-source", f"mic-{name}", (f"master=mouth-{name}.monitor",)),
        ):
            subprocess.run(
                [
                    *("pactl", "load-module", module, f"{kind}_name={device}"),
                    *(f"{kind}_properties=device.description={device}", *more),
                ],
                env=self._all(),
                stdout=subprocess.DEVNULL,
                check=True,
            )

    def begin(self, file: Path, name: str, volume: float = 1.0) -> subprocess.Popen[bytes]:
        """Begin to play a file into the microphone of that person; ``volume`` on PulseAudio's
        scale, where sound has the third power of it."""
        loud = f"--volume={round(volume * 65_536)}"
        return subprocess.Popen(
            ["paplay", f"--device=mouth-{name}", "--latency-msec=20", loud, str(file)],
            env=self._all(),
        )

    def stop(self) -> None:
        """End the server that this object started."""
        self._server.terminate()
        try:
            self._server.wait(3.0)
        except subprocess.TimeoutExpired:
            self._server.kill()
            self._server.wait()

    def recording(self, voice: str, text: str) -> Path:
        """A WAV file of a voice saying a text; ``flite:slt@150@1.1`` is ``changed`` from slt."""
        base, *change = voice.split("@")
        file = speak_to_file(base, text, self.recordings)
        if not change:
            return file
        pitch, tempo = change
        return changed(file, self.recordings, int(pitch), float(tempo))

    def play(self, file: Path) -> float:
        """Play a file into the microphone to its end; gives the monotonic second of its end.

        The end is that of its last audible sample, from its length: ``paplay`` returns late.
        """
        with wave.open(str(file)) as sound:
            samples = array("h", sound.readframes(sound.getnframes()))
            rate = sound.getframerate()
        loud = max((at for at in range(0, len(samples), 16) if abs(samples[at]) > 200), default=0)
        began = time.monotonic()
        subprocess.run(
            ["paplay", "--device=mouth", "--latency-msec=20", str(file)],
            env=self._all(),
            check=True,
        )
        return began + loud / rate

    def answer(self, voice: str, text: str) -> float:
        """Say a text into the microphone."""
        return self.play(self.recording(voice, text))

    @contextmanager
    def recorded(self, name: str = "heard", source: str = "ears.monitor") -> Iterator[Path]:
        """Record what Runner plays while the block lasts, into a WAV file."""
        file = self.folder / f"{name}.wav"
        with subprocess.Popen(
            [
                "parec",
                f"--device={source}",
                "--file-format=wav",
                "--channels=1",
                "--rate=16000",
                "--latency-msec=20",
                str(file),
            ],
            env=self._all(),
        ) as recorder:
            time.sleep(0.3)
            try:
                yield file
            finally:
                time.sleep(0.3)
                recorder.terminate()
                recorder.wait()


@contextmanager
def sound_system(
    folder: Path, monkeypatch: pytest.MonkeyPatch, recordings: Path | None = None
) -> Iterator[SoundSystem]:
    """A sound system that the test and the programs that it starts use; skips where impossible.

    ``recordings`` is a folder in which what the voices said is kept for other tests.
    """
    reason = why_not()
    if reason:
        pytest.skip(f"no sound to test with: {reason}")
    system = SoundSystem(folder, recordings)
    environment: Mapping[str, str] = system.environment
    for name, value in environment.items():
        monkeypatch.setenv(name, value)
    try:
        yield system
    finally:
        system.stop()
