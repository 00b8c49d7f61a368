"""People's recordings as ``RUNNER_SPEECH_DATA`` holds them, and who serves for what.

No speaker serves both to fit and to report: half of them, by a checksum of the name, are for
fitting. Speakers whose words went into the transform are for fitting as well.
"""

from __future__ import annotations

import os
import zlib
from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path

PAIRS = (("on", "off"), ("up", "down"), ("yes", "no"), ("stop", "go"), ("left", "right"))
OPPOSITE = {a: b for pair in PAIRS for a, b in (pair, pair[::-1])}


@dataclass(frozen=True, slots=True)
class Recording:
    """One recording: who said what; ``known`` is whether it is one of the state words."""

    file: Path
    speaker: str
    word: str
    known: bool


def home() -> Path | None:
    """The folder of recordings, or None."""
    named = os.environ.get("RUNNER_SPEECH_DATA")
    return Path(named) if named and Path(named).is_dir() else None


def for_fitting(speaker: str, folder: Path) -> bool:
    """Whether a speaker's recordings may be fitted on; the others are for the report."""
    return zlib.crc32(speaker.encode()) % 2 == 0 or speaker in words_speakers(folder)


_WORDS: dict[Path, frozenset[str]] = {}


def words_speakers(folder: Path) -> frozenset[str]:
    """The speakers of ``words/``."""
    if folder not in _WORDS:
        files = (folder / "words").glob("*/*.wav")
        _WORDS[folder] = frozenset(file.name.split("_")[0] for file in files)
    return _WORDS[folder]


def states(folder: Path) -> list[Recording]:
    """The state words, and other words (``unknown/``)."""
    found = []
    for file in sorted((folder / "states").glob("*/*.wav")):
        kind = file.parent.name
        parts = file.stem.split("_")
        if kind == "unknown":
            found.append(Recording(file, parts[1], parts[0], False))
        elif kind != "silence":
            found.append(Recording(file, parts[0], kind, True))
    return found


def silences(folder: Path) -> list[Path]:
    """Room and noise without speech."""
    return sorted((folder / "states" / "silence").glob("*.wav"))


def digits(folder: Path) -> dict[str, dict[str, list[Path]]]:
    """Digits by speaker and digit, in the order of their numbers."""
    found: dict[str, dict[str, list[Path]]] = defaultdict(lambda: defaultdict(list))
    for file in sorted((folder / "digits").glob("*.wav")):
        digit, speaker, _ = file.stem.split("_")
        found[speaker][digit].append(file)
    return found
