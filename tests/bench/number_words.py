"""What the model of the words of numbers is fitted on: people, synthetic voices, and pieces."""

from __future__ import annotations

import random
import tempfile
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

import speech_data
from runner.engine.effects import NumberWanted
from runner.phrasing.numbers import say_number
from runner.phrasing.numeral_words import DIGIT_WORDS, TEENS, TENS
from runner.phrasing.style import Form, NumberStyle
from runner.voice.embedding import Embedder, to_samples, trimmed
from runner.voice.number_alignment import Aligner
from runner.voice.number_hearing import halves_whole
from runner.voice.words import OTHER, WordModel, features
from spoken_numbers import in_engines, joined, sound_of

RATE = 16_000
NATURAL_NUMBERS = (
    NumberWanted(Form("speed", 0, "kt"), 60, 200),
    NumberWanted(Form("manifold_pressure", 1, "inHg"), 20, 60),
    NumberWanted(Form("rpm", 0, "rpm"), 1000, 3000),
    NumberWanted(Form("altitude", 0, "ft"), 500, 15_000),
    NumberWanted(Form("pressure", 2, "inHg"), 28.5, 31.0),
    NumberWanted(Form("temperature", 0, "degC"), -20, 40),
)
NUMBER_STYLES: tuple[NumberStyle, ...] = ("cockpit", "icao", "faa")

MORE = ("point", "decimal", "and a half")
COUNTED = (*DIGIT_WORDS, "oh", "niner", *TEENS, *TENS, "hundred", "thousand", *MORE)
"""Words of numbers that synthetic voices say."""

OH_FROM = {"go": (0.08, 0.12), "no": (0.11, 0.16)}
"""Words of which what is left after so many seconds is "oh": nobody has recorded that one."""

IN_BREATH = 36
"""Numbers that every synthetic voice says in one breath, cut into their words."""

STRENGTH = 0.01
"""Inverse strength of the ridge on standardised features of words."""

DIGIT_WEIGHT = 0.2
"""Weight of a row of the few speakers with very many digits."""

VARIATIONS = 7
VARIATIONS_OF_DIGITS = 2
VARIATIONS_OF_VOICES = 2
JOINED = 1500
PIECES = 600
NOISES = 300
"""Digits run together, pieces of digits, and of engines, of the class "other"."""

IN_ENGINES = 0.35
ENGINES_BELOW = (4.0, 25.0)
"""Share of the variations that are heard in engine noise, and how many dB this is below them."""

Sound = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Row:
    """One sound as a row of features; ``weight`` counts it."""

    speaker: str
    label: str
    row: NDArray[np.float64]
    weight: float = 1.0
    plain: bool = True


def varied(samples: Sound, rng: np.random.Generator) -> Sound:
    """The same word as somebody else, another microphone and another room might give it."""
    from scipy.signal import butter, lfilter, resample_poly, sosfilt

    out: Any = resample_poly(samples, 100, int(rng.choice([86, 90, 95, 100, 105, 110, 118])))
    out = lfilter([1, rng.uniform(-0.5, 0.5)], [1], out)
    if rng.random() < 0.6:
        out = sosfilt(butter(8, 3_800, fs=RATE, output="sos"), out)
    if rng.random() < 0.5:
        noise: Any = rng.normal(size=len(out))
        if rng.random() < 0.5:
            noise = lfilter([1], [1, -0.95], noise)
        level = np.percentile(np.abs(out), 99) / 2 * 10 ** (-rng.uniform(12, 35) / 20)
        out = out + noise / noise.std() * level
    return np.asarray(out, dtype=np.float32)


