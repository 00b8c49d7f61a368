"""Numbers said in windows that want one: strings of digits, broken ones, and in one breath."""

from __future__ import annotations

import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from number_words import OH_FROM, natural_numbers, oh_of, other_people, varied, voices_say

import speech_data
import spoken_numbers
from runner.engine.effects import Listen
from runner.phrasing.numeral_words import DIGIT_WORDS
from runner.voice.embedding import to_samples, trimmed
from spoken_numbers import HURRIED, PAUSES, Sound, in_engines, joined, sound_of, to_bytes

STRINGS = 22
"""Strings of each length and speaker; of three and four digits twice as many."""

TURNS = 3
"""Times that other takes of a speaker are the enrolled ones."""

ENGINES_BELOW = (8.0, 20.0)
"""dB from the voice down to the engines, of the examples in their noise."""

NATURAL = 30
"""Numbers that every synthetic voice says in one breath, and with pauses."""

SPOKEN_OH = 0.6
"""Share of the noughts after the first digit that are "oh" where a crowd says a string."""

HALVES = ("first others", "second others")
"""Synthetic voices, and people of whom there are single words, count as two speakers."""


@dataclass(frozen=True, slots=True)
class Example:
    """Something said in a window where a number is wanted; ``value`` is the number it is."""

    speaker: str
    kind: str
    listen: Listen
    sound: bytes
    value: float | None
    own: dict[str, list[Path]] | None
    voice: int | None = None
    """The place of a synthetic voice among the prototypes, where it is one."""


