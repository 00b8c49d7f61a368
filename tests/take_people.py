"""People's state words as enrolments: three takes of each word, and those that are left over."""

from __future__ import annotations

import random
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

import speech_data
from runner.voice.embedding import Embedder
from runner.voice.take_checks import Comparison, fault
from runner.voice.waves import read_wav

FEWEST_WORDS = 4


@dataclass
class Person:
    """Takes by word: three ``enrolled``, the rest ``further``; ``unknown`` are other words."""

    enrolled: dict[str, list[bytes]] = field(default_factory=lambda: defaultdict(list))
    further: dict[str, list[bytes]] = field(default_factory=lambda: defaultdict(list))
    unknown: list[bytes] = field(default_factory=list)


def people(home: Path, fitting: bool) -> dict[str, Person]:
    """Those of one half who said enough; sounds unfit for a take and repeated ones are left out."""
    found: dict[str, Person] = defaultdict(Person)
    for recording in speech_data.states(home):
        if speech_data.for_fitting(recording.speaker, home) is not fitting:
            continue
        person, word = found[recording.speaker], recording.word
        sound = read_wav(recording.file, 16_000)
        if not recording.known:
            person.unknown.append(sound)
        elif not fault(sound, word) and sound not in person.enrolled[word]:
            (person.enrolled if len(person.enrolled[word]) < 3 else person.further)[word].append(
                sound
            )
    for person in found.values():
        short = [word for word, takes in person.enrolled.items() if len(takes) < 3]
        for word in short:
            del person.enrolled[word]
    return {name: person for name, person in found.items() if len(person.enrolled) >= FEWEST_WORDS}


@dataclass
class Doubts:
    """The greatest ratio of each phrase, and whether it is that of the take put there."""

    good: list[float] = field(default_factory=list)
    another: list[tuple[float, bool]] = field(default_factory=list)
    strange: list[tuple[float, bool]] = field(default_factory=list)


def doubts(everybody: Mapping[str, Person], embedder: Embedder) -> Doubts:
    """Of every phrase of everybody: as enrolled, with one take of another phrase among the
    three, and with one of a phrase that has no takes."""
    chance = random.Random(11)
    found = Doubts()
    for person in everybody.values():
        words = person.enrolled
        base = Comparison(lambda _: (), embedder)
        for turn, word in enumerate(words):
            found.good.append(_worst(base, words, word)[0])
            wrong = chance.choice([other for other in words if other != word])
            place = turn % 3
            takes = list(words[word])
            takes[place] = words[wrong][2]
            mixed = {**words, word: takes, wrong: words[wrong][:2]}
            without = {name: own for name, own in mixed.items() if name != wrong}
            for kind, own in ((found.another, mixed), (found.strange, without)):
                ratio, worst = _worst(base, own, word)
                kind.append((ratio, worst == place))
    return found


def _worst(base: Comparison, words: Mapping[str, list[bytes]], word: str) -> tuple[float, int]:
    doubt = base.of(words.__getitem__).worst(word, words)
    return (doubt.ratio, doubt.place) if doubt is not None else (0.0, -1)


@dataclass
class Nearness:
    """Nearness of further takes: of the phrase itself, of its opposite, of another enrolled one,
    and of a word that has no takes."""

    right: list[float] = field(default_factory=list)
    opposite: list[float] = field(default_factory=list)
    another: list[float] = field(default_factory=list)
    strange: list[float] = field(default_factory=list)


def nearness(everybody: Mapping[str, Person], embedder: Embedder) -> Nearness:
    """Every further take offered as each phrase of its speaker."""
    found = Nearness()
    for person in everybody.values():
        words = person.enrolled
        base = Comparison(words.__getitem__, embedder)
        for phrase in words:
            for said, sounds in person.further.items():
                kind = found.another
                if said == phrase:
                    kind = found.right
                elif said == speech_data.OPPOSITE[phrase]:
                    kind = found.opposite
                # A word without takes of its own has nothing that it would be nearer to.
                kind = kind if said in words else found.strange
                kind += [base.nearness(sound, phrase, words) for sound in sounds]
            found.strange += [base.nearness(sound, phrase, words) for sound in person.unknown]
    return found
