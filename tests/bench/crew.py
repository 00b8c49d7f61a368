"""How many crews one broker carries: each of two members says something once a second.

    python tests/bench/crew.py                50 crews for 5 seconds
    python tests/bench/crew.py --whole        500 crews for 20 seconds, then more and more
    python tests/bench/crew.py --answers 12   instead: from an answer on one machine to the
                                              challenge on the other, over 12 lists flown;
                                              with --sound also to its first sample

Frames are sealed ones of the size that a sign of life has; the clock runs from the
moment one is due to having opened it at the other member (delivery at least once, as the
crew uses it). Broker and clients share this machine's processors, so that both parts of
the load are printed: what the broker alone took says where its own limit lies.
"""

from __future__ import annotations

import argparse
import asyncio
import os
import resource
import struct
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from crew_latency import measure

from crew_people import free_port, mosquitto
from runner.crew.core.messages import Stand, encode
from runner.crew.trust.channel import Channel, Keys


def text(value: bytes) -> bytes:
    return struct.pack("!H", len(value)) + value


def packet(kind: int, body: bytes) -> bytes:
    length, size = b"", len(body)
    while True:
        size, digit = divmod(size, 128)
        length += bytes([digit | (128 if size else 0)])
        if not size:
            return bytes([kind]) + length + body


class Client(asyncio.Protocol):
    """As much of MQTT 5 as a member needs, so that 1,000 of them fit into one process."""

    def __init__(self, name: str, other: str, channels: tuple[Channel, Channel]) -> None:
        self.name, self.other = name, other
        self.mine, self.theirs = channels
        self.sent_at: dict[int, float] = {}
        self.partner: Client | None = None
        self.delays: list[float] = []
        self.ready = asyncio.Event()
        self.buffer = b""
        self.count = 0

    def connection_made(self, transport) -> None:
        self.transport = transport
        self.transport.write(
            packet(0x10, text(b"MQTT") + b"\5\2\0\x3c\0" + text(self.name.encode()))
        )
        topic = text(f"runner-crew/1/{self.name[:4]}/to/{self.name}".encode())
        self.transport.write(packet(0x82, b"\0\1\0" + topic + b"\1"))

    def data_received(self, data: bytes) -> None:
        self.buffer += data
        while len(self.buffer) >= 2:
            at, length, shift = 1, 0, 0
            while at < len(self.buffer):
                digit = self.buffer[at]
                length |= (digit & 127) << shift
                at, shift = at + 1, shift + 7
                if not digit & 128:
                    break
            if len(self.buffer) < at + length:
                return
            kind, body = self.buffer[0], self.buffer[at : at + length]
            self.buffer = self.buffer[at + length :]
            if kind >> 4 == 3:
                self.take(body)
            elif kind >> 4 == 9:
                self.ready.set()

    def take(self, body: bytes) -> None:
        (length,) = struct.unpack_from("!H", body)
        number = body[2 + length : 4 + length]
        frame = body[5 + length + body[4 + length] :]
        self.transport.write(packet(0x40, number))
        self.theirs.open(frame)
        assert self.partner is not None
        sent = self.partner.sent_at.pop(self.theirs.received, None)
        if sent is not None:
            self.delays.append(time.monotonic() - sent)

    def say(self, due: float) -> None:
        stand = Stand(
            "0" * 32, 3, 100, 100, self.count, self.count, 5, "crew", "a pilot's name", "0" * 16
        )
        self.count += 1
        frame = self.mine.seal(b"m" + encode(stand))
        self.sent_at[self.mine.sent] = due
        topic = text(f"runner-crew/1/{self.other[:4]}/to/{self.other}".encode())
        number = struct.pack("!H", self.count % 60_000 + 1)
        self.transport.write(packet(0x32, topic + number + b"\0" + frame))


def channels() -> tuple[tuple[Channel, Channel], tuple[Channel, Channel]]:
    one, other, name = os.urandom(32), os.urandom(32), os.urandom(8)
    ids = os.urandom(16), os.urandom(16)
    here, there = Keys(one, other, name), Keys(other, one, name)
    a = Channel(ids[0], ids[1], here), Channel(ids[0], ids[1], here)
    b = Channel(ids[1], ids[0], there), Channel(ids[1], ids[0], there)
    return a, b


