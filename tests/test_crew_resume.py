"""Coming back to a crew's run after a kill: real processes, over WebSocket and a broker."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest

from crew_people import broker, mosquitto
from crew_processes import Machine, code_of
from flying import CHALLENGES
from test_crew_flight import answer_all, asked, events

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
        code, port = code_of(other) if not since else shown(other, since)
        where = () if self.through else (f"127.0.0.1:{port}",)
        new = self.machine(name, "join", *where, "--code", code, *self.through)
        other.wait_for(f"Runner: {name} is aboard")
        return new

    def two(self) -> tuple[Machine, Machine]:
        anna = self.opened()
        return anna, self.joined("Ben", anna)


def shown(machine: Machine, since: int) -> tuple[str, int]:
    """The code shown after that line, and the port."""
    line = machine.wait_for("Join with", since=since)
    found = re.search(r"“([0-9 ]+)”(?:.*:(\d+)\))?", line)
    assert found is not None, line
    return found[1], int(found[2] or 0)


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
    assert len(answered) == len(CHALLENGES) + 1, "each once, and what both answer twice"


def test_who_joined_is_killed_and_comes_back(cockpits: Cockpits) -> None:
    anna, ben = cockpits.two()
    answer_all(anna, ben, last=3)
    asked(ben, CHALLENGES[3])
    ben.kill()
    anna.wait_for("Ben is not heard")
    ben = cockpits.machine("Ben", "join", "--resume")
    ben.wait_for("You are back. Anna is there")
    anna.wait_for("Ben is back")
    finish(anna, ben, 3)


def test_who_opened_is_killed_and_comes_back(cockpits: Cockpits) -> None:
    anna, ben = cockpits.two()
    answer_all(anna, ben, last=3)
    asked(ben, CHALLENGES[3])
    anna.kill()
    ben.wait_for("Anna is not heard")
    anna = cockpits.machine("Anna", "open", "--resume")
    anna.wait_for("You are back. Ben is there")
    ben.wait_for("Anna is back")
    finish(anna, ben, 3)
