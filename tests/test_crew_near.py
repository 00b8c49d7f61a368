"""A crew on one network: two machines, real WebSockets, and a relay that spoils them."""

from __future__ import annotations

import asyncio
import time

import pytest

from crew_people import Person, until
from crew_relay import Faults, WebSocketRelay
from runner.crew.core.happenings import Lost, Present, Rewound, TwoRuns
from runner.crew.finding import announced, find
from runner.crew.near import Hub, Spoke
from runner.crew.trust.links import LetIn, NotLetIn, WrongCode
from runner.errors import RunnerError


async def opened(folder, hub=None) -> tuple[Person, Hub]:
    hub = hub or Hub("127.0.0.1")
    first = Person(folder, "anna", hub, opens=True)
    await asyncio.wait_for(hub.listening.wait(), 5)
    return first, hub


def voters(person: Person) -> tuple[str, ...]:
    epochs = person.crew.member.epochs
    return epochs[-1].voters if epochs else ()


async def joined(folder, first: Person, port: int, name: str = "ben", **options) -> Person:
    code = first.crew.new_code()
    person = Person(folder, name, Spoke([("127.0.0.1", port)]), code=code, **options)
    await until(lambda: person.saw(LetIn), what="let in")
    wants = options.get("wants", "crew")
    if wants == "crew":
        await until(lambda: person.crew.me in voters(person))
    return person


async def test_two_machines_hear_one_list_of_events(tmp_path):
    anna, hub = await opened(tmp_path)
    anna.crew.propose("start")
    ben = await joined(tmp_path, anna, hub.port)
    for number in range(20):
        (anna if number % 2 else ben).crew.propose(f"event {number}")
    await until(lambda: len(anna.heard) == len(ben.heard) == 21)
    assert anna.heard == ben.heard
    assert [one.name for one in anna.saw(Present)] == ["ben"]
    await ben.stop()
    await anna.stop()


async def test_an_event_may_be_spoken_when_its_future_is_done(tmp_path):
    anna, hub = await opened(tmp_path)
    ben = await joined(tmp_path, anna, hub.port)
    number = len(anna.steps)
    anna.crew.propose("gear up")
    future = anna.crew.settled(number)
    assert not future.done()
    await asyncio.wait_for(asyncio.wrap_future(future), 5)
    assert ben.steps[-1] == "gear up"
    await ben.stop()
    await anna.stop()


async def test_a_killed_machine_comes_back_without_a_code_and_without_a_gap(tmp_path):
    anna, hub = await opened(tmp_path)
    ben = await joined(tmp_path, anna, hub.port)
    for round_ in "123":
        ben = await killed_and_back(tmp_path, anna, ben, hub, round_)
    assert ben.heard == anna.heard
    await ben.stop()
    await anna.stop()


async def killed_and_back(folder, anna: Person, ben: Person, hub: Hub, word: str) -> Person:
    ben.crew.propose(f"by ben {word}")
    await until(lambda: f"by ben {word}" in ben.heard)
    before = list(ben.heard)
    await ben.stop()
    anna.crew.propose(f"by anna {word}")
    again = Person(folder, "ben", Spoke([("127.0.0.1", hub.port)]))
    await until(lambda: f"by anna {word}" in again.heard and f"by anna {word}" in anna.heard)
    assert again.heard[: len(before)] == before
    return again


async def test_who_opened_comes_back_and_goes_on_ordering(tmp_path):
    anna, hub = await opened(tmp_path)
    ben = await joined(tmp_path, anna, hub.port)
    anna.crew.propose("before")
    await until(lambda: "before" in ben.heard and "before" in anna.heard)
    await anna.stop()
    await until(lambda: ben.links[-1][0] is False)
    ben.crew.propose("while anna was away")
    anna = Person(tmp_path, "anna", Hub("127.0.0.1", hub.port), opens=True)
    await until(lambda: "while anna was away" in ben.heard, 15)
    await until(lambda: anna.heard == ben.heard)
    await ben.stop()
    await anna.stop()


