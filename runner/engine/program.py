"""What a run is made of, parsed: procedures, aircraft and voice style, with indexes."""

from __future__ import annotations

from functools import lru_cache

from runner.checklist.model import (
    Callout,
    Checklist,
    Choice,
    Enter,
    Item,
    Procedures,
    Readback,
    Reading,
    Text,
    Words,
)
from runner.engine.events import RunStarted
from runner.phrasing.style import VoiceStyle


class Program:
    """Procedures and voice style of a run. Compared by identity; never changed once made.

    ``hashes`` are the SHA-256 of the procedures, aircraft and voice snapshots. ``names``
    gives the figures that an item's lines quote or check.
    """

    __slots__ = (
        "callouts",
        "hashes",
        "items",
        "list_of",
        "lists",
        "names",
        "phase_of",
        "place",
        "procedures",
        "rejected_takeoff",
        "style",
    )

    def __init__(
        self, procedures: Procedures, style: VoiceStyle, hashes: tuple[str, str, str] = ("", "", "")
    ) -> None:
        self.procedures = procedures
        self.style = style
        self.hashes = hashes
        self.lists: dict[str, Checklist] = procedures.lists
        self.items: dict[str, Item] = {}
        self.list_of: dict[str, Checklist] = {}
        self.names: dict[str, tuple[str, ...]] = {}
        self.place: dict[str, int] = {}
        self.callouts: dict[str, tuple[Callout, Checklist]] = {}
        self.phase_of: dict[str, int] = {
            checklist.id: number
            for number, phase in enumerate(procedures.phases)
            for checklist in phase.lists
        }
        for checklist in self.lists.values():
            for place, item in enumerate(checklist.items):
                self.place[item.id] = place
                self.items[item.id] = item
                self.list_of[item.id] = checklist
                self.names[item.id] = _names(item)
            for callout in checklist.callouts:
                self.callouts[callout.id] = (callout, checklist)
        self.rejected_takeoff: str = next(
            (c.id for c in procedures.abnormal if c.rejected_takeoff), ""
        )


def _names(item: Item) -> tuple[str, ...]:
    texts: list[Text | None] = [item.challenge, item.short, item.note]
    names: set[str] = set(item.used)
    response = item.response
    words = response.words if isinstance(response, Reading) else response
    if isinstance(words, Words):
        texts += [words.pattern, *words.confusable]
    elif isinstance(response, Readback):
        texts.append(response.shown)
        names.add(response.figure)
    elif isinstance(response, Choice):
        texts += [pattern for _, pattern in response.options]
    elif isinstance(response, Enter):
        names.add(response.input)
    for text in texts:
        if text is not None:
            names |= text.figures
    names.discard("engine")
    return tuple(sorted(names))


def same_program(program: Program | None, started: RunStarted) -> bool:
    """Whether a parsed program is that of a run's snapshots."""
    return program is not None and program.hashes == _hashes(started)


def program_of(started: RunStarted) -> Program:
    """The program of a run, parsed from its snapshots; FileErrors where they do not parse."""
    return _parsed(
        started.procedures.name,
        started.procedures.text,
        started.aircraft.name,
        started.aircraft.text,
        started.voice.name,
        started.voice.text,
        _hashes(started),
    )


def _hashes(started: RunStarted) -> tuple[str, str, str]:
    return started.procedures.sha256, started.aircraft.sha256, started.voice.sha256


@lru_cache(maxsize=8)
def _parsed(
    file: str,
    text: str,
    aircraft_file: str,
    aircraft_text: str,
    voice_file: str,
    voice_text: str,
    hashes: tuple[str, str, str],
) -> Program:
    from runner.checklist.load import load_procedures_text, load_voice_text

    procedures = load_procedures_text(text, file, aircraft_text, aircraft_file)
    return Program(procedures, load_voice_text(voice_text, voice_file), hashes)
