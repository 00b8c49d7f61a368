"""No test touches the user's own logbook, caches or takes; sound for those that need it."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from sound import SoundSystem, sound_system


def pytest_configure(config: pytest.Config) -> None:
    """Keep the order of the groups: the largest need not be the longest."""
    config.option.loadscopereorder = False


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Where tests run side by side, those with real sound run one after another, and those of
    one file in one process. Sound comes first: it takes its own time, the others the machine's.
    """
    for item in items:
        loud = item.get_closest_marker("sound") is not None or "sound" in getattr(
            item, "fixturenames", ()
        )
        name = "sound" if loud else item.path.name
        item.add_marker(pytest.mark.xdist_group(name))
    items.sort(key=lambda item: next(item.iter_markers("xdist_group")).args[0] != "sound")


@pytest.fixture(scope="session", autouse=True)
def own_folders(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """The data and cache folders of the programs that the tests start."""
    home = tmp_path_factory.mktemp("user")
    names = ("XDG_DATA_HOME", "XDG_CACHE_HOME")
    before = {name: os.environ.get(name) for name in names}
    for name in names:
        os.environ[name] = str(home / name.lower())
    yield
    for name, value in before.items():
        if value is None:
            del os.environ[name]
        else:
            os.environ[name] = value


@pytest.fixture(scope="session")
def recordings(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """What recorded voices said, kept for all tests of a session."""
    return tmp_path_factory.mktemp("recordings")


@pytest.fixture
def sound(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, recordings: Path
) -> Iterator[SoundSystem]:
    """PulseAudio of the test's own; the test is skipped where there can be none."""
    with sound_system(tmp_path / "sound", monkeypatch, recordings) as system:
        yield system
