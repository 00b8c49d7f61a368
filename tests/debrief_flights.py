"""A pilot's logbook made by real runs of the program, and months of drills beside them.

Runs are flown on the fast clock, where an answer takes the time in which it is spoken: a
pilot who hesitates asks for the challenge again first.
"""

from __future__ import annotations

import random
import subprocess
from datetime import UTC, datetime, timedelta
from pathlib import Path

from flying import ANSWERS, CHALLENGES, WEIGHT, command, fly
from runner.checklist.load import find_file, load_voice
from runner.engine.program import Program
from runner.logbook.store import Logbook
from runner.practice.cards import deck
from runner.practice.spacing import Progress, retrievability, reviewed
from shipped_answers import figures, shipped

OPTIONS = ("--phase", "before-takeoff", "--set", WEIGHT, "--clock", "fast")
SLOW = ("Take-off manifold pressure", "Minimum BMEP", "Decision speed")
WRONG = {"Blowers": "high blower", "Carburettor heat": "full hot"}


def script(rng: random.Random, hesitates: float = 0.15) -> list[str]:
    """The before-take-off list as a pilot answers it who is slow with ``SLOW``."""
    items = [name for name in CHALLENGES if name != "Flaps"]
    said: list[str] = []
    for name, answer in zip(CHALLENGES, ANSWERS, strict=True):
        if name in SLOW:
            said += ["say again"] * rng.choice((2, 3))
        elif rng.random() < hesitates:
            said.append("say again")
        if name in WRONG and rng.random() < 0.5:
            said.append(WRONG[name])
        if name == items[7] and rng.random() < 0.4:
            said += ["stand by", "continue the checklist"]
        said.append(answer)
    return said


def before_takeoffs(logbook: Path, runs: int, seed: int = 1) -> None:
    """So many runs of the before-take-off list, one real process each."""
    rng = random.Random(seed)
    for number in range(runs):
        flown = fly(logbook, script(rng, 0.35 - 0.25 * number / runs), *OPTIONS)
        assert flown.status == 0, flown.lines[-5:]


def drills(logbook: Path, weeks: int, now: datetime, seed: int = 1) -> None:
    """Drills of the shipped flight for so many weeks up to ``now``: twelve questions on each
    of three days a week, what is due first, answered rightly as often as FSRS thinks."""
    procedures = shipped()
    program = Program(procedures, load_voice(find_file("cockpit", ("voices",))))
    cards = deck(program, figures(procedures), ("response", "wrong", "numbers"))
    rng = random.Random(seed)
    known: dict[str, Progress] = {}
    book = Logbook(logbook)
    for day in range(7 * weeks, 0, -1):
        if day % 7 not in (1, 3, 5):
            continue
        at = (now - timedelta(days=day)).astimezone(UTC)
        drill = book.drill_begin("mixed", 12, at)
        due = sorted(
            (c for c in cards if c.id in known and known[c.id].due <= at),
            key=lambda c: known[c.id].due,
        )
        for card in (due + [c for c in cards if c.id not in known])[:12]:
            before = known.get(card.id)
            likely = 0.6 if before is None else retrievability(before, at)
            right = rng.random() < likely
            took = round(1000 * rng.lognormvariate(0.8, 0.4))
            known[card.id] = reviewed(before, 3 if right else 1, at, right=right, answer_ms=took)
            state = known[card.id].to_json()
            book.drill_answer(
                drill, card.id, card.kind, 3 if right else 1, right, took, at, "x", state
            )
        book.drill_end(drill)
    book.close()


HOSTILE_AIRCRAFT = """\
runner: 1
aircraft: <img src=x onerror=alert(1)>
about: Invented, for simulation and training only, not for flight.
roles: pilot
engines: 1
"""

HOSTILE = """\
runner: 1
procedures: <script>alert(1)</script> & "mail" $\\frac{1}{2}$
about: Invented, for simulation and training only.
aircraft: hostile-aircraft.yaml
phases:
  - phase: one
    name: One </svg><script>alert(2)</script>
    lists:
      - list: first
        title: First & last </title><script>alert(3)</script>
        kind: challenge and response
        items:
          - challenge: Lights & "more" </text> $x_1$
            response: off and dark
            not: on and bright
"""


def hostile_run(folder: Path, logbook: Path) -> None:
    """A run of a file whose texts are markup, with markup said for an answer."""
    (folder / "hostile-aircraft.yaml").write_text(HOSTILE_AIRCRAFT)
    (folder / "hostile.yaml").write_text(HOSTILE)
    said = ["on and bright", "<script>alert(4)</script>", "off and dark"]
    line = command(logbook, "--clock", "fast")
    line.insert(line.index("fly") + 1, str(folder / "hostile.yaml"))
    done = subprocess.run(
        line, input="".join(f"{s}\n" for s in said).encode(), capture_output=True, check=False
    )
    assert done.returncode == 0, done.stderr
