"""Coming back to a crew's run after a kill: real processes, over WebSocket and a broker."""

from __future__ import annotations

import asyncio
import random
import signal
import sqlite3
import time
from collections.abc import Iterator
from contextlib import ExitStack, closing
from pathlib import Path

import pytest

from crew_people import Person, broker, free_port, mosquitto, until
from crew_processes import Machine, code_of
from flying import ANSWERS, CHALLENGES, fly
from runner.crew.far import Far, is_taken, read_broker
from runner.crew.finding import announced, find
from runner.crew.near import Hub
from runner.crew.nearby import Nearby
from test_crew_flight import BOTH, ENGINEERS, answer_all, asked, events

SLOW = pytest.mark.slow
NEAR_FIRST = ["websocket", pytest.param("broker", marks=SLOW)]
FAR_FIRST = [pytest.param("websocket", marks=SLOW), "broker"]
WHERE = ("open", "--phase", "before-takeoff", "--set", "gross_weight=74310lb")


class Cockpits:
    """Machines that meet over one kind of way."""

    def __init__(self, folder: Path, port: int | None) -> None:
        self.folder = folder
        self.through = ("--through", f"mqtt://127.0.0.1:{port}") if port else ()
        self.machines: list[Machine] = []

    def machine(self, name: str, *arguments: str) -> Machine:
        self.machines.append(Machine(self.folder, name, *arguments))
        return self.machines[-1]

    def opened(self, name: str = "Anna") -> Machine:
        near = () if self.through else ("--port", "0", "--address", "127.0.0.1")
        return self.machine(name, *WHERE, *near, *self.through)

    def joined(self, name: str, other: Machine, since: int = 0) -> Machine:
        code, port = code_of(other, since)
        where = () if self.through else (f"127.0.0.1:{port}",)
        new = self.machine(name, "join", *where, "--code", code, *self.through)
        other.wait_for(f"Runner: {name} is aboard")
        return new

    def two(self) -> tuple[Machine, Machine]:
        anna = self.opened()
        return anna, self.joined("Ben", anna)


@pytest.fixture(params=["websocket", "broker"])
def cockpits(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Cockpits]:
    with ExitStack() as stack:
        port = None
        if request.param == "broker":
            if mosquitto() is None:
                pytest.skip("no Mosquitto on this machine")
            port = stack.enter_context(broker(tmp_path))
        made = Cockpits(tmp_path, port)
        yield made
        for machine in made.machines:
            machine.stop()


def finish(anna: Machine, ben: Machine, first: int) -> None:
    answer_all(anna, ben, first=first)
    assert (anna.end(), ben.end()) == (0, 0)
    assert events(anna) == events(ben)
    answered = [event for event in events(anna) if '"is":"Heard"' in event and "accept" in event]
    both = 1 if first <= CHALLENGES.index(BOTH) else 0
    assert len(answered) == len(CHALLENGES) + both, "each once, what both answer by both"


def killed_and_back(cockpits: Cockpits, gone: str, way: str) -> None:
    """One of two is killed in the middle of a list, comes back, and they finish it."""
    two = dict(zip(("Anna", "Ben"), cockpits.two(), strict=True))
    stays = next(name for name in two if name != gone)
    answer_all(two["Anna"], two["Ben"], last=3)
    asked(two["Ben"], CHALLENGES[3])
    two[gone].kill()
    two[stays].wait_for(f"{gone} is not heard")
    two[gone] = cockpits.machine(gone, way, "--resume")
    two[gone].wait_for(f"You are back. {stays} is there")
    two[stays].wait_for(f"{gone} is back")
    finish(two["Anna"], two["Ben"], 3)


@pytest.mark.parametrize("cockpits", NEAR_FIRST, indirect=True)
def test_who_joined_is_killed_and_comes_back(cockpits: Cockpits) -> None:
    killed_and_back(cockpits, "Ben", "join")


@pytest.mark.parametrize("cockpits", FAR_FIRST, indirect=True)
def test_who_opened_is_killed_and_comes_back(cockpits: Cockpits) -> None:
    killed_and_back(cockpits, "Anna", "open")


def alone(machine: Machine, other: str, challenge: str) -> None:
    """The other is not heard; this machine's person goes on without."""
    machine.wait_for(f"{other} is not heard")
    machine.says("continue alone")
    machine.wait_for("You go on alone")
    here = len(machine.lines)
    machine.wait_for(f"Runner: .*{challenge}", since=max(0, here - 3))


