"""PocketSphinx: hearing with nothing but what comes inside its wheel.

Each utterance is heard twice: once with the window's candidates among decoys, and where a
candidate comes out once more with other decoys alone. The margin is how much better the
candidate explains the sound than the best string of decoys: a single hearing invents short
answers. Then it has to win against its rivals alone, the item's other answers or the number
that differs by an ending, with a handicap. Without the language model, and with a
dictionary of the needed words alone, the decoder takes some megabytes instead of a hundred.
"""

from __future__ import annotations

import math
import tempfile
from collections import OrderedDict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from runner.engine.effects import Listen
from runner.engine.events import Proposal
from runner.errors import RunnerError
from runner.phrasing.number_twins import twins
from runner.phrasing.similar import sounds_alike
from runner.voice.conditioning import made_ready
from runner.voice.grammar import Grammar, candidate_rules, rivals_grammar, window_grammars
from runner.voice.judge import WITNESS
from runner.voice.pronounce import Dictionary
from runner.voice.recogniser import RATE, Capabilities
from runner.voice.text import NUMBER, is_answer, likeness, matching, number_in, pattern_of, role_of

KEPT_WINDOWS = 2
"""Windows whose grammars are kept; each takes some megabytes."""

SHORTEST = 0.12
"""Seconds; less sound than this is no word."""

SCORE_UNITS = 1024
"""Natural units of likelihood in one unit of the logarithm of a score."""

SURE = 100.0
EVEN = -5.0
AT_EVEN = 0.35
"""The margin is ``AT_EVEN`` where the candidate is ``EVEN`` natural units likelier than the
decoys, and grows by one in ``SURE`` units."""

HANDICAP = 1e-8
OPPOSITE_HANDICAP = 1e-20
"""Probability of what was heard against 1 for each of its rivals: it has to win in spite of it.
The second is for an item's answer against its others: with the first, one phrase and one word in
eight hundred were taken for their opposites, with the second none, and one right phrase in a
hundred more was asked again. Numbers of nearly one sound would be lost by it."""

RIVALS_LIMIT = 24
"""Texts of other answers that an answer has to win against, those most like it."""

ENGINES = ("one", "two", "three", "four", "five", "six", "seven", "eight")
"""The engines by which a list is called."""


def margin_of(units: float) -> float:
    """The margin, 0 to 1, of a candidate that is so much likelier than decoys."""
    return max(0.0, min(1.0, AT_EVEN + (units - EVEN) / SURE))


def rivals(words: str, candidate: str, listen: Listen) -> tuple[str, ...]:
    """What must not have been said instead: other answers, other engines, other endings."""
    if candidate == NUMBER and listen.number is not None:
        value = number_in(words, listen.number)
        values = {text: number_in(text, listen.number) for text in twins(words)}
        return tuple(text for text, other in values.items() if other not in (None, value))
    if role_of(candidate, listen) in ("answer", "competitor"):
        texts = {
            text
            for other in listen.candidates
            if is_answer(other) and other.id != candidate
            for text in pattern_of(other.pattern).texts(RIVALS_LIMIT)
        }
        return tuple(sorted(texts, key=lambda text: -sounds_alike(words, text))[:RIVALS_LIMIT])
    *before, last = words.split()
    if last not in ENGINES:
        return ()
    return tuple(" ".join((*before, engine)) for engine in ENGINES if engine != last)


class _Decoder:
    """One PocketSphinx decoder, its dictionary and its grammars."""

    def __init__(self, dictionary: Dictionary) -> None:
        import pocketsphinx

        self._dictionary = dictionary
        with tempfile.NamedTemporaryFile("w", suffix=".dict", delete=False) as file:
            file.write("a AH\n")
        try:
            self._decoder: Any = pocketsphinx.Decoder(
                lm=None, dict=file.name, loglevel="FATAL", bestpath=False, cmn="batch"
            )
        finally:
            Path(file.name).unlink()
        self._known: set[str] = set()
        self._count = 0

    def add(self, grammar: Grammar) -> str:
        """Compile a grammar; gives the name by which it is used and removed."""
        self._learn(grammar.words)
        self._count += 1
        name = f"grammar{self._count}"
        made = self._decoder.create_fsg(name, 0, grammar.final, grammar.transitions)
        self._decoder.add_fsg(name, made)
        return name

    def use(self, name: str) -> None:
        """Make this the grammar in use."""
        self._decoder.activate_search(name)

    def remove(self, name: str) -> None:
        """Forget a grammar that is not in use."""
        self._decoder.remove_search(name)

    def hear(self, name: str, samples: bytes) -> tuple[str, float]:
        """The words of a whole utterance and their likelihood; no words when there are none."""
        self._decoder.activate_search(name)
        self._decoder.start_utt()
        self._decoder.process_raw(samples, False, True)
        self._decoder.end_utt()
        best = self._decoder.hyp()
        if best is None or not best.hypstr or best.best_score <= 0:
            return "", -math.inf
        return best.hypstr, math.log(best.best_score) * SCORE_UNITS

    def _learn(self, words: Iterable[str]) -> None:
        for word in sorted(set(words) - self._known):
            for number, phones in enumerate(self._dictionary.pronounce(word)):
                spelt = word if number == 0 else f"{word}({number + 1})"
                if self._decoder.lookup_word(spelt) is None:
                    self._decoder.add_word(spelt, phones, False)
            self._known.add(word)


@dataclass(frozen=True, slots=True)
class _Window:
    """The grammars of one window: with its candidates, decoys alone, and the candidates' words."""

    candidates: str
    decoys: str
    own: frozenset[str]


