"""The pilot's own takes as they would sound in the noise of the moment.

What was said in engine noise is far from takes that were recorded in quiet. So the sound that
lately was heard while nobody spoke is mixed into the takes, as loud against them as it is
against the pilot's voice now, and they are embedded again. That is done a few at a time, and
again only when the noise has changed: the answers of a window first, the rest later.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING, Any

from runner.voice.embedding import band_levels, loudest, to_samples

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Sound = NDArray[np.float32]
    Points = NDArray[np.float32]

LEAST_SECONDS = 0.5
"""Less noise than this says too little of it."""

CHANGED = 4.0
"""dB, in the mean over bands or of the noise against the voice, from which it is another noise."""

AROUND_SECONDS = 0.3
"""Noise before and after a take."""

RATE = 16_000


class NoisyTakes:
    """Own takes in one noise; ``sounds`` gives a phrase's takes, ``embed`` the points of one."""

    def __init__(
        self, sounds: Callable[[str], Sequence[bytes]], embed: Callable[[Sound], Points]
    ) -> None:
        self._sounds = sounds
        self._embed = embed
        self._paths: dict[str, tuple[Points, ...]] = {}
        self._heard: Sound | None = None
        self._noise: Sound | None = None
        self._bands: Any = None
        self._clear = 0.0

    def surroundings(self, noise: bytes) -> None:
        """What was heard lately while nobody spoke."""
        if len(noise) >= LEAST_SECONDS * 2 * RATE:
            self._heard = to_samples(noise)

    def said(self, samples: Sound) -> None:
        """Something was said: from now on its level against the noise counts."""
        import numpy as np

        if self._heard is None:
            return
        level = max(1.0, float(np.sqrt(np.mean(self._heard**2))))
        voice = max(1.0, loudest(samples) ** 2 - level**2) ** 0.5
        clear = 20 * float(np.log10(voice / level))
        bands = band_levels(self._heard)
        known = self._noise is not None
        if known and abs(clear - self._clear) + float(np.abs(bands - self._bands).mean()) < CHANGED:
            return
        self._paths.clear()
        self._noise, self._bands, self._clear = self._heard / level, bands, clear

    def paths(self, text: str) -> tuple[Points, ...]:
        """A phrase's takes in the noise, where they have been made."""
        return self._paths.get(text, ())

    def make(self, texts: Iterable[str], at_most: int) -> None:
        """Make those of these phrases that are not made yet, about so many takes at most."""
        for text in texts:
            if at_most <= 0 or self._noise is None:
                return
            if text not in self._paths:
                sounds = self._sounds(text)
                self._paths[text] = tuple(self._embed(self._mixed(one)) for one in sounds)
                at_most -= len(sounds)

    def _mixed(self, sound: bytes) -> Sound:
        import numpy as np

        assert self._noise is not None
        take = to_samples(sound)
        around = np.zeros(round(AROUND_SECONDS * RATE), dtype=np.float32)
        whole = np.concatenate([around, take, around])
        noise = np.resize(self._noise, len(whole))
        level = loudest(take) / 10 ** (self._clear / 20)
        return np.asarray(whole + noise * level, dtype=np.float32)
