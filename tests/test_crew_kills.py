"""Either of two whole programs killed at random moments of a list that both fly."""

from __future__ import annotations

import contextlib
import random
import re
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from crew_people import broker, mosquitto
from crew_processes import Machine, code_of
from crew_same import answered, runs
from flying import ANSWERS, CHALLENGES, WEIGHT
from test_crew_flight import BOTH, ENGINEERS

ASKED = re.compile(f"Runner: (?:.*[.] )?({'|'.join(CHALLENGES)})[?]?")
DONE = re.compile(f"({'|'.join(CHALLENGES)}): (?!not applicable|heard ).+")
OVER = "Before take-off: complete"

PATIENCE = 60.0
"""Seconds in which two machines that live must come to ask the same again."""


class Person:
    """One of two over all lives of the program; ``lives`` are the lines of those before."""

    def __init__(self, folder: Path, name: str, verb: str, *way: str) -> None:
        self.folder, self.name, self.verb = folder, name, verb
        self.lives: list[list[str]] = []
        self.machine = Machine(folder, name, verb, *way)

    def killed(self) -> None:
        self.machine.kill()
        self.lives.append(self.machine.lines)
        self.machine.stop()

    def back(self) -> None:
        self.machine = Machine(self.folder, self.name, self.verb, "--resume")

    @property
    def asks(self) -> str:
        """What this machine has asked last, in this life."""
        found = (ASKED.fullmatch(line) for line in reversed(self.machine.lines))
        return next((one[1] for one in found if one), "")

    @property
    def over(self) -> bool:
        return OVER in self.machine.lines

    @property
    def heard(self) -> list[str]:
        """The challenges whose answers this person was told to be done, over all lives."""
        lines = [line for life in (*self.lives, self.machine.lines) for line in life]
        return [one[1] for line in lines if (one := DONE.fullmatch(line))]


class Crew:
    """Two persons who fly the list, and a hand that kills."""

    def __init__(self, anna: Person, ben: Person, chance: random.Random) -> None:
        self.anna, self.ben, self.chance = anna, ben, chance
        self.both = (anna, ben)
        self.kills = 0

    @property
    def over(self) -> bool:
        return all(person.over for person in self.both)

    def asked(self) -> str:
        """What both ask, once that has stood for a moment; '' at the end."""
        end = time.monotonic() + PATIENCE
        since, before = time.monotonic(), ""
        while time.monotonic() < end:
            if any(person.over for person in self.both):
                return ""
            now = self.anna.asks if self.anna.asks == self.ben.asks else ""
            if now != before:
                since, before = time.monotonic(), now
            if now and time.monotonic() - since > 0.15:
                return now
            time.sleep(0.01)
        raise AssertionError("they never came to ask the same again")

    def answer(self, challenge: str) -> None:
        """Whoever's it is answers; both where both must."""
        answer = ANSWERS[CHALLENGES.index(challenge)]
        if challenge == BOTH or challenge in ENGINEERS:
            self.ben.machine.says(answer)
        if challenge == BOTH:
            time.sleep(0.3)
        if challenge == BOTH or challenge not in ENGINEERS:
            self.anna.machine.says(answer)

    def moved(self, challenge: str) -> None:
        """Wait until neither asks this any more, or too long for an answer that was lost."""
        end = time.monotonic() + 5
        while time.monotonic() < end and not self.over:
            if all(person.asks != challenge for person in self.both):
                return
            time.sleep(0.01)

    def kill(self) -> None:
        """One of the two, now; it comes back after a moment."""
        victim = self.chance.choice(self.both)
        victim.killed()
        self.kills += 1
        time.sleep(self.chance.random() * 0.5)
        victim.back()

    def fly(self, kills: int, items: int) -> None:
        """Fly so many items of the list, with so many kills spread over them."""
        moments = sorted(self.chance.randrange(items - 1) for _ in range(kills))
        while (challenge := self.asked()) and challenge not in CHALLENGES[items:]:
            self.answer(challenge)
            while moments and moments[0] <= CHALLENGES.index(challenge):
                moments.pop(0)
                time.sleep(self.chance.random() * 0.3)
                self.kill()
                # Sometimes the next kill comes while it is still coming back.
                time.sleep(self.chance.choice((0.0, 1.0)) * self.chance.random() * 2)
            self.moved(challenge)


@contextlib.contextmanager
def crew(folder: Path, road: str, seed: int) -> Iterator[Crew]:
    where = ("open", "--phase", "before-takeoff", "--set", WEIGHT)
    with contextlib.ExitStack() as stack:
        near: tuple[str, ...] = ("--port", "0", "--address", "127.0.0.1")
        far: tuple[str, ...] = ()
        if road == "far":
            near = far = ("--through", f"mqtt://127.0.0.1:{stack.enter_context(broker(folder))}")
        anna = Person(folder, "Anna", *where, *near)
        stack.callback(lambda: anna.machine.stop())
        code, port = code_of(anna.machine)
        ben = Person(folder, "Ben", "join", *(far or (f"127.0.0.1:{port}",)), "--code", code)
        stack.callback(lambda: ben.machine.stop())
        for person in (anna, ben):
            person.machine.wait_for("Ben: pilot monitoring", PATIENCE)
        try:
            yield Crew(anna, ben, random.Random(seed))
        finally:
            for person in (anna, ben):
                lives = (*person.lives, person.machine.lines)
                for number, lines in enumerate(lives):
                    print(f"--- {person.name}, life {number + 1}", *lines, sep="\n")


def flown_with_kills(
    folder: Path, road: str, kills: int, seed: int, items: int = len(CHALLENGES)
) -> int:
    """Fly so many items with so many kills; both hold one run, each item answered once."""
    with crew(folder, road, seed) as two:
        two.fly(kills, items)
        if items == len(CHALLENGES):
            assert [person.machine.end() for person in two.both] == [0, 0]
        else:
            time.sleep(0.5)
            for person in two.both:
                person.machine.kill()
        hers, his = (runs(person.machine) for person in two.both)
        assert hers == his and len(hers) == 1
        (events,) = hers.values()
        assert answered(events) == list(CHALLENGES[:items]), "each once, in order"
        for person in two.both:
            assert person.heard == list(dict.fromkeys(person.heard)), f"{person.name}: told twice"
        return two.kills


behind_a_broker = pytest.mark.skipif(mosquitto() is None, reason="no Mosquitto on this machine")


@pytest.mark.parametrize(
    "road", ["near", pytest.param("far", marks=[behind_a_broker, pytest.mark.slow])]
)
def test_either_program_killed_in_the_middle_of_a_list_loses_nothing(
    tmp_path: Path, road: str
) -> None:
    assert flown_with_kills(tmp_path, road, 3, seed=1, items=5) == 3


@pytest.mark.slow
@pytest.mark.parametrize("road", ["near", pytest.param("far", marks=behind_a_broker)])
def test_either_program_killed_at_a_hundred_random_moments_loses_nothing(
    tmp_path: Path, road: str
) -> None:
    killed = 0
    while killed < 100:
        folder = tmp_path / f"{killed}"
        folder.mkdir()
        killed += flown_with_kills(folder, road, 10, seed=killed)
