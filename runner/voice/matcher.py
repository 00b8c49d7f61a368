"""The matcher behind the recognisers' interface.

Templates are the pilot's own takes where there are some, and synthetic voices' as well.
``comparison`` measures, ``acceptance`` weighs, and the judge decides.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from runner.engine.effects import Listen
from runner.engine.events import Proposal
from runner.voice.acceptance import KNOWN_FROM, RIGHT_FROM, weights
from runner.voice.comparison import ROLES, Comparison, Entry, Finding, Utterance
from runner.voice.embedding import Embedder, to_samples
from runner.voice.made_templates import MadeTemplates
from runner.voice.prototypes import Prototypes, transform
from runner.voice.recogniser import RATE, Capabilities
from runner.voice.text import pattern_of
from runner.voice.words import word_model

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from runner.voice import embedding

    Points = NDArray[np.float32]

TEXTS = {"answer": 8, "competitor": 8, "control": 3, "call": 2, "moment": 3}
"""Ways of saying one candidate that are compared, by its role."""

SHORTEST = 0.12
"""Seconds; less sound than this is no word."""


class MatcherRecogniser:
    """Hears words of a window, each with a template, and leaves numbers to another."""

    def __init__(self, takes: Any = None, made: MadeTemplates | None = None) -> None:
        self._embedder = Embedder()
        self._prototypes = Prototypes()
        self._made = MadeTemplates(self._embedder) if made is None else made
        self._comparison = Comparison(self._prototypes)
        self._takes = takes
        self._own: dict[str, tuple[Points, ...]] = {}
        self._transform = transform()
        self._words = word_model()
        self._listen: Listen | None = None
        self._entries: tuple[Entry, ...] = ()
        self._others: tuple[tuple[Points, ...], ...] = ()
        self._samples = bytearray()

    @property
    def capabilities(self) -> Capabilities:
        """Closed to the window's candidates; numbers are left to another recogniser."""
        model = "own takes and synthetic voices" if self._takes else "synthetic voices"
        return Capabilities("matcher", model, True)

    def fits(self, listen: Listen) -> bool:
        """Whether this window is one for the matcher: words, each with a template."""
        if listen.number is not None:
            return False
        self.prepare(listen)
        answers = {c.id for c in listen.candidates if c.role in ("answer", "competitor")}
        return answers <= {entry.candidate for entry in self._entries}

    def prepare(self, listen: Listen) -> None:
        """See ``Recogniser``."""
        if listen is not self._listen:
            self._listen, self._entries = listen, self.entries(listen)
            allowed = {entry.text for entry in self._entries}
            self._others = self._own_others(allowed)

    def begin(self) -> None:
        """See ``Recogniser``."""
        self._samples.clear()

    def feed(self, samples: bytes) -> None:
        """See ``Recogniser``."""
        self._samples += samples

    def propose(self, final: bool = True) -> tuple[Proposal, ...]:  # noqa: ARG002
        """See ``Recogniser``."""
        if self._listen is None or len(self._samples) < SHORTEST * 2 * RATE:
            return ()
        said = self.utterance(self._embedder.path(to_samples(bytes(self._samples))))
        return proposals(self._comparison.find(said, self._entries, self._others))

    def close(self) -> None:
        """See ``Recogniser``."""
        self._entries = ()
        self._made.close()

    def utterance(self, path: embedding.Utterance) -> Utterance:
        """What was said, ready to be compared."""
        return Utterance(
            self._transform(path.embedded),
            path.seconds,
            self._words.chances(path.embedded, path.seconds),
        )

    def entries(self, listen: Listen) -> tuple[Entry, ...]:
        """Every way of saying each candidate of a window that there are templates of.

        Templates of words that nobody has said yet are made by this machine's own voices
        meanwhile, for the next time.
        """
        found: list[Entry] = []
        missing: list[str] = []
        for candidate in listen.candidates:
            for text in pattern_of(candidate.pattern).texts(60)[: TEXTS[candidate.role]]:
                own, paths = self._own_paths(text), self._prototypes.paths(text)
                paths = paths or self._made.paths(text)
                if own or paths:
                    found.append(Entry(candidate.id, candidate.role, text, paths, own))
                else:
                    missing.append(text)
        self._made.make(missing)
        return tuple(found)

    def _own_paths(self, text: str) -> tuple[Points, ...]:
        if self._takes is None:
            return ()
        if text not in self._own:
            self._own[text] = tuple(
                self._transform(self._embedder.path(to_samples(sound)).embedded)
                for sound in self._takes.takes(text)
            )
        return self._own[text]

    def _own_others(self, allowed: set[str]) -> tuple[tuple[Points, ...], ...]:
        """The pilot's takes of what the window does not allow."""
        if self._takes is None:
            return ()
        made = (self._own_paths(text) for text in self._takes.phrases() if text not in allowed)
        return tuple(paths for paths in made if paths)


def needed(finding: Finding) -> float:
    """The probability of being in the window at all that this finding has to reach."""
    return KNOWN_FROM if finding.entry.role in ROLES else weights(finding.kind).beside


def proposals(found: tuple[Finding, ...]) -> tuple[Proposal, ...]:
    """What is proposed: the item's answer, or what else may be said, whichever is accepted.

    Where both would be, neither is sure. Where neither is, the likelier of them is told.
    """
    judged = [(finding, *weights(finding.kind).judge(finding.features)) for finding in found]
    if not judged:
        return ()
    inside = [one for one in judged if one[1] >= needed(one[0])]
    taken = [one for one in inside if one[2] >= RIGHT_FROM]
    finding, known, right = max(taken or inside or judged, key=lambda one: one[2])
    entry = finding.entry
    if not inside:
        return (Proposal("matcher", None, entry.text, known, 0.0),)
    if len(taken) > 1:
        right = min(right, RIGHT_FROM / 2)
    return (Proposal("matcher", entry.candidate, entry.text, known, right),)
