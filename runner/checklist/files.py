"""Finding files: a path, or the name of a file that ships with Runner."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Literal

from runner.checklist.model import Where
from runner.checklist.nodes import MAX_BYTES
from runner.checklist.problems import FileErrors, Problem, did_you_mean

Folder = Literal["checklists", "voices"]
FOLDERS: tuple[Folder, ...] = ("checklists", "voices")
SUFFIX = ".yaml"


def shipped(folder: Folder) -> Path:
    """The folder of shipped files: inside the package, or beside it in a source tree."""
    package = Path(__file__).resolve().parent.parent
    inside = package / "shipped" / folder
    return inside if inside.is_dir() else package.parent / folder


def shipped_files() -> Iterator[Path]:
    """Every shipped file."""
    for folder in FOLDERS:
        yield from sorted(shipped(folder).glob("*" + SUFFIX))


def find_file(name: str | Path, folders: Iterable[Folder] = FOLDERS) -> Path:
    """The file of that path, or the shipped file of that name (its suffix may be left out).

    Raises ``FileErrors`` with the nearest shipped name where there is none.
    """
    try:
        if Path(name).exists():
            return Path(name)
        plain = Path(name)
        if plain.name == str(name):
            for folder in folders:
                for wanted in (plain.name, plain.name + SUFFIX):
                    if (path := shipped(folder) / wanted).is_file():
                        return path
    except (OSError, ValueError):
        pass
    known = [path.stem for folder in folders for path in sorted(shipped(folder).glob("*.yaml"))]
    near = did_you_mean(Path(name).name.removesuffix(SUFFIX), known)
    raise FileErrors([Problem(Where(str(name), 0, 0), f"there is no such file{near}")])


def read_bytes(path: Path) -> bytes:
    """The file's bytes, at most one more than may be read. Raises ``FileErrors``."""
    try:
        if path.is_dir():
            reason = "this is a folder, not a file"
        else:
            with path.open("rb") as file:
                return file.read(MAX_BYTES + 1)
    except (OSError, ValueError) as error:
        reason = f"the file cannot be read: {getattr(error, 'strerror', None) or error}"
    raise FileErrors([Problem(Where(str(path), 0, 0), reason)])
