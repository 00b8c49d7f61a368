"""How far one utterance is from many others: dynamic time warping, all of them at once."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Points = NDArray[np.float32]


class Bank:
    """Utterances of one kind side by side, padded to the longest, for ``distances``."""

    def __init__(self, paths: Sequence[Points], cosine: bool) -> None:
        import numpy as np

        self.cosine = cosine
        self.lengths = np.array([len(path) for path in paths], dtype=np.int64)
        width = int(self.lengths.max()) if len(paths) else 1
        depth = paths[0].shape[1] if len(paths) else 1
        self.points = np.zeros((len(paths), width, depth), dtype=np.float32)
        for number, path in enumerate(paths):
            self.points[number, : len(path)] = path

    def distances(self, path: Points) -> NDArray[np.float64]:
        """The warped distance from ``path`` to each: a diagonal step counts twice, and the sum
        is divided by both lengths together (Sakoe and Chiba, 1978, symmetric form)."""
        import numpy as np

        count, width, depth = self.points.shape
        if not count:
            return np.zeros(0)
        flat = self.points.reshape(-1, depth)
        if self.cosine:
            local = 1.0 - flat @ path.T
        else:
            square = (flat**2).sum(1)[:, None] + (path**2).sum(1)[None] - 2 * flat @ path.T
            local = np.sqrt(np.maximum(square, 0))
        costs = np.asarray(local.reshape(count, width, len(path)), dtype=np.float64)
        return _warp(costs, self.lengths)


def _warp(local: Any, lengths: NDArray[np.int64]) -> NDArray[np.float64]:
    """Least cost over all paths, along anti-diagonals of every template at once."""
    import numpy as np

    count, rows, columns = local.shape
    cost = np.full((count, rows + 1, columns + 1), np.inf)
    cost[:, 0, 0] = 0.0
    for total in range(2, rows + columns + 1):
        low, high = max(1, total - columns), min(rows, total - 1)
        i = np.arange(low, high + 1)
        j = total - i
        here = local[:, i - 1, j - 1]
        straight = np.minimum(cost[:, i - 1, j], cost[:, i, j - 1]) + here
        diagonal = cost[:, i - 1, j - 1] + 2 * here
        cost[:, i, j] = np.minimum(straight, diagonal)
    ends = cost[np.arange(count), lengths, columns]
    return np.asarray(ends / (lengths + columns))


def unit(points: Points) -> Points:
    """Each point at unit length."""
    import numpy as np

    size = np.linalg.norm(points, axis=1, keepdims=True)
    return np.asarray(points / np.maximum(size, 1e-9), dtype=np.float32)
