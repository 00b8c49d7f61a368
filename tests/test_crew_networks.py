"""Two people over bad networks: whole programs, real sockets, a relay or a broker between."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from crew_network import Network, Relay, without_multicast
from crew_people import broker, mosquitto
from crew_processes import Machine, code_of
from crew_relay import Faults
from crew_same import answered, flown_alike, runs, said_done
from flying import ANSWERS, CHALLENGES, WEIGHT
from test_crew_flight import ENGINEERS, answer_all, asked

NOT_HEARD = "is not heard. Nothing counts until then, or say: continue alone"

OPEN = ("open", "--phase", "before-takeoff", "--set", WEIGHT)

behind_a_broker = pytest.mark.skipif(mosquitto() is None, reason="no Mosquitto on this machine")

ROADS = ["near", pytest.param("far", marks=behind_a_broker)]
"""Over WebSocket, and through a broker."""


@dataclass
class Two:
    """Two machines and the lines between them or between each and the broker."""

    network: Network
    anna: Machine
    ben: Machine
    lines: list[Relay]

    @property
    def both(self) -> tuple[Machine, Machine]:
        return self.anna, self.ben

    def cut(self, how: str) -> None:
        for line in self.lines[-1:]:
            getattr(self.network, how)(line)

    def heal(self) -> None:
        for line in self.lines:
            self.network.heal(line)


@contextlib.contextmanager
def two(folder: Path, road: str, faults: Faults | None = None, messages: bool = False) -> Iterator:
    """Anna opens, Ben joins over lines with these faults; with ``messages`` each message of a
    WebSocket has its own fate, else a line is a stream."""
    faults = Faults() if faults is None else faults
    machines: list[Machine] = []
    apart = without_multicast(folder)
    with contextlib.ExitStack() as stack:
        network = stack.enter_context(Network())
        lines: list[Relay] = []
        try:
            if road == "far":
                port = stack.enter_context(broker(folder))
                lines = [network.stream(port, faults, seed) for seed in (1, 2)]
                ways = [("--through", f"mqtt://127.0.0.1:{line.port}") for line in lines]
                machines.append(Machine(folder, "Anna", *OPEN, *ways[0], environment=apart))
                code, _ = code_of(machines[0])
                way = ways[1]
            else:
                near = ("--port", "0", "--address", "127.0.0.1")
                machines.append(Machine(folder, "Anna", *OPEN, *near, environment=apart))
                code, port = code_of(machines[0])
                make = network.messages if messages else network.stream
                lines = [make(port, faults)]
                way = (f"127.0.0.1:{lines[0].port}",)
            ben = Machine(folder, "Ben", "join", *way, "--code", code, environment=apart)
            machines.append(ben)
            for machine in machines:
                machine.wait_for("Ben: pilot monitoring", 60)
            yield Two(network, machines[0], machines[1], lines)
        finally:
            for machine in machines:
                machine.stop()
                print(f"--- {machine.name}", *machine.lines, sep="\n")


def flown(crew: Two) -> None:
    """Both have come to the end, and to the same one."""
    assert [machine.end() for machine in crew.both] == [0, 0]
    flown_alike(*crew.both)


def held_alike(crew: Two, items: int) -> None:
    """The first items are done on both machines, and what one holds the other holds too."""
    for machine in crew.both:
        asked(machine, CHALLENGES[items])
        machine.kill()
        assert said_done(machine) == list(CHALLENGES[:items])
    hers, his = (next(iter(runs(machine).values())) for machine in crew.both)
    shorter = min(len(hers), len(his))
    assert hers[:shorter] == his[:shorter]
    assert answered(hers) == answered(his) == list(CHALLENGES[:items])


def test_a_third_of_a_second_each_way_is_no_hindrance(tmp_path: Path) -> None:
    with two(tmp_path, "near", Faults(delay=0.3, jitter=0.1)) as crew:
        answer_all(*crew.both, last=3)
        held_alike(crew, 3)


@pytest.mark.slow
@pytest.mark.parametrize("road", ROADS)
def test_a_list_is_flown_with_a_third_of_a_second_each_way(tmp_path: Path, road: str) -> None:
    # Behind a broker two lines follow one another: half of it is on each.
    delay = 0.3 if road == "near" else 0.15
    with two(tmp_path, road, Faults(delay=delay, jitter=0.1)) as crew:
        answer_all(*crew.both)
        flown(crew)


@pytest.mark.slow
def test_every_fifth_message_may_be_lost_doubled_or_overtaken(tmp_path: Path) -> None:
    faults = Faults(loss=0.2, double=0.2, overtaken=0.2)
    with two(tmp_path, "near", faults, messages=True) as crew:
        answer_all(*crew.both, last=7)
        held_alike(crew, 7)


@pytest.mark.slow
@pytest.mark.parametrize(
    "faults",
    [Faults(loss=0.2), Faults(double=0.2, overtaken=0.2)],
    ids=["lost", "doubled, overtaken"],
)
def test_a_list_is_flown_whatever_becomes_of_single_messages(
    tmp_path: Path, faults: Faults
) -> None:
    with two(tmp_path, "near", faults, messages=True) as crew:
        answer_all(*crew.both)
        flown(crew)


@pytest.mark.slow
@pytest.mark.parametrize("road", ROADS)
def test_a_list_is_flown_where_the_stream_stalls(tmp_path: Path, road: str) -> None:
    with two(tmp_path, road) as crew:
        for line in crew.lines:
            line.faults.stalls = 0.4 if road == "near" else 0.2
        for first, last in ((0, 5), (5, 9)):
            answer_all(*crew.both, first=first, last=last)
            stand_still(crew, last)
        answer_all(*crew.both, first=9)
        flown(crew)
        for machine in crew.both:
            told = [line for line in machine.told() if NOT_HEARD in line or " is back" in line]
            assert len(told) >= 4
            assert all(NOT_HEARD in line for line in told[::2]), told
            assert all(" is back" in line for line in told[1::2]), told


def stand_still(crew: Two, at: int) -> None:
    """The line stands still while item ``at`` is asked, until both have been told."""
    for machine in crew.both:
        asked(machine, CHALLENGES[at])
    before = [len(machine.lines) for machine in crew.both]
    crew.cut("silence")
    for machine, here in zip(crew.both, before, strict=True):
        machine.wait_for(NOT_HEARD, since=here)
    crew.heal()
    for machine, here in zip(crew.both, before, strict=True):
        machine.wait_for(" is back", since=here)


def cut_in_the_middle(
    crew: Two, how: str, seconds: float, at: int = 5, last: int = len(CHALLENGES)
) -> None:
    """A cut while item ``at`` is asked, whose answer is given into the cut; flown until
    ``last``."""
    anna, ben = crew.both
    answer_all(anna, ben, last=at)
    for machine in crew.both:
        asked(machine, CHALLENGES[at])
    began = time.monotonic()
    crew.cut(how)
    anna.wait_for(f"Ben {NOT_HEARD}", 6)
    ben.wait_for(f"Anna {NOT_HEARD}", 6)
    who = ben if CHALLENGES[at] in ENGINEERS else anna
    before = len(who.lines)
    who.says(ANSWERS[at])
    time.sleep(max(0.0, began + seconds - time.monotonic()))
    for machine in crew.both:
        assert said_done(machine) == list(CHALLENGES[:at])
    crew.heal()
    anna.wait_for("Ben is back", 30)
    ben.wait_for("Anna is back", 30)
    told = who.wait_for(f"^{CHALLENGES[at]}: .|does not count|too late|nothing counts", 20, before)
    if not told.startswith(CHALLENGES[at]):
        who.says(ANSWERS[at])
    answer_all(anna, ben, first=at + 1, last=last)
    if last < len(CHALLENGES):
        held_alike(crew, last)
    else:
        flown(crew)


@pytest.mark.slow
def test_a_cut_of_a_few_seconds_is_said_to_both_and_nothing_counts_in_it(tmp_path: Path) -> None:
    with two(tmp_path, "near") as crew:
        cut_in_the_middle(crew, "cut", 5, at=2, last=4)


@pytest.mark.slow
@pytest.mark.parametrize("how", ["cut", "silence"])
@pytest.mark.parametrize("road", ROADS)
def test_half_a_minute_without_a_line_loses_nothing(tmp_path: Path, road: str, how: str) -> None:
    with two(tmp_path, road) as crew:
        cut_in_the_middle(crew, how, 30)


@pytest.mark.slow
@pytest.mark.parametrize("road", ROADS)
def test_ten_minutes_without_a_line_lose_nothing(tmp_path: Path, road: str) -> None:
    with two(tmp_path, road) as crew:
        cut_in_the_middle(crew, "silence", 600)


def test_what_is_said_into_a_cut_answers_no_question_that_was_not_asked(tmp_path: Path) -> None:
    with two(tmp_path, "near") as crew:
        anna, ben = crew.both
        answer_all(anna, ben, last=2)
        for machine in crew.both:
            asked(machine, CHALLENGES[2])
        crew.cut("cut")
        anna.wait_for(f"Ben {NOT_HEARD}", 6)
        here = len(anna.lines)
        anna.says(ANSWERS[2])
        anna.says(ANSWERS[3])
        anna.wait_for("nothing counts now", 5, here)
        crew.heal()
        asked(ben, CHALLENGES[3])
        ben.says(ANSWERS[3])
        anna.wait_for("pilot flying too", 20, here)
        assert f"Anna: {ANSWERS[3]}" not in anna.lines
        anna.says(ANSWERS[3])
        answer_all(anna, ben, first=4, last=5)
        held_alike(crew, 5)


def apart(crew: Two) -> None:
    """Both go on alone after the fourth item and answer the fifth; then the line is back."""
    anna, ben = crew.both
    answer_all(anna, ben, last=4)
    for machine in crew.both:
        asked(machine, CHALLENGES[4])
    crew.cut("cut")
    for machine, other in ((anna, "Ben"), (ben, "Anna")):
        machine.wait_for(f"{other} {NOT_HEARD}", 6)
        machine.says("continue alone")
        machine.wait_for("You go on alone. Who comes back joins again")
        machine.says(ANSWERS[4])
        asked(machine, CHALLENGES[5])
    crew.heal()
    anna.wait_for("You and Ben both went on alone: these are two runs now and stay two", 30)
    ben.wait_for("You and Anna both went on alone: these are two runs now and stay two", 30)


def two_runs(crew: Two, done: int) -> None:
    """Two runs under two names, alike until they parted, each with so many items done."""
    ((hers, her_events),), ((his, his_events),) = (runs(machine).items() for machine in crew.both)
    assert hers != his
    assert answered(her_events) == answered(his_events) == list(CHALLENGES[:done])
    pairs = enumerate(zip(her_events, his_events, strict=False))
    fork = next(number for number, (one, other) in pairs if one != other)
    assert answered(her_events[:fork]) == list(CHALLENGES[:4])


def test_who_both_go_on_alone_have_two_runs_from_there(tmp_path: Path) -> None:
    with two(tmp_path, "near") as crew:
        apart(crew)
        for machine in crew.both:
            machine.says(ANSWERS[5])
            asked(machine, CHALLENGES[6])
            machine.kill()
        two_runs(crew, 6)


@pytest.mark.slow
@pytest.mark.parametrize("road", ROADS)
def test_two_runs_are_each_flown_to_their_end(tmp_path: Path, road: str) -> None:
    with two(tmp_path, road) as crew:
        apart(crew)
        for machine in crew.both:
            for challenge, answer in list(zip(CHALLENGES, ANSWERS, strict=True))[5:]:
                asked(machine, challenge)
                machine.says(answer)
            assert machine.end() == 0
        two_runs(crew, len(CHALLENGES))
