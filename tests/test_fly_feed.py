"""Flights with the simulated flight's readings, in a process of their own, by a scripted pilot.

The readings are those of JSBSim (https://jsbsim.sourceforge.net), which knows nothing of the
callouts; what is checked is when each was called against the readings as they were recorded.
"""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from runner.checklist.model import Checklist, Readback, Reading
from runner.engine.events import Crossed, Event, LimitPassed, MomentReached, RunStarted, Said
from runner.engine.watch import MILLISECONDS_A_WORD
from runner.logbook.store import Logbook
from shipped_answers import answer, applies, figures, shipped

PROCEDURES = shipped()
FIGURES = figures(PROCEDURES)
ROLL = "takeoff-roll"


@dataclass(frozen=True)
class Flown:
    """What a flight left behind."""

    status: int
    printed: str
    events: tuple[Event, ...]
    readings: tuple[dict[str, float], ...]

    def called(self, name: str) -> Crossed:
        """The one time that a callout was said."""
        (found,) = (e for e in self.events if isinstance(e, Crossed) and e.callout == name)
        return found


def answers(checklist: Checklist) -> Iterator[str]:
    """What the pilot says to a list, figures as they are then; the readings say the rest."""
    for item in checklist.items:
        if isinstance(item.response, Reading) or not applies(item, FIGURES):
            continue
        said = answer(item, FIGURES)
        if said is not None:
            if item.confirm:
                yield "affirm"
            if isinstance(item.response, Readback):
                said = f"<{item.response.figure}>"
            yield said


def normal() -> list[str]:
    """A pilot's words from before take-off to the end of the after-take-off list."""
    lists = PROCEDURES.lists
    return [
        *answers(lists["before-takeoff"]),
        "(gear_up)",
        "affirm",
        *answers(lists["meto-power"]),
        "(flaps_up)",
        "affirm",
        *answers(lists["after-takeoff"]),
    ]


def fly(folder: Path, script: list[str], feed: str = "sim") -> Flown:
    """A real process of ``runner fly`` with this script."""
    pytest.importorskip("jsbsim")
    (folder / "pilot.txt").write_text("\n".join(script) + "\n")
    recorded, logbook = folder / "feed.jsonl", folder / "logbook.sqlite3"
    command = [
        *(sys.executable, "-m", "runner", "fly", "--from", "before-takeoff", "--feed", feed),
        *("--clock", "fast", "--screen", "plain", "--speak", "none"),
        *("--listen", f"text:{folder / 'pilot.txt'}", "--logbook", str(logbook)),
        *("--record-feed", str(recorded)),
    ]
    done = subprocess.run(command, capture_output=True, text=True, timeout=170, check=False)
    assert "Traceback" not in done.stdout + done.stderr, done.stderr
    book = Logbook(logbook)
    try:
        events = tuple(book.events(1))
    finally:
        book.close()
    lines = [json.loads(line) for line in recorded.read_text().splitlines()]
    return Flown(done.returncode, done.stdout, events, tuple(lines))


@pytest.fixture(scope="module")
def flown(tmp_path_factory: pytest.TempPathFactory) -> Flown:
    return fly(tmp_path_factory.mktemp("normal"), normal())


def test_the_lists_from_before_take_off_to_after_take_off_are_complete(flown: Flown) -> None:
    for title in ("Before take-off", "METO power", "After take-off"):
        assert f"{title}: complete" in flown.printed, flown.printed[-3000:]


def test_rotate_is_called_within_a_knot(flown: Flown) -> None:
    values = dict(flown.called(f"{ROLL}.rotate").values)
    wanted = float(FIGURES["rotate_speed"].value)
    assert wanted <= values["airspeed"] <= wanted + 1