def answers(machine: Machine, first: int, last: int) -> None:
    for challenge, answer in list(zip(CHALLENGES, ANSWERS, strict=True))[first:last]:
        asked(machine, challenge)
        machine.says(answer)
    asked(machine, CHALLENGES[last])


@pytest.mark.slow
def test_who_comes_back_to_one_who_went_on_alone_is_given_what_was_flown(
    cockpits: Cockpits,
) -> None:
    anna, ben = cockpits.two()
    answer_all(anna, ben, last=2)
    asked(ben, CHALLENGES[2])
    anna.kill()
    alone(ben, "Anna", CHALLENGES[2])
    answers(ben, 2, 6)
    anna = cockpits.machine("Anna", "open", "--resume")
    ben.wait_for("Anna is back")
    ben.wait_for("Runner: Anna is aboard")
    asked(anna, CHALLENGES[6])
    finish(anna, ben, 6)


@pytest.mark.slow
def test_two_who_both_went_on_alone_have_two_runs_and_are_told(cockpits: Cockpits) -> None:
    anna, ben = cockpits.two()
    answer_all(anna, ben, last=2)
    asked(ben, CHALLENGES[2])
    ben.kill()
    alone(anna, "Ben", CHALLENGES[2])
    answers(anna, 2, 4)
    anna.kill()
    ben = cockpits.machine("Ben", "join", "--resume")
    alone(ben, "Anna", CHALLENGES[2])
    answers(ben, 2, 3)
    anna = cockpits.machine("Anna", "open", "--resume")
    for machine, other in ((anna, "Ben"), (ben, "Anna")):
        machine.wait_for(f"You and {other} both went on alone: these are two runs now")
    answers(ben, 3, 5)
    answers(anna, 4, 5)
    names = {name_of_run(machine) for machine in (anna, ben)}
    assert len(names) == 2


def name_of_run(machine: Machine) -> str:
    with closing(sqlite3.connect(machine.logbook)) as book:
        return str(book.execute("SELECT uuid FROM runs").fetchone()[0])


@pytest.mark.parametrize("cockpits", NEAR_FIRST, indirect=True)
def test_the_code_is_shown_again_until_it_is_used_and_then_there_is_a_new_one(
    cockpits: Cockpits,
) -> None:
    anna = cockpits.opened()
    first, _ = code_of(anna)
    here = len(anna.lines)
    anna.says("crew code")
    assert code_of(anna, here)[0] == first
    ben = cockpits.joined("Ben", anna)
    ben.says("show the crew code")
    ben.wait_for("Others are let in elsewhere: say crew code to the machine of Anna")
    here = len(anna.lines)
    anna.says("crew code")
    assert code_of(anna, here)[0] != first
    cleo = cockpits.joined("Cleo", anna, since=here)
    asked(cleo, CHALLENGES[0])
    anna.says(ANSWERS[0])
    for machine in cockpits.machines:
        machine.wait_for(f"{CHALLENGES[0]}: {ANSWERS[0]}")


@pytest.mark.slow
def test_one_who_goes_on_alone_lets_others_in_and_the_first_comes_back(
    cockpits: Cockpits,
) -> None:
    anna, ben = cockpits.two()
    answer_all(anna, ben, last=2)
    asked(ben, CHALLENGES[2])
    anna.kill()
    alone(ben, "Anna", CHALLENGES[2])
    ben.wait_for("Others can join at this machine")
    here = len(ben.lines)
    ben.says("crew code")
    cleo = cockpits.joined("Cleo", ben, since=here)
    asked(cleo, CHALLENGES[2])
    cleo.wait_for("Cleo: pilot flying")
    cleo.says(ANSWERS[2])
    ben.wait_for(f"{CHALLENGES[2]}: {ANSWERS[2]}")
    anna = cockpits.machine("Anna", "open", "--resume")
    ben.wait_for("Runner: Anna is aboard")
    cleo.wait_for("Anna is (there|aboard)")
    for machine in (anna, ben, cleo):
        asked(machine, CHALLENGES[3])
    cleo.says(ANSWERS[3])
    anna.wait_for("too")


def lines_of(machine: Machine) -> list[str]:
    assert machine.end() == 2
    machine.wait_for("")
    return machine.lines


