"""Two people, two machines, one run: real processes over real sockets."""

from __future__ import annotations

import asyncio
import signal
import sqlite3
from collections.abc import Iterator
from concurrent.futures import Future
from contextlib import closing
from pathlib import Path

import pytest

from crew_people import broker, mosquitto
from crew_processes import Machine, code_of
from engine_runs import started
from flying import ANSWERS, CHALLENGES
from runner.cli import _parser
from runner.commands.fly import Making, flight_of
from runner.crew.crew import Crew
from runner.crew.journal import JournalFile, Membership
from runner.crew.near import Hub
from runner.crew.nearby import Nearby
from runner.crew.trust.identity import Identity
from runner.engine.effects import Say
from runner.engine.events import CrewChanged, Event, Member
from runner.engine.program import program_of
from runner.engine.state import initial_state
from runner.engine.step import step
from runner.engine.wire import state_to_json
from runner.figures.sheet import Sheet
from runner.pairing import Pairing
from runner.screen.panel import wrapped
from runner.screen.wording import crew_text

ENGINEERS = frozenset(
    {"Mixtures", "Blowers", "Boost pumps", "Cowl flaps", "Carburettor heat"}
    | {"Anti-detonant injection", "Automatic feathering", "Take-off RPM"}
    | {"Take-off manifold pressure", "Minimum BMEP"}
)
"""What the flight engineer answers; the rest is the pilot flying's."""

BOTH = "Flight controls"


@pytest.fixture
def crew() -> Iterator[list[Machine]]:
    machines: list[Machine] = []
    yield machines
    for machine in machines:
        machine.stop()


def opened(crew: list[Machine], folder: Path, *more: str) -> Machine:
    crew.append(
        Machine(
            folder,
            "Anna",
            *("open", "--phase", "before-takeoff", "--set", "gross_weight=74310lb"),
            *("--port", "0", "--address", "127.0.0.1", *more),
        )
    )
    return crew[-1]


def joined(crew: list[Machine], folder: Path, name: str, *more: str) -> Machine:
    code, port = code_of(crew[0])
    crew.append(Machine(folder, name, "join", f"127.0.0.1:{port}", "--code", code, *more))
    crew[0].wait_for(f"Runner: {name} is aboard")
    crew[-1].wait_for(f"Runner: ({name} is aboard. )?{CHALLENGES[0]}")
    return crew[-1]


def asked(machine: Machine, challenge: str) -> None:
    machine.wait_for(f"Runner: (.*[.] )?{challenge}$")


def answer_all(anna: Machine, ben: Machine, first: int = 0, last: int | None = None) -> None:
    """Each says what is theirs, when their own machine has asked it."""
    for challenge, answer in list(zip(CHALLENGES, ANSWERS, strict=True))[first:last]:
        asked(anna, challenge)
        asked(ben, challenge)
        if challenge == BOTH:
            ben.says(answer)
            anna.wait_for("pilot flying too")
            anna.says(answer)
        else:
            who = ben if challenge in ENGINEERS else anna
            who.says(answer)


def events(machine: Machine) -> list[str]:
    with closing(sqlite3.connect(machine.logbook)) as book:
        assert book.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        return [row[0] for row in book.execute("SELECT event FROM events ORDER BY run, number")]


def parted_in_peace(*machines: Machine) -> None:
    """The list's end is the last that is told: that a machine ends then is no fault."""
    for machine in machines:
        assert machine.told()[-2:] == [
            "Before take-off: complete",
            "Runner: Before take-off complete. All lists complete",
        ]


def test_two_fly_a_list_each_answering_their_own_and_keep_the_same_run(
    crew: list[Machine], tmp_path: Path
) -> None:
    anna = opened(crew, tmp_path)
    ben = joined(crew, tmp_path, "Ben")
    asked(ben, CHALLENGES[0])
    ben.says(ANSWERS[0])
    anna.wait_for("pilot flying answers")
    answer_all(anna, ben)
    assert (anna.end(), ben.end()) == (0, 0)
    parted_in_peace(anna, ben)
    assert events(anna) == events(ben)
    assert sum('"is":"RunStarted"' in event for event in events(ben)) == 1


@pytest.mark.skipif(mosquitto() is None, reason="no Mosquitto on this machine")
def test_two_fly_a_list_through_a_broker(crew: list[Machine], tmp_path: Path) -> None:
    with broker(tmp_path) as port:
        through = ("--through", f"mqtt://127.0.0.1:{port}")
        where = ("open", "--phase", "before-takeoff", "--set", "gross_weight=74310lb")
        crew.append(Machine(tmp_path, "Anna", *where, *through))
        code, _ = code_of(crew[0])
        crew.append(Machine(tmp_path, "Ben", "join", "--code", code, *through))
        anna, ben = crew
        for machine in crew:
            machine.wait_for(f"Runner: (Ben is aboard. )?{CHALLENGES[0]}")
        anna.wait_for("Runner: Ben is aboard")
        ben.wait_for("Ben: pilot monitoring")
        answer_all(anna, ben)
        assert (anna.end(), ben.end()) == (0, 0)
        assert events(anna) == events(ben)
        parted_in_peace(anna, ben)