class Words:
    """Everything that the model of words is fitted on."""

    def __init__(self, folder: Path) -> None:
        self.embedder = Embedder()
        self.rng = np.random.default_rng(5)
        self.rows: list[Row] = []
        self.voices: dict[str, None] = {}
        self.digits: dict[str, dict[str, list[Sound]]] = defaultdict(lambda: defaultdict(list))
        self._people(folder)
        self._voices()
        self._in_breath()
        self._joined_and_pieces()

    def add(
        self, speaker: str, label: str, sound: Sound, variations: int = 0, weight: float = 1.0
    ) -> None:
        """One sound and its variations."""
        pad = round(0.2 * RATE)
        for number in range(variations + 1):
            one = varied(sound, self.rng) if number else sound
            padded = np.pad(one, (pad, pad)) + self.rng.normal(0, 4, len(one) + 2 * pad)
            if number and self.rng.random() < IN_ENGINES:
                padded = in_engines(padded, self.rng.uniform(*ENGINES_BELOW), self.rng)
            said = self.embedder.path(padded.astype(np.float32))
            row = features(said.embedded, said.seconds)
            self.rows.append(Row(speaker, label, row, weight, number == 0))

    def _people(self, folder: Path) -> None:
        for speaker, takes in speech_data.digits(folder).items():
            for digit, files in takes.items():
                word = DIGIT_WORDS[int(digit)]
                for file in files:
                    sound = sound_of(file)
                    self.digits[speaker][word].append(sound)
                    self.add(speaker, word, sound, VARIATIONS_OF_DIGITS, DIGIT_WEIGHT)
        for speaker, word, file in other_people(folder):
            # The radio's "tree" is a three; a real tree must not stand for another word.
            if word in OH_FROM:
                for _ in range(3):
                    self.add(speaker, "oh", oh_of(word, sound_of(file), self.rng), 1, 0.5)
            if word != "tree":
                label = word if word in DIGIT_WORDS else OTHER
                self.add(speaker, label, sound_of(file), VARIATIONS if label == word else 1)
                if label == word:
                    self.digits[speaker][word].append(sound_of(file))

    def _voices(self) -> None:
        for voice, word, sound in voices_say(COUNTED):
            self.voices[voice] = None
            self.add(voice, word, sound, VARIATIONS_OF_VOICES)
            if word in DIGIT_WORDS:
                self.digits[voice][word].append(sound)

    def _in_breath(self) -> None:
        """The words of numbers as voices say them in one breath, cut where PocketSphinx would."""
        aligner = Aligner()
        texts = list(natural_numbers(IN_BREATH, np.random.default_rng(8)))
        for voice, text, sound in voices_say(texts):
            for number in range(VARIATIONS_OF_VOICES):
                one = varied(sound, self.rng) if number else sound
                whole = joined([one], (0.1, 0.1), self.rng)
                samples = to_samples(whole)
                for word, start, end in halves_whole(aligner.places(whole, text)):
                    if word in COUNTED:
                        said = self.embedder.path(samples[start:end])
                        row = features(said.embedded, said.seconds)
                        self.rows.append(Row(voice, word, row, 0.5, number == 0))
        aligner.close()

    def _joined_and_pieces(self) -> None:
        choose = random.Random(5)
        speakers = [s for s, words in self.digits.items() if len(words) >= 2]
        for _ in range(JOINED):
            speaker = choose.choice(speakers)
            words = self.digits[speaker]
            parts = [
                trimmed(choose.choice(words[choose.choice(sorted(words))]))
                for _ in range(choose.choice((2, 2, 2, 3)))
            ]
            sound = joined(parts, (0.0, 0.2), self.rng)
            self.add(speaker, OTHER, to_samples(sound), int(choose.random() < 0.3), 0.7)
        for _ in range(NOISES):
            length = round(RATE * self.rng.uniform(0.1, 0.6))
            quiet = self.rng.normal(0, 1, length).astype(np.float32)
            noise = in_engines(quiet * 100, -20.0, self.rng)
            self.add("engines", OTHER, noise.astype(np.float32), 0, 0.5)
        for _ in range(PIECES):
            speaker = choose.choice(sorted(self.digits))
            words = self.digits[speaker]
            sound = trimmed(choose.choice(words[choose.choice(sorted(words))]))
            # What is left of a word that has lost less may well be heard as that word.
            cut = round(len(sound) * choose.uniform(0.2, 0.4))
            piece = sound[:cut] if choose.random() < 0.3 else sound[-cut:]
            if len(piece) > 0.06 * RATE:
                self.add(speaker, OTHER, piece, 0, 0.3)


def oh_of(word: str, sound: Sound, rng: np.random.Generator) -> Sound:
    """The "oh" at the end of a word, beginning softly."""
    after = round(rng.uniform(*OH_FROM[word]) * RATE)
    whole = trimmed(sound)
    found = whole[min(after, max(0, len(whole) - RATE // 10)) :].copy()
    soft = min(len(found), RATE // 50)
    found[:soft] *= np.linspace(0, 1, soft, dtype=np.float32)
    return found


def natural_numbers(
    count: int, rng: np.random.Generator
) -> Mapping[str, tuple[NumberWanted, float]]:
    """Numbers as they are said in all three styles: the window and the value of each text."""
    said: dict[str, tuple[NumberWanted, float]] = {}
    while len(said) < count:
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
    return said


def other_people(folder: Path) -> Iterator[tuple[str, str, Path]]:
    """Speaker, word and file of single words that may be fitted on."""
    for one in speech_data.states(folder):
        if speech_data.for_fitting(one.speaker, folder):
            yield one.speaker, one.word, one.file
    for file in sorted((folder / "words").glob("*/*.wav")):
        yield file.name.split("_")[0], file.parent.name, file


def voices_say(texts: Sequence[str]) -> Iterator[tuple[str, str, Sound]]:
    """Every synthetic voice of this machine saying each text."""
    from prototypes import ESPEAK
    from runner.voice.synthesis import Synthesiser
    from sound import speak_to_file, voices

    synthesiser = Synthesiser()
    with tempfile.TemporaryDirectory() as named:
        folder = Path(named)
        made = folder / "made.wav"
        for text in texts:
            for voice in voices():
                yield voice, text, sound_of(speak_to_file(voice, text, folder))
            for voice, rate in ESPEAK:
                for attempt in range(4):
                    made.unlink(missing_ok=True)
                    try:
                        synthesiser.make(text, voice, rate, made)
                        break
                    except RuntimeError:
                        # The synthesiser now and then forgets an order.
                        if attempt == 3:
                            raise
                yield voice, text, sound_of(made)


def train(rows: Sequence[Row]) -> WordModel:
    """The model of words fitted on these."""
    from sklearn.linear_model import LogisticRegression

    points = np.array([row.row for row in rows], dtype=np.float32)
    labels = np.array([row.label for row in rows])
    plain = points[[row.plain for row in rows]]
    mean, spread = plain.mean(axis=0), float(plain.std(axis=0).mean())
    weights = [row.weight for row in rows]
    fitted = LogisticRegression(C=STRENGTH, max_iter=120, tol=1e-3)
    fitted.fit((points - mean) / spread, labels, sample_weight=weights)
    return WordModel(
        tuple(str(name) for name in fitted.classes_),
        mean.astype(np.float16).astype(np.float32),
        spread,
        fitted.coef_.astype(np.float16).astype(np.float32),
        fitted.intercept_.astype(np.float32),
    )