def test_nothing_to_go_back_to_is_one_clear_line(tmp_path: Path) -> None:
    for verb in ("open", "join"):
        cockpits = Cockpits(tmp_path / verb, None)
        told = lines_of(cockpits.machine("Anna", verb, "--resume"))
        assert len(told) == 1
        assert "no crew's run to go back to; open a crew with runner crew open" in told[0]


def test_a_crews_run_that_is_over_or_not_ours_any_more_is_one_clear_line(tmp_path: Path) -> None:
    cockpits = Cockpits(tmp_path, None)
    anna, ben = cockpits.two()
    answer_all(anna, ben, last=1)
    ben.kill()
    anna.kill()
    for machine in (anna, ben):
        flown = fly(machine.logbook, [], "--resume")
        assert (flown.status, flown.lines) == (2, [])
        (line,) = flown.errors.splitlines()
        assert "(run 1) is a crew's; go back to it with runner crew open --resume" in line
    key = tmp_path / "Ben-crew.key"
    kept = key.read_bytes()
    key.unlink()
    told = lines_of(cockpits.machine("Ben", "join", "--resume"))
    assert len(told) == 1 and "the key beside this logbook is not the one" in told[0]
    key.write_bytes(kept)
    with closing(sqlite3.connect(anna.logbook)) as book, book:
        book.execute("UPDATE runs SET finished = 'complete'")
    told = lines_of(cockpits.machine("Anna", "open", "--resume"))
    assert len(told) == 1 and "(run 1) is over: complete" in told[0]
    with closing(sqlite3.connect(ben.logbook)) as book, book:
        book.execute("DELETE FROM events WHERE number > 3")
    told = lines_of(cockpits.machine("Ben", "join", "--resume"))
    assert len(told) == 1 and "was flown on without its crew" in told[0]
    ben.logbook.unlink()
    told = lines_of(cockpits.machine("Ben", "join", "--resume"))
    assert len(told) == 1 and "no crew's run to go back to" in told[0]


@pytest.mark.slow
def test_who_joined_and_went_on_alone_goes_on_by_opening_the_run_again(tmp_path: Path) -> None:
    cockpits = Cockpits(tmp_path, None)
    anna, ben = cockpits.two()
    answer_all(anna, ben, last=1)
    asked(ben, CHALLENGES[1])
    anna.kill()
    alone(ben, "Anna", CHALLENGES[1])
    answers(ben, 1, 2)
    ben.kill()
    ben = cockpits.machine("Ben", "open", "--resume")
    ben.wait_for("You fly this run alone now")
    answers(ben, 2, 4)
    ben.stop()


@pytest.mark.slow
def test_who_opened_at_another_port_is_found_again_by_the_room(tmp_path: Path) -> None:
    async def heard() -> list[tuple[str, int]]:
        async with announced("4821", 47999, ["127.0.0.1"]):
            return await find("4821", 3)

    if not asyncio.run(heard()):
        pytest.skip("no multicast on this machine")
    cockpits = Cockpits(tmp_path, None)
    anna, ben = cockpits.two()
    answer_all(anna, ben, last=1)
    asked(ben, CHALLENGES[1])
    anna.kill()
    ben.kill()
    cockpits.machine("Anna", "open", "--resume", "--port", str(free_port()))
    ben = cockpits.machine("Ben", "join", "--resume")
    ben.wait_for("You are back. Anna is there", seconds=30)
    asked(ben, CHALLENGES[1])
    for machine in cockpits.machines:
        machine.stop()


@pytest.mark.slow
def test_another_crew_at_the_old_address_is_said_and_changes_nothing(tmp_path: Path) -> None:
    cockpits = Cockpits(tmp_path, None)
    anna, ben = cockpits.two()
    answer_all(anna, ben, last=1)
    _, port = code_of(anna)
    ben.kill()
    anna.kill()
    before = events(ben)
    cockpits.machine("Dora", *WHERE, "--port", str(port), "--address", "127.0.0.1")
    cockpits.machines[-1].wait_for("Join with")
    ben = cockpits.machine("Ben", "join", "--resume")
    ben.wait_for("whoever answers there is not of this crew")
    ben.wait_for("Anna is not heard")
    assert events(ben) == before


