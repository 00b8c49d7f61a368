"""Running the real program on typed answers: the answers of one list, and what it printed."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

WEIGHT = "gross_weight=74310lb"

ANSWERS = (
    "dry runway",
    "flaps twenty",
    "set for take off",
    "full and free",
    "fully rich",
    "low blower",
    "high boost",
    "half open",
    "full cold",
    "four armed",
    "armed and green",
    "twenty six fifty",
    "fifty one",
    "two oh two",
    "nine two",
    "nine six",
    "one oh five",
)
"""The before-take-off list of the shipped flight at WEIGHT, answered rightly."""

CHALLENGES = (
    "Runway surface",
    "Flaps",
    "Trim tabs",
    "Flight controls",
    "Mixtures",
    "Blowers",
    "Boost pumps",
    "Cowl flaps",
    "Carburettor heat",
    "Anti-detonant injection",
    "Automatic feathering",
    "Take-off RPM",
    "Take-off manifold pressure",
    "Minimum BMEP",
    "Decision speed",
    "Rotate",
    "Safety speed",
)


@dataclass(frozen=True)
class Flown:
    """How a run of the program ended and what it printed."""

    status: int
    lines: list[str]
    errors: str

    @property
    def said(self) -> list[str]:
        """What Runner said, in order."""
        return [line.removeprefix("Runner: ") for line in self.lines if line.startswith("Runner: ")]


def command(logbook: Path, *more: str, listen: str = "text:-") -> list[str]:
    """The command line of a run that speaks and hears by text alone."""
    return [
        *(sys.executable, "-m", "runner", "fly", "--screen", "plain", "--speak", "none"),
        *("--listen", listen, "--logbook", str(logbook), *more),
    ]


def fly(
    logbook: Path, answers: tuple[str, ...] | list[str], *more: str, stdin: bytes | None = None
) -> Flown:
    """Run the program with a line of standard input for each answer."""
    typed = "".join(f"{answer}\n" for answer in answers).encode() if stdin is None else stdin
    done = subprocess.run(
        command(logbook, *more),
        input=typed,
        capture_output=True,
        timeout=60,
        env=os.environ | {"PYTHONUNBUFFERED": "1"},
        check=False,
    )
    return Flown(done.returncode, done.stdout.decode().splitlines(), done.stderr.decode())


def before_takeoff(logbook: Path, answers: tuple[str, ...] | list[str]) -> Flown:
    """Fly the before-take-off phase of the shipped flight."""
    return fly(logbook, answers, "--phase", "before-takeoff", "--set", WEIGHT)
