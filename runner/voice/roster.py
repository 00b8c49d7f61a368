"""Which recognisers a run would listen with, and why not with the others.

Nothing is loaded here: a recogniser counts as there when its package and its model's files are.
"""

from __future__ import annotations

import importlib.util
from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Standing:
    """A recogniser: whether a run listens with it when none is asked for, and why or why not."""

    name: str
    used: bool
    why: str


def roster(language: str = "en") -> tuple[Standing, ...]:
    """All recognisers, in the order in which ``runner.voice.recogniser.choose`` takes them."""
    lacking = {
        "matcher": _matcher(language),
        "vosk": _vosk(),
        "whisper": _whisper(),
    }
    found = [Standing(name, not why, why or ROLES[name]) for name, why in lacking.items()]
    others = [one.name for one in found if one.used and one.name != "matcher"]
    why = _missing("pocketsphinx")
    if not why and others:
        why = f"{' and '.join(others)} listens instead"
    found.append(Standing("pocketsphinx", not why, why or _pocket_role(found)))
    return tuple(found)


ROLES = {
    "matcher": "words, by how they sound",
    "vosk": "all answers",
    "whisper": "all answers",
}
"""What each recogniser is used for."""


def in_words(standings: Sequence[Standing]) -> str:
    """Sentences about all of them: "A run listens with ...; not with vosk: it has no model."."""
    used = [f"{one.name} ({one.why})" for one in standings if one.used]
    listens = f"A run listens with {' and '.join(used)}" if used else "A run cannot listen"
    nots = [f"not with {one.name}: {one.why}" for one in standings if not one.used]
    return "; ".join([listens, *nots]) + "."


def _pocket_role(found: Sequence[Standing]) -> str:
    return "numbers" if any(one.used for one in found) else "all answers"


def _missing(*packages: str) -> str:
    missing = [name for name in packages if importlib.util.find_spec(name) is None]
    return f"{' and '.join(missing)} not installed" if missing else ""


def _matcher(language: str) -> str:
    why = _missing("onnxruntime", "openwakeword")
    if why or language.startswith("en"):
        return why
    from runner.voice.takes import Takes

    return "" if Takes().phrases() else f"it needs your own voice for {language}"


def _vosk() -> str:
    from runner.voice.vosk_model import model_folder

    why = _missing("vosk")
    if why:
        return why
    folder = model_folder()
    if folder is None:
        return "it has no model"
    return "" if any(folder.glob("**/final.mdl")) else f"{folder} holds no Vosk model"


def _whisper() -> str:
    from runner.voice.whisper import missing_parts, model_folder

    folder = model_folder()
    if folder is None:
        return "it has no model"
    lacking = missing_parts(folder)
    if lacking:
        return f"{folder} holds no {', no '.join(lacking)}"
    return _missing("faster_whisper").replace("_", "-")
