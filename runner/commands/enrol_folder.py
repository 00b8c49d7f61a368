"""Takes from a folder of WAV files: which are taken, which are not, and why."""

from __future__ import annotations

import re
from collections import defaultdict
from pathlib import Path

from runner.errors import RunnerError
from runner.phrasing.normal import normalise
from runner.voice.enrolment import TAKES_EACH, Plan
from runner.voice.recogniser import RATE
from runner.voice.take_checks import Comparison, fault
from runner.voice.takes import Takes
from runner.voice.waves import read_wav

LARGEST_FILE = 20_000_000
"""Bytes; no recording of one phrase is larger."""


def phrase_of(file: Path, folder: Path) -> str:
    """The phrase that a file is a take of: its folder's name, or its own without its number."""
    name = re.sub(r"_\d+$", "", file.stem) if file.parent == folder else file.parent.name
    return normalise(name.replace("-", " ").replace("_", " "))


def take_folder(folder: Path, plan: Plan, takes: Takes, comparison: Comparison) -> None:
    """Keep what the plan still needs of the folder's recordings, and say what became of each.

    Raises ``RunnerError`` where there is no such folder or nothing in it.
    """
    if not folder.is_dir():
        raise RunnerError(f"--from-folder {folder}: there is no such folder")
    try:
        files = [*folder.glob("*"), *folder.glob("*/*")]
    except OSError as error:
        raise RunnerError(f"--from-folder {folder}: cannot be read: {error.strerror}") from error
    by_phrase: dict[str, list[Path]] = defaultdict(list)
    for file in sorted(files):
        if file.suffix.lower() == ".wav" and file.is_file():
            by_phrase[phrase_of(file, folder)].append(file)
    if not by_phrase:
        raise RunnerError(
            f"--from-folder {folder}: there are no WAV files; right would be "
            f"{folder / 'three green' / 'one.wav'} or {folder / 'three-green_1.wav'}"
        )
    needed = {wanted.phrase for wanted in plan.phrases}
    pool: dict[str, list[tuple[Path, bytes]]] = {}
    refused: list[str] = []
    for phrase, found in by_phrase.items():
        if phrase not in needed:
            refused.append(f"'{phrase}' is not among the phrases needed: {_count(len(found))}")
        else:
            pool[phrase] = _readable(found, phrase, refused)
    taken = _chosen(pool, plan, takes, comparison, refused)
    for phrase, sounds in taken.items():
        for sound in sounds:
            takes.add(phrase, sound)
    for line in refused:
        print(f"not taken: {line}")
    whole = sum(map(len, taken.values()))
    kept = ", ".join(f"{phrase} ({len(sounds)})" for phrase, sounds in taken.items() if sounds)
    print(f"taken: {_count(whole)}{': ' + kept if kept else ''}")


def _count(files: int) -> str:
    return "1 file" if files == 1 else f"{files} files"


def _readable(files: list[Path], phrase: str, refused: list[str]) -> list[tuple[Path, bytes]]:
    found: list[tuple[Path, bytes]] = []
    for file in files:
        try:
            if file.stat().st_size > LARGEST_FILE:
                raise ValueError("larger than any recording of one phrase")
            sound = read_wav(file, RATE)
        except (ValueError, OSError) as error:
            reason = str(error).removeprefix(f"{file}: ")
            refused.append(f"{file}: {reason}")
            continue
        if wrong := fault(sound, phrase):
            refused.append(f"{file}: {wrong}")
        elif any(sound == other for _, other in found):
            refused.append(f"{file}: the same recording as another one")
        else:
            found.append((file, sound))
    return found


def _chosen(
    pool: dict[str, list[tuple[Path, bytes]]],
    plan: Plan,
    takes: Takes,
    comparison: Comparison,
    refused: list[str],
) -> dict[str, list[bytes]]:
    """Up to three takes of each phrase that sound like one another."""
    known = {wanted.phrase: [*takes.enrolled(wanted.phrase)] for wanted in plan.phrases}
    old = {phrase: len(sounds) for phrase, sounds in known.items()}
    names = {sound: file for found in pool.values() for file, sound in found}
    spare: dict[str, list[bytes]] = {}
    for phrase, found in pool.items():
        fresh = [sound for _, sound in found if sound not in known[phrase]]
        for file, sound in found:
            if sound in known[phrase]:
                refused.append(f"{file}: is among the takes already")
        free = max(0, TAKES_EACH - old[phrase])
        known[phrase] += fresh[:free]
        spare[phrase] = fresh[free:]
    combined = comparison.of(lambda phrase: known.get(phrase, ()))
    others = [phrase for phrase in known if known[phrase]]
    for phrase in pool:
        while (doubt := combined.doubt(phrase, others)) is not None and doubt.place >= old[phrase]:
            odd = known[phrase].pop(doubt.place)
            refused.append(f"{names[odd]}: {doubt.reason}")
            if spare[phrase]:
                known[phrase].append(spare[phrase].pop(0))
        for sound in spare[phrase]:
            refused.append(f"{names[sound]}: '{phrase}' has its {TAKES_EACH} takes")
    return {phrase: known[phrase][old[phrase] :] for phrase in pool}
