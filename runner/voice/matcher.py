"""The matcher behind the recognisers' interface.

Templates are the pilot's own takes where there are some, and synthetic voices' as well.
``comparison`` measures, ``acceptance`` weighs, and the judge decides.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from runner.engine.effects import Listen
from runner.engine.events import Proposal
from runner.voice.acceptance import KNOWN_FROM, RIGHT_FROM, weights
from runner.voice.comparison import ROLES, Comparison, Entry, Finding, Utterance
from runner.voice.embedding import Embedder, to_samples
from runner.voice.made_templates import MadeTemplates
from runner.voice.noisy_takes import NoisyTakes
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

MATCHED_IN_NOISE_BELOW = 20.0
"""dB of clearness below which what was fitted in noise judges. Two in 614 of people's recordings
in quiet rooms lie below, of those 10 dB above engines all but one in fifty."""

ANSWER_TAKES = 24
FURTHER_TAKES = 6
"""Own takes that are embedded again in a changed noise, of a window's answers and of the rest,
while somebody waits: each takes about a hundredth of a second."""

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
        self._in_noise: NoisyTakes | None = None
        if takes is not None:
            self._in_noise = NoisyTakes(takes.takes, self._points)
        self._transform = transform()
        self._words = word_model()
        self._words_in_noise = word_model(noisy=True)
        self._listen: Listen | None = None
        self._entries: tuple[Entry, ...] = ()
        self._other_texts: tuple[str, ...] = ()
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
            self._other_texts = self._own_others({entry.text for entry in self._entries})
            self._others = tuple(self._own_paths(text) for text in self._other_texts)

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
        samples = to_samples(bytes(self._samples))
        said = self.utterance(self._embedder.path(samples))
        entries, others = self._entries, self._others
        if said.noisy and self._in_noise is not None:
            entries, others = self._compared_in_noise(self._in_noise, samples)
        return proposals(self._comparison.find(said, entries, others))

    def surroundings(self, noise: bytes) -> None:
        """What was heard lately while nobody spoke."""
        if self._in_noise is not None:
            self._in_noise.surroundings(noise)

    def _compared_in_noise(
        self, takes: NoisyTakes, samples: embedding.Sound
    ) -> tuple[tuple[Entry, ...], tuple[tuple[Points, ...], ...]]:
        """The window's entries and the pilot's other phrases in the noise of the moment: the
        answers all of them, of the rest those that there was time for."""
        takes.said(samples)
        own = [entry for entry in self._entries if entry.own]
        takes.make((entry.text for entry in own if entry.role in ROLES), ANSWER_TAKES)
        takes.make((*(entry.text for entry in own), *self._other_texts), FURTHER_TAKES)
        entries = tuple(
            replace(entry, own=takes.paths(entry.text) or entry.own) if entry.own else entry
            for entry in self._entries
        )
        others = zip(self._other_texts, self._others, strict=True)
        return entries, tuple(takes.paths(text) or paths for text, paths in others)

    def close(self) -> None:
        """See ``Recogniser``."""
        self._entries = ()
        self._made.close()

    def utterance(self, path: embedding.Utterance) -> Utterance:
        """What was said, ready to be compared."""
        noisy = path.clear < MATCHED_IN_NOISE_BELOW
        words = self._words_in_noise if noisy else self._words
        return Utterance(
            self._transform(path.embedded),
            path.seconds,
            words.chances(path.embedded, path.seconds),
            noisy,
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
                self._points(to_samples(sound)) for sound in self._takes.takes(text)
            )
        return self._own[text]

    def _points(self, samples: embedding.Sound) -> Points:
        return self._transform(self._embedder.path(samples).embedded)

    def _own_others(self, allowed: set[str]) -> tuple[str, ...]:
        """The pilot's phrases that the window does not allow."""
        if self._takes is None:
            return ()
        rest = (text for text in self._takes.phrases() if text not in allowed)
        return tuple(text for text in rest if self._own_paths(text))


def needed(finding: Finding) -> float:
    """The probability of being in the window at all that this finding has to reach."""
    if finding.entry.role in ROLES:
        return KNOWN_FROM
    return weights(finding.kind, finding.noisy).beside


def proposals(found: tuple[Finding, ...]) -> tuple[Proposal, ...]:
    """What is proposed: the item's answer, or what else may be said, whichever is accepted.

    Where both would be, neither is sure. Where neither is, the likelier of them is told.
    """
    judged = [(one, *weights(one.kind, one.noisy).judge(one.features)) for one in found]
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
