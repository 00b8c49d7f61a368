"""The matcher's windows for people's state words: with controls, with own takes."""

from __future__ import annotations

from typing import Any

import speech_data
from runner.checklist.load import find_file, load_voice
from runner.engine.effects import Candidate, Listen
from runner.voice.matcher import Entry
from runner.voice.matcher import MatcherRecogniser as Recogniser


def state_window(word: str, controls: tuple[Candidate, ...] = ()) -> Listen:
    """A window that one state word answers, its opposite competing."""
    other = speech_data.OPPOSITE[word]
    pair = tuple(sorted((word, other)))
    answers = (Candidate(pair[0], "answer", pair[0]), Candidate(pair[1], "competitor", pair[1]))
    return Listen(1, (*answers, *controls))


def controls() -> tuple[Candidate, ...]:
    """The control phrases of the cockpit style that are no state word."""
    style = load_voice(find_file("cockpit", ("voices",)))
    kept = {k: p for k, p in style.control.items() if k not in ("affirm", "negative", "resume")}
    return tuple(Candidate(f"control:{name}", "control", p) for name, p in kept.items())


def own_entries(
    pair: tuple[str, str],
    enrolled: dict[str, list[Any]],
    recogniser: Recogniser,
    commands: tuple[Candidate, ...],
) -> tuple[Entry, ...]:
    """A window's entries where the pair's words were enrolled."""
    rest = recogniser._entries_of(Listen(1, commands))
    mine = (Entry(w, "answer", w, tuple(enrolled[w]), True) for w in pair)
    return (*mine, *rest)
