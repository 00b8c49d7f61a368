"""Numbers behind the recognisers' interface: word by word; PocketSphinx proposes and forbids.

PocketSphinx alone takes a string of digits for another number too often to be believed, and
misses too many to be asked for its consent. Nor is it a witness: what is taken for another
digit here is often taken for the same one there. So it does not vote where a number is wanted.
Two ways lead to a number. Words with pauses between them are heard each by itself, and
PocketSphinx may forbid it: what it hears more words in had no pause between two of them. Words
run together are PocketSphinx's proposal; each is heard again at the place where it would be, and
the acceptance judges by that. What else may be said in the window, control phrases above all, is
left to PocketSphinx.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from runner.engine.effects import Listen, NumberWanted
from runner.engine.events import Proposal
from runner.phrasing.number_twins import twins
from runner.phrasing.numeral_words import COUNTING_WORDS, DIGITS
from runner.voice.embedding import Embedder, to_samples
from runner.voice.number_adaptation import adapted, kept_rows
from runner.voice.number_alignment import Aligner
from runner.voice.number_hearing import BY_VOICES, Finding, NumberHearing, Templates, same
from runner.voice.number_model import NumberModel, number_model
from runner.voice.pocket import PocketRecogniser
from runner.voice.prototypes import Prototypes, transform
from runner.voice.recogniser import RATE, Capabilities
from runner.voice.text import NUMBER, number_in
from runner.voice.words import OTHER

NAME = "numbers"

SHORTEST = 0.12
"""Seconds; less sound than this is no word."""

TAKES_WANTED = 2
"""Takes of a digit that make it the pilot's own; one alone says nothing of how it varies."""

PLAIN = -0.7
"""Natural logarithm of the chance from which on a word is beyond doubt."""

LIKELY = 0.1
"""From this probability on, what was not sure was meant as a number: ask again."""


SOUNDS_LIKE = {
    "won": "one",
    "to": "two",
    "too": "two",
    "free": "three",
    "for": "four",
    "ate": "eight",
}
"""Words that may have been words of a number where no number was heard."""


@dataclass(frozen=True, slots=True)
class Weighed:
    """A finding with all that its acceptance, of this ``kind``, judges by.

    ``voices`` and ``own`` are cut at the pauses, heard with voices' templates or also with the
    pilot's; ``proposed`` and ``own, proposed`` are PocketSphinx's, of no more words than there
    are pieces between pauses; ``run together`` of more, which own takes say nothing of: they
    are words spoken alone. One that is not ``allowed`` must not be taken, however likely.
    """

    kind: str
    finding: Finding
    features: tuple[float, ...]
    allowed: bool


class NumberRecogniser:
    """Hears a number, and leaves the rest of the window to PocketSphinx.

    ``takes`` are a pilot's own (``runner.voice.takes.Takes``); ``pocket`` a recogniser that
    hears nothing else meanwhile.
    """

    def __init__(
        self,
        takes: Any = None,
        pocket: PocketRecogniser | None = None,
        model: NumberModel | None = None,
    ) -> None:
        self._embedder = Embedder()
        self._transform = transform()
        self._model = model or number_model()
        own = self._own_takes(takes) if takes is not None else {}
        self._own = bool(own)
        if own:
            self._model = self._moved(takes)
        self._pocket = pocket or PocketRecogniser()
        self._aligner = Aligner()
        self._hearing = NumberHearing(self._model, Templates(Prototypes(), own), self._embedded)
        self._listen: Listen | None = None
        self._samples = bytearray()

    @property
    def capabilities(self) -> Capabilities:
        """Closed to the window's number and its candidates."""
        model = "own takes of the digits" if self._own else "digits of many speakers"
        return Capabilities(NAME, model, True)

    def fits(self, listen: Listen) -> bool:
        """Whether a number is wanted."""
        return listen.number is not None

    def prepare(self, listen: Listen) -> None:
        """See ``Recogniser``."""
        self._listen = listen
        self._pocket.prepare(listen)

    def begin(self) -> None:
        """See ``Recogniser``."""
        self._samples.clear()
        self._hearing.begin()
        self._pocket.begin()

    def feed(self, samples: bytes) -> None:
        """See ``Recogniser``."""
        self._samples += samples
        self._pocket.feed(samples)

    def propose(self, final: bool = True) -> tuple[Proposal, ...]:
        """See ``Recogniser``."""
        listen = self._listen
        if listen is None or listen.number is None or len(self._samples) < SHORTEST * 2 * RATE:
            return ()
        sound = bytes(self._samples)
        finding, text = self._hearing.find(to_samples(sound), listen.number)
        if finding is not None:
            acceptance = self._model.acceptances["own" if self._own else "voices"]
            chance = acceptance.chance(finding.features)
            if goes_on(finding, listen.number):
                return (_number(finding, chance, 0.0),)
            if chance >= acceptance.needed and self._undisputed(finding, listen.number):
                return (_number(finding, chance, 1.0),)
        heard = self._pocket.propose(final)
        likeliest = 0.0
        for one in (
            paused(finding, heard, listen.number, self._own),
            run_together(
                self._hearing, self._aligner, sound, listen.number, heard, finding, self._own
            ),
        ):
            if one is None or not one.allowed:
                continue
            acceptance = self._model.acceptances[one.kind]
            chance = acceptance.chance(one.features)
            likeliest = max(likeliest, chance)
            if chance >= acceptance.needed:
                return (_number(one.finding, chance, 1.0),)
        return unsure(finding, text, likeliest, heard)

    def _undisputed(self, finding: Finding, wanted: NumberWanted) -> bool:
        """Whether PocketSphinx need not be asked further: it has heard nothing against it."""
        heard = self._pocket.glance()
        if heard and heard[0].candidate not in (None, NUMBER):
            return False
        found = paused(finding, heard, wanted, self._own)
        return found is not None and found.allowed

    def close(self) -> None:
        """See ``Recogniser``."""
        self._pocket.close()
        self._aligner.close()
        self._hearing.begin()

    def _embedded(self, samples: Any) -> Any:
        said = self._embedder.path(samples)
        return said, self._transform(said.embedded)

    def _own_takes(self, takes: Any) -> dict[str, tuple[Any, ...]]:
        """The pilot's takes of digits, where every digit has some."""
        found: dict[str, tuple[Any, ...]] = {}
        for word in DIGITS:
            sounds = takes.takes(word)
            if len(sounds) >= TAKES_WANTED:
                found[word] = tuple(self._embedded(to_samples(sound))[1] for sound in sounds)
        return found if {DIGITS[word] for word in found} == set(range(10)) else {}

    def _moved(self, takes: Any) -> NumberModel:
        """The model with its words moved towards the pilot's."""
        words = [word for word in self._model.words.classes if word != OTHER]
        sounds = {word: found for word in words if len(found := takes.takes(word)) >= TAKES_WANTED}
        towards = kept_rows(takes, sounds, self._embedder.path)
        return replace(self._model, words=adapted(self._model.words, towards))


