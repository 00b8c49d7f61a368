"""A crew through a real MQTT broker, and a stranger on it."""

from __future__ import annotations

import asyncio

import pytest

from crew_people import Person, broker, mosquitto, until
from crew_relay import Faults, StreamRelay
from runner.crew.core.happenings import Lost, Present
from runner.crew.far import Far, read_broker
from runner.crew.trust.links import LetIn
from runner.errors import RunnerError

pytestmark = pytest.mark.skipif(mosquitto() is None, reason="no Mosquitto on this machine")


def through(port: int, **options) -> Far:
    return Far(read_broker(f"mqtt://127.0.0.1:{port}"), "4821", **options)


async def crew(folder, port: int, ben_port: int | None = None) -> tuple[Person, Person]:
    anna = Person(folder, "anna", through(port, opens=True), opens=True)
    await until(lambda: anna.links and anna.links[-1][0])
    ben = Person(folder, "ben", through(ben_port or port), code=anna.crew.new_code())
    await until(lambda: ben.saw(LetIn))
    await until(lambda: ben.crew.member.epochs and len(ben.crew.member.epochs[-1].voters) == 2)
    return anna, ben


async def test_two_homes_hear_one_list_of_events_through_a_broker(tmp_path):
    with broker(tmp_path) as port:
        anna, ben = await crew(tmp_path, port)
        for number in range(20):
            (anna if number % 2 else ben).crew.propose(f"event {number}")
        await until(lambda: len(anna.heard) == len(ben.heard) == 20)
        assert anna.heard == ben.heard
        await ben.stop()
        await anna.stop()


async def test_a_dropped_connection_and_a_killed_machine_leave_no_gap(tmp_path):
    with broker(tmp_path) as port:
        faults = Faults()
        async with StreamRelay(port, faults) as relay:
            anna, ben = await crew(tmp_path, port, relay.port)
            relay.cut()
            ben.crew.propose("into the break")
            anna.crew.propose("meanwhile")
            await until(lambda: len(anna.heard) == len(ben.heard) == 2, 20)
            await ben.stop()
            anna.crew.propose("while ben was dead")
            ben = Person(tmp_path, "ben", through(relay.port))
            await until(lambda: len(anna.heard) == len(ben.heard) == 3, 20)
            assert anna.heard == ben.heard
            await ben.stop()
        await anna.stop()


@pytest.mark.slow
async def test_a_slow_and_stalling_stream_is_said_and_survived(tmp_path):
    with broker(tmp_path) as port:
        faults = Faults(delay=0.3)
        async with StreamRelay(port, faults) as relay:
            anna, ben = await crew(tmp_path, port, relay.port)
            ben.crew.propose("slowly")
            await until(lambda: "slowly" in anna.heard)
            assert 250 <= anna.crew.delay(ben.crew.me) <= 600
            faults.stalled = True
            await until(lambda: anna.saw(Lost) and ben.saw(Lost), 20)
            anna.crew.propose("into the stall")
            faults.stalled = False
            await until(lambda: "into the stall" in ben.heard, 20)
            await until(lambda: anna.saw(Present)[-1].again)
            await ben.stop()
        await anna.stop()


@pytest.mark.slow
async def test_a_broker_that_is_started_anew_is_only_a_break(tmp_path):
    with broker(tmp_path) as port:
        anna, ben = await crew(tmp_path, port)
    settings = tmp_path / "mosquitto.conf"
    process = await asyncio.create_subprocess_exec(mosquitto(), "-c", str(settings))
    try:
        ben.crew.propose("after the broker was started anew")
        await until(lambda: "after the broker was started anew" in anna.heard, 30)
        await ben.stop()
        await anna.stop()
    finally:
        process.terminate()
        await process.wait()


class Stranger:
    """Who may read and write everything on the broker."""

    def __init__(self, port: int) -> None:
        from paho.mqtt.client import Client
        from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion

        self.taken: list[tuple[str, bytes]] = []
        self.client = Client(CallbackAPIVersion.VERSION2, protocol=MQTTProtocolVersion.MQTTv5)
        self.client.on_message = lambda _c, _u, m: self.taken.append((m.topic, m.payload))
        self.client.connect("127.0.0.1", port)
        self.client.subscribe("#", qos=1)
        self.client.loop_start()

    def say(self, topic: str, payload: bytes, retain: bool = False) -> None:
        self.client.publish(topic, payload, qos=1, retain=retain)

    def stop(self) -> None:
        self.client.disconnect()
        self.client.loop_stop()


async def test_a_stranger_on_the_broker_reads_and_moves_nothing(tmp_path):
    with broker(tmp_path) as port:
        anna = Person(tmp_path, "anna", through(port, opens=True), opens=True)
        await until(lambda: anna.links and anna.links[-1][0])
        stranger = Stranger(port)
        code = anna.crew.new_code()
        ben = Person(tmp_path, "ben", through(port), code=code)
        await until(lambda: ben.crew.member.epochs and len(anna.crew.member.epochs) == 2)
        ben.crew.propose("a secret word")
        await until(lambda: "a secret word" in anna.heard and len(stranger.taken) > 8)
        for word in (b"secret word", code.secret.encode(), anna.crew.links.secret):
            assert not any(word in payload for _, payload in stranger.taken)
        for topic, payload in list(stranger.taken):
            altered = bytearray(payload)
            altered[len(altered) // 2] ^= 1
            stranger.say(topic, payload)
            stranger.say(topic, bytes(altered))
        room = "runner-crew/1/4821"
        for number in range(60):
            stranger.say(f"{room}/here/{number:032x}", b"here", retain=True)
        stranger.say(f"{room}/open", b"f" * 32, retain=True)
        stranger.say(f"{room}/to/{anna.crew.me}", bytes(1_000_000))
        stranger.say(f"{room}/to/{anna.crew.me}", b"junk")
        await until(lambda: anna.crew.refused["malformed"] and sum(anna.crew.refused.values()) > 5)
        anna.crew.propose("the run goes on")
        await until(lambda: "the run goes on" in ben.heard and anna.heard == ben.heard)
        assert anna.heard == ["a secret word", "the run goes on"]
        assert set(anna.crew.links.linked) == {ben.crew.me}
        assert anna.crew.refused["repeated or overtaken"] > 0
        for person in (ben, anna):
            await person.stop()
        stranger.stop()


def test_a_broker_is_named_by_its_address(monkeypatch):
    assert read_broker("mqtts://club.example").port == 8883
    monkeypatch.setenv("RUNNER_BROKER_PASSWORD", "from outside")
    named = read_broker("mqtt://anna@club.example:1884")
    assert (named.user, named.password, named.port) == ("anna", "from outside", 1884)
    for wrong in ("https://club.example", "club.example", "mqtts://", "mqtt://x:999999"):
        with pytest.raises(RunnerError, match="mqtts://host"):
            read_broker(wrong)
