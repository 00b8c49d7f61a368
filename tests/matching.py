"""The matcher's windows for people's words: with controls, with own takes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import speech_data
from runner.checklist.load import find_file, load_voice
from runner.engine.effects import Candidate, Listen
from runner.voice.comparison import Entry


def window(first: str, second: str, commands: tuple[Candidate, ...] = ()) -> Listen:
    """A window in which one text is the answer and the other one competes."""
    answers = (Candidate(first, "answer", first), Candidate(second, "competitor", second))
    return Listen(1, (*answers, *commands))


def state_window(word: str, commands: tuple[Candidate, ...] = ()) -> Listen:
    """A window that one state word answers, its opposite competing."""
    first, second = sorted((word, speech_data.OPPOSITE[word]))
    return window(first, second, commands)


def controls() -> tuple[Candidate, ...]:
    """The control phrases of the cockpit style that are no state word."""
    style = load_voice(find_file("cockpit", ("voices",)))
    kept = {k: p for k, p in style.control.items() if k not in ("affirm", "negative", "resume")}
    return tuple(Candidate(f"control:{name}", "control", p) for name, p in kept.items())


def own_entries(
    plain: Sequence[Entry],
    enrolled: Mapping[str, Sequence[Any]],
) -> tuple[tuple[Entry, ...], tuple[tuple[Any, ...], ...]]:
    """A window's entries where these texts were enrolled, and the takes of all other texts."""
    entries = tuple(
        Entry(e.candidate, e.role, e.text, e.paths, tuple(enrolled.get(e.text, ()))) for e in plain
    )
    allowed = {entry.text for entry in entries}
    return entries, tuple(tuple(takes) for text, takes in enrolled.items() if text not in allowed)
