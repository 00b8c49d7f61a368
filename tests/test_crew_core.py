"""The crew protocol's core: one list of events on every machine, whatever the network does."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from crew_world import World
from runner.crew.core.happenings import (
    EpochBegan,
    Lost,
    OfferEnded,
    OrderOffered,
    Present,
    Rewound,
    TwoRuns,
)
from runner.crew.core.messages import PIECE, Decline, Part, Propose, decode
from runner.errors import RunnerError


def member(world: World, name: str):
    found = world.machines[name].member
    assert found is not None
    return found


def saw(world: World, name: str, kind: type) -> list:
    return [one for one in world.machines[name].happened if isinstance(one, kind)]


def test_both_hear_the_same_events_and_none_before_both_hold_it():
    world = World().opened()
    a, b = world.machines["a"], world.machines["b"]
    world.propose("b", "gear up")
    world.propose("a", "flaps up")
    assert "flaps up" in a.steps and "flaps up" not in a.spoken
    world.write("a", 10)
    assert "flaps up" not in a.spoken
    world.calm(5)
    assert a.spoken == b.spoken == ["start", "flaps up", "gear up"]


def test_who_joins_late_is_given_the_run_from_its_start():
    world = World()
    world.machines["b"].member = None
    world.do("a", member(world, "a").open(world.now))
    for number in range(300):
        world.propose("a", f"event {number}")
    world.write("a", 1000)
    assert len(world.machines["a"].spoken) == 300
    world.calm(20)
    assert world.machines["b"].spoken == world.machines["a"].spoken
    assert member(world, "a").epochs[-1].voters == (world.machines["a"].me, world.machines["b"].me)


def test_a_first_event_with_its_files_comes_in_pieces():
    world = World()
    world.do("a", member(world, "a").open(world.now))
    text = "".join(chr(0x100 + n % 500) for n in range(PIECE * 21 + 5))
    world.propose("a", text)
    world.propose("a", "next")
    world.calm()
    assert world.machines["b"].steps == [text, "next"]


def test_pieces_that_overtake_each_other_are_not_carried_again():
    world = World()
    world.do("a", member(world, "a").open(world.now))
    text = "".join(chr(0x100 + n % 500) for n in range(PIECE * 21 + 5))
    world.propose("a", text)
    carried = 0
    for _ in range(100):
        world.write("a", 10)
        world.write("b", 10)
        world.tick(100)
        under_way = len(world.flying)
        carried += sum(isinstance(decode(data), Part) for *_, data in world.flying)
        for number in range(under_way - 1, -1, -1):
            world.deliver(number)
    assert world.machines["b"].steps == [text]
    assert carried < 2 * 22


def test_an_event_after_a_quiet_minute_is_sent_once():
    world = World().opened()
    world.calm(200)
    world.flying.clear()
    world.propose("a", "gear up")
    world.write("a", 1)
    world.tick(100)
    assert sum(isinstance(decode(data), Part) for *_, data in world.flying) == 1


def test_nothing_settles_while_the_other_is_gone_until_continue_alone_is_said():
    world = World().opened()
    world.crash("b")
    world.propose("a", "gear up")
    for _ in range(30):
        world.flying.clear()
        world.tick(300)
        world.write("a", 100)
    assert len(saw(world, "a", Lost)) == 1
    assert "gear up" not in world.machines["a"].spoken
    world.do("a", member(world, "a").continue_alone(world.now))
    world.write("a", 100)
    assert world.machines["a"].spoken == ["start", "gear up"]
    world.calm()
    assert world.machines["b"].spoken == ["start", "gear up"]
    assert [one.again for one in saw(world, "a", Present)] == [False, True]


def test_who_ordered_and_comes_back_takes_over_what_went_on_without_it():
    world = World().opened()
    world.cut.add(frozenset("ab"))
    world.propose("a", "never heard by b")
    world.write("a", 100)
    world.propose("b", "given before the break was known")
    world.do("b", member(world, "b").continue_alone(world.now))
    world.propose("b", "alone")
    world.write("b", 100)
    assert [one.reason for one in world.machines["b"].turned] == ["the run went on without it"]
    world.flying.clear()
    world.calm()
    a, b = world.machines["a"], world.machines["b"]
    assert a.spoken == b.spoken == ["start", "alone"]
    assert [entry.text for one in saw(world, "a", Rewound) for entry in one.dropped] == [
        "never heard by b"
    ]
    assert len(member(world, "a").epochs[-1].voters) == 2
    assert not a.parted and not b.parted


def test_two_who_both_went_on_alone_are_two_runs_and_told_so():
    world = World().opened()
    world.cut.add(frozenset("ab"))
    for name in "ab":
        world.do(name, member(world, name).continue_alone(world.now))
        world.propose(name, f"by {name}")
        world.write(name, 100)
    world.flying.clear()
    world.calm()
    assert world.machines["a"].spoken == ["start", "by a"]
    assert world.machines["b"].spoken == ["start", "by b"]
    of_a, of_b = saw(world, "a", TwoRuns), saw(world, "b", TwoRuns)
    assert len(of_a) == len(of_b) == 1
    assert of_a[0].fork == of_b[0].fork == 1
    assert (of_a[0].mine, of_a[0].theirs) == (of_b[0].theirs, of_b[0].mine)
    world.propose("a", "still alone")
    world.calm(5)
    assert world.machines["a"].spoken[-1] == "still alone"


def test_two_who_both_said_continue_alone_and_did_nothing_are_one_run_again():
    world = World().opened()
    world.cut.add(frozenset("ab"))
    for name in "ab":
        world.do(name, member(world, name).continue_alone(world.now))
        world.write(name, 100)
    world.calm()
    assert not world.machines["a"].parted
    assert member(world, "a").epochs == member(world, "b").epochs
    assert len(member(world, "a").epochs[-1].voters) == 2


def test_the_order_is_handed_over_by_consent():
    world = World().opened()
    world.do("a", member(world, "a").offer_order(world.machines["b"].me, world.now))
    world.calm(3)
    assert len(saw(world, "b", OrderOffered)) == 1
    world.propose("a", "while it is offered")
    world.do("b", member(world, "b").answer_offer(True, world.now))
    world.deliver(len(world.flying) - 1)
    world.propose("a", "while it is handed over")
    world.calm()
    assert member(world, "b").orders and not member(world, "a").orders
    want = ["start", "while it is offered", "while it is handed over"]
    assert world.machines["a"].spoken == world.machines["b"].spoken == want
    world.do("a", member(world, "a").leave(world.now))
    world.calm(3)
    world.propose("b", "on my own")
    world.write("b", 100)
    assert world.machines["b"].spoken[-1] == "on my own"


def test_an_offer_can_be_turned_down_and_made_again():
    world = World().opened()
    for round_ in (1, 2):
        world.do("a", member(world, "a").offer_order(world.machines["b"].me, world.now))
        world.calm(8)
        assert len(saw(world, "b", OrderOffered)) == round_
        world.do("b", member(world, "b").answer_offer(False, world.now))
        world.calm(8)
        assert len(saw(world, "a", OfferEnded)) == round_
    assert member(world, "a").orders


def test_a_declined_proposal_is_told_and_does_not_stop_the_next():
    world = World().opened()
    world.propose("b", "bad")
    world.propose("b", "good")
    world.calm()
    assert [one.reason for one in world.machines["b"].turned] == ["not a good event"]
    assert world.machines["a"].spoken == ["start", "good"]


def test_who_turned_a_proposal_down_and_was_killed_says_so_again_when_it_is_back():
    world = World().opened()
    world.propose("b", "bad")
    world.propose("b", "good")
    while any(isinstance(decode(data), Propose) for _, _, data in world.flying):
        world.deliver(0)
    world.flying = [one for one in world.flying if not isinstance(decode(one[2]), Decline)]
    world.write("a", 10)
    world.crash("a")
    world.calm(20)
    assert [one.text for one in world.machines["b"].turned] == ["bad"]
    assert world.machines["b"].spoken == ["start", "good"]


def test_an_observer_sees_all_and_holds_up_nothing():
    world = World("abo", observers="o").opened()
    world.propose("o", "gear up")
    world.propose("b", "flaps up")
    world.calm()
    assert [one.reason for one in world.machines["o"].turned] == ["an observer only watches"]
    assert world.machines["o"].spoken == ["start", "flaps up"]
    world.crash("o")
    world.propose("a", "gear up")
    world.cut.add(frozenset("ao"))
    for _ in range(3):
        for _ in range(len(world.flying)):
            world.deliver(0)
        world.write("a", 100)
        world.write("b", 100)
    assert world.machines["a"].spoken[-1] == world.machines["b"].spoken[-1] == "gear up"
    world.start("o")
    with pytest.raises(RunnerError, match="observer"):
        member(world, "o").continue_alone(world.now)


def test_three_fly_one_run_and_any_of_them_can_be_handed_the_order():
    world = World("abc").opened()
    world.do("a", member(world, "a").offer_order(world.machines["c"].me, world.now))
    world.calm(3)
    world.do("c", member(world, "c").answer_offer(True, world.now))
    world.calm()
    for name in "abc":
        world.propose(name, f"by {name}")
    world.calm()
    assert member(world, "c").orders
    spoken = world.machines["a"].spoken
    assert sorted(spoken) == ["by a", "by b", "by c", "start"]
    assert world.machines["b"].spoken == world.machines["c"].spoken == spoken


def test_every_change_of_the_crew_is_told_to_all():
    world = World().opened()
    of_a = [one.epoch.id for one in saw(world, "a", EpochBegan)]
    of_b = [one.epoch.id for one in saw(world, "b", EpochBegan)]
    assert of_a[-1] == of_b[-1]


def test_another_link_is_no_news_and_a_killed_machine_is_however_soon_it_is_back():
    world = World().opened()
    world.now += 3000
    before = len(saw(world, "a", Present))
    world.calm(10)
    assert len(saw(world, "a", Present)) == before
    world.crash("b")
    world.calm(10)
    assert not saw(world, "a", Lost)
    assert [one.again for one in saw(world, "a", Present)[before:]] == [True]


class AnyCrew(RuleBasedStateMachine):
    """Whatever is delivered, lost, doubled, out of order, stored late or killed."""

    names = "ab"

    def __init__(self) -> None:
        super().__init__()
        self.world = World(self.names)
        self.count = 0
        self.alone = False

    @initialize()
    def open(self) -> None:
        self.world.do("a", member(self.world, "a").open(self.world.now))
        self.world.write("a", 1)

    def some(self, number: int) -> str:
        return self.names[number % len(self.names)]

    @rule(who=st.integers(0, 2), bad=st.booleans())
    def propose(self, who: int, bad: bool) -> None:
        self.count += 1
        self.world.propose(self.some(who), f"{'bad' if bad else 'event'} {self.count}")

    @rule(number=st.integers(0, 500), keep=st.booleans())
    def deliver(self, number: int, keep: bool) -> None:
        if self.world.flying:
            self.world.deliver(number, keep)

    @rule(times=st.integers(1, 40))
    def deliver_in_order(self, times: int) -> None:
        for _ in range(min(times, len(self.world.flying))):
            self.world.deliver(0)

    @rule(times=st.integers(1, 40), data=st.randoms(use_true_random=False))
    def deliver_shuffled(self, times: int, data) -> None:
        for _ in range(min(times, len(self.world.flying))):
            self.world.deliver(data.randrange(len(self.world.flying)), data.random() < 0.2)

    @rule(number=st.integers(0, 500))
    def lose(self, number: int) -> None:
        if self.world.flying:
            del self.world.flying[number % len(self.world.flying)]

    @rule()
    def lose_all(self) -> None:
        self.world.flying.clear()

    @rule(who=st.integers(0, 2), records=st.integers(1, 10), tell=st.booleans())
    def write(self, who: int, records: int, tell: bool) -> None:
        name = self.some(who)
        self.world.write(name, records, tell)
        if not tell:
            self.world.crash(name)
            self.world.start(name)

    @rule()
    def write_all(self) -> None:
        for name in self.names:
            self.world.write(name, 1000)

    @rule(ms=st.integers(1, 1500))
    def tick(self, ms: int) -> None:
        self.world.tick(ms)

    @rule(who=st.integers(0, 2))
    def crash(self, who: int) -> None:
        self.world.crash(self.some(who))
        self.world.start(self.some(who))

    @rule(who=st.integers(0, 2), to=st.integers(0, 2))
    def offer(self, who: int, to: int) -> None:
        name, other = self.some(who), self.some(to)
        try:
            done = member(self.world, name).offer_order(
                self.world.machines[other].me, self.world.now
            )
        except RunnerError:
            return
        self.world.do(name, done)

    @rule(who=st.integers(0, 2), yes=st.booleans())
    def answer(self, who: int, yes: bool) -> None:
        name = self.some(who)
        try:
            self.world.do(name, member(self.world, name).answer_offer(yes, self.world.now))
        except RunnerError:
            return

    @rule()
    def calm(self) -> None:
        self.world.calm(8)

    @invariant()
    def nothing_twice_and_nothing_taken_back(self) -> None:
        for machine in self.world.machines.values():
            found = machine.member
            if found is None:
                continue
            assert [entry.number for entry in found.log] == list(range(len(found.log)))
            proposals = [(entry.by, entry.life, entry.counter) for entry in found.log]
            assert len(set(proposals)) == len(proposals)
            texts = [entry.text for entry in found.log]
            assert len(set(texts)) == len(texts)
            assert machine.steps == texts
            assert texts[: len(machine.spoken)] == machine.spoken

    @invariant()
    def within_an_epoch_one_log_is_the_beginning_of_the_other(self) -> None:
        logs = [m.member.log for m in self.world.machines.values() if m.member is not None]
        for one in logs:
            for other in logs:
                for mine, theirs in zip(one, other, strict=False):
                    if mine.epoch != theirs.epoch:
                        break
                    assert mine == theirs

    @invariant()
    def without_going_on_alone_all_hear_the_same(self) -> None:
        if self.alone:
            return
        spoken = [machine.spoken for machine in self.world.machines.values()]
        for one in spoken:
            for other in spoken:
                shorter = min(len(one), len(other))
                assert one[:shorter] == other[:shorter]

    def teardown(self) -> None:
        self.world.calm(80)
        machines = self.world.machines.values()
        for machine in machines:
            texts = [entry.text for entry in member(self.world, self.world.by_id[machine.me]).log]
            assert texts[: len(machine.spoken)] == machine.spoken
            last = member(self.world, self.world.by_id[machine.me]).epochs[-1]
            orderer = member(self.world, self.world.by_id[last.orderer])
            if orderer.epochs[-1] == last:
                assert machine.spoken == texts
        if not self.alone:
            assert not any(machine.parted for machine in machines)
        if any(machine.parted for machine in machines):
            return
        logs = [m.member.log for m in machines if m.member is not None]
        assert all(log == logs[0] for log in logs)
        assert all(machine.spoken == machine.steps for machine in machines)
        self.every_proposal_has_its_end()

    def every_proposal_has_its_end(self) -> None:
        ordered = set(self.world.machines["a"].steps)
        for machine in self.world.machines.values():
            turned = {one.text for one in machine.turned}
            dropped = {
                entry.text
                for one in machine.happened
                if isinstance(one, Rewound)
                for entry in one.dropped
            }
            for life, text in machine.proposed:
                if life == str(machine.life):
                    assert text in ordered or text in turned or text in dropped, text
                    if not self.alone:
                        assert not (text in ordered and text in turned), text


class AnyCrewAlone(AnyCrew):
    """The same, with links cut and people who go on alone."""

    @rule(who=st.integers(0, 2))
    def continue_alone(self, who: int) -> None:
        name = self.some(who)
        try:
            self.world.do(name, member(self.world, name).continue_alone(self.world.now))
        except RunnerError:
            return
        self.alone = True

    @rule(one=st.integers(0, 2), other=st.integers(0, 2))
    def cut(self, one: int, other: int) -> None:
        if self.some(one) != self.some(other):
            self.world.cut.add(frozenset((self.some(one), self.some(other))))

    @rule()
    def mend(self) -> None:
        self.world.cut.clear()


class AnyThree(AnyCrew):
    names = "abc"


class AnyThreeAlone(AnyCrewAlone):
    names = "abc"


SHORT = settings(
    max_examples=25,
    stateful_step_count=40,
    phases=[Phase.explicit, Phase.reuse, Phase.generate],
    deadline=None,
    suppress_health_check=list(HealthCheck),
)
LONG = settings(SHORT, max_examples=2000, stateful_step_count=80)

TestTwo = AnyCrew.TestCase
TestTwo.settings = SHORT
TestTwoAlone = AnyCrewAlone.TestCase
TestTwoAlone.settings = SHORT
TestThreeAlone = AnyThreeAlone.TestCase
TestThreeAlone.settings = SHORT


@pytest.mark.slow
@pytest.mark.parametrize("crew", [AnyCrew, AnyCrewAlone, AnyThree, AnyThreeAlone])
def test_thousands_of_schedules(crew):
    from hypothesis.stateful import run_state_machine_as_test

    run_state_machine_as_test(crew, settings=LONG)
