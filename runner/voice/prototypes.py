"""Ready-made templates: how synthetic voices say the phrases of the shipped files.

Made by ``tests/tools/prototypes.py``; the file holds no sound, only points of the speech
embedding after the fitted transform, in steps of 1/127. A phrase that is not there is put
together from shorter ones that are, voice by voice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Points = NDArray[np.float32]

FILE = Path(__file__).parent / "data" / "prototypes.npz"
TRANSFORM = Path(__file__).parent / "data" / "transform.npz"

LONGEST_PIECE = 6
"""Words of the longest phrase that another one is put together from."""


@dataclass(frozen=True, slots=True)
class Transform:
    """Takes embedding points to fewer dimensions in which voices differ less than words do."""

    mean: Points
    matrix: Points

    def __call__(self, embedded: Points) -> Points:
        """Points of unit length in the fewer dimensions."""
        from runner.voice.warping import unit

        points: Points = ((embedded - self.mean) @ self.matrix).astype("float32")
        return unit(points)


@lru_cache(maxsize=1)
def transform() -> Transform:
    """The transform as fitted and shipped."""
    import numpy as np

    with np.load(TRANSFORM) as stored:
        return Transform(stored["mean"], stored["matrix"])


class Prototypes:
    """Templates by phrase: for each, one path a voice, in the same order for all phrases."""

    def __init__(self, file: Path = FILE) -> None:
        import numpy as np

        with np.load(file) as stored:
            texts: list[str] = stored["texts"].tolist()
            self._points: Any = stored["points"]
            lengths = stored["lengths"].astype(np.int64)
        self.voices = int(lengths.shape[1])
        ends = np.cumsum(lengths.reshape(-1)).reshape(lengths.shape)
        self._place = {text: number for number, text in enumerate(texts)}
        self._lengths = lengths
        self._ends = ends
        self.texts: tuple[str, ...] = tuple(texts)
        self.steps: Any = lengths.mean(axis=1)
        """The mean number of points of each phrase, in the order of ``texts``."""

    def __contains__(self, text: str) -> bool:
        return text in self._place

    def paths(self, text: str) -> tuple[Points, ...]:
        """A phrase's paths, put together where it is not there; empty where a word is unknown."""
        pieces = self._pieces(tuple(text.split()))
        if not pieces:
            return ()
        import numpy as np

        return tuple(
            np.concatenate([self._path(piece, voice) for piece in pieces])
            for voice in range(self.voices)
        )

    def _path(self, number: int, voice: int) -> Points:
        import numpy as np

        end = int(self._ends[number, voice])
        piece = self._points[end - int(self._lengths[number, voice]) : end]
        return (piece / 127).astype(np.float32)  # type: ignore[no-any-return]

    def _pieces(self, words: Sequence[str]) -> tuple[int, ...]:
        """The phrases that make up these words, the longest first from the left."""
        found: list[int] = []
        at = 0
        while at < len(words):
            for length in range(min(LONGEST_PIECE, len(words) - at), 0, -1):
                number = self._place.get(" ".join(words[at : at + length]))
                if number is not None:
                    found.append(number)
                    at += length
                    break
            else:
                return ()
        return tuple(found)