class Kept:
    """The link of a machine that follows: the list as it has come so far."""

    def __init__(self, events: list[Event]) -> None:
        self.events = events
        self.orders = False
        self.phrases = ()
        self.urged = False
        self.status = ""

    def begun(self) -> None:
        """Nothing to do."""

    def hears(self, _say: Say) -> bool:
        return True


async def test_what_is_ordered_while_a_joiner_gets_ready_is_stepped_once_and_in_its_place() -> None:
    anna, ben = Member("Anna", ("captain",)), Member("Ben", ("first officer",))
    events: list[Event] = [started(), CrewChanged(1, (anna,))]
    program = program_of(started())
    sheet = Sheet(program.procedures.aircraft)
    making = Making(program, sheet, sheet.work_out({}), {}, tuple(events), None, resumed=True)
    words = ("--screen", "plain", "--speak", "none", "--listen", "none")
    arguments = _parser().parse_args(["crew", "join", "--code", "4821472918", *words])
    flight, _ = flight_of(arguments, making, None, None, Kept(events))
    events.append(CrewChanged(2, (anna, ben)))
    flight.ordered(events[-1], Future(), own=False)
    flying = asyncio.create_task(flight.fly())
    await asyncio.sleep(0)
    state = initial_state()
    for event in events:
        state, _ = step(state, event)
    assert state_to_json(flight.state) == state_to_json(state)
    flying.cancel()


async def test_the_code_is_never_broken_over_two_lines_of_the_screen(tmp_path: Path) -> None:
    file = JournalFile(tmp_path / "anna.sqlite3")
    hub = Hub("127.0.0.1")

    def make(**told) -> Crew:
        membership = Membership("crew", b"", "4821")
        way = Nearby("4821", hub=hub, searches=False)
        return Crew(Identity(bytes(32)), file.journal, way, membership, opens=True, **told)

    pairing = Pairing(make, name="Anna")
    linked = asyncio.create_task(pairing.crew.run())
    await asyncio.wait_for(hub.listening.wait(), 5)
    code = str(pairing.crew.new_code())
    for width in range(30, 100):
        shown = wrapped(crew_text((), pairing.status), width)
        assert any(code in line.plain for line in shown), width
    linked.cancel()
    await asyncio.gather(linked, return_exceptions=True)
    file.close()


def test_nothing_counts_while_the_other_is_gone_until_one_goes_on_alone(
    crew: list[Machine], tmp_path: Path
) -> None:
    anna = opened(crew, tmp_path)
    ben = joined(crew, tmp_path, "Ben")
    answer_all(anna, ben, last=2)
    asked(anna, CHALLENGES[2])
    ben.kill()
    anna.wait_for("Ben is not heard. Nothing counts until then, or say: continue alone")
    here = len(anna.lines)
    anna.says(ANSWERS[2])
    with pytest.raises(AssertionError):
        anna.wait_for(f"Runner: {CHALLENGES[3]}", seconds=2, since=here)
    anna.says("continue alone")
    anna.wait_for("You go on alone")
    for challenge, answer in list(zip(CHALLENGES, ANSWERS, strict=True))[3:]:
        asked(anna, challenge)
        anna.says(answer)
    assert anna.end() == 0
    held = events(ben)
    assert held == events(anna)[: len(held)], "what Ben has is a beginning of what Anna flew"


def test_who_opened_hands_the_list_over_and_leaves(crew: list[Machine], tmp_path: Path) -> None:
    anna = opened(crew, tmp_path)
    ben = joined(crew, tmp_path, "Ben")
    answer_all(anna, ben, last=2)
    asked(ben, CHALLENGES[2])
    anna.process.send_signal(signal.SIGINT)
    ben.wait_for("Anna leaves. Say: take over")
    ben.says("take over")
    ben.wait_for("Anna has left")
    assert anna.end() == 1
    for challenge, answer in list(zip(CHALLENGES, ANSWERS, strict=True))[2:]:
        asked(ben, challenge)
        ben.says(answer)
    assert ben.end() == 0


def test_an_observer_hears_everything_and_answers_nothing(
    crew: list[Machine], tmp_path: Path
) -> None:
    anna = opened(crew, tmp_path)
    eve = joined(crew, tmp_path, "Eve", "--observe")
    asked(eve, CHALLENGES[0])
    eve.says(ANSWERS[0])
    eve.wait_for("does not count: an observer only watches")
    anna.says(ANSWERS[0])
    eve.wait_for("Runway surface: dry runway")


def test_a_wrong_code_lets_nobody_in(crew: list[Machine], tmp_path: Path) -> None:
    anna = opened(crew, tmp_path)
    code, port = code_of(anna)
    wrong = code[:-1] + str((int(code[-1]) + 1) % 10)
    crew.append(Machine(tmp_path, "Mal", "join", f"127.0.0.1:{port}", "--code", wrong))
    assert crew[-1].end() == 2
    crew[-1].wait_for("not let in")
    assert len(crew[-1].lines) == 1
    anna.wait_for("Somebody gave a wrong code")