def test_the_decision_speed_s_word_has_ended_when_it_is_reached(flown: Flown) -> None:
    call = flown.called(f"{ROLL}.decision")
    speed = float(FIGURES["decision_speed"].value)
    begun = dict(call.values)["airspeed"]
    rotate = flown.called(f"{ROLL}.rotate")
    rate = (dict(rotate.values)["airspeed"] - begun) / (rotate.at - call.at)
    reached = call.at + (speed - begun) / rate
    ended = call.at + MILLISECONDS_A_WORD
    # At 50 readings a second, and an acceleration that is not quite even.
    assert ended - 20 <= reached <= ended + 400


@pytest.mark.parametrize(
    ("callout", "reading", "level"),
    [
        ("airspeed-alive", "airspeed", 45.0),
        ("four-hundred-feet", "height", 400.0),
        ("safety-speed", "airspeed", float(FIGURES["safety_speed"].value)),
        ("flaps-up-speed", "airspeed", float(FIGURES["flaps_up_speed"].value)),
    ],
)
def test_a_callout_comes_at_its_level(
    flown: Flown, callout: str, reading: str, level: float
) -> None:
    values = dict(flown.called(f"{ROLL}.{callout}").values)
    assert level <= values[reading] <= level + (1 if reading == "airspeed" else 5)


def test_every_callout_is_said_once_and_in_the_order_of_time(flown: Flown) -> None:
    called = [e for e in flown.events if isinstance(e, Crossed)]
    fixed = [e.callout for e in called if "changes" not in e.callout and "now" not in e.callout]
    assert len(fixed) == len(set(fixed))
    assert [e.at for e in called] == sorted(e.at for e in called)


def test_nothing_is_beyond_a_limit(flown: Flown) -> None:
    assert not [e for e in flown.events if isinstance(e, LimitPassed)]


def test_moments_come_in_the_order_of_a_take_off(flown: Flown) -> None:
    came = [e.moment for e in flown.events if isinstance(e, MomentReached)]
    order = ["takeoff_power_set", "positive_rate", "gear_up", "flaps_up"]
    assert [m for m in came if m in order] == order


def test_an_engine_fails_at_decision_speed_and_the_normal_list_is_taken_up_again(
    tmp_path: Path,
) -> None:
    script = normal()
    at = script.index("(gear_up)")
    failure = answers(PROCEDURES.lists["engine-failure-after-decision"])
    script[at:at] = ["(takeoff-roll.rotate)", "engine failure number three", *failure]
    flown = fly(tmp_path, script, "sim?fail-engine=3@V1")
    printed = flown.printed
    begun = printed.index("Engine failure after decision speed, engine 3: begun")
    complete = printed.index("Engine failure after decision speed, engine 3: complete")
    taken_up = printed.index("METO power: begun")
    assert begun < complete < taken_up, printed[-3000:]
    assert "engine 3 confirmed" in printed
    assert "After take-off: complete" in printed, printed[-3000:]


def test_a_rejected_take_off_silences_the_callouts_and_stops(tmp_path: Path) -> None:
    script = [
        *answers(PROCEDURES.lists["before-takeoff"]),
        "(takeoff-roll.seventy-bmep-not-less-than-minimum-takeoff-bmep)",
        "reject",
        *answers(PROCEDURES.lists["rejected-takeoff"]),
    ]
    names = [c.id for c in PROCEDURES.lists[ROLL].callouts]
    script[-len(list(answers(PROCEDURES.lists["rejected-takeoff"]))) - 2] = f"({names[1]})"
    flown = fly(tmp_path, script)
    assert "Rejected take-off: complete" in flown.printed, flown.printed[-3000:]
    called = {e.callout for e in flown.events if isinstance(e, Crossed)}
    assert f"{ROLL}.decision" not in called and f"{ROLL}.rotate" not in called
    assert flown.readings[-1]["airspeed"] < 40


def test_a_run_s_first_event_is_what_it_was_made_of(flown: Flown) -> None:
    assert isinstance(flown.events[0], RunStarted)
    assert any(isinstance(e, Said) for e in flown.events)
