"""Speech as a path of points: windows of sound through a small network made for short phrases.

The two networks (mel spectrogram, and the speech embedding of Lin et al., 2020,
arXiv:2002.01322, Apache-2.0) come inside the wheel of openwakeword; nothing else of that
package is used or imported. Beside them stand twelve cepstral coefficients with their
slopes, which tell vowels apart where it is quiet.
"""

from __future__ import annotations

import importlib.util
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

from runner.errors import RunnerError
from runner.voice.recogniser import RATE

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Sound = NDArray[np.float32]
    Points = NDArray[np.float32]

STEP_SECONDS = 0.08
"""From one window to the next."""

WINDOW_FRAMES = 76
"""Frames of 10 ms that one window of the embedding sees."""

SPREAD = 8_000.0
"""The level (of 32,767) to which the 99.5th percentile of every utterance is brought."""

PAD_SECONDS = 0.6
"""Very low noise before and after, so that every window has something to see."""

NOISY_BELOW = 25.0
"""dB of clearness below which there is noise about an utterance: of what people recorded in quiet
rooms ten in 614 lie below, of what stands 15 dB above engines nearly everything."""

FRAME, HOP = 400, 160
"""Samples of the frames by which speech is trimmed and cepstra are taken: 25 and 10 ms."""

JOIN_SECONDS = 0.2
"""Islands of speech nearer than this belong together."""

MARGIN_FRAMES = 3
ABOVE_FLOOR = 9.0
BELOW_PEAK = 30.0
"""dB: what counts as speech, above the quietest frames and below the loudest."""


@dataclass(frozen=True, slots=True)
class Utterance:
    """One utterance: embedding points and cepstral points, a row each, its seconds, and how
    clear it stands above what was heard around it, in dB."""

    embedded: Points
    cepstra: Points
    seconds: float
    clear: float = 99.0


def to_samples(sound: bytes) -> Sound:
    """16-bit mono samples as floats of the same numbers."""
    import numpy as np

    return np.frombuffer(sound, dtype="<i2").astype(np.float32)


def islands(samples: Sound, gap: float = JOIN_SECONDS) -> list[tuple[int, int]]:
    """Where there is speech, in samples: louder than the floor, joined over short gaps."""
    import numpy as np

    loud = _loudness(samples)
    if loud.size == 0:
        return []
    floor = float(np.percentile(loud, 10))
    peak = float(loud.max())
    threshold = max(floor + ABOVE_FLOOR, peak - BELOW_PEAK)
    speech = loud > threshold
    edges = np.flatnonzero(np.diff(np.concatenate(([0], speech.view(np.int8), [0]))))
    found: list[tuple[int, int]] = []
    for first, last in zip(edges[::2], edges[1::2], strict=True):
        if found and (first - found[-1][1]) * HOP < gap * RATE:
            found[-1] = (found[-1][0], int(last))
        else:
            found.append((int(first), int(last)))
    return [
        (
            max(0, first - MARGIN_FRAMES) * HOP,
            min(len(samples), (last + MARGIN_FRAMES) * HOP + FRAME),
        )
        for first, last in found
        if last - first >= 3
    ]


