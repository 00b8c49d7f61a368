"""No test touches the user's own logbook, caches or takes."""

from __future__ import annotations

import os
from collections.abc import Iterator

import pytest


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