def _number(finding: Finding, chance: float, margin: float) -> Proposal:
    return Proposal(NAME, NUMBER, finding.way.text, chance, margin, finding.value)


def goes_on(finding: Finding, wanted: NumberWanted) -> bool:
    """Whether every word is plain and the number is below the range: more of it is to come."""
    return finding.value < wanted.low and finding.features[0] > PLAIN


def paused(
    finding: Finding | None, heard: Sequence[Proposal], wanted: NumberWanted, own: bool
) -> Weighed | None:
    """A number of words with pauses between them, and whether PocketSphinx forbids it."""
    if finding is None:
        return None
    allowed = not _forbidden(finding, heard, wanted) and (
        len(finding.way.words) > 1 or _agreed(finding, heard)
    )
    return Weighed("own" if own else "voices", finding, finding.features, allowed)


def _lacks_words(words: Sequence[str], heard: Sequence[str]) -> bool:
    """Whether these are what was heard with words left out."""
    rest = iter(heard)
    return len(words) < len(heard) and all(any(same(w, one) for one in rest) for w in words)


def _agreed(finding: Finding, heard: Sequence[Proposal]) -> bool:
    """Whether PocketSphinx heard the same number: "three three" in one breath sounds like one
    long "three", so a word alone is not believed by itself."""
    return bool(heard) and heard[0].candidate == NUMBER and heard[0].value == finding.value


def run_together(
    hearing: NumberHearing,
    aligner: Aligner,
    sound: bytes,
    wanted: NumberWanted,
    heard: Sequence[Proposal],
    finding: Finding | None,
    own: bool,
) -> Weighed | None:
    """The number that PocketSphinx heard, each word heard again at its place.

    ``finding`` is what ``hearing`` found last, by the pauses; whether it is the same counts.
    """
    if not heard or heard[0].candidate != NUMBER or heard[0].value is None:
        return None
    first, value = heard[0], heard[0].value
    places = aligner.places(sound, first.text)
    found = hearing.at(to_samples(sound), places, value, wanted)
    if found is None:
        return None
    same = finding is not None and finding.value == value
    another = finding is not None and not same
    more = len(found.way.words) - hearing.islands
    kind, heard_by = "proposed", found.features
    if more > 0:
        kind, heard_by = "run together", found.features[:BY_VOICES]
    elif own:
        kind = "own, proposed"
    features = (*heard_by, float(same), float(another), first.margin, float(more))
    return Weighed(kind, found, features, first.margin > 0)


def _forbidden(finding: Finding, heard: Sequence[Proposal], wanted: NumberWanted) -> bool:
    """Whether a finding that PocketSphinx did not hear must not be taken.

    Against it is not decided where the two numbers differ by an ending ("eight", "eighteen",
    "eighty"), where words of what it heard are missing ("one five" of "one oh five": two words
    without a pause between them are heard as one), or where it is sure of a control phrase.
    """
    if not heard:
        return False
    said = [SOUNDS_LIKE.get(word, word) for word in heard[0].text.split()]
    if heard[0].candidate is None:
        return _lacks_words(finding.way.words, [word for word in said if word in COUNTING_WORDS])
    if heard[0].candidate != NUMBER:
        return heard[0].margin > 0
    if _lacks_words(finding.way.words, said):
        return True
    return heard[0].value in {number_in(text, wanted) for text in twins(finding.way.text)}


def unsure(
    finding: Finding | None, text: str, chance: float, heard: Sequence[Proposal]
) -> tuple[Proposal, ...]:
    """What is proposed where no number is sure: what PocketSphinx heard of the rest, or a
    number without any margin where it may well have been one, or that nothing was said."""
    first = heard[0] if heard else None
    if first is not None and first.candidate not in (None, NUMBER):
        return (Proposal(NAME, first.candidate, first.text, first.confidence, first.margin),)
    if finding is not None and (
        chance >= LIKELY or (first is not None and first.candidate == NUMBER)
    ):
        return (_number(finding, chance, 0.0),)
    if first is not None:
        return (Proposal(NAME, None, text or first.text, min(first.confidence, chance), 0.0),)
    return (Proposal(NAME, None, text, chance, 0.0),) if text else ()