def examples(folder: Path) -> Iterator[Example]:
    """Strings by each speaker, and what is no number; three takes of each digit stand apart."""
    rng = np.random.default_rng(21)
    others = [file for _, word, file in other_people(folder) if word not in (*DIGIT_WORDS, "tree")]
    for speaker, takes in speech_data.digits(folder).items():
        apart = [set_apart(takes, rng) for _ in range(TURNS)]
        for kind, count, pauses, many in (
            ("string", 2, PAUSES, STRINGS),
            ("string", 3, PAUSES, 2 * STRINGS),
            ("string", 4, PAUSES, 2 * STRINGS),
            ("string", 5, PAUSES, STRINGS),
            ("hurried", 3, HURRIED, STRINGS),
            ("hurried", 4, HURRIED, STRINGS // 2),
            ("run together", 3, (0.0, 0.02), STRINGS),
            ("broken", 3, PAUSES, STRINGS // 2),
            ("string in engines", 2, PAUSES, STRINGS // 3),
            ("string in engines", 3, PAUSES, STRINGS),
            ("string in engines", 4, PAUSES, STRINGS),
            ("string in engines", 5, PAUSES, STRINGS // 3),
            ("hurried in engines", 3, HURRIED, STRINGS // 2),
        ):
            for number in range(many):
                own, rest = apart[number % TURNS]
                one = spoken_numbers.spoken(rest, count, pauses, rng)
                listen = spoken_numbers.number_window(count)
                value: float | None = float(one.digits)
                sound = one.sound
                if kind.startswith("broken"):
                    # One of the words is no word of a number: nothing may come of it.
                    parts = [sound_of(file) for file in one.files]
                    parts[rng.integers(count)] = sound_of(others[rng.integers(len(others))])
                    sound, value = joined(parts, pauses, rng), None
                if kind.endswith("in engines"):
                    below = rng.uniform(*ENGINES_BELOW)
                    sound = to_bytes(in_engines(to_samples(sound), below, rng))
                yield Example(speaker, kind, listen, sound, value, own)
    for half in HALVES:
        yield from crowd(folder, half, rng)
    yield from natural(rng)


def half_of(speaker: str) -> str:
    """The half of somebody of whom there are single words."""
    return HALVES[zlib.crc32(speaker.encode()) // 2 % 2]


def half_of_voice(voice: str) -> str:
    """The half of a synthetic voice; one speaker's recordings in two programs are one."""
    name = voice.partition(":")[2] or voice
    same = next((known for known in ("slt", "kal") if known in name), name)
    return HALVES[zlib.crc32(same.encode()) // 2 % 2]


def crowd(folder: Path, half: str, rng: np.random.Generator) -> Iterator[Example]:
    """Strings of which every word is another person's: nothing is known of a voice that is
    heard without enrolment, and so many kinds of voices are heard."""
    digits: dict[str, list[Path]] = {str(n): [] for n in range(10)}
    others, ohs = [], []
    for speaker, word, file in other_people(folder):
        if half_of(speaker) == half and word in OH_FROM:
            ohs.append((word, file))
        if half_of(speaker) == half and word != "tree":
            if word in DIGIT_WORDS:
                digits[str(DIGIT_WORDS.index(word))].append(file)
            else:
                others.append(file)
    if not all(digits.values()) or not others:
        return
    for kind, count, many in (
        ("string", 2, STRINGS // 2),
        ("string", 3, 2 * STRINGS),
        ("string", 4, 2 * STRINGS),
        ("string", 5, STRINGS // 2),
        ("broken", 2, STRINGS),
        ("broken", 3, 2 * STRINGS),
        ("string in engines", 3, STRINGS),
        ("string in engines", 4, STRINGS),
        ("broken in engines", 3, STRINGS),
    ):
        for _ in range(many):
            one = spoken_numbers.spoken(digits, count, PAUSES, rng)
            parts = [trimmed(sound_of(file)) for file in one.files]
            value: float | None = float(one.digits)
            for place, digit in enumerate(one.digits):
                if digit == "0" and rng.random() < SPOKEN_OH:
                    word, file = ohs[rng.integers(len(ohs))]
                    parts[place] = oh_of(word, sound_of(file), rng)
            if kind.startswith("broken"):
                other = trimmed(sound_of(others[rng.integers(len(others))]))
                parts[rng.integers(count)] = other
                value = None
            sound = joined([at_level(part, rng) for part in parts], PAUSES, rng)
            if kind.endswith("in engines"):
                below = rng.uniform(*ENGINES_BELOW)
                sound = to_bytes(in_engines(to_samples(sound), below, rng))
            yield Example(half, kind, spoken_numbers.number_window(count), sound, value, None)


def at_level(samples: Sound, rng: np.random.Generator) -> Sound:
    """Nearly as loud as other words: one person's words are."""
    top = max(1.0, float(np.percentile(np.abs(samples), 99)))
    return np.asarray(samples * (6_000 * rng.uniform(0.7, 1.4) / top), dtype=np.float32)


def natural(rng: np.random.Generator) -> Iterator[Example]:
    """Numbers as synthetic voices say them in one breath, in all three styles."""
    said = natural_numbers(NATURAL, rng)
    places: dict[str, int] = {}
    for voice, text, sound in voices_say(list(said)):
        place = places.setdefault(voice, len(places))
        wanted, value = said[text]
        padded = joined([sound], (0.1, 0.1), rng)
        yield Example(
            half_of_voice(voice), "natural", Listen(1, (), wanted), padded, value, None, place
        )
    # The same with pauses between the words: no digit may be heard for what begins like it.
    words = sorted({word for text in said for word in text.split()})
    spoken = {(voice, word): trimmed(sound) for voice, word, sound in voices_say(words)}
    for voice, place in places.items():
        half = half_of_voice(voice)
        for text in list(said)[:: 1 + (len(said) > 15)]:
            wanted, value = said[text]
            parts = [varied(spoken[voice, word], rng) for word in text.split()]
            padded = joined(parts, PAUSES, rng)
            yield Example(half, "counted", Listen(1, (), wanted), padded, value, None, place)


def set_apart(
    takes: dict[str, list[Path]], rng: np.random.Generator
) -> tuple[dict[str, list[Path]], dict[str, list[Path]]]:
    """Three takes of each digit, and the rest."""
    own, rest = {}, {}
    for digit, files in takes.items():
        mixed = [files[n] for n in rng.permutation(len(files))]
        own[digit], rest[digit] = mixed[:3], mixed[3:]
    return own, rest
