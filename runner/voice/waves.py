"""Sounds as Runner plays them: 16-bit mono at one rate, read from WAV files or synthesised."""

from __future__ import annotations

import math
import struct
import wave
from array import array
from pathlib import Path

RATE = 48_000
"""Samples a second of everything that is played; most devices run at it without converting."""

WIDTH = 2
"""Bytes a sample."""

SILENCE_LEVEL = 120
"""Samples below this (of 32,767) at either end of a phrase are the synthesiser's own pause."""


def seconds(sound: bytes) -> float:
    """How long a sound lasts."""
    return len(sound) / WIDTH / RATE


def read_wav(file: Path, rate: int = RATE) -> bytes:
    """The samples of a WAV file, mono at ``rate``; raises ``ValueError`` when it is none."""
    import miniaudio

    try:
        sound = miniaudio.wav_read_file_s16(str(file))
    except (miniaudio.MiniaudioError, OSError) as error:
        raise ValueError(f"{file}: is not a WAV file that can be read") from error
    return bytes(
        miniaudio.convert_frames(
            miniaudio.SampleFormat.SIGNED16,
            sound.nchannels,
            sound.sample_rate,
            sound.samples.tobytes(),
            miniaudio.SampleFormat.SIGNED16,
            1,
            rate,
        )
    )


def write_wav(file: Path, sound: bytes, rate: int = RATE) -> None:
    """Write samples as a mono WAV file."""
    with wave.open(str(file), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(WIDTH)
        out.setframerate(rate)
        out.writeframes(sound)


def trim(sound: bytes, keep: float = 0.03) -> bytes:
    """Without the silence at both ends, but for ``keep`` seconds of it."""
    samples = array("h", sound)
    step = RATE // 100
    blocks = [
        max(map(abs, samples[start : start + step]), default=0)
        for start in range(0, len(samples), step)
    ]
    loud = [index for index, peak in enumerate(blocks) if peak >= SILENCE_LEVEL]
    if not loud:
        return sound
    margin = round(keep * 100)
    first = max(0, loud[0] - margin) * step
    last = min(len(blocks), loud[-1] + 1 + margin) * step
    return samples[first:last].tobytes()


_TONES: dict[str, tuple[tuple[float, float], ...]] = {
    "right": ((880.0, 0.07),),
    "wrong": ((220.0, 0.22),),
    "attention": ((660.0, 0.09), (0.0, 0.04), (660.0, 0.09)),
    "complete": ((660.0, 0.09), (880.0, 0.09), (1320.0, 0.14)),
}


def tone(name: str, volume: float = 0.25) -> bytes:
    """The tone of that name: sines with soft edges; raises ``KeyError`` for another name."""
    samples = array("h")
    for pitch, length in _TONES[name]:
        count = round(length * RATE)
        edge = RATE // 125
        for index in range(count):
            swell = min(1.0, index / edge, (count - index) / edge)
            samples.append(
                round(
                    32_767 * volume * swell * math.sin(2 * math.pi * pitch * index / RATE)
                    if pitch
                    else 0
                )
            )
    return samples.tobytes()


def mix(one: bytes, other: bytes) -> bytes:
    """Two sounds at once, as long as the longer one, kept within range."""
    if len(one) < len(other):
        one, other = other, one
    count = len(other) // WIDTH
    both = map(
        lambda a, b: max(-32_768, min(32_767, a + b)),
        struct.unpack(f"<{count}h", other),
        struct.unpack(f"<{count}h", one[: len(other)]),
    )
    return struct.pack(f"<{count}h", *both) + one[len(other) :]
