"""One utterance recorded by the microphone, from its first sound to the silence behind it."""

from __future__ import annotations

import queue
import time
from collections.abc import Callable
from dataclasses import dataclass

from runner.errors import NO_DEVICE, RunnerError
from runner.voice.microphone import SILENT_DBFS, Microphone
from runner.voice.utterance import FRAME_BYTES, FRAME_SECONDS, Gate

END_SECONDS = 0.7
"""Silence that ends an utterance: nobody pauses so long within a phrase."""

KEPT_SILENCE_SECONDS = 0.3
"""What of that silence stays in the recording."""

PATIENCE_SECONDS = 8.0
"""An utterance has to begin within this."""

LOST_SECONDS = 3.0
"""A microphone that brings no samples at all for so long is gone."""

SHOWN_FRAMES = 5
"""The level is shown every so many frames of 20 ms."""


@dataclass(frozen=True, slots=True)
class Recording:
    """What came of listening: ``sound`` (16-bit mono at 16 kHz), or a ``key``, or neither.

    ``trouble`` says in one line why there is neither.
    """

    sound: bytes = b""
    key: str | None = None
    trouble: str = ""


class Recorder:
    """A microphone that stays open between utterances, so that none loses its beginning.

    Raises ``RunnerError`` with status 3 where there is no microphone.
    """

    def __init__(self, device: str, voiced: Callable[[bytes], bool] | None = None) -> None:
        import miniaudio

        self._sounds: queue.SimpleQueue[bytes] = queue.SimpleQueue()
        self._gate = Gate(voiced)
        self._rest = b""
        try:
            self._microphone = Microphone(device, lambda sound, _: self._sounds.put(sound))
        except miniaudio.MiniaudioError as error:
            raise RunnerError(
                f"no microphone can be opened ({error}); plug one in, or take recordings with "
                "--from-folder DIR",
                NO_DEVICE,
            ) from error
        self.name = self._microphone.name or "the system's microphone"

    def close(self) -> None:
        """Give the microphone back."""
        self._microphone.close()

    def record(
        self, pressed: Callable[[], str | None], level: Callable[[float], None]
    ) -> Recording:
        """Wait for an utterance and record it; a key that is ``pressed`` ends the waiting.

        ``level`` is told the loudness in dB of full scale ten times a second.
        """
        self._forget()
        kept: list[bytes] = []
        quiet = True
        frames = 0
        last = time.monotonic()
        while True:
            if (key := pressed()) is not None:
                return Recording(key=key)
            try:
                self._rest += self._sounds.get(timeout=0.05)
            except queue.Empty:
                if time.monotonic() - last > LOST_SECONDS:
                    raise RunnerError(
                        f"{self.name} gives no sound any more; plug it in and start again: "
                        "what is recorded stays",
                        NO_DEVICE,
                    ) from None
                continue
            last = time.monotonic()
            while len(self._rest) >= FRAME_BYTES:
                frame, self._rest = self._rest[:FRAME_BYTES], self._rest[FRAME_BYTES:]
                beat = self._gate.take(frame)
                frames += 1
                quiet = quiet and beat.level < SILENT_DBFS
                if frames % SHOWN_FRAMES == 0:
                    level(beat.level)
                if beat.change == "too long":
                    self._gate.finish()
                    return Recording(trouble="that went on and on: say the phrase alone")
                if beat.samples:
                    kept.append(beat.samples)
                if beat.change == "goes on" and beat.silence >= END_SECONDS:
                    self._gate.finish()
                    too_much = round((beat.silence - KEPT_SILENCE_SECONDS) / FRAME_SECONDS)
                    sound = b"".join(kept)
                    return Recording(sound[: len(sound) - too_much * FRAME_BYTES])
                if not kept and frames * FRAME_SECONDS > PATIENCE_SECONDS:
                    return Recording(trouble=_nothing(quiet))

    def _forget(self) -> None:
        """What was said before anybody asked does not count."""
        while not self._sounds.empty():
            self._sounds.get()
        self._rest = b""
        self._gate.reset()


def _nothing(quiet: bool) -> str:
    if quiet:
        return "the microphone gives nothing but silence: unmute it, or choose another by name"
    return "nothing was heard: speak nearer to the microphone, or turn it up"
