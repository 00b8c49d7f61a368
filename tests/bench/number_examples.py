"""Numbers said in windows that want one: strings of digits, broken ones, and in one breath."""

from __future__ import annotations

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
from runner.voice.embedding import trimmed
from spoken_numbers import HURRIED, PAUSES, joined, sound_of

STRINGS = 40
"""Strings of each length and speaker; of three and four digits twice as many."""

NATURAL = 14
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

VOICE_HALVES = ("first voices", "second voices")
"""Synthetic voices count as two speakers."""


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
            ("broken", 3, PAUSES, STRINGS),
            ("broken", 2, PAUSES, STRINGS // 2),
        ):
            for _ in range(many):
                own, rest = set_apart(takes, rng)
                one = spoken_numbers.spoken(rest, count, pauses, rng)
                listen = spoken_numbers.number_window(count)
                value: float | None = float(one.digits)
                sound = one.sound
                if kind == "broken":
                    # One of the words is no word of a number: nothing may come of it.
                    parts = [sound_of(file) for file in one.files]
                    parts[rng.integers(count)] = sound_of(others[rng.integers(len(others))])
                    sound, value = joined(parts, pauses, rng), None
                yield Example(speaker, kind, listen, sound, value, own)
    yield from natural(rng)


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
        half = order.setdefault(voice, VOICE_HALVES[len(order) % 2])
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
