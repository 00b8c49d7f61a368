"""Whether a take is a good one, and whether it sounds like its fellows.

Two questions, asked in this order. Is the sound fit to be used: loud enough, not clipped,
long enough for its words? Does one of a phrase's takes sound unlike the other two: is it,
on average, nearly as far from them as from the nearest other phrase of the same speaker?
How each would be heard in flight is asked by ``rehearsal``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from runner.phrasing.similar import sounds_alike
from runner.voice.embedding import Embedder, Utterance, islands, to_samples, trimmed
from runner.voice.recogniser import RATE
from runner.voice.warping import Bank, unit

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Points = NDArray[np.float32]

QUIET = 250.0
"""Level (of 32,767) that the loudest two hundredths of speech must reach: -42 dB."""

CLIPPED_LEVEL = 32_600
CLIPPED_SHARE = 0.004
"""Share of the samples of speech at the end of the scale from which a take is spoilt."""

SHORTEST_SECONDS = 0.18
SHORTEST_A_WORD = 0.07
"""Seconds that any speech lasts with its margins, and that each further word adds at least."""

LONGEST_SECONDS = 2.5
LONGEST_A_WORD = 0.9
"""Seconds that a phrase lasts at most, and that each further word adds."""

DOUBTED = 0.96
"""Ratio of the distance to a phrase's other takes to that to the nearest other phrase, from
which a take is doubted. Chosen by ``tests/bench/takes.py`` on half of the speakers: one good
phrase in twenty is doubted, which costs a repetition. Of the other half (people's state words,
Speech Commands v0.02) it finds 97 % of the takes of another phrase and 86 % of strange ones."""

CEPSTRAL_SHARE = 0.02
"""What the distance of the cepstra counts beside that of the embedding."""

FEWEST_OTHERS = 2
"""Other phrases that must have takes before anything can be compared."""

MOST_OTHERS = 60
"""Other phrases that a take is compared with; more make it slow and decide nothing."""

ALIKE = 0.6
"""Phrases more alike than this on paper are expected to be near: they cast no doubt."""


def fault(sound: bytes, phrase: str) -> str:
    """What makes a take unfit, as one line; empty where it is fit. 16-bit mono at 16 kHz."""
    import numpy as np

    samples = to_samples(sound)
    if not len(samples) or not islands(samples):
        return "nothing was heard: is the microphone switched on, and the right one?"
    speech = trimmed(samples)
    if float(np.mean(np.abs(speech) >= CLIPPED_LEVEL)) > CLIPPED_SHARE:
        return "clipped: speak further from the microphone, or turn it down"
    if float(np.percentile(np.abs(speech), 98)) < QUIET:
        return "too quiet: speak nearer to the microphone, or turn it up"
    words = max(1, len(phrase.split()))
    length = len(speech) / RATE
    if length < SHORTEST_SECONDS + SHORTEST_A_WORD * (words - 1):
        return f"too short: {length:.2f} s cannot hold '{phrase}'"
    if length > LONGEST_SECONDS + LONGEST_A_WORD * (words - 1):
        return f"too long: {length:.1f} s is more than '{phrase}'; say it alone"
    return ""


@dataclass(frozen=True, slots=True)
class Doubt:
    """A take that does not sound like the others: its place among them (from 0), and how far.

    ``ratio`` is its distance to the others over that to the nearest other phrase; from 1 it
    is nearer to ``nearest`` than to its own.
    """

    place: int
    ratio: float
    nearest: str

    @property
    def reason(self) -> str:
        """What is wrong with it, without which it is."""
        line = "does not sound like the others"
        return line + (f", nearer to '{self.nearest}'" if self.ratio > 1 else "")

    def __str__(self) -> str:
        return f"take {self.place + 1} {self.reason}"


class Comparison:
    """A speaker's takes as paths, compared with one another; each sound is embedded once.

    ``takes`` gives the sounds of a phrase; ``embedder`` is made when first needed.
    """

    def __init__(
        self,
        takes: Callable[[str], Sequence[bytes]],
        embedder: Embedder | None = None,
    ) -> None:
        self._takes = takes
        self._embedder = embedder
        self._paths: dict[bytes, Utterance] = {}

    def of(self, takes: Callable[[str], Sequence[bytes]]) -> Comparison:
        """The same of other takes; what is embedded already is shared."""
        made = Comparison(takes, self._embedder)
        made._paths = self._paths
        return made

    def doubt(self, phrase: str, others: Iterable[str]) -> Doubt | None:
        """The take of ``phrase`` that sounds least like its fellows, where that is doubtful.

        See ``worst``.
        """
        found = self.worst(phrase, others)
        return found if found is not None and found.ratio > DOUBTED else None

    def worst(self, phrase: str, others: Iterable[str]) -> Doubt | None:
        """The take of ``phrase`` that sounds least like its fellows, doubtful or not.

        ``others`` are phrases of the same speaker, the most telling first. None with fewer
        than three takes or nothing to compare them with.
        """
        import numpy as np

        own = self._of(phrase)
        kept = [o for o in others if o != phrase and sounds_alike(o, phrase) < ALIKE]
        known = {o: paths for o in kept[:MOST_OTHERS] if len(paths := self._of(o)) > 1}
        if len(own) < 3 or len(known) < FEWEST_OTHERS:
            return None
        distances = _Distances({phrase: own, **known})
        worst: Doubt | None = None
        for place, path in enumerate(own):
            row = distances.row(path)
            to_own = float(np.mean([d for i, d in enumerate(row[phrase]) if i != place]))
            nearest = min(known, key=lambda o: float(np.mean(row[o])))
            ratio = to_own / max(1e-9, float(np.mean(row[nearest])))
            if worst is None or ratio > worst.ratio:
                worst = Doubt(place, ratio, nearest)
        return worst

    def nearness(self, sound: bytes, phrase: str, others: Iterable[str]) -> float:
        """How near a further take is to a phrase's takes: its mean distance to them over that to
        the nearest of ``others``. Small is good; infinite where there is too little to compare.

        ``others`` are to be those that sound alike too: it must not be one of them.
        """
        import numpy as np

        own = self._of(phrase)
        known = {o: paths for o in others if o != phrase and len(paths := self._of(o)) > 1}
        if len(own) < 2 or len(known) < FEWEST_OTHERS:
            return float("inf")
        said = self._path(sound)
        row = _Distances({phrase: own, **known}).row(said)
        nearest = min(float(np.mean(row[other])) for other in known)
        return float(np.mean(row[phrase])) / max(1e-9, nearest)

    def _of(self, phrase: str) -> list[Utterance]:
        return [self._path(sound) for sound in self._takes(phrase)]

    def _path(self, sound: bytes) -> Utterance:
        known = self._paths.get(sound)
        if known is None:
            if self._embedder is None:
                self._embedder = Embedder()
            known = self._paths[sound] = self._embedder.path(to_samples(sound))
        return known


class _Distances:
    """Distances to the takes of several phrases, without what the speaker's takes share."""

    def __init__(self, paths: Mapping[str, Sequence[Utterance]]) -> None:
        import numpy as np

        points = [path.embedded for found in paths.values() for path in found]
        self._mean: Any = np.concatenate(points).mean(axis=0)
        self._units = {
            phrase: [self._unit(path.embedded) for path in found] for phrase, found in paths.items()
        }
        self._cepstra = {
            phrase: [path.cepstra for path in found] for phrase, found in paths.items()
        }

    def _unit(self, points: Points) -> Points:
        return unit(points - self._mean)

    def row(self, path: Utterance, phrases: Iterable[str] = ()) -> dict[str, Any]:
        """Distances of one take to each take of each phrase (of all, where none is named)."""
        names = [*(phrases or self._units)]
        embedded = Bank([one for name in names for one in self._units[name]], cosine=True)
        cepstra = Bank([one for name in names for one in self._cepstra[name]], cosine=False)
        every = embedded.distances(self._unit(path.embedded))
        every = every + CEPSTRAL_SHARE * cepstra.distances(path.cepstra)
        found: dict[str, Any] = {}
        at = 0
        for name in names:
            found[name] = every[at : at + len(self._units[name])]
            at += len(self._units[name])
        return found
