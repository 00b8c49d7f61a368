"""What an utterance is given before PocketSphinx hears it: a floor of noise, and a full band.

Its model was trained on microphones that are never quite silent and that carry the sounds
of consonants above 4 kHz. A headset of telephone width carries nothing there.
"""

from __future__ import annotations

import math
import random
from array import array
from functools import lru_cache
from operator import mul

from runner.voice.recogniser import RATE

NOISE = 12
"""Level (of 32,767) of the noise put under every utterance: the model knows no digital silence."""

IMAGE = 0.25
"""Level of the mirror image, from 8 kHz down, of the lower half of a narrow spectrum."""

BAND_EDGE = 4_600
"""Hz; above it a connection of telephone width carries nothing."""

NARROW = 3e-6
"""Share of the power above ``BAND_EDGE`` below which a voice is narrow; the quietest
consonants of wide ones have seven times as much."""

_REACH = 31
_STRIDE = 13
_FRAME = 320


def made_ready(samples: bytes) -> bytes:
    """16-bit samples with very low noise under them, and widened where they are narrow.

    Turning the sign of every second sample mirrors a spectrum; added to the samples, that
    makes them alternately louder and softer.
    """
    sound = array("h", samples)
    noise = _noise() * (len(sound) // RATE + 1)
    louder, softer = (1 + IMAGE, 1 - IMAGE) if is_narrow(sound) else (1.0, 1.0)
    made = array("i", bytes(4 * len(sound)))
    made[::2] = array("i", [round(louder * s + n) for s, n in zip(sound[::2], noise[::2])])  # noqa: B905
    made[1::2] = array("i", [round(softer * s + n) for s, n in zip(sound[1::2], noise[1::2])])  # noqa: B905
    if made and (max(made) > 32_767 or min(made) < -32_768):
        made = array("i", [max(-32_768, min(32_767, value)) for value in made])
    return array("h", made).tobytes()


def is_narrow(sound: array[int]) -> bool:
    """Whether a voice has next to nothing above ``BAND_EDGE``, but for steady noise."""
    taps = _high_pass()
    above: list[float] = []
    power: list[float] = []
    for start in range(0, len(sound) - _FRAME - 2 * _REACH, _FRAME):
        piece = sound[start : start + _FRAME + 2 * _REACH]
        power.append(sum(map(mul, piece[:_FRAME], piece[:_FRAME])) / _FRAME)
        highs = [
            sum(map(mul, taps, piece[at : at + len(taps)])) for at in range(0, _FRAME, _STRIDE)
        ]
        above.append(sum(map(mul, highs, highs)) / len(highs))
    total = sum(power)
    if total <= 0:
        return False
    quiet = sorted(zip(power, above, strict=True))[: max(1, len(power) // 5)]
    steady = sum(high for _, high in quiet) / len(quiet)
    return sum(above) - steady * len(above) < NARROW * total


@lru_cache(maxsize=1)
def _high_pass() -> tuple[float, ...]:
    """A filter of finite length that lets through what is above ``BAND_EDGE``."""
    cut = 2 * BAND_EDGE / RATE
    taps = []
    for at in range(-_REACH, _REACH + 1):
        low = cut if at == 0 else math.sin(math.pi * cut * at) / (math.pi * at)
        turn = math.pi * at / (_REACH + 1)
        window = 0.42 + 0.5 * math.cos(turn) + 0.08 * math.cos(2 * turn)
        taps.append(((at == 0) - low) * window)
    return tuple(taps)


@lru_cache(maxsize=1)
def _noise() -> array[int]:
    """One second of noise, the same every time, so that hearing can be repeated."""
    source = random.Random(1)
    return array("i", [round(source.gauss(0, NOISE)) for _ in range(RATE)])
