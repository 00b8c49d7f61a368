"""Numbers said in windows that want one: strings of digits, broken ones, and in one breath."""

from __future__ import annotations

import zlib
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from number_words import other_people, voices_say

import speech_data
import spoken_numbers
from runner.engine.effects import Listen, NumberWanted
from runner.phrasing.numbers import say_number
from runner.phrasing.numeral_words import DIGIT_WORDS, DIGITS
from runner.phrasing.style import Form, NumberStyle
from runner.voice.embedding import to_samples, trimmed
from spoken_numbers import HURRIED, PAUSES, Sound, in_engines, joined, sound_of, to_bytes

STRINGS = 22
"""Strings of each length and speaker; of three and four digits twice as many."""

ENGINES_BELOW = (8.0, 20.0)
"""dB from the voice down to the engines, of the examples in their noise."""

NATURAL = 10
"""Numbers that every synthetic voice says in one breath."""

NATURAL_NUMBERS = (
    NumberWanted(Form("speed", 0, "kt"), 60, 200),
    NumberWanted(Form("manifold_pressure", 1, "inHg"), 20, 60),
    NumberWanted(Form("rpm", 0, "rpm"), 1000, 3000),
    NumberWanted(Form("altitude", 0, "ft"), 500, 15_000),
    NumberWanted(Form("pressure", 2, "inHg"), 28.5, 31.0),
    NumberWanted(Form("temperature", 0, "degC"), -20, 40),
)
NUMBER_STYLES: tuple[NumberStyle, ...] = ("cockpit", "icao", "faa")

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


def examples(folder: Path) -> Iterator[Example]:
    """Strings by each speaker, and what is no number; three takes of each digit stand apart."""
    rng = np.random.default_rng(21)
    others = [file for _, word, file in other_people(folder) if word not in (*DIGIT_WORDS, "tree")]
    for speaker, takes in speech_data.digits(folder).items():
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
            for _ in range(many):
                own, rest = set_apart(takes, rng)
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


def crowd(folder: Path, half: str, rng: np.random.Generator) -> Iterator[Example]:
    """Strings of which every word is another person's: nothing is known of a voice that is
    heard without enrolment, and so many kinds of voices are heard."""
    digits: dict[str, list[Path]] = {str(n): [] for n in range(10)}
    others = []
    for speaker, word, file in other_people(folder):
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
    said: dict[str, tuple[NumberWanted, float]] = {}
    while len(said) < NATURAL:
        wanted = NATURAL_NUMBERS[int(rng.integers(len(NATURAL_NUMBERS)))]
        form = wanted.form
        value = round(float(rng.uniform(wanted.low, wanted.high)), form.decimals)
        if form.kind in ("altitude", "weight"):
            value = round(value, -2)
        elif form.kind == "rpm":
            value = float(round(value / 50) * 50)
        style = NUMBER_STYLES[int(rng.integers(3))]
        text = say_number(value, form, style)
        if form.decimals == 1 and value % 1 == 0.5 and style == "cockpit":
            text = f"{say_number(value - 0.5, replace(form, decimals=0), style)} and a half"
        said[text] = (wanted, value)
    order: dict[str, str] = {}
    for voice, text, sound in voices_say(list(said)):
        half = order.setdefault(voice, HALVES[len(order) % 2])
        wanted, value = said[text]
        padded = joined([sound], (0.1, 0.1), rng)
        yield Example(half, "natural", Listen(1, (), wanted), padded, value, None)
    # The same with pauses between counted words: no digit may be heard for what begins like it.
    counted = [text for text in said if not set(text.split()) <= set(DIGITS)]
    words = sorted({word for text in counted for word in text.split()})
    spoken = {(voice, word): trimmed(sound) for voice, word, sound in voices_say(words)}
    for voice, half in order.items():
        for text in counted:
            wanted, value = said[text]
            padded = joined([spoken[voice, word] for word in text.split()], PAUSES, rng)
            yield Example(half, "counted", Listen(1, (), wanted), padded, value, None)


def set_apart(
    takes: dict[str, list[Path]], rng: np.random.Generator
) -> tuple[dict[str, list[Path]], dict[str, list[Path]]]:
    """Three takes of each digit, and the rest."""
    own, rest = {}, {}
    for digit, files in takes.items():
        mixed = [files[n] for n in rng.permutation(len(files))]
        own[digit], rest[digit] = mixed[:3], mixed[3:]
    return own, rest
