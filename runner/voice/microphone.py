"""Where sound comes from: a microphone, or a WAV file in its place."""

from __future__ import annotations

import time
from collections.abc import Callable, Generator
from pathlib import Path
from typing import Any

from runner.errors import RunnerError
from runner.voice.devices import backends, find_device
from runner.voice.recogniser import RATE
from runner.voice.utterance import FRAME_BYTES, FRAME_SECONDS
from runner.voice.waves import read_wav

AFTER_FILE_SECONDS = 1.2
"""Silence after the end of a file, so that its last answer comes to an end."""


class Microphone:
    """A capture device at 16 kHz mono; ``on_sound(samples, at)`` comes from its own thread."""

    def __init__(self, device: str, on_sound: Callable[[bytes, float], None]) -> None:
        import miniaudio

        found = find_device("capture", device)
        self.name = found[0] if found else "the system's microphone"
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