@pytest.mark.parametrize("seed", [1, pytest.param(2, marks=pytest.mark.slow)])
async def test_a_network_that_loses_doubles_and_reorders_loses_no_event(tmp_path, seed):
    anna, hub = await opened(tmp_path)
    faults = Faults()
    async with WebSocketRelay(hub.port, faults, seed) as relay:
        ben = await joined(tmp_path, anna, relay.port)
        faults.loss, faults.double, faults.delay, faults.jitter = 0.2, 0.2, 0.01, 0.01
        for number in range(12):
            (anna if number % 2 else ben).crew.propose(f"event {number}")
            await asyncio.sleep(0.02)
        await until(lambda: len(anna.heard) == len(ben.heard) == 12, 30)
        assert anna.heard == ben.heard
        refused = anna.crew.refused + ben.crew.refused
        assert refused["repeated or overtaken"] > 0
        await ben.stop()
    await anna.stop()


async def test_a_cut_link_is_said_to_both_and_mends_without_a_gap(tmp_path):
    anna, hub = await opened(tmp_path)
    faults = Faults()
    async with WebSocketRelay(hub.port, faults) as relay:
        ben = await joined(tmp_path, anna, relay.port)
        faults.cut = True
        await relay.cut()
        ben.crew.propose("said into the break")
        await until(lambda: anna.saw(Lost) or not anna.crew.member.peers[ben.crew.me].present)
        await until(lambda: ben.saw(Lost))
        anna.crew.propose("also in the break")
        await asyncio.sleep(0.2)
        assert anna.heard == ben.heard == []
        faults.cut = False
        await until(lambda: len(anna.heard) == len(ben.heard) == 2, 20)
        assert anna.heard == ben.heard
        assert ben.saw(Present)[-1].again and anna.saw(Present)[-1].again
        await ben.stop()
    await anna.stop()


async def test_going_on_alone_and_coming_back_by_replay(tmp_path):
    anna, hub = await opened(tmp_path)
    faults = Faults()
    async with WebSocketRelay(hub.port, faults) as relay:
        ben = await joined(tmp_path, anna, relay.port)
        ben.crew.propose("together")
        await until(lambda: "together" in anna.heard)
        faults.cut = True
        await relay.cut()
        anna.crew.propose("ordered, never sent")
        await until(lambda: ben.saw(Lost))
        ben.crew.continue_alone()
        ben.crew.propose("ben alone")
        await until(lambda: "ben alone" in ben.heard)
        faults.cut = False
        await until(lambda: "ben alone" in anna.heard, 20)
        assert anna.heard == ben.heard == ["together", "ben alone"]
        assert [one.text for rewound in anna.saw(Rewound) for one in rewound.dropped] == [
            "ordered, never sent"
        ]
        await until(lambda: len(ben.crew.member.epochs[-1].voters) == 2)
        assert ben.crew.member.orders
        await ben.stop()
    await anna.stop()


@pytest.mark.slow
async def test_both_going_on_alone_are_two_runs(tmp_path):
    anna, hub = await opened(tmp_path)
    faults = Faults()
    async with WebSocketRelay(hub.port, faults) as relay:
        ben = await joined(tmp_path, anna, relay.port)
        faults.cut = True
        await relay.cut()
        for person in (anna, ben):
            await until(lambda p=person: p.saw(Lost))
            person.crew.continue_alone()
            person.crew.propose(f"{person.crew.member.name} alone")
        await until(lambda: len(anna.heard) == len(ben.heard) == 1)
        faults.cut = False
        await until(lambda: anna.saw(TwoRuns) and ben.saw(TwoRuns), 20)
        assert (anna.heard, ben.heard) == (["anna alone"], ["ben alone"])
        await ben.stop()
    await anna.stop()


