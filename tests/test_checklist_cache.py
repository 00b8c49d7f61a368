"""A kept reading is used while nothing changed, and only where this Runner wrote it."""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
from pathlib import Path

import pytest

from checklist_files import AIRCRAFT, PROCEDURES, VOICE
from runner.checklist import cache
from runner.checklist.cache import (
    load_aircraft_cached,
    load_procedures_cached,
    load_voice_cached,
)
from runner.checklist.load import load_procedures, load_voice
from runner.checklist.problems import FileErrors


@pytest.fixture
def kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "cache"
    monkeypatch.setattr(cache, "cache_folder", lambda: folder)
    (tmp_path / "p.yaml").write_text(PROCEDURES)
    (tmp_path / "sandpiper-aircraft.yaml").write_text(AIRCRAFT)
    (tmp_path / "v.yaml").write_text(VOICE)
    return folder


def only(folder: Path) -> Path:
    (entry,) = folder.iterdir()
    return entry


def is_read_again(path: Path, monkeypatch: pytest.MonkeyPatch) -> bool:
    """Whether a load reads the file itself."""
    calls: list[object] = []

    def counted(name: Path) -> object:
        calls.append(name)
        return load_procedures(name)

    with monkeypatch.context() as patch:
        patch.setattr("runner.checklist.load.load_procedures", counted)
        load_procedures_cached(path)
    return bool(calls)


def test_a_second_load_gives_the_same_without_reading(
    kept: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = kept.parent / "p.yaml"
    first = load_procedures_cached(path)
    assert load_procedures_cached(path) == first == load_procedures(path)
    assert not is_read_again(path, monkeypatch)
    assert load_voice_cached(kept.parent / "v.yaml") == load_voice(kept.parent / "v.yaml")
    assert load_voice_cached(kept.parent / "v.yaml").name == "plain"
    for _ in range(2):
        assert load_aircraft_cached(kept.parent / "sandpiper-aircraft.yaml") == first.aircraft


def test_the_cache_is_a_folder_of_runners_own() -> None:
    assert cache.cache_folder().parent.name == "runner"


@pytest.mark.parametrize("name", ["p.yaml", "sandpiper-aircraft.yaml"])
def test_a_change_in_either_file_is_read(
    kept: Path, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = kept.parent / "p.yaml"
    load_procedures_cached(path)
    changed = kept.parent / name
    status = changed.stat()
    changed.write_text(changed.read_text().replace("Invented", "Imagined"))
    os.utime(changed, ns=(status.st_atime_ns, status.st_mtime_ns))
    assert is_read_again(path, monkeypatch)
    assert not is_read_again(path, monkeypatch)


def test_a_file_that_became_wrong_is_told_and_the_last_reading_is_not_used(kept: Path) -> None:
    path = kept.parent / "p.yaml"
    load_procedures_cached(path)
    path.write_text(PROCEDURES.replace("kind: flow", "kind: flows"))
    with pytest.raises(FileErrors, match="did you mean 'flow'"):
        load_procedures_cached(path)
    (kept.parent / "sandpiper-aircraft.yaml").unlink()
    with pytest.raises(FileErrors, match="there is no such file"):
        load_procedures_cached(path)


def test_a_reading_is_closed_to_others(kept: Path) -> None:
    load_procedures_cached(kept.parent / "p.yaml")
    assert only(kept).stat().st_mode & 0o777 == 0o600
    assert kept.stat().st_mode & 0o777 == 0o700


class Trap:
    """Unpickling this writes a file."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def __reduce__(self) -> tuple[object, tuple[object, ...]]:
        return (Path.touch, (self.path,))


def damages(entry: Path, trap: Path) -> dict[str, bytes]:
    good = entry.read_bytes()
    head, _, body = good.partition(b"\n")
    evil = pickle.dumps([]) + pickle.dumps(Trap(trap))
    return {
        "empty": b"",
        "no head": body,
        "truncated": good[: len(good) // 2],
        "one bit changed": good[:-20] + bytes([good[-20] ^ 1]) + good[-19:],
        "another version": head.replace(b"runner reading 1 ", b"runner reading 2 ") + b"\n" + body,
        "another pickle": head + b"\n" + evil,
    }


@pytest.mark.parametrize(
    "damage",
    ["empty", "no head", "truncated", "one bit changed", "another version", "another pickle"],
)
def test_a_damaged_or_foreign_reading_is_ignored_and_written_anew(
    kept: Path, damage: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = kept.parent / "p.yaml"
    load_procedures_cached(path)
    trap = kept.parent / "trap"
    only(kept).write_bytes(damages(only(kept), trap)[damage])
    assert is_read_again(path, monkeypatch)
    assert not trap.exists()
    assert not is_read_again(path, monkeypatch)


@pytest.mark.skipif(not hasattr(os, "getuid"), reason="no owners here")
def test_a_reading_that_others_could_have_written_is_ignored(
    kept: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = kept.parent / "p.yaml"
    load_procedures_cached(path)
    only(kept).chmod(0o622)
    assert is_read_again(path, monkeypatch)
    assert not is_read_again(path, monkeypatch)
    monkeypatch.setattr(os, "getuid", lambda: only(kept).stat().st_uid + 1)
    assert is_read_again(path, monkeypatch)
    monkeypatch.delattr(os, "getuid")
    assert not is_read_again(path, monkeypatch)


def test_a_reading_that_is_no_regular_file_is_ignored(
    kept: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = kept.parent / "p.yaml"
    load_procedures_cached(path)
    entry = only(kept)
    entry.unlink()
    entry.symlink_to("/dev/null")
    assert is_read_again(path, monkeypatch)


def test_a_disk_that_cannot_be_written_costs_nothing_but_time(kept: Path) -> None:
    kept.write_text("in the way")
    assert load_procedures_cached(kept.parent / "p.yaml").name == "Sandpiper Two, circuits"


def test_a_file_that_changed_while_it_was_read_is_not_kept(
    kept: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = kept.parent / "p.yaml"

    def late(name: Path) -> object:
        made = load_procedures(name)
        path.write_text(PROCEDURES + "\n# later\n")
        return made

    monkeypatch.setattr("runner.checklist.load.load_procedures", late)
    load_procedures_cached(path)
    assert not kept.exists()


def test_a_folder_is_told_as_it_is(kept: Path) -> None:
    with pytest.raises(FileErrors, match="this is a folder"):
        load_procedures_cached(kept.parent)


def test_only_so_many_readings_are_kept(kept: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cache, "KEPT", 3)
    for n in range(6):
        path = kept.parent / f"v{n}.yaml"
        path.write_text(VOICE)
        load_voice_cached(path)
    assert len(list(kept.iterdir())) == 3


CHILD = """
import sys
from runner.checklist.cache import load_procedures_cached, load_voice_cached
procedures = load_procedures_cached("whimbrel-four")
load_voice_cached("cockpit")
from runner.figures.sheet import Sheet
worked = Sheet(procedures.aircraft).work_out({})
assert worked.figures
print(*sorted({"yaml", "pint"} & set(sys.modules)))
"""


def test_a_start_from_kept_readings_needs_neither_yaml_nor_units(tmp_path: Path) -> None:
    environment = {**os.environ, "XDG_CACHE_HOME": str(tmp_path), "LOCALAPPDATA": str(tmp_path)}
    if sys.platform == "darwin":
        environment["HOME"] = str(tmp_path)
    child = [sys.executable, "-c", CHILD]
    printed = [
        subprocess.run(child, env=environment, capture_output=True, text=True, check=True).stdout
        for _ in range(2)
    ]
    assert printed == ["yaml\n", "\n"]
