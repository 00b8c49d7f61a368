"""Two people fly one run by voice alone, each at a machine of their own, near and far.

Two crews are in the air at once, one over WebSocket and one through a broker: each of the four
people has a machine, a loudspeaker and a microphone, and all their speech is real sound.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, closing, contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pytest

from crew_people import broker, mosquitto
from crew_processes import code_of
from crew_sound import (
    Cockpit,
    Count,
    crew_command,
    device_of,
    enrol,
    fly,
    hurried,
    why_no_people,
)
from crew_steps import Step, shortened, steps
from runner.checklist.load import load_procedures
from shipped_answers import figures
from sound import SoundSystem, loudness

pytestmark = [
    pytest.mark.sound,
    pytest.mark.skipif(bool(why_no_people()), reason=why_no_people()),
]

ROLES = {"pilot flying": "Anna", "pilot monitoring": "Ben", "flight engineer": "Ben"}
"""Who opens has the first role, who joins all others."""

ANNAS = "holding evenly"
"""An answer of Anna's that Ben gives first."""

PHASE = "before-landing"

WRONGLY = "flaps twenty"
"""Of Anna's answers in that phase the one that Ben gives first."""

REFUSAL = "^Runner: pilot flying answers[.] "

VOICE_SHARE = 0.9
"""The share of answers in words that must be taken by voice."""


@dataclass
class Flown:
    """What became of a flight of two."""

    crew: tuple[Cockpit, Cockpit]
    statuses: tuple[int, int]
    count: Count


@contextmanager
def crew(
    sound: SoundSystem, folder: Path, homes: dict[str, Path], opens: tuple[str, ...], url: str
) -> Iterator[tuple[Cockpit, Cockpit]]:
    """Anna opens, Ben joins; both would be heard."""
    with ExitStack() as stack:
        how = ("--through", url) if url else ("--port", "0", "--address", "127.0.0.1")
        command = crew_command(folder, "Anna", "open", *opens, *how)
        anna = Cockpit(sound, folder, "Anna", homes["Anna"], *command)
        stack.callback(anna.stop)
        code, port = code_of(anna)
        where = ("--through", url) if url else (f"127.0.0.1:{port}",)
        command = crew_command(folder, "Ben", "join", *where, "--code", code)
        ben = Cockpit(sound, folder, "Ben", homes["Ben"], *command)
        stack.callback(ben.stop)
        anna.wait_for("Runner: Ben is aboard", 60)
        ben.wait_for("Ben: pilot monitoring", 60)
        for person in (anna, ben):
            person.wait_until_ready()
        yield anna, ben


def fly_together(anna: Cockpit, ben: Cockpit, flight: list[Step]) -> Flown:
    """The whole flight; at one item Ben gives Anna's answer first."""

    def before(step: Step) -> None:
        if step.said == ANNAS:
            refused_aloud(anna, ben, step)

    count = fly(flight, {"Anna": anna, "Ben": ben}, ROLES, before)
    return Flown((anna, ben), (anna.end(60), ben.end(60)), count)


def refused_aloud(anna: Cockpit, ben: Cockpit, step: Step) -> None:
    """Ben says what is Anna's to say: both hear that it is hers, and nothing is answered."""
    marks = {person: len(person.lines) for person in (anna, ben)}
    with ben.sound.recorded(f"refused-{ben.device}", f"ears-{ben.device}.monitor") as refused:
        tries = (ben.answered(step.said, (REFUSAL,)) for _ in range(4))
        assert next(filter(None, tries), ""), "Ben was never heard\n" + "\n".join(ben.lines[-20:])
        for person in (anna, ben):
            line = person.wait_for(REFUSAL, 10, marks[person])
            person.wait_until_asked((line.removeprefix("Runner: "),), 0)
    length, peak = loudness(refused)
    assert length > 0.5 and peak > 0.05, "nobody could hear it"
    for person in (anna, ben):
        taken = [line for line in person.lines if line.startswith(f"{step.asked[0]}: {step.said}")]
        assert not taken


def whose(flight: list[Step]) -> dict[str, set[str]]:
    """What each of the two has to say."""
    return {
        name: {s.said for s in flight if s.both or ROLES.get(s.role, "Anna") == name}
        for name in ("Anna", "Ben")
    }


def events(person: Cockpit) -> list[str]:
    with closing(sqlite3.connect(person.logbook)) as book:
        assert book.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        return [row[0] for row in book.execute("SELECT event FROM events ORDER BY run, number")]


