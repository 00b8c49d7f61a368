"""A crew in a world of its own: disks, a network and a clock that do whatever a test says."""

from __future__ import annotations

from dataclasses import dataclass, field

from runner.crew.core.base import Turn
from runner.crew.core.happenings import (
    Fault,
    Happening,
    Ordered,
    Rewound,
    Send,
    Settled,
    Store,
    Turned,
    TwoRuns,
)
from runner.crew.core.member import Member
from runner.crew.core.messages import Message, decode, encode
from runner.crew.core.records import Record, record_from_json, record_to_json


@dataclass
class Machine:
    """One member's machine: ``disk`` survives a crash, ``queue`` and the process do not.

    ``steps`` are the events its engine was stepped with, ``spoken`` those whose effects its
    person heard, over all lives of the process.
    """

    me: str
    wants: str = "crew"
    disk: list[str] = field(default_factory=list)
    queue: list[tuple[int, Record]] = field(default_factory=list)
    member: Member | None = None
    life: int = 0
    steps: list[str] = field(default_factory=list)
    spoken: list[str] = field(default_factory=list)
    turned: list[Turned] = field(default_factory=list)
    happened: list[Happening] = field(default_factory=list)
    proposed: list[tuple[str, str]] = field(default_factory=list)

    @property
    def parted(self) -> bool:
        return any(isinstance(one, TwoRuns) for one in self.happened)


class World:
    """Machines and what is under way between them."""

    def __init__(self, names: str = "ab", observers: str = "") -> None:
        self.now = 1000
        self.flying: list[tuple[str, str, bytes]] = []
        self.ids = 0
        self.machines = {
            name: Machine(name * 8, "observer" if name in observers else "crew") for name in names
        }
        self.by_id = {machine.me: name for name, machine in self.machines.items()}
        self.cut: set[frozenset[str]] = set()
        for name in names:
            self.start(name)

    def fresh(self) -> str:
        self.ids += 1
        return f"{self.ids * 2654435761 % 2**32:08x}{self.ids:08x}"

    def start(self, name: str) -> None:
        machine = self.machines[name]
        machine.life += 1
        records = [record_from_json(line) for line in machine.disk]
        machine.member = Member(
            machine.me,
            f"{machine.life:08x}",
            name=name,
            wants=machine.wants,  # type: ignore[arg-type]
            records=records,
            admit=self.admit,
            fresh=self.fresh,
            now=self.now,
        )
        machine.steps = [entry.text for entry in machine.member.log]
        machine.spoken += machine.steps[len(machine.spoken) : machine.member.settled]
        for other in self.machines:
            if other != name and self.machines[other].member is not None:
                self.link(name, other)

    def admit(self, _by: str, text: str) -> str:
        if text.startswith("bad"):
            raise Turn("not a good event")
        return text

    def link(self, one: str, other: str) -> None:
        for here, there in ((one, other), (other, one)):
            member = self.machines[here].member
            if member is not None:
                self.do(here, member.link(self.machines[there].me, self.now))

    def crash(self, name: str) -> None:
        machine = self.machines[name]
        machine.queue.clear()
        machine.member = None

    def write(self, name: str, records: int, tell: bool = True) -> None:
        """The disk takes so many records; with ``tell`` the process learns of it."""
        machine = self.machines[name]
        done = machine.queue[:records]
        del machine.queue[:records]
        machine.disk += [record_to_json(record) for _, record in done]
        if done and tell and machine.member is not None:
            self.do(name, machine.member.stored(done[-1][0], self.now))

    def do(self, name: str, happenings: list[Happening]) -> None:
        machine = self.machines[name]
        assert machine.member is not None
        for one in happenings:
            machine.happened.append(one)
            match one:
                case Send(to, message):
                    self.flying.append((machine.me, to, encode(message)))
                case Store(ticket, record):
                    machine.queue.append((ticket, record))
                case Ordered(entry):
                    assert entry.number == len(machine.steps)
                    machine.steps.append(entry.text)
                case Rewound(length):
                    del machine.steps[length:]
                case Settled(length):
                    for text in machine.steps[len(machine.spoken) : length]:
                        machine.spoken.append(text)
                case Turned():
                    machine.turned.append(one)
                case Fault(_, reason):
                    raise AssertionError(f"{name} saw a fault: {reason}")

    def deliver(self, number: int, keep: bool = False) -> None:
        sender, to, data = self.flying[number % len(self.flying)]
        if not keep:
            del self.flying[number % len(self.flying)]
        name = self.by_id[to]
        member = self.machines[name].member
        if member is not None and frozenset((self.by_id[sender], name)) not in self.cut:
            message: Message = decode(data)
            self.do(name, member.receive(sender, message, self.now))

    def propose(self, name: str, text: str) -> None:
        member = self.machines[name].member
        if member is not None:
            number, happenings = member.propose(text, self.now)
            self.machines[name].proposed.append((f"{self.machines[name].life}", text))
            assert number > 0
            self.do(name, happenings)

    def tick(self, ms: int) -> None:
        self.now += ms
        for name, machine in self.machines.items():
            if machine.member is not None:
                self.do(name, machine.member.tick(self.now))

    def calm(self, rounds: int = 60) -> None:
        """Everything works: what is under way arrives, what is to be stored is."""
        self.cut.clear()
        for name, machine in self.machines.items():
            if machine.member is None:
                self.start(name)
        for one in self.machines:
            for other in self.machines:
                if one < other:
                    self.link(one, other)
        for _ in range(rounds):
            self.tick(300)
            for _ in range(4):
                under_way, self.flying = self.flying, []
                for sender, to, data in under_way:
                    self.flying.insert(0, (sender, to, data))
                    self.deliver(0)
                for name in self.machines:
                    self.write(name, 10_000)

    def opened(self, first: str = "a") -> World:
        """The crew opened by ``first``, everybody joined."""
        member = self.machines[first].member
        assert member is not None
        self.do(first, member.open(self.now))
        self.propose(first, "start")
        self.calm(20)
        return self
