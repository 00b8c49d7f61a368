"""Whether a short stretch of sound could be a voice at all, asked before an utterance begins.

Silero's detector, whose network comes inside the wheel of openwakeword, tells voices from
engines, wind and keys; where it is not there PocketSphinx's stands in. Either is only asked
when the gate would open, so that a quiet room costs nothing.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from runner.errors import RunnerError
from runner.voice.recogniser import RATE

if TYPE_CHECKING:
    from pathlib import Path

Detector = Callable[[bytes], bool]
"""Takes the last moments, 16-bit mono at 16 kHz, newest last."""

CHUNK = 512
"""Samples that the network sees at a time: 32 ms, one of the lengths it was made for."""

VOICE_FROM = 0.5
"""The network's own probability from which a chunk is a voice: its makers' usual value."""

FRAME_SECONDS = 0.02
FRAME_BYTES = 640

LAST_FRAMES = 5
LOUD_FRAMES = 3
"""PocketSphinx's detector: of the last frames so many have to be a voice."""


class Silero:
    """Asks the network about the last moments, from a fresh state every time.

    Raises ``RunnerError`` or ``ImportError`` where the network or onnxruntime is not there.
    """

    def __init__(self, least: float = VOICE_FROM) -> None:
        import onnxruntime

        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = options.inter_op_num_threads = 1
        options.log_severity_level = 3
        self._net: Any = onnxruntime.InferenceSession(
            str(_network()), options, providers=["CPUExecutionProvider"]
        )
        self._least = least

    def __call__(self, moments: bytes) -> bool:
        """Whether one of the moments' chunks is a voice."""
        return self.chance(moments) >= self._least

    def chance(self, moments: bytes) -> float:
        """The greatest probability of a voice in the moments."""
        import numpy as np

        samples = np.frombuffer(moments, dtype="<i2").astype(np.float32) / 32_768
        first = len(samples) % CHUNK
        rate = np.array(RATE, dtype=np.int64)
        memory = np.zeros((2, 1, 64), dtype=np.float32)
        cell = memory
        best = 0.0
        for at in range(first, len(samples), CHUNK):
            given = {"input": samples[None, at : at + CHUNK], "sr": rate, "h": memory, "c": cell}
            found, memory, cell = self._net.run(None, given)
            best = max(best, float(found[0, 0]))
        return best


def _network() -> Path:
    from runner.voice.embedding import model_folder

    file = model_folder() / "silero_vad.onnx"
    if not file.exists():
        raise RunnerError("openwakeword has no silero_vad.onnx; pip install openwakeword==0.4.0")
    return file


def pocketsphinx_detector() -> Detector:
    """PocketSphinx's detector. Raises ``ImportError`` where it is not installed."""
    import pocketsphinx

    detector = pocketsphinx.Vad(1, RATE, FRAME_SECONDS)

    def voiced(moments: bytes) -> bool:
        frames = [moments[at : at + FRAME_BYTES] for at in range(0, len(moments), FRAME_BYTES)]
        loud = sum(map(bool, map(detector.is_speech, frames[-LAST_FRAMES:])))
        return loud >= LOUD_FRAMES

    return voiced


def voice_detector() -> Detector | None:
    """The best detector that is installed, or None."""
    for made in (Silero, pocketsphinx_detector):
        with contextlib.suppress(ImportError, RunnerError):
            return made()
    return None
