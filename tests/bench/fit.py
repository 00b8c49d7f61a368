"""Fit everything that Runner hears by anew, in order: words, matcher, engine noise, numbers.

    RUNNER_SPEECH_DATA=FOLDER python tests/bench/fit.py [--into FOLDER] [--only STEP]

Steps: ``matcher`` (with its word model), ``noise``, ``numbers``. What is fitted goes into
``runner/voice/data``; with ``--into`` it goes there in a copy of the program in FOLDER, which is
made if it is not there, and nothing that ships is touched. At the end it is told how far
everything lies from what was there before. The prototypes are not fitted: make them first
(``tests/tools/prototypes.py``).
"""

from __future__ import annotations

import argparse
import json
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np

HOME = Path(__file__).parents[2]
PARTS = ("runner", "tests", "checklists", "voices")
"""What a copy has to have to hear and to be fitted."""

DATA = (Path("runner") / "voice" / "data", Path("tests") / "data" / "numbers")
STEPS = {"matcher": "fit_matcher.py", "noise": "fit_noise.py", "numbers": "fit_numbers.py"}


def copy(home: Path, folder: Path) -> None:
    """A copy of the program in a folder that may be there already."""
    for part in PARTS:
        left_out = shutil.ignore_patterns("__pycache__")
        shutil.copytree(home / part, folder / part, ignore=left_out, dirs_exist_ok=True)


def values(home: Path) -> dict[str, np.ndarray]:
    """Everything fitted, as numbers by file and name."""
    found: dict[str, np.ndarray] = {}
    for folder in DATA:
        for file in sorted((home / folder).glob("*")):
            if file.suffix == ".npz":
                with np.load(file) as stored:
                    numbers = {n: stored[n] for n in stored if stored[n].dtype.kind in "fiu"}
                found |= {f"{file.name}: {name}": value for name, value in numbers.items()}
            elif file.suffix == ".json":
                stored = json.loads(file.read_text())
                found |= {f"{file.name}: {name}": value for name, value in leaves(stored)}
    return found


def leaves(stored: object, above: str = "") -> Iterator[tuple[str, np.ndarray]]:
    """The numbers and lists of numbers in what was read from a file."""
    if isinstance(stored, dict):
        for name, value in stored.items():
            yield from leaves(value, f"{above}, {name}" if above else str(name))
    elif isinstance(stored, int | float | list):
        yield above, np.array(stored, dtype=float)


def differences(before: dict[str, np.ndarray], after: dict[str, np.ndarray]) -> Iterator[str]:
    """What differs, in a line each."""
    for name in sorted(before.keys() | after.keys()):
        if name not in before or name not in after:
            yield f"{name}: {'gone' if name in before else 'new'}"
        elif before[name].shape != after[name].shape:
            yield f"{name}: of shape {before[name].shape}, now {after[name].shape}"
        else:
            one, other = before[name].astype(float), after[name].astype(float)
            apart, size = (
                float(np.abs(one - other).max(initial=0)),
                float(np.abs(one).max(initial=0)),
            )
            if apart:
                yield f"{name}: by up to {apart:.3g}, of values up to {size:.3g}"


def main() -> int:
    """Run the steps; 1 where one of them fails."""
    asked = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    asked.add_argument("--into", type=Path, metavar="FOLDER")
    asked.add_argument("--only", choices=tuple(STEPS), action="append")
    options = asked.parse_args()
    home = HOME
    before = values(HOME)
    if options.into is not None:
        home = options.into.resolve()
        copy(HOME, home)
    for name, file in STEPS.items():
        if options.only and name not in options.only:
            continue
        began = time.monotonic()
        made = subprocess.run([sys.executable, str(home / "tests" / "bench" / file)], check=False)
        if made.returncode:
            print(f"{name}: not fitted", file=sys.stderr)
            return 1
        print(f"{name}: fitted in {(time.monotonic() - began) / 60:.0f} minutes", flush=True)
    found = list(differences(before, values(home)))
    print("\n".join(found) if found else "everything is as it was")
    return 0


if __name__ == "__main__":
    sys.exit(main())
