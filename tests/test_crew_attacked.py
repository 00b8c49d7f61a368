"""An attacker on the network and a hostile partner: nothing gets in, and the run goes on."""

from __future__ import annotations

import asyncio
import os
import resource

import pytest

from crew_attacker import Attacker
from crew_people import Person, until
from crew_relay import Faults, WebSocketRelay
from engine_runs import started
from runner.crew.checked import check, event_of
from runner.crew.core.base import Turn
from runner.crew.core.happenings import Fault, Turned
from runner.crew.core.messages import Part, Propose, encode
from runner.crew.near import CONNECTIONS_EACH, Hub, Spoke
from runner.crew.trust.code import GUESSES, Code
from runner.crew.trust.links import LetIn, NotLetIn, WrongCode
from runner.engine.events import Keyed, RunStarted
from runner.engine.wire import event_to_json

HUB = bytes(16)


def admit(_by: str, text: str) -> str:
    return event_to_json(event_of(text))


async def flying(folder) -> tuple[Person, Person, Hub]:
    hub = Hub("127.0.0.1")
    anna = Person(folder, "anna", hub, opens=True, admit=admit, check=check)
    await asyncio.wait_for(hub.listening.wait(), 5)
    anna.crew.propose(event_to_json(started()))
    ben = Person(
        folder, "ben", Spoke([("127.0.0.1", hub.port)]), code=anna.crew.new_code(), check=check
    )
    await until(lambda: ben.crew.member.epochs and len(ben.crew.member.epochs[-1].voters) == 2)
    return anna, ben, hub


async def goes_on(anna: Person, ben: Person) -> None:
    """The run goes on: what each says is heard by both, and nobody else is in it."""
    for person in (anna, ben):
        length = len(anna.heard) + 1
        person.crew.propose(event_to_json(Keyed(length, "done")))
        await until(lambda n=length: len(anna.heard) == len(ben.heard) == n)
    assert anna.heard == ben.heard
    assert anna.crew.links.linked == {ben.crew.me}


async def stop(*people: Person) -> None:
    for person in people:
        await person.stop()


async def test_who_has_no_code_gets_nowhere(tmp_path):
    anna, ben, hub = await flying(tmp_path)
    attacker = Attacker(hub.port)
    junk = [HUB + os.urandom(size) for size in (0, 1, 17, 34, 67, 200, 60_000)]
    known = [HUB + bytes((1, kind)) + os.urandom(130) for kind in range(8)]
    named = [HUB + bytes((1, 5)) + bytes.fromhex(ben.crew.me) + os.urandom(60)]
    text = ["{}", "[" * 5000, f'["{anna.crew.me}"]']
    to_ben = [bytes.fromhex(ben.crew.me) + os.urandom(100)]
    back = await attacker.say(junk + known + named + text + to_ben, 0.3)
    assert all(isinstance(one, bytes) and len(one) < 200 for one in back)
    assert hub.refused["for nobody"] >= 1 and hub.refused["malformed"] >= 3
    await goes_on(anna, ben)
    await stop(ben, anna)


async def test_who_guesses_codes_is_slowed_down_and_stopped(tmp_path):
    anna, ben, hub = await flying(tmp_path)
    code = anna.crew.new_code()
    guesser = Person(
        tmp_path, "guesser", Spoke([("127.0.0.1", hub.port)]), code=Code(code.room, "000000")
    )
    await until(lambda: guesser.saw(NotLetIn))
    for number in range(1, 40):
        guesser.crew.try_code(Code(code.room, f"{number:06d}"))
        await asyncio.sleep(0.02)
    assert len(anna.saw(WrongCode)) <= 2 < GUESSES
    assert not guesser.saw(LetIn)
    await goes_on(anna, ben)
    await stop(guesser, ben, anna)


async def test_a_message_of_a_gigabyte_is_not_taken_in(tmp_path):
    anna, ben, hub = await flying(tmp_path)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    sent = await Attacker(hub.port).huge()
    grown = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before
    assert sent < 2**24 and grown < 64 * 1024
    await goes_on(anna, ben)
    await stop(ben, anna)