async def test_the_order_is_handed_over_and_who_handed_it_leaves(tmp_path):
    anna, hub = await opened(tmp_path)
    ben = await joined(tmp_path, anna, hub.port)
    anna.crew.offer_order(ben.crew.me)
    await until(lambda: ben.crew.member._offered)
    ben.crew.answer_offer(True)
    await until(lambda: ben.crew.member.orders and not anna.crew.member.orders)
    anna.crew.propose("by anna")
    await until(lambda: "by anna" in anna.heard)
    anna.crew.leave()
    await until(lambda: ben.crew.member.epochs[-1].voters == (ben.crew.me,))
    ben.crew.propose("by ben alone")
    await until(lambda: "by ben alone" in ben.heard)
    await ben.stop()
    await anna.stop()


async def test_an_observer_watches_through_the_hub(tmp_path):
    anna, hub = await opened(tmp_path)
    ben = await joined(tmp_path, anna, hub.port)
    tablet = await joined(tmp_path, anna, hub.port, "tablet", wants="observer")
    ben.crew.propose("gear up")
    await until(lambda: tablet.heard == ["gear up"])
    anna.crew.offer_order(ben.crew.me)
    await until(lambda: ben.crew.member._offered)
    ben.crew.answer_offer(True)
    ben.crew.propose("ordered by ben")
    await until(lambda: tablet.heard == anna.heard == ["gear up", "ordered by ben"])
    for person in (tablet, ben, anna):
        await person.stop()


async def test_a_wrong_code_is_told_on_both_machines_and_the_right_one_still_works(tmp_path):
    anna, hub = await opened(tmp_path)
    code = anna.crew.new_code()
    wrong = type(code)(code.room, "000000" if code.secret != "000000" else "111111")
    ben = Person(tmp_path, "ben", Spoke([("127.0.0.1", hub.port)]), code=wrong)
    await until(lambda: ben.saw(NotLetIn))
    assert ben.saw(NotLetIn)[0].reason == "wrong code"
    assert anna.saw(WrongCode)[0].left == 4
    ben.crew.try_code(code)
    await until(lambda: len(ben.saw(NotLetIn)) == 2)
    assert ben.saw(NotLetIn)[1].reason.startswith("wait")
    await asyncio.sleep(2.1)
    ben.crew.try_code(code)
    await until(lambda: ben.saw(LetIn))
    await ben.stop()
    await anna.stop()


async def test_a_crew_is_found_on_the_network_by_its_room():
    try:
        async with announced("4821", 47999, ["127.0.0.1"]):
            found = await find("4821", 5, ["127.0.0.1"])
            other = await find("1111", 0.5, ["127.0.0.1"])
    except OSError as error:
        pytest.skip(f"no multicast here: {error}")
    if not found:
        pytest.skip("multicast does not come back on this machine's loopback")
    assert found == [("127.0.0.1", 47999)] and other == []


async def test_a_port_in_use_is_one_clear_line(tmp_path):
    anna, hub = await opened(tmp_path)
    other = Person(tmp_path, "other", Hub("127.0.0.1", hub.port), opens=True)
    with pytest.raises(RunnerError, match="name another one"):
        await other.task
    await other.stop()
    await anna.stop()


async def test_what_one_says_is_heard_by_the_other_within_two_round_trips(tmp_path):
    anna, hub = await opened(tmp_path)
    async with WebSocketRelay(hub.port, Faults(delay=0.05)) as relay:
        ben = await joined(tmp_path, anna, relay.port)
        times = []
        for number in range(10):
            start = time.monotonic()
            ben.crew.propose(f"answer {number}")
            await until(lambda n=number: f"answer {n}" in anna.heard)
            times.append(time.monotonic() - start)
        assert sorted(times)[5] < 0.2 + 0.1, times
        print(f"answer to settled on the other machine, median {sorted(times)[5] * 1000:.0f} ms")
        await ben.stop()
    await anna.stop()
