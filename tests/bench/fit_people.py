"""People in the matcher's windows: the comparisons that its acceptance is fitted on.

The fitting half of the speakers (``tests/speech_data.py``) against synthetic voices and against
their own takes. No row is measured with a word model that was fitted on its speaker.
"""

from __future__ import annotations

import random
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path
from typing import Any

from fit_acceptance import FOLDS, Row
from fit_phrases import NoneMade, shipped_windows
from fit_words import STATES, joined, recordings, sound_of

import speech_data
from engine_noise import over_the_radio
from matching import controls, own_entries, window
from runner.engine.effects import Listen
from runner.voice.comparison import ROLES, Entry, Utterance
from runner.voice.embedding import trimmed
from runner.voice.matcher import MatcherRecogniser
from runner.voice.words import WordModel

PAIRED = 1500
"""Utterances of two words run together by people."""

WORDY = 1200
"""Utterances in windows of words that the word model does not know."""

CHATTING = 900
"""Times that somebody says several words, none of them in the window."""

UNKNOWN_CHATTER = 3
"""Of them by other people in each turn of a pair."""

UNKNOWN = 12
"""Words of other people in each turn of a pair."""

TURNS = 3
"""Times that other takes of a speaker are the enrolled ones."""


@dataclass(frozen=True, slots=True)
class Said:
    """A recording ready to be compared, by a word model that never heard its speaker."""

    speaker: str
    word: str
    state: bool
    sound: Any
    utterance: Utterance


