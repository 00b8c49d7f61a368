"""The shipped lists' phrases in the mouths of synthetic voices, for fitting the acceptance.

Each voice in turn is the pilot, and left out of the templates.
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from fit_acceptance import Row
from fit_words import STATES

from runner.checklist.load import find_file, load_procedures, load_voice
from runner.engine.effects import Listen
from runner.engine.lines import Values, values_of
from runner.engine.listening import window_for
from runner.engine.program import Program
from runner.figures.sheet import Sheet
from runner.voice.comparison import ROLES, Comparison, Entry, Finding, Utterance
from runner.voice.matcher import MatcherRecogniser
from runner.voice.prototypes import Prototypes
from runner.voice.words import LEAST, OTHER, WordModel

SYNTHETIC = 1500
"""Utterances of phrases by synthetic voices."""


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
    """The prototypes but for one voice, which is the pilot's."""

    pilot = -1

    def paths(self, text: str) -> tuple[Any, ...]:
        return tuple(p for n, p in enumerate(super().paths(text)) if n != self.pilot)


def without() -> tuple[Without, MatcherRecogniser, Comparison]:
    """Prototypes that a voice can be left out of, and who compares with them."""
    reduced, matcher = Without(), MatcherRecogniser(made=NoneMade())
    matcher._prototypes = reduced
    return reduced, matcher, Comparison(reduced)


def phrase_rows(model: WordModel) -> Iterator[Row]:
    """The shipped windows with each synthetic voice in turn as the pilot."""
    rng = random.Random(5)
    whole, (reduced, matcher, comparison) = Prototypes(), without()
    windows = shipped_windows()
    # A stored path has no chances of the word model; a phrase is none of its words.
    chances = dict.fromkeys(model.classes, LEAST / 2) | {OTHER: -0.02}
    for _ in range(SYNTHETIC):
        listen = rng.choice(windows)
        reduced.pilot = rng.randrange(whole.voices)
        entries = matcher.entries(listen)
        inside = rng.random() < 0.6
        text = rng.choice(entries).text if inside else rng.choice(whole.texts)
        if text in STATES:
            continue
        path = whole.paths(text)[reduced.pilot]
        found = comparison.find(Utterance(path, len(path) * 0.08, chances), entries)
        yield from rows_of(found, entries, text, f"voice {reduced.pilot}")


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
