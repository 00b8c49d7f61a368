"""Loading files into frozen data. Each function raises ``FileErrors`` with all that is wrong."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Literal

from runner.checklist.files import find_file, read_bytes
from runner.checklist.problems import FileErrors, Problems

if TYPE_CHECKING:
    from runner.checklist.aircraft import Places
    from runner.checklist.model import Procedures
    from runner.checklist.nodes import Mapping
    from runner.figures.model import Aircraft
    from runner.phrasing.style import VoiceStyle

Kind = Literal["procedures", "aircraft", "voice", "feed"]

__all__ = [
    "FileErrors",
    "find_file",
    "load_aircraft",
    "load_aircraft_text",
    "load_procedures",
    "load_procedures_text",
    "load_voice",
    "load_voice_text",
]


def load_procedures(path: str | Path) -> Procedures:
    """A procedures file (a path, or the name of a shipped one) with the aircraft it names."""
    file = find_file(path, ("checklists",))
    text = read_text(file)
    problems = Problems()
    root = compose_kind(text, str(file), "procedures", problems)
    aircraft = aircraft_of(root, file, problems) if root is not None else None
    return _procedures(root, text, str(file), aircraft, problems)


def load_procedures_text(
    text: str, file: str, aircraft_text: str, aircraft_file: str
) -> Procedures:
    """The same from texts, as they stand in a stored run; ``file`` names them in messages."""
    problems = Problems()
    root = compose_kind(text, file, "procedures", problems)
    return _procedures(root, text, file, (aircraft_text, aircraft_file), problems)


def load_aircraft(path: str | Path) -> Aircraft:
    """An aircraft file: a path, or the name of a shipped one."""
    file = find_file(path, ("checklists",))
    return load_aircraft_text(read_text(file), str(file))


def load_aircraft_text(text: str, file: str) -> Aircraft:
    """An aircraft file from its text."""
    problems = Problems()
    aircraft, _ = read_aircraft_text(text, file, problems)
    problems.stop_on_errors()
    assert aircraft is not None
    return aircraft


def load_voice(name: str | Path) -> VoiceStyle:
    """A voice: a path, or the name of a shipped one, such as ``cockpit``."""
    file = find_file(name, ("voices",))
    return load_voice_text(read_text(file), str(file))


def load_voice_text(text: str, file: str) -> VoiceStyle:
    """A voice from its text."""
    from runner.checklist.voice import read_voice

    problems = Problems()
    root = compose_kind(text, file, "voice", problems)
    style = read_voice(root, problems) if root is not None else None
    problems.stop_on_errors()
    assert style is not None
    return style


def read_text(path: Path) -> str:
    """The file as text. Raises ``FileErrors`` where it cannot be read or is not UTF-8."""
    from runner.checklist.nodes import decode

    problems = Problems()
    text = decode(read_bytes(path), str(path), problems)
    problems.stop_on_errors()
    assert text is not None
    return text


def kind_of(root: Mapping) -> Kind | None:
    """What a file is, by its top keys."""
    if root.get("procedures") is not None:
        return "procedures"
    if root.get("feed") is not None:
        return "feed"
    if root.get("aircraft") is not None:
        return "aircraft"
    return "voice" if root.get("voice") is not None else None


def compose_kind(text: str, file: str, kind: Kind, problems: Problems) -> Mapping | None:
    """The top mapping of a file of that kind, or None with the reason noted."""
    from runner.checklist.nodes import compose

    root = compose(text, file, problems)
    if root is None:
        return None
    found = kind_of(root)
    if found is not None and found != kind:
        problems.error(
            root.where, f"this is a file with the key '{found}'; one with '{kind}' is wanted here"
        )
        return None
    return root


def aircraft_of(root: Mapping, file: Path, problems: Problems) -> tuple[str, str] | None:
    """Text and name of the aircraft file that a procedures file or a feed map names."""
    from runner.checklist.nodes import Scalar

    named = root.get("aircraft")
    if not isinstance(named, Scalar) or not named.text.strip():
        return None
    try:
        beside = file.parent / named.text
        path = beside if beside.exists() else find_file(named.text, ("checklists",))
        return read_text(path), str(path)
    except FileErrors as errors:
        for error in errors.errors:
            inside = error.where.line > 0
            where = error.where if inside else named.where
            problems.error(where, error.message if inside else f"{named.text}: {error.message}")
        return None
    except (OSError, ValueError):
        problems.error(named.where, "this is not the name of a file")
        return None


def read_aircraft_text(
    text: str, file: str, problems: Problems
) -> tuple[Aircraft | None, Places | None]:
    """An aircraft and the places of its names, with what is wrong noted."""
    root = compose_kind(text, file, "aircraft", problems)
    return (None, None) if root is None else read_aircraft_root(root, text, file, problems)


def read_aircraft_root(
    root: Mapping, text: str, file: str, problems: Problems
) -> tuple[Aircraft, Places]:
    """What could be read of an aircraft file, with what is wrong noted."""
    from runner.checklist.aircraft import read_aircraft

    return read_aircraft(root, text, file, problems)


def _procedures(
    root: Mapping | None,
    text: str,
    file: str,
    aircraft: tuple[str, str] | None,
    problems: Problems,
) -> Procedures:
    made = read_procedures_root(root, text, file, aircraft, problems)
    problems.stop_on_errors()
    assert made is not None
    return made


def read_procedures_root(
    root: Mapping | None,
    text: str,
    file: str,
    aircraft: tuple[str, str] | None,
    problems: Problems,
) -> Procedures | None:
    """Procedures and what is wrong with them and with their aircraft."""
    from runner.checklist.context import Context
    from runner.checklist.crosscheck import cross_check
    from runner.checklist.procedures import read_procedures

    craft, declared = None, None
    if aircraft is not None:
        craft, declared = read_aircraft_text(*aircraft, problems)
    if root is None:
        return None
    if craft is None or declared is None:
        if not problems.errors:
            problems.error(root.where, "a procedures file needs the key 'aircraft'")
        return None
    context = Context.of(craft, declared, problems)
    made = read_procedures(root, text, file, context)
    cross_check(made, context)
    return made