async def connected(port: int, crews: int) -> list[Client]:
    loop = asyncio.get_running_loop()
    clients: list[Client] = []
    for number in range(crews):
        names = f"{number:04d}aaaa{number:024x}", f"{number:04d}bbbb{number:024x}"
        one, other = channels()
        pair = Client(names[0], names[1], one), Client(names[1], names[0], other)
        pair[0].partner, pair[1].partner = pair[1], pair[0]
        for client in pair:
            await loop.create_connection(lambda c=client: c, "127.0.0.1", port)
            await asyncio.wait_for(client.ready.wait(), 30)
        clients += pair
    return clients


def processor_seconds(process: int) -> float:
    fields = Path(f"/proc/{process}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


async def run(clients: list[Client], rate: float, seconds: float, broker: int) -> bool:
    """One load; False where it was more than could be carried."""
    loop = asyncio.get_running_loop()
    for client in clients:
        client.delays.clear()
        client.sent_at.clear()
    own, of_broker = time.process_time(), processor_seconds(broker)
    begin = loop.time() + 0.1
    said, behind = 0, 0.0
    gap = 1 / (rate * len(clients))
    while (at := begin + said * gap) < begin + seconds:
        if (ahead := at - loop.time()) > 0:
            await asyncio.sleep(ahead)
        else:
            behind = max(behind, -ahead)
            if said % 50 == 0:
                await asyncio.sleep(0)
        clients[said * 7919 % len(clients)].say(at)
        said += 1
    took = loop.time() - begin
    await asyncio.sleep(1)
    delays = sorted(delay for client in clients for delay in client.delays)
    lost = said - len(delays)
    mine, theirs = time.process_time() - own, processor_seconds(broker) - of_broker
    p50, p99 = (delays[int(len(delays) * share)] * 1000 for share in (0.5, 0.99))
    print(
        f"{len(clients) // 2} crews, {len(clients)} clients, {rate:g} a second each: "
        f"{said / took:.0f} messages a second, median {p50:.1f} ms, 99th percentile "
        f"{p99:.1f} ms, longest {delays[-1] * 1000:.0f} ms, not arrived {lost}; processor: "
        f"broker {theirs / took:.0%}, clients {mine / took:.0%} of one",
        flush=True,
    )
    return lost == 0 and p99 < 250 and behind < 0.5


async def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--whole", action="store_true", help="500 crews, then more")
    parser.add_argument("--answers", type=int, metavar="LISTS", help="measure answers instead")
    parser.add_argument("--sound", action="store_true", help="with --answers: spoken aloud")
    given = parser.parse_args()
    if given.answers:
        for far in (False, True):
            await asyncio.to_thread(measure, given.answers, far=far, sounds=given.sound)
        return
    whole = given.whole
    program = mosquitto()
    if program is None:
        raise SystemExit("no Mosquitto on this machine (Debian: apt-get install mosquitto)")
    limit = resource.getrlimit(resource.RLIMIT_NOFILE)[1]
    resource.setrlimit(resource.RLIMIT_NOFILE, (min(limit, 8192), limit))
    port = free_port()
    with tempfile.TemporaryDirectory() as folder:
        settings = Path(folder) / "mosquitto.conf"
        settings.write_text(
            f"listener {port} 127.0.0.1\nallow_anonymous true\npersistence false\nlog_dest none\n"
        )
        broker = await asyncio.create_subprocess_exec(program, "-c", str(settings))
        try:
            await asyncio.sleep(0.5)
            clients = await connected(port, 500 if whole else 50)
            rate, seconds = 1.0, 20.0 if whole else 5.0
            while await run(clients, rate, seconds, broker.pid) and whole:
                rate, seconds = rate * 2, 10.0
            if whole:
                print(
                    f"the limit of the two together lies between {rate / 2:g} and {rate:g} a "
                    "second each: of whichever used its processor up"
                )
        finally:
            broker.terminate()
            await broker.wait()


if __name__ == "__main__":
    asyncio.run(main())