def trimmed(samples: Sound) -> Sound:
    """The speech alone: from the first to the last island near the loudest one."""
    import numpy as np

    found = islands(samples)
    if not found:
        return samples
    loud = _loudness(samples)
    strength = [float(np.sum(10 ** (loud[a // HOP : b // HOP] / 10))) for a, b in found]
    best = max(strength)
    kept = [place for place, power in zip(found, strength, strict=True) if power > best * 1e-3]
    return samples[kept[0][0] : kept[-1][1]]


def clearness(samples: Sound) -> float:
    """dB from the quietest tenth of an utterance, with the moments around it, to its loudest
    twentieth: above 30 in a room, about 17 where engines lie 10 dB below the voice."""
    import numpy as np

    loud = _loudness(samples)
    if loud.size == 0:
        return 0.0
    quiet, peak = np.percentile(loud, (10, 95))
    return float(peak - quiet)


def loudest(samples: Sound) -> float:
    """Root mean square of the loudest twentieth of an utterance."""
    import numpy as np

    frames = samples[: len(samples) // HOP * HOP].reshape(-1, HOP)
    if not len(frames):
        return 1.0
    return max(1.0, float(np.sqrt(np.percentile((frames**2).mean(axis=1), 95))))


def band_levels(samples: Sound) -> Any:
    """dB in eight bands, each about twice as wide as the one below."""
    import numpy as np

    power = np.abs(np.fft.rfft(samples)) ** 2 / max(1, len(samples))
    edges = np.geomspace(60, 7_500, 9) * len(samples) / RATE
    bands = [power[round(a) : max(round(a) + 1, round(b))].mean() for a, b in pairwise(edges)]
    return 10 * np.log10(np.array(bands) + 1e-3)


def _loudness(samples: Sound) -> Any:
    """dB of each frame between 150 and 6,000 Hz."""
    import numpy as np

    if len(samples) < FRAME:
        return np.zeros(0)
    frames = np.lib.stride_tricks.sliding_window_view(samples, FRAME)[::HOP]
    spectrum = np.abs(np.fft.rfft(frames * _hann(), 512)) ** 2
    low, high = round(150 * 512 / RATE), round(6_000 * 512 / RATE)
    return 10 * np.log10(spectrum[:, low:high].sum(axis=1) + 1.0)


@lru_cache(maxsize=1)
def _hann() -> Any:
    import numpy as np

    return np.hanning(FRAME).astype(np.float32)


def levelled(samples: Sound) -> Sound:
    """At the usual level, with very low noise around it (the same every time)."""
    import numpy as np

    top = float(np.percentile(np.abs(samples), 99.5)) if len(samples) else 0.0
    gain = min(200.0, SPREAD / max(top, 1.0))
    pad = round(PAD_SECONDS * RATE)
    out = np.concatenate([np.zeros(pad), samples * gain, np.zeros(pad)]).astype(np.float32)
    out += _hiss(len(out))
    return np.asarray(np.clip(out, -32_767, 32_767), dtype=np.float32)


def _hiss(length: int) -> Any:
    import numpy as np

    return np.random.default_rng(7).normal(0.0, 4.0, length).astype(np.float32)


class Embedder:
    """The two networks, loaded once. Raises ``RunnerError`` where they are not installed."""

    def __init__(self) -> None:
        try:
            import onnxruntime
        except ImportError as error:
            raise RunnerError(
                "the matcher needs onnxruntime, which is not there; pip install onnxruntime"
            ) from error
        folder = model_folder()
        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = options.inter_op_num_threads = 1
        options.log_severity_level = 3
        self._mel: Any = onnxruntime.InferenceSession(
            str(folder / "melspectrogram.onnx"), options, providers=["CPUExecutionProvider"]
        )
        self._net: Any = onnxruntime.InferenceSession(
            str(folder / "embedding_model.onnx"), options, providers=["CPUExecutionProvider"]
        )
        self._mel_name = self._mel.get_inputs()[0].name
        self._net_name = self._net.get_inputs()[0].name

    def path(self, samples: Sound, trim: bool = True) -> Utterance:
        """The path of an utterance; ``trim`` cuts what is no speech before and after."""
        import numpy as np

        speech = trimmed(samples) if trim else samples
        sound = levelled(speech)
        mel = self._mel.run(None, {self._mel_name: sound[None, :]})[0][0, 0] / 10 + 2
        seconds = len(speech) / RATE
        first = round(PAD_SECONDS * 100)
        last = first + round(seconds * 100)
        step = round(STEP_SECONDS * 100)
        half = WINDOW_FRAMES // 2
        centres = np.arange(first, max(first + 1, last), step)
        starts = np.clip(centres - half, 0, len(mel) - WINDOW_FRAMES)
        windows = np.stack([mel[s : s + WINDOW_FRAMES] for s in starts])[..., None]
        embedded = self._net.run(None, {self._net_name: windows.astype(np.float32)})[0]
        return Utterance(
            embedded.reshape(len(centres), -1).astype(np.float32),
            cepstra(sound[round(PAD_SECONDS * RATE) : len(sound) - round(PAD_SECONDS * RATE)]),
            seconds,
            clearness(samples),
        )


def cepstra(samples: Sound) -> Points:
    """c1 to c12 without the utterance's mean, and twice their slopes, every 20 ms."""
    import numpy as np

    if len(samples) < FRAME:
        samples = np.pad(samples, (0, FRAME - len(samples)))
    lifted = np.append(samples[:1], samples[1:] - 0.97 * samples[:-1])
    frames = np.lib.stride_tricks.sliding_window_view(lifted, FRAME)[:: 2 * HOP]
    spectrum = np.abs(np.fft.rfft(frames * _hann(), 512)) ** 2
    bands = np.log(spectrum @ _mel_bank().T + 1e3)
    coefficients = bands @ _cosines().T
    coefficients -= coefficients.mean(axis=0)
    slopes = np.gradient(coefficients, axis=0) if len(coefficients) > 1 else coefficients * 0
    return np.hstack([coefficients, 2 * slopes]).astype(np.float32)


@lru_cache(maxsize=1)
def _mel_bank() -> Any:
    """26 triangles from 100 to 7,000 Hz on the mel scale."""
    import numpy as np

    def mel(hertz: float) -> float:
        return float(2595 * np.log10(1 + hertz / 700))

    edges = 700 * (10 ** (np.linspace(mel(100), mel(7_000), 28) / 2595) - 1)
    bins = np.arange(257) * RATE / 512
    left, centre, right = edges[:-2, None], edges[1:-1, None], edges[2:, None]
    up, down = (bins - left) / (centre - left), (right - bins) / (right - centre)
    return np.maximum(0, np.minimum(up, down))


@lru_cache(maxsize=1)
def _cosines() -> Any:
    import numpy as np

    order = np.arange(1, 13)[:, None]
    return np.cos(np.pi * order * (np.arange(26) + 0.5) / 26) * np.sqrt(2 / 26)


def model_folder() -> Path:
    """Where the networks are. Raises ``RunnerError`` where they are not."""
    found = importlib.util.find_spec("openwakeword")
    places = found.submodule_search_locations if found is not None else None
    for place in places or ():
        folder = Path(place) / "resources" / "models"
        if (folder / "embedding_model.onnx").exists():
            return folder
    raise RunnerError(
        "the matcher needs the two networks of openwakeword 0.4.0, which are not there; "
        "pip install openwakeword==0.4.0"
    )