@pytest.mark.slow
def test_who_left_comes_back_to_one_who_took_over_and_lets_a_third_in(cockpits: Cockpits) -> None:
    anna, ben = cockpits.two()
    answer_all(anna, ben, last=2)
    asked(ben, CHALLENGES[2])
    anna.process.send_signal(signal.SIGINT)
    ben.wait_for("Say: take over")
    ben.says("take over")
    assert anna.end() == 1
    answers(ben, 2, 5)
    verb = "join" if cockpits.through else "open"
    anna = cockpits.machine("Anna", verb, "--resume")
    ben.wait_for("Runner: Anna is aboard")
    who = ben if cockpits.through else anna
    here = len(who.lines)
    who.says("crew code")
    cockpits.joined("Cleo", who, since=here)
    for machine in cockpits.machines[1:]:
        asked(machine, CHALLENGES[5])


@pytest.mark.slow
def test_a_crews_run_goes_on_where_it_was_after_kills_at_any_moment(cockpits: Cockpits) -> None:
    anna, ben = cockpits.two()
    verbs = {"Anna": "open", "Ben": "join"}
    chance = random.Random(len(cockpits.through))
    both = [anna, ben]
    for place, (challenge, answer) in enumerate(zip(CHALLENGES, ANSWERS, strict=True)):
        asked(both[0], challenge)
        asked(both[1], challenge)
        if challenge == BOTH:
            both[1].says(answer)
            both[0].wait_for("pilot flying too")
            both[0].says(answer)
            continue
        who = 1 if challenge in ENGINEERS else 0
        both[who].says(answer)
        if place % 4 != 1:
            continue
        time.sleep(chance.random() * 0.2)
        victim = chance.randrange(2)
        name = both[victim].name
        both[victim].kill()
        both[victim] = cockpits.machine(name, verbs[name], "--resume")
        both[victim].wait_for("You are back")
        both[1 - victim].wait_for(f"{name} is back")
        time.sleep(0.5)
        heard = [line for line in both[1 - victim].lines if line.startswith(f"{challenge}: ")]
        if not heard and victim == who:
            # It was said to a machine that had not passed it on: nothing counts as said.
            both[who].says(answer)
    anna, ben = both
    assert (anna.end(), ben.end()) == (0, 0)
    assert events(anna) == events(ben)


async def test_a_room_in_which_another_crew_is_open_is_known_before_one_is_opened(
    tmp_path: Path,
) -> None:
    if mosquitto() is None:
        pytest.skip("no Mosquitto on this machine")
    with broker(tmp_path) as port:
        where = read_broker(f"mqtt://127.0.0.1:{port}")
        assert not await is_taken(where, "4821")
        anna = Person(tmp_path, "anna", Far(where, "4821", opens=True), opens=True)
        await until(lambda: anna.links == [(True, "")])
        await asyncio.sleep(0.2)
        assert await is_taken(where, "4821")
        assert not await is_taken(where, "4822")
        await anna.stop()
        assert not await is_taken(where, "4821")
    assert not await is_taken(read_broker(f"mqtt://127.0.0.1:{port}"), "4821")


async def test_two_hubs_of_one_crew_pass_on_between_all_who_are_met_at_either(
    tmp_path: Path,
) -> None:
    first = Hub("127.0.0.1")
    anna = Person(tmp_path, "anna", Nearby("4821", hub=first, searches=False), opens=True)
    await asyncio.wait_for(first.listening.wait(), 5)
    way = Nearby("4821", addresses=[("127.0.0.1", first.port)], host="127.0.0.1", port=0)
    ben = Person(tmp_path, "ben", way, code=anna.crew.new_code())
    await until(lambda: ben.crew.me in anna.crew.member.epochs[-1].voters)
    assert anna.crew.lets_in and not ben.crew.lets_in
    ben.crew.meet_here()
    await until(lambda: way.hub is not None and way.hub.listening.is_set())
    cleo = Person(
        tmp_path,
        "cleo",
        Nearby("4821", addresses=[("127.0.0.1", way.hub.port)], searches=False),
        code=ben.crew.new_code(),
    )
    everybody = (anna, ben, cleo)
    await until(lambda: all(len(one.crew.member.epochs[-1:]) == 1 for one in everybody))
    await until(lambda: len(anna.crew.member.epochs[-1].voters) == 3, what="three fly")
    for number, one in enumerate(everybody):
        one.crew.propose(f"event {number}")
    await until(lambda: all(len(one.heard) == 3 for one in everybody))
    assert anna.heard == ben.heard == cleo.heard
    for one in everybody:
        await one.stop()
