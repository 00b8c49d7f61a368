"""PocketSphinx: hearing with nothing but what comes inside its wheel.

Two decoders hear each utterance, with different decoys and different handicaps, because a
single one invents short answers. Both without the language model and with a dictionary of
the needed words alone: so loaded, they take some megabytes instead of a hundred.
"""

from __future__ import annotations

import tempfile
from collections import OrderedDict
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from runner.engine.effects import Listen
from runner.engine.events import Proposal
from runner.errors import RunnerError
from runner.voice.grammar import DECOYS, candidate_rules, window_grammar, words_of
from runner.voice.pronounce import Dictionary
from runner.voice.recogniser import Capabilities
from runner.voice.text import matching, pattern_of

KEPT_GRAMMARS = 3
"""Grammars kept compiled in each decoder; one of a hundred words takes some megabytes."""

WEIGHTS = (1.0, 1.0)
"""The weight of the decoy loop in each decoder, against 1 for the candidates."""

SHORTEST = 0.12
"""Seconds; less sound than this is no word."""


class Decoder:
    """One PocketSphinx decoder with its decoys."""

    def __init__(self, decoys: Sequence[str], weight: float, dictionary: Dictionary) -> None:
        import pocketsphinx

        self._decoys = decoys
        self._weight = weight
        self._dictionary = dictionary
        with tempfile.NamedTemporaryFile("w", suffix=".dict", delete=False) as file:
            file.write("a AH\n")
        try:
            self._decoder: Any = pocketsphinx.Decoder(
                lm=None, dict=file.name, loglevel="FATAL", bestpath=False
            )
        finally:
            Path(file.name).unlink()
        self._known: set[str] = set()
        self._grammars: OrderedDict[tuple[str, ...], str] = OrderedDict()
        self._count = 0

    def prepare(self, rules: Sequence[str], others: Sequence[str]) -> None:
        """Compile the grammar for these rules, unless it is kept, and make it the current one."""
        key = tuple(rules)
        name = self._grammars.get(key)
        if name is None:
            text, words = window_grammar(rules, self._decoys, others, self._weight)
            self._learn(words)
            self._count += 1
            name = f"window{self._count}"
            self._decoder.add_jsgf_string(name, text)
            self._grammars[key] = name
        self._grammars.move_to_end(key)
        self._decoder.activate_search(name)
        while len(self._grammars) > KEPT_GRAMMARS:
            _, old = self._grammars.popitem(last=False)
            self._decoder.remove_search(old)

    def hear(self, samples: bytes) -> str:
        """The words of a whole utterance; empty when there are none."""
        self._decoder.start_utt()
        self._decoder.process_raw(samples, False, True)
        self._decoder.end_utt()
        best = self._decoder.hyp()
        return best.hypstr if best is not None else ""

    def _learn(self, words: Iterable[str]) -> None:
        for word in sorted(set(words) - self._known):
            for number, phones in enumerate(self._dictionary.pronounce(word)):
                spelt = word if number == 0 else f"{word}({number + 1})"
                if self._decoder.lookup_word(spelt) is None:
                    self._decoder.add_word(spelt, phones, False)
            self._known.add(word)


class PocketRecogniser:
    """Two decoders that have to agree; ``others`` are phrases that are never an answer."""

    def __init__(self, others: Sequence[str] = ()) -> None:
        try:
            import pocketsphinx
        except ImportError as error:
            raise RunnerError(
                "PocketSphinx is not installed; pip install pocketsphinx brings it"
            ) from error
        self._dictionary = Dictionary(Path(pocketsphinx.get_model_path("en-us/cmudict-en-us.dict")))
        self._decoders = [
            Decoder(decoys, weight, self._dictionary)
            for decoys, weight in zip(DECOYS, WEIGHTS, strict=True)
        ]
        self._others = [pattern_of(phrase).jsgf() for phrase in others]
        self._listen: Listen | None = None
        self._own: set[str] = set()
        self._samples = bytearray()

    @property
    def capabilities(self) -> Capabilities:
        """Closed to the window's candidates; single words need a clearer voice."""
        limits = ["PocketSphinx: answers of one word are often asked again"]
        if self._dictionary.guessed:
            guessed = ", ".join(sorted(self._dictionary.guessed))
            limits.append(f"PocketSphinx: pronunciation guessed by letters: {guessed}")
        return Capabilities("pocketsphinx", "en-us", True, False, tuple(limits))

    def prepare(self, listen: Listen) -> None:
        """See ``Recogniser``."""
        if listen is self._listen:
            return
        rules = candidate_rules(listen)
        mine = set(rules)
        others = [phrase for phrase in self._others if phrase not in mine]
        for decoder in self._decoders:
            decoder.prepare(rules, others)
        self._own = set().union(*(words_of(rule) for rule in rules)) if rules else set()
        self._listen = listen

    def begin(self) -> None:
        """See ``Recogniser``."""
        self._samples.clear()

    def feed(self, samples: bytes) -> None:
        """See ``Recogniser``."""
        self._samples += samples

    def propose(self, final: bool = True) -> tuple[Proposal, ...]:  # noqa: ARG002
        """See ``Recogniser``; the second decoder hears what the first takes for a candidate."""
        listen = self._listen
        if listen is None or len(self._samples) < SHORTEST * 32_000:
            return ()
        samples = bytes(self._samples)
        proposals: list[Proposal] = []
        for number, decoder in enumerate(self._decoders):
            words = decoder.hear(samples)
            if not words:
                if not proposals:
                    return ()
                break
            name = "pocketsphinx" if number == 0 else "pocketsphinx, other decoys"
            found = matching(words, listen)
            if not found:
                said = words.split()
                near = sum(word in self._own for word in said) / len(said)
                proposals.append(Proposal(name, None, words, near, 0.0))
                break
            candidate, value = found[0]
            proposals.append(Proposal(name, candidate, words, 0.8, 0.5, value))
        return tuple(proposals)

    def close(self) -> None:
        """See ``Recogniser``."""
        self._decoders.clear()
        self._dictionary.close()
