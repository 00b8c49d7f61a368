"""How a voice speaks and what it listens for: the frozen form of a file in ``voices/``."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

NumberStyle = Literal["cockpit", "icao", "faa"]

Kind = Literal[
    "plain",
    "speed",
    "heading",
    "altitude",
    "pressure",
    "manifold_pressure",
    "rpm",
    "weight",
    "temperature",
    "frequency",
    "distance",
    "percent",
    "angle",
    "duration",
    "count",
    "engine",
    "words",
]
"""What a number is, which decides how it is spoken. ``words`` is text spoken as it stands."""


@dataclass(frozen=True, slots=True)
class Form:
    """How one quantity is written and spoken: its kind, decimals and unit as shown."""

    kind: Kind = "plain"
    decimals: int = 0
    unit: str = ""


@dataclass(frozen=True, slots=True)
class VoiceStyle:
    """One way of speaking: number style, control phrases, what Runner says, pronunciations.

    ``control`` maps a control phrase's name (``say_again``, ``stand_by`` ...) to a response
    pattern; ``phrases`` maps what Runner has to say (``list_complete`` ...) to a template
    with ``<name>`` places; ``synonyms`` maps a word to patterns that mean the same;
    ``pronunciations`` maps a written word to what the synthesiser is given.
    """

    name: str
    language: str = "en"
    numbers: NumberStyle = "cockpit"
    rate: int = 165
    synthesiser_voice: str = ""
    long_form: str = "checklist"
    control: Mapping[str, str] = field(default_factory=dict)
    phrases: Mapping[str, str] = field(default_factory=dict)
    synonyms: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    pronunciations: Mapping[str, str] = field(default_factory=dict)