class People:
    """The fitting half of the speakers, and the rows that they give."""

    def __init__(self, folder: Path, models: dict[str, WordModel]) -> None:
        self.matcher = MatcherRecogniser(made=NoneMade())
        self.comparison = self.matcher._comparison
        self.commands = controls()
        self.models = models
        self.known: dict[Listen, tuple[Entry, ...]] = {}
        self.said = [
            Said(speaker, word, word in STATES, sound, self.utterance(sound, speaker))
            for speaker, word, file in recordings(folder)
            for sound in [sound_of(file)]
        ]
        self.by: dict[str, dict[str, list[Said]]] = defaultdict(lambda: defaultdict(list))
        for one in self.said:
            self.by[one.speaker][one.word].append(one)
        self.chatter = list(self.chatting())

    def utterance(self, sound: Any, speaker: str) -> Utterance:
        """A recording as the matcher sees it."""
        self.matcher._words = self.models[speaker]
        return self.matcher.utterance(self.matcher._embedder.path(sound))

    def chatting(self) -> Iterator[Said]:
        """People who say several words without a pause, half of them over a radio."""
        rng = random.Random(19)
        speakers = [s for s, words in self.by.items() if len(words) >= 3]
        for _ in range(CHATTING):
            speaker = rng.choice(speakers)
            words = self.by[speaker]
            said = [rng.choice(sorted(words)) for _ in range(rng.randint(2, 6))]
            sound = trimmed(rng.choice(words[said[0]]).sound)
            for word in said[1:]:
                further = rng.choice(words[word]).sound
                sound = joined(sound, further, rng.uniform(0.0, 0.1))
            if rng.random() < 0.5:
                sound = over_the_radio(sound)
            yield Said(speaker, " ".join(said), False, sound, self.utterance(sound, speaker))

    def everything(self) -> tuple[Iterator[Row], ...]:
        """All that people say, part by part."""
        return (
            self.states(),
            self.run_on(),
            self.other_words(),
            self.pairs(),
            self.own_words(),
            self.own_pairs(),
        )

    def states(self) -> Iterator[Row]:
        """State words in the five windows."""
        windows = [(pair, window(*pair, self.commands)) for pair in speech_data.PAIRS]
        for one in self.said:
            for pair, listen in windows:
                truth = one.word if one.word in pair else None
                yield from self.compare(one.utterance, self.entries(listen), truth, one.speaker)

    def run_on(self) -> Iterator[Row]:
        """Several words in windows of one, state words or others, and in the shipped windows."""
        rng = random.Random(29)
        words = sorted({one.word for one in self.said if one.word in self.matcher._prototypes})
        shipped = shipped_windows()
        for one in self.chatter:
            said = set(one.word.split())
            pairs = [pair for pair in speech_data.PAIRS if said.isdisjoint(pair)]
            others = [word for word in words if word not in STATES and word not in said]
            windows = [window(*rng.sample(others, 2), self.commands), rng.choice(shipped)]
            if pairs:
                windows.append(window(*rng.choice(pairs), self.commands))
            for listen in windows:
                yield from self.compare(
                    one.utterance, self.entries(listen), None, one.speaker, chatter=True
                )

    def other_words(self) -> Iterator[Row]:
        """Windows of two words that the word model does not know."""
        rng = random.Random(11)
        plain = [one for one in self.said if not one.state]
        words = sorted({one.word for one in plain if one.word in self.matcher._prototypes})
        for _ in range(WORDY):
            pair = rng.sample(words, 2)
            wanted = rng.random() < 0.5
            truth = rng.choice(pair)
            spoke = [one for one in plain if one.word == truth] if wanted else self.said
            one = rng.choice(spoke)
            known = one.word if one.word in pair else None
            listen = window(pair[0], pair[1], self.commands)
            yield from self.compare(one.utterance, self.entries(listen), known, one.speaker)

    def pairs(self) -> Iterator[Row]:
        """Two words run together: the right ones, with another second word, with another first."""
        rng = random.Random(13)
        speakers = [s for s, words in self.by.items() if len(words) >= 3]
        for _ in range(PAIRED):
            speaker = rng.choice(speakers)
            words = self.by[speaker]
            second, first = rng.sample(sorted(words), 2)
            if second not in STATES or any(w not in self.matcher._prototypes for w in words):
                continue
            opposite = speech_data.OPPOSITE[second]
            listen = window(f"{first} {second}", f"{first} {opposite}", self.commands)
            said_first, said_second = first, second
            if rng.random() < 0.5:
                said_first = rng.choice(sorted(words))
                said_second = rng.choice(sorted(words))
            sound = joined(
                rng.choice(words[said_first]).sound,
                rng.choice(words[said_second]).sound,
                rng.uniform(0.0, 0.1),
            )
            text = f"{said_first} {said_second}"
            truth = text if text in {c.id for c in listen.candidates} else None
            utterance = self.utterance(sound, speaker)
            yield from self.compare(utterance, self.entries(listen), truth, speaker)

    def own_words(self) -> Iterator[Row]:
        """Pairs of words that were enrolled with three takes: opposites, and any others.

        Words of other people are said in the windows of one fold of the speakers alone, so that
        none of them is both fitted on and left out.
        """
        rng = random.Random(3)
        plain = [one for one in self.said if not one.state]
        number = 0
        for speaker, words in sorted(self.by.items()):
            ready = sorted(word for word, takes in words.items() if len(takes) >= 3)
            pairs = [pair for pair in speech_data.PAIRS if set(pair) <= set(ready)]
            if not pairs:
                continue
            fold, number = number % FOLDS, number + 1
            unknown, chatter = plain[fold::FOLDS], self.chatter[fold::FOLDS]
            any_two = [pair for pair in combinations(ready, 2) if pair not in pairs]
            pairs += rng.sample(any_two, min(len(pairs), len(any_two)))
            for pair in pairs:
                listen = window(*pair, self.commands)
                for _ in range(TURNS):
                    rest = [self.beside(one, speaker) for one in rng.sample(unknown, UNKNOWN)]
                    enrolled = {}
                    for word, takes in words.items():
                        mixed = rng.sample(takes, len(takes))
                        if len(takes) >= 3:
                            enrolled[word] = [one.utterance.path for one in mixed[:3]]
                            mixed = mixed[3:]
                        rest += mixed
                    entries, others = own_entries(self.entries(listen), enrolled)
                    for one in rest:
                        truth = one.word if one.word in pair else None
                        yield from self.compare(
                            one.utterance, entries, truth, f"fold {fold}", others
                        )
                    silent = [one for one in chatter if not set(one.word.split()) & set(pair)]
                    for one in rng.sample(silent, UNKNOWN_CHATTER):
                        said = self.beside(one, speaker).utterance
                        who = f"fold {fold}"
                        yield from self.compare(said, entries, None, who, others, chatter=True)

    def beside(self, one: Said, speaker: str) -> Said:  # noqa: ARG002
        """Somebody else's recording where ``speaker`` is."""
        return one

    def own_pairs(self) -> Iterator[Row]:
        """The same with two words run together."""
        rng = random.Random(17)
        for speaker, words in self.by.items():
            ready = [w for w, takes in words.items() if len(takes) >= 4]
            for pair in speech_data.PAIRS:
                firsts = [w for w in ready if w not in pair]
                if not all(word in ready for word in pair) or not firsts:
                    continue
                first = rng.choice(firsts)
                texts = [f"{first} {word}" for word in pair]
                listen = window(texts[0], texts[1], self.commands)
                for _ in range(TURNS):
                    mixed = {w: rng.sample(words[w], len(words[w])) for w in ready}
                    enrolled = {
                        f"{first} {w}": [
                            self.run(mixed[first][n], mixed[w][n], rng, speaker).path
                            for n in range(3)
                        ]
                        for w in ready
                        if w != first
                    }
                    entries, others = own_entries(self.entries(listen), enrolled)
                    for one, two in ((first, w) for w in [*pair, *pair, *rng.sample(ready, 2)]):
                        said = self.run(
                            rng.choice(mixed[one][3:]), rng.choice(mixed[two][3:]), rng, speaker
                        )
                        text = f"{one} {two}"
                        truth = text if text in texts else None
                        yield from self.compare(said, entries, truth, speaker, others)
                    for one, two in (rng.sample(ready, 2) for _ in range(4)):
                        if one == first:
                            continue
                        said = self.run(mixed[one][3], mixed[two][3], rng, speaker)
                        yield from self.compare(said, entries, None, speaker, others)

    def run(self, first: Said, second: Said, rng: random.Random, speaker: str) -> Utterance:
        """Two recordings run together."""
        return self.utterance(joined(first.sound, second.sound, rng.uniform(0.0, 0.1)), speaker)

    def entries(self, listen: Listen) -> tuple[Entry, ...]:
        """A window's entries, the same ones each time."""
        if listen not in self.known:
            self.known[listen] = self.matcher.entries(listen)
        return self.known[listen]

    def compare(
        self,
        said: Utterance,
        entries: Sequence[Entry],
        truth: str | None,
        speaker: str,
        others: Sequence[tuple[Any, ...]] = (),
        chatter: bool = False,
    ) -> Iterator[Row]:
        """The rows of one comparison: of the item's answers, and of all else."""
        for finding in self.comparison.find(said, entries, others):
            wanted = finding.entry.role in ROLES
            inside = wanted and truth is not None
            right = finding.entry.candidate == truth
            yield Row(finding.kind, finding.features, wanted, inside, right, speaker, chatter)
