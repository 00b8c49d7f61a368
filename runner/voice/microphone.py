"""Where sound comes from: a microphone, or a WAV file in its place."""

from __future__ import annotations

import math
import time
from array import array
from collections.abc import Callable, Generator
from operator import mul
from pathlib import Path
from typing import Any

from runner.errors import RunnerError
from runner.voice.devices import backends, find_device, list_devices
from runner.voice.recogniser import RATE
from runner.voice.utterance import FRAME_BYTES, FRAME_SECONDS
from runner.voice.waves import read_wav

AFTER_FILE_SECONDS = 1.2
"""Silence after the end of a file, so that its last answer comes to an end."""


SILENT_DBFS = -70.0
"""A microphone below this gives nothing: the quietest room in a headset lies above it."""

SILENT_FROM_START_SECONDS = 10.0
"""A microphone that has never given a sound is called silent after so long."""

SILENT_LATER_SECONDS = 60.0
"""One that has given some: a headset that shuts itself between words is given time."""

FULL_SCALE = 32_000
"""A sample of this size or more, of 32,768, was too loud for the converter."""

CLIPPED_SHARE = 0.01
"""A second with more of its samples at full scale clips; a knock has fewer, or lasts less."""

CLIPPED_SECONDS = 2
"""Seconds that clip before it is said."""


class Loudness:
    """How loud sound was, of 16-bit samples: level, and the share of them at full scale."""

    def __init__(self) -> None:
        self.count = 0
        self._power = 0
        self._full = 0

    def take(self, sound: bytes) -> None:
        """Measure some more of it."""
        samples = array("h", sound)
        if not samples:
            return
        self.count += len(samples)
        self._power += sum(map(mul, samples, samples))
        if max(samples) >= FULL_SCALE or min(samples) <= -FULL_SCALE:
            self._full += sum(abs(sample) >= FULL_SCALE for sample in samples)

    @property
    def dbfs(self) -> float:
        """Root mean square in dB of full scale; -120 for digital silence or no sound."""
        mean = self._power / self.count if self.count else 0.0
        return max(-120.0, 10 * math.log10(mean / 32_768**2)) if mean else -120.0

    @property
    def clipped(self) -> float:
        """The share of samples at full scale, 0 to 1."""
        return self._full / self.count if self.count else 0.0


class Watch:
    """Notices a microphone that is silent or that clips, and says each once."""

    def __init__(self) -> None:
        self._loudness = Loudness()
        self._silent = 0.0
        self._sounded = False
        self._clipped = 0
        self._told: set[str] = set()

    def take(self, samples: bytes) -> str:
        """Some samples at 16 kHz; gives what is wrong in one line, mostly nothing."""
        self._loudness.take(samples)
        if self._loudness.count < RATE:
            return ""
        second, self._loudness = self._loudness, Loudness()
        if second.dbfs < SILENT_DBFS:
            self._silent += second.count / RATE
            enough = SILENT_LATER_SECONDS if self._sounded else SILENT_FROM_START_SECONDS
            if self._silent >= enough:
                return self._once(
                    "the microphone gives nothing but silence: unmute it, or answer with the keys"
                )
            return ""
        self._sounded, self._silent = True, 0.0
        if second.clipped > CLIPPED_SHARE:
            self._clipped += 1
            if self._clipped >= CLIPPED_SECONDS:
                return self._once(
                    "the microphone clips, so words are heard badly: lower its recording level"
                )
        return ""

    def _once(self, text: str) -> str:
        if text in self._told:
            return ""
        self._told.add(text)
        return text


class Microphone:
    """A capture device at 16 kHz mono; ``on_sound(samples, at)`` comes from its own thread.

    ``device`` is a part of its name, with ``whole`` all of it, empty for the system's own
    choice; ``name`` is empty for that. Raises ``RunnerError`` with status 3 where a device of
    that name is not there, ``miniaudio.MiniaudioError`` where none can be opened.
    """

    def __init__(
        self, device: str, on_sound: Callable[[bytes, float], None], *, whole: bool = False
    ) -> None:
        import miniaudio

        found = find_device("capture", device, whole=whole)
        if found is None and not list_devices("capture"):
            # The system's own choice would be what its loudspeaker plays.
            raise miniaudio.MiniaudioError("there is none")
        self.name = found[0] if found else ""
        self._device: Any = miniaudio.CaptureDevice(
            input_format=miniaudio.SampleFormat.SIGNED16,
            nchannels=1,
            sample_rate=RATE,
            buffersize_msec=round(FRAME_SECONDS * 1000),
            device_id=found[1] if found else None,
            backends=backends(),
            app_name="Runner",
        )
        source = self._sounds(on_sound)
        next(source)
        self._device.start(source)

    def close(self) -> None:
        """Give the device back."""
        self._device.close()

    @staticmethod
    def _sounds(on_sound: Callable[[bytes, float], None]) -> Generator[None, bytes, None]:
        while True:
            samples = yield
            on_sound(bytes(samples), time.monotonic())


class SoundFile:
    """A WAV file heard frame by frame; it waits while nobody listens, as a patient pilot would."""

    def __init__(self, file: Path, pace: float) -> None:
        try:
            sound = read_wav(file, RATE)
        except ValueError as error:
            raise RunnerError(f"--listen wav:{error}") from error
        sound += bytes(round(AFTER_FILE_SECONDS * RATE) * 2)
        self._sound = sound
        self._at = 0
        self._pace = pace
        self._due = 0.0

    @property
    def ended(self) -> bool:
        """Whether all of it was heard."""
        return self._at + FRAME_BYTES > len(self._sound)

    def wait(self, now: float) -> float:
        """Seconds until the next frame is due."""
        return max(0.0, self._due - now) if self._pace else 0.0

    def next_frame(self, now: float) -> bytes:
        """The next frame."""
        frame = self._sound[self._at : self._at + FRAME_BYTES]
        self._at += FRAME_BYTES
        if self._pace:
            self._due = max(self._due, now - 0.1) + FRAME_SECONDS / self._pace
        return frame