def hold(flown: Flown, flight: list[Step]) -> None:
    """Both have the same run, each answered their own, and hardly anything had to be typed."""
    anna, ben = flown.crew
    assert flown.statuses == (0, 0)
    kept = events(anna)
    assert kept == events(ben)
    assert sum('"is":"RunStarted"' in event for event in kept) == 1
    heard: list[dict[str, Any]] = [e for e in map(json.loads, kept) if e["is"] == "Heard"]
    for person in flown.crew:
        assert sum(one["member"] == person.name for one in heard) <= person.said, (
            "a microphone has heard somebody else"
        )
    words = [step for step in flight if not step.number]
    taken = sum(flown.count.tries.values())
    both = sum(step.both for step in words)
    assert taken >= VOICE_SHARE * (len(words) + both)
    titles = dict.fromkeys(step.title for step in flight)
    for person in flown.crew:
        for title in titles:
            assert any(line.startswith(f"{title}: complete") for line in person.lines), title


def all_fly(sound: SoundSystem, folder: Path, procedures: str, style: Path) -> None:
    """Enrol Anna and Ben, and have them fly these procedures near and far at once."""
    loaded = load_procedures(procedures)
    flight = list(steps(loaded, dict(figures(loaded))))
    said = whose(flight)
    said["Ben"].add(ANNAS)
    with ThreadPoolExecutor(2) as pool, ExitStack() as stack:
        made = {n: pool.submit(enrol, sound, folder, n, procedures, said[n]) for n in said}
        homes = {name: future.result() for name, future in made.items()}
        ways = {"near": ""}
        if mosquitto() is not None:
            ways["far"] = f"mqtt://127.0.0.1:{stack.enter_context(broker(folder))}"
        opens = (procedures, "--voice", str(style))
        crews = {
            way: stack.enter_context(crew(sound, folder / way, homes, opens, url))
            for way, url in ways.items()
        }
        flying = {way: pool.submit(fly_together, *two, flight) for way, two in crews.items()}
        for way, future in flying.items():
            flown = future.result()
            print(f"{way}: {len(flight)} steps in {flown.count.table()}")
            hold(flown, flight)
    if len(ways) == 1:
        pytest.skip("flown near; no Mosquitto on this machine to fly through")


def test_two_fly_what_is_critical_of_a_whole_flight_each_by_their_own_voice(
    sound: SoundSystem, tmp_path: Path
) -> None:
    all_fly(sound, tmp_path, str(shortened(tmp_path)), hurried(tmp_path))


def test_two_at_one_machine_have_a_microphone_each_and_it_is_known_who_spoke(
    sound: SoundSystem, tmp_path: Path
) -> None:
    procedures = str(shortened(tmp_path))
    loaded = load_procedures(procedures)
    (phase,) = [phase for phase in loaded.phases if phase.id == PHASE]
    loaded = replace(loaded, phases=(phase,))
    flight = list(steps(loaded, dict(figures(loaded))))
    said = whose(flight)
    for name in said:
        known = said[name] | {WRONGLY}
        home = enrol(sound, tmp_path, name, procedures, known, shared=True)
    here = [f"--here={name}=mic-{device_of(tmp_path, name)}" for name in said]
    style = str(hurried(tmp_path))
    anna = Cockpit(
        sound, tmp_path, "Anna", home, "fly", procedures, "--phase", PHASE, "--voice", style, *here
    )
    try:
        ben = anna.beside(tmp_path, "Ben")
        anna.wait_until_ready()

        def before(step: Step) -> None:
            if step.said == WRONGLY:
                tries = (ben.answered(step.said, (REFUSAL,)) for _ in range(4))
                assert next(filter(None, tries), ""), anna.lines[-20:]

        count = fly(flight, {"Anna": anna, "Ben": ben}, ROLES, before)
        status = anna.end(60)
    finally:
        anna.stop()
    print(f"one machine: {len(flight)} steps in {count.table()}")
    assert status == 0
    heard = [event for event in map(json.loads, events(anna)) if event["is"] == "Heard"]
    taken = [e for e in heard if e["verdict"]["candidate"] in ("answer", "number")]
    typed = len(count.typed)
    assert len(taken) >= len(flight) - typed
    for person in (anna, ben):
        assert sum(one["member"] == person.name for one in heard) <= person.said


@pytest.mark.slow
def test_two_fly_every_list_of_a_whole_flight_each_by_their_own_voice(
    sound: SoundSystem, tmp_path: Path
) -> None:
    all_fly(sound, tmp_path, "whimbrel-four", hurried(tmp_path))
