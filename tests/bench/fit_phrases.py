"""The shipped lists' phrases in the mouths of synthetic voices, for fitting the acceptance.

Each of this machine's recorded voices in turn is the pilot, and left out of the templates. Needs
sox, and voices of flite or festival.
"""

from __future__ import annotations

import random
import tempfile
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from fit_acceptance import Row
from fit_words import STATES

from runner.checklist.load import find_file, load_procedures, load_voice
from runner.engine.effects import Listen
from runner.engine.lines import Values, values_of
from runner.engine.listening import window_for
from runner.engine.program import Program
from runner.figures.sheet import Sheet
from runner.voice.comparison import ROLES, Comparison, Entry, Finding, Utterance
from runner.voice.embedding import to_samples
from runner.voice.matcher import MatcherRecogniser
from runner.voice.prototypes import Prototypes
from runner.voice.waves import read_wav
from runner.voice.words import WordModel
from sound import changed, same_speaker, speak_to_file, voices

RATE = 16_000
SYNTHETIC = 1800
"""Utterances of phrases by this machine's recorded voices."""

PITCHES = (-220, -120, -40, 0, 40, 120, 220)
TEMPOS = (0.85, 0.95, 1.0, 1.05, 1.15)
"""Hundredths of a semitone, and factors, by which a voice is made another's."""


class NoneMade:
    """No templates by this machine's voices: what is fitted depends on no cache of anybody's."""

    def paths(self, text: str) -> tuple[Any, ...]:  # noqa: ARG002
        """None."""
        return ()

    def make(self, texts: Iterable[str]) -> None:
        """None."""

    def close(self) -> None:
        """Nothing to end."""


class Without(Prototypes):
    """The prototypes but for one voice, which is the pilot's, and others of the same speaker."""

    pilot = -1

    def paths(self, text: str) -> tuple[Any, ...]:
        out = left_out(self.pilot)
        return tuple(p for n, p in enumerate(super().paths(text)) if n not in out)


@cache
def left_out(place: int) -> frozenset[int]:
    """The places among the prototypes of a voice and of the same speaker's other recordings."""
    those = voices()
    return same_speaker(those[place]) if 0 <= place < len(those) else frozenset((place,))


def without() -> tuple[Without, MatcherRecogniser, Comparison]:
    """Prototypes that a voice can be left out of, and who compares with them."""
    reduced, matcher = Without(), MatcherRecogniser(made=NoneMade())
    matcher._prototypes = reduced
    return reduced, matcher, Comparison(reduced)


def phrase_rows(
    model: WordModel,
    count: int = SYNTHETIC,
    around: Callable[[Any, random.Random], Any] | None = None,
) -> Iterator[Row]:
    """The shipped windows with each recorded voice in turn as the pilot, at another pitch and
    tempo: people differ more from one another than the few voices do. ``around`` puts what was
    said into engine noise."""
    rng = random.Random(5 if around is None else 7)
    those, (reduced, matcher, comparison) = voices(), without()
    windows, every = shipped_windows(), Prototypes().texts
    with tempfile.TemporaryDirectory() as named:
        folder = Path(named)
        for number in range(count if those else 0):
            reduced.pilot = number % len(those)
            entries = matcher.entries(rng.choice(windows))
            wanted = [e for e in entries if e.role in ROLES]
            text = rng.choice(wanted if rng.random() < 0.8 else entries).text
            if rng.random() < 0.35:
                text = rng.choice(every)
            if text in STATES:
                continue
            file = speak_to_file(those[reduced.pilot], text, folder)
            file = changed(file, folder, rng.choice(PITCHES), rng.choice(TEMPOS))
            samples = to_samples(read_wav(file, RATE))
            if around is None:
                path = matcher._embedder.path(quietly(samples, number))
            else:
                path = matcher._embedder.path(around(samples, rng))
            chances = model.chances(path.embedded, path.seconds)
            place = matcher._transform(path.embedded)
            said = Utterance(place, path.seconds, chances, around is not None)
            found = comparison.find(said, entries)
            yield from rows_of(found, entries, text, f"voice {min(left_out(reduced.pilot))}")


def quietly(samples: Any, seed: int) -> Any:
    """A sound with a little of a quiet room before, under and after it."""
    pad = round(0.25 * RATE)
    padded = np.pad(samples, (pad, pad))
    noise = np.random.default_rng(seed).normal(0, 4, len(padded))
    return (padded + noise).astype(np.float32)


def rows_of(
    found: Iterable[Finding], entries: Sequence[Entry], text: str, voice: str
) -> Iterator[Row]:
    """What was found where a voice said this text."""
    said = {entry.text: entry for entry in reversed(entries)}.get(text)
    for finding in found:
        asked = finding.entry.role in ROLES
        here = said is not None and (said.role in ROLES) == asked
        right = here and said is not None and said.candidate == finding.entry.candidate
        yield Row(finding.kind, finding.features, asked, here, right, voice)


def shipped_items() -> Iterator[tuple[Program, str, Values, Listen]]:
    """The shipped procedures' items of words that have a competitor: the program, the item, the
    values in its texts, and its window."""
    style = load_voice(find_file("cockpit", ("voices",)))
    for name in ("whimbrel-four", "sanderling"):
        procedures = load_procedures(find_file(name, ("checklists",)))
        program = Program(procedures, style, ("", "", ""))
        figures = Sheet(procedures.aircraft).work_out({}).figures
        for item in program.items:
            values = values_of(program, figures, item)
            found, number = window_for(program, "item", item, 1, values, (), 0)
            if number is None and any(c.role == "competitor" for c in found):
                yield program, item, values, Listen(1, found)


def shipped_windows() -> list[Listen]:
    """The windows of these items."""
    return [listen for *_, listen in shipped_items()]