class PocketRecogniser:
    """Hears candidates among decoys; ``others`` are phrases that are never an answer."""

    def __init__(self, others: Sequence[str] = ()) -> None:
        try:
            import pocketsphinx
        except ImportError as error:
            raise RunnerError(
                "PocketSphinx is not installed; pip install pocketsphinx brings it"
            ) from error
        self._dictionary = Dictionary(Path(pocketsphinx.get_model_path("en-us/cmudict-en-us.dict")))
        self._decoder = _Decoder(self._dictionary)
        self._others = [pattern_of(phrase).jsgf() for phrase in others]
        self._windows: OrderedDict[tuple[str, ...], _Window] = OrderedDict()
        self._listen: Listen | None = None
        self._window: _Window | None = None
        self._samples = bytearray()
        self._ready = b""
        self._best: tuple[str, float] | None = None
        self._closed: str | None = None

    @property
    def capabilities(self) -> Capabilities:
        """Closed to the window's candidates; single words need a clearer voice."""
        limits = ["PocketSphinx: answers of one word are often asked again"]
        if self._dictionary.guessed:
            guessed = ", ".join(sorted(self._dictionary.guessed))
            limits.append(f"PocketSphinx: pronunciation guessed by letters: {guessed}")
        return Capabilities("pocketsphinx", "en-us", True, False, tuple(limits))

    def fits(self, listen: Listen) -> bool:  # noqa: ARG002
        """See ``Recogniser``."""
        return True

    def prepare(self, listen: Listen) -> None:
        """See ``Recogniser``."""
        if listen is self._listen:
            return
        rules = tuple(candidate_rules(listen))
        window = self._windows.get(rules)
        if window is None:
            others = [phrase for phrase in self._others if phrase not in rules]
            candidates, decoys, own = window_grammars(rules, others)
            window = _Window(self._decoder.add(candidates), self._decoder.add(decoys), own)
            self._windows[rules] = window
        self._windows.move_to_end(rules)
        self._listen, self._window, self._best = listen, window, None

    def begin(self) -> None:
        """See ``Recogniser``."""
        self._samples.clear()
        self._best = None

    def feed(self, samples: bytes) -> None:
        """See ``Recogniser``."""
        self._samples += samples
        self._best = None

    def glance(self) -> tuple[Proposal, ...]:
        """What is likeliest, in half the time: its margin is not known, and given as 0."""
        listen = self._listen
        if listen is None or len(self._samples) < SHORTEST * 2 * RATE:
            return ()
        words, _ = self._likeliest()
        found = matching(words, listen) if words else ()
        candidate, value = found[0] if found else (None, None)
        return (Proposal("pocketsphinx", candidate, words, 0.8, 0.0, value),) if words else ()

    def _likeliest(self) -> tuple[str, float]:
        """The words and their likelihood, among the window's candidates and decoys."""
        assert self._window is not None
        if self._best is None:
            self._ready = made_ready(bytes(self._samples))
            self._best = self._decoder.hear(self._window.candidates, self._ready)
        return self._best

    def propose(self, final: bool = True) -> tuple[Proposal, ...]:  # noqa: ARG002
        """See ``Recogniser``."""
        listen, window = self._listen, self._window
        if listen is None or window is None or len(self._samples) < SHORTEST * 2 * RATE:
            return ()
        words, likely = self._likeliest()
        self._forget()
        if not words:
            return ()
        found = matching(words, listen)
        if not found:
            return (Proposal("pocketsphinx", None, words, likeness(words, listen), 0.0),)
        candidate, value = found[0]
        decoys = self._decoder.hear(window.decoys, self._ready)[1]
        # What no decoy fits into is too short to be told from noise.
        units = likely - decoys if decoys > -math.inf else -math.inf
        opposites = role_of(candidate, listen) in ("answer", "competitor") and candidate != NUMBER
        handicap = OPPOSITE_HANDICAP if opposites else HANDICAP
        if not self._beats(rivals(words, candidate, listen), words, self._ready, handicap):
            units = -math.inf
        return (Proposal("pocketsphinx", candidate, words, 0.8, margin_of(units), value),)

    def between(self, samples: bytes, text: str, candidate: str, listen: Listen) -> Proposal | None:
        """Which it is of an answer that another recogniser heard and the item's other ones.

        Closed to these: it says nothing of whether it was an answer at all. None where the
        item has no other one.
        """
        others = rivals(text, candidate, listen)
        if not others:
            return None
        name = self._decoder.add(rivals_grammar(text, others, 1.0))
        heard = self._decoder.hear(name, made_ready(samples))[0]
        if self._closed is not None:
            self._decoder.remove(self._closed)
        self._closed = name
        found = matching(heard, listen) if heard else ()
        return Proposal(WITNESS, found[0][0], heard, 0.0, 0.0) if found else None

    def close(self) -> None:
        """See ``Recogniser``."""
        self._windows.clear()
        self._dictionary.close()

    def _beats(self, rivals: Sequence[str], words: str, samples: bytes, handicap: float) -> bool:
        """Whether these words win, handicapped, against their rivals and nothing else."""
        if not rivals:
            return True
        name = self._decoder.add(rivals_grammar(words, rivals, handicap))
        heard = self._decoder.hear(name, samples)[0]
        if self._window is not None:
            self._decoder.use(self._window.candidates)
        self._decoder.remove(name)
        return heard == words

    def _forget(self) -> None:
        """Drop the grammars of the windows that were used least lately."""
        while len(self._windows) > KEPT_WINDOWS:
            _, old = self._windows.popitem(last=False)
            self._decoder.remove(old.candidates)
            self._decoder.remove(old.decoys)
