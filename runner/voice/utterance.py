"""Where an utterance begins and ends: a gate over frames of 20 ms. Pure, no device.

A frame is loud when its level, after a filter that lifts consonants over rumble, stands
clear of the noise floor; the floor is the quietest the last seconds have been. An
utterance begins when several frames in a row are loud and sound like a voice, and brings
the moments before with it. Where a detector tells voices from noise, less of a rise will do;
and in noise, above which only the loudest of a voice stands, it is asked before what is not
loud counts as silence.
"""

from __future__ import annotations

import math
from array import array
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from operator import mul, sub
from typing import Literal

FRAME_SECONDS = 0.02
FRAME_BYTES = 640
"""One frame: 320 samples of 16 bits at 16 kHz."""

PRE_ROLL_FRAMES = 15
"""Kept from before the beginning, because a soft consonant comes before the loud vowel."""

ONSET_FRAMES = 3
"""Loud frames, of the last five, that begin an utterance."""

FLOOR_BLOCK_FRAMES = 25
FLOOR_BLOCKS = 8
"""The floor is the quietest of this many blocks of half a second."""

LOWEST_FLOOR = -66.0
"""dB of full scale; a floor below it is a microphone that gives nothing."""

ABOVE_FLOOR_BEGIN = 12.0
ABOVE_FLOOR_GO_ON = 7.0
BELOW_PEAK = 32.0
"""dB: how far a frame stands above the floor to begin and to go on, and below the
utterance's loudest frame before it counts as silence."""

VOICED_BEGIN = 6.0
VOICED_GO_ON = 5.0
"""The first two where a detector is asked whether it is a voice. At 10 dB above engines one word
in nine did not begin with 12 dB, none with 7."""

QUIET_FLOOR = -58.0
"""dB of full scale; in a room that is quieter the first two hold, detector or not."""

IN_NOISE = 26.0
"""dB from the floor to an utterance's loudest frame, below which there is noise about it."""

TAIL_FRAMES = 8
TAIL_EVERY = 3
"""In noise, the last frames that the detector is asked about, and every how many."""

ASK_EVERY = 2
"""Frames from one question whether it is a voice to the next, while it stays loud."""

LONGEST_SECONDS = 12.0
"""Nobody answers for so long: it is conversation, or noise that the floor has yet to learn."""


def level(frame: bytes) -> float:
    """dB of full scale of one frame after pre-emphasis; -120 for digital silence."""
    samples = array("h", frame)
    lifted = list(map(sub, samples[1:], samples))
    power = sum(map(mul, lifted, lifted)) / max(1, len(lifted))
    return max(-120.0, 10 * math.log10(power / 32_768**2)) if power > 0 else -120.0


@dataclass(frozen=True, slots=True)
class Heartbeat:
    """What one frame did: nothing, an utterance that ``began``, ``goes on``, or is ``over``.

    ``silence`` is seconds since the last loud frame; ``samples`` are those that the
    utterance has gained with this frame (its pre-roll with the first).
    """

    change: Literal["nothing", "began", "goes on", "too long"]
    level: float
    silence: float = 0.0
    samples: bytes = b""


class Gate:
    """Frames in, utterances out.

    ``voiced`` is asked before an utterance begins whether the last moments, newest last,
    could be a voice at all.
    """

    def __init__(self, voiced: Callable[[bytes], bool] | None = None) -> None:
        self._voiced = voiced
        self._recent: deque[bytes] = deque(maxlen=PRE_ROLL_FRAMES)
        self._loud: deque[bool] = deque(maxlen=5)
        self._block: list[float] = []
        self._quietest: deque[float] = deque(maxlen=FLOOR_BLOCKS)
        self._open = False
        self._silence = 0
        self._length = 0
        self._peak = -120.0
        self._asked = 0
        self._floor_before = LOWEST_FLOOR
        self._tail: deque[bytes] = deque(maxlen=TAIL_FRAMES)

    @property
    def floor(self) -> float:
        """The noise floor in dB of full scale."""
        blocks = [*self._quietest, min(self._block)] if self._block else [*self._quietest]
        return max(LOWEST_FLOOR, min(blocks)) if blocks else LOWEST_FLOOR

    def reset(self) -> None:
        """Forget the utterance and the moments before; the noise floor stays."""
        self._recent.clear()
        self._loud.clear()
        self._open = False
        self._silence = self._length = 0
        self._peak = -120.0

    def finish(self) -> None:
        """The utterance was decided; the next one begins afresh."""
        self.reset()

    def take(self, frame: bytes) -> Heartbeat:
        """One frame of ``FRAME_BYTES``."""
        loudness = level(frame)
        self._learn_floor(loudness)
        if self._open:
            return self._go_on(frame, loudness)
        self._recent.append(frame)
        self._loud.append(loudness > self.floor + self._rise(VOICED_BEGIN, ABOVE_FLOOR_BEGIN))
        if sum(self._loud) < ONSET_FRAMES or not self._could_be_voice():
            return Heartbeat("nothing", loudness)
        self._open = True
        self._floor_before = self.floor
        self._length = len(self._recent)
        self._peak = loudness
        samples = b"".join(self._recent)
        self._recent.clear()
        return Heartbeat("began", loudness, 0.0, samples)

    def _could_be_voice(self) -> bool:
        if self._voiced is None:
            return True
        self._asked = (self._asked + 1) % ASK_EVERY
        return self._asked == 1 % ASK_EVERY and self._voiced(b"".join(self._recent))

    def _go_on(self, frame: bytes, loudness: float) -> Heartbeat:
        self._length += 1
        self._peak = max(self._peak - 0.02, loudness)
        # The floor of before: a sound without end must not become its own silence.
        threshold = max(
            self._floor_before + self._rise(VOICED_GO_ON, ABOVE_FLOOR_GO_ON),
            self._peak - BELOW_PEAK,
        )
        self._tail.append(frame)
        self._silence = 0 if loudness > threshold else self._silence + 1
        if self._silence % TAIL_EVERY == 1 and self._voiced is not None and self._in_noise():
            self._silence = 0 if self._voiced(b"".join(self._tail)) else self._silence
        change: Literal["goes on", "too long"] = "goes on"
        if self._length * FRAME_SECONDS > LONGEST_SECONDS:
            change = "too long"
        return Heartbeat(change, loudness, self._silence * FRAME_SECONDS, frame)

    def _rise(self, voiced: float, plain: float) -> float:
        return voiced if self._voiced is not None and self.floor > QUIET_FLOOR else plain

    def _in_noise(self) -> bool:
        return self._peak - self._floor_before < IN_NOISE

    def _learn_floor(self, loudness: float) -> None:
        self._block.append(loudness)
        if len(self._block) >= FLOOR_BLOCK_FRAMES:
            self._quietest.append(sorted(self._block)[2])
            self._block = []
