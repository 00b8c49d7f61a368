"""Whether what the microphone heard is what Runner itself was playing. Pure.

A headset lets some of it through, and with loudspeakers it is as loud as the pilot. Both swell
and fall alike in every band, however loud and however late it comes back; what somebody else
says meanwhile does not.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Any

from runner.voice.embedding import to_samples
from runner.voice.recogniser import RATE
from runner.voice.waves import RATE as PLAYED

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Bands = NDArray[np.float64]

STEP = 320
"""Samples from one frame to the next: 20 ms."""

WINDOW = 512
EDGES = (150, 300, 450, 600, 800, 1_050, 1_350, 1_700, 2_200, 2_800, 3_600, 4_600, 6_000)
"""Hz between the bands."""

DEPTH = 4.0
"""Powers of ten from the loudest of a band down, below which nothing is compared."""

EARLIEST, LATEST = -0.25, 0.6
"""Seconds that the sound may come later than the clocks say: devices keep some of it back, a
wireless headset most, and nobody knows to a tenth when an utterance began."""

LEAST_SHARE = 0.6
"""Share of what was heard that has to lie within what was played."""


def likeness(heard: bytes, played: bytes, after: float) -> float:
    """How much what was heard is like what was played meanwhile: a correlation, 1 at most.

    Both 16-bit mono at ``RATE``. ``after`` is seconds from the first sample played to the first
    one heard, as the clocks say. -1 where they do not overlap.
    """
    import numpy as np

    ours, theirs = _bands(heard), _bands(played)
    step = STEP / RATE
    first = round((after - LATEST) / step)
    last = round((after - EARLIEST) / step)
    best = -1.0
    for place in range(first, last + 1):
        begin, end = max(0, -place), min(len(ours), len(theirs) - place)
        if end - begin < max(8, LEAST_SHARE * len(ours)):
            continue
        one, other = ours[begin:end], theirs[begin + place : end + place]
        best = max(best, _correlation(one, other))
    return float(np.clip(best, -1.0, 1.0))


def at_hearing_rate(sound: bytes) -> bytes:
    """What is played, 16-bit mono at ``PLAYED``, as it would be heard at ``RATE``."""
    import numpy as np

    times = PLAYED // RATE
    samples = to_samples(sound)
    thinned = samples[: len(samples) // times * times].reshape(-1, times).mean(axis=1)
    return bytes(np.round(thinned).astype("<i2").tobytes())


def _correlation(one: Bands, other: Bands) -> float:
    import numpy as np

    a, b = one - one.mean(axis=0), other - other.mean(axis=0)
    size = float(np.sqrt((a**2).sum() * (b**2).sum()))
    return float((a * b).sum()) / size if size > 0 else -1.0


def _bands(sound: bytes) -> Bands:
    """Logarithms of the power in each band, a row a frame."""
    import numpy as np

    samples = to_samples(sound)
    if len(samples) < WINDOW:
        return np.zeros((0, len(EDGES) - 1))
    places = np.arange(0, len(samples) - WINDOW + 1, STEP)
    frames = samples[places[:, None] + np.arange(WINDOW)] * np.hanning(WINDOW)
    power = np.abs(np.fft.rfft(frames)) ** 2 @ _filters()
    found = np.log10(power + 1.0)
    return np.asarray(np.maximum(found, found.max(axis=0) - DEPTH))


@lru_cache(maxsize=1)
def _filters() -> Any:
    import numpy as np

    hertz = np.fft.rfftfreq(WINDOW, 1 / RATE)
    edges = np.array(EDGES)
    return ((hertz[:, None] >= edges[:-1]) & (hertz[:, None] < edges[1:])).astype(float)