async def test_a_flood_and_a_crowd_are_refused(tmp_path):
    anna, ben, hub = await flying(tmp_path)
    attacker = Attacker(hub.port)
    flood = asyncio.create_task(attacker.say([HUB + os.urandom(84)] * 20_000, 0.1))
    await goes_on(anna, ben)
    await flood
    assert hub.refused["too many"] > 10_000
    assert await attacker.crowd(40) < CONNECTIONS_EACH
    await goes_on(anna, ben)
    await stop(ben, anna)


async def test_what_was_recorded_and_is_said_again_moves_nothing(tmp_path):
    anna, ben, hub = await flying(tmp_path)
    await ben.stop()
    async with WebSocketRelay(hub.port, Faults()) as relay:
        ben = Person(tmp_path, "ben", Spoke([("127.0.0.1", relay.port)]), check=check)
        await goes_on(anna, ben)
        recorded = [one for one in relay.seen if isinstance(one, bytes)]
        length = len(anna.heard)
        attacker = Attacker(hub.port)
        for at in range(0, len(recorded), 20):
            await attacker.say([HUB + one[16:] for one in recorded[at : at + 20]], 0.05)
        assert len(anna.heard) == len(ben.heard) == length
        assert anna.crew.refused["repeated or overtaken"] > 0
        await goes_on(anna, ben)
        await ben.stop()
    await stop(anna)


async def test_flipped_bits_are_refused_and_sent_again(tmp_path):
    anna, ben, hub = await flying(tmp_path)
    await ben.stop()
    faults = Faults()
    async with WebSocketRelay(hub.port, faults) as relay:
        ben = Person(tmp_path, "ben", Spoke([("127.0.0.1", relay.port)]), check=check)
        await goes_on(anna, ben)
        faults.flip = 0.3
        for _ in range(3):
            await goes_on(anna, ben)
        refused = anna.crew.refused + ben.crew.refused
        assert refused["altered"] > 0
        await ben.stop()
    await stop(anna)


async def test_a_hostile_partner_brings_in_nothing_that_is_no_event(tmp_path):
    anna, ben, _ = await flying(tmp_path)
    epoch = ben.crew.member.epochs[-1].id

    def say(data: bytes) -> None:
        ben.crew._transport.send(anna.crew.me, ben.crew.links.seal(anna.crew.me, data))

    for junk in (b"", b"{", b"[" * 100_000, b'{"v":1,"is":"part"}', b'{"v":2,"is":"bye"}'):
        say(junk)
    for text in ("", '{"is":"Keyed","path":"../../x"}', event_to_json(started())):
        ben.crew.member._counter += 1
        counter = ben.crew.member._counter
        say(encode(Propose(epoch, ben.crew.member.life, counter, counter, text)))
    say(encode(Part(epoch, epoch, 1, anna.crew.me, "0" * 16, 1, 0, 1, "x", 1)))
    await until(lambda: anna.crew.refused["not understood"] == 5)
    await goes_on(anna, ben)
    assert len(anna.heard) == 3
    await stop(ben, anna)


async def test_files_of_a_hostile_orderer_are_not_used(tmp_path):
    first = started()
    bad = RunStarted(0, first.procedures, first.aircraft, first.voice)
    text = event_to_json(bad).replace('"name":"', '"name":"../', 1)
    with pytest.raises(Turn):
        check(0, text)
    hub = Hub("127.0.0.1")
    anna = Person(tmp_path, "anna", hub, opens=True)
    await asyncio.wait_for(hub.listening.wait(), 5)
    anna.crew.propose(text)
    ben = Person(
        tmp_path, "ben", Spoke([("127.0.0.1", hub.port)]), code=anna.crew.new_code(), check=check
    )
    await until(lambda: ben.saw(Fault))
    assert "plain name" in ben.saw(Fault)[0].reason
    assert ben.steps == []
    ben.crew.propose("anything")
    await until(lambda: ben.saw(Turned))
    await stop(ben, anna)
