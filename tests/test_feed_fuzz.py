"""Damaged and hostile input: nothing is raised, and nothing is accepted that the map does not
name."""

from __future__ import annotations

import json
import math
import random
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runner.checklist.load import load_aircraft
from runner.feed.decode import MAX_RECORDS, Decoder
from runner.feed.intake import Intake
from runner.feed.lines import MAX_LINE, Lines
from runner.feed.map import MAX_VALUE, FeedMap, load_map_text, plain_map
from runner.feed.reading import Readings
from runner.figures.model import Aircraft

DATAGRAMS = 220_000

MAP = """
runner: 1
feed: fuzzed
time: t in ms
sequence: n
paused: p
names:
  ias: airspeed in m/s
  alt: altitude
  gear:
    reading: gear_position
    words:
      up: 0
      down: 1
  engines.<engine>.map: manifold_pressure in hPa
  "eng<engine>": rpm
"""

TOKENS = (
    b"NaN",
    b"Infinity",
    b"-Infinity",
    b"1e999",
    b"-1e-999",
    b"9" * 400,
    b"9" * 5000,
    b"null",
    b"true",
    b'"down"',
    b'""',
    b'"\\ud800"',
    b'"\\u0000"',
    b"[" * 200,
    b"{" * 200,
    b'{"a":' * 300,
    b"[[[[[[1]]]]]]",
    b"{}",
    b"[]",
    b"\n",
    b"\r",
    b"\x00",
    b"\xff",
    b"\xef\xbb\xbf",
    b"\xed\xa0\x80",
    b",",
    b";",
    b"\t",
    b'"',
    b"-",
    b".",
    b"e",
    b'"__proto__":1,',
    b'"airspeed":1,',
    b'"ias":1,"ias":2,',
    "٣".encode(),
    "１２".encode(),
)


def corpus(number: int) -> list[bytes]:
    """Good datagrams of two sources, as each sends them as its record of that number."""
    engines = [{"map": 1013.25, "oil": 70}] * 4
    clock = {"t": 1000 + 20 * number, "n": number, "p": False}
    record = {"ias": 50.5, "alt": 300, "gear": "down", **clock, "x": 1}
    numbers = {f"eng{n}": 2300 + n for n in range(1, 5)}
    own = {"airspeed": 98, "parking_brake": True, "rpm_4": 2800, "time": number / 50}
    return [
        json.dumps({**record, **numbers, "engines": engines}).encode(),
        json.dumps(record).encode() + b"\n" + json.dumps(numbers).encode(),
        json.dumps([record, numbers]).encode(),
        b"ias,alt,gear,t,n,eng1\n50.5,300,down,%d,%d,2300" % (clock["t"], number),
        b"50.5,300,up,%d,%d,2300" % (clock["t"], number),
        b'"ias";"alt";"t"\n50.5;300;%d' % clock["t"],
        b"airspeed\taltitude\n1\t2",
        json.dumps({**own, "seq": number, "paused": number % 500 > 450}).encode(),
        json.dumps({**own, "manifold_pressure_1": 58, "seq": number, "x": 1}).encode(),
    ]


class Mutator:
    """Damages datagrams, the same ones for the same seed."""

    def __init__(self, seed: int) -> None:
        self.chance = random.Random(seed)
        self.number = 0
        self.corpus = corpus(0)

    def datagram(self) -> bytes:
        chance = self.chance
        self.number += 1
        if self.number % 20 == 0:
            self.corpus = corpus(self.number)
        if chance.random() < 0.03:
            return chance.randbytes(chance.randrange(300))
        data = bytearray(chance.choice(self.corpus))
        for _ in range(chance.choice((0, 1, 1, 1, 2, 3, 8))):
            self._damage(data)
        return bytes(data[:70_000])

    def _damage(self, data: bytearray) -> None:
        chance = self.chance
        place = chance.randrange(len(data) + 1)
        far = min(len(data), place + chance.choice((1, 2, 5, 40)))
        match chance.randrange(7):
            case 0 if place < len(data):
                data[place] ^= 1 << chance.randrange(8)
            case 1:
                del data[place:far]
            case 2:
                data[place:place] = chance.choice(TOKENS)
            case 3:
                data[place:far] = chance.choice(TOKENS)
            case 4:
                other = chance.choice(self.corpus)
                data[place:] = other[chance.randrange(len(other)) :]
            case 5:
                data[place:place] = data[place:far] * chance.choice((1, 3))
            case _ if place < len(data):
                data[place] = chance.randrange(256)


@pytest.fixture(scope="module")
def aircraft() -> Aircraft:
    return load_aircraft("whimbrel-four-aircraft")


@pytest.fixture(scope="module")
def maps(aircraft: Aircraft) -> list[FeedMap]:
    return [load_map_text(MAP, "fuzz.yaml", aircraft), plain_map(aircraft)]


class Checked:
    """Readings held to what the map names and to what can be a reading."""

    def __init__(self, feed_map: FeedMap) -> None:
        self.named = {entry.name for entry in feed_map.entries.values()}
        self.states: list[str] = []
        self.number = 0
        self.intake = Intake(feed_map, self.take, self.states.append)
        self.decoder = feed_map.decoder()

    def take(self, readings: Readings) -> None:
        self.number += 1
        assert readings.values
        assert readings.values.keys() <= self.named
        for value in readings.values.values():
            assert type(value) is float
            assert -MAX_VALUE <= value <= MAX_VALUE
        assert readings.sim_seconds is None or math.isfinite(readings.sim_seconds)
        assert readings.rate is None or math.isfinite(readings.rate)


def test_hundreds_of_thousands_of_damaged_datagrams(maps: list[FeedMap]) -> None:
    mutator = Mutator(seed=11)
    feeds = [Checked(feed_map) for feed_map in maps]
    now = 0.0
    for _ in range(DATAGRAMS // len(feeds)):
        now += 0.02
        for feed in feeds:
            feed.intake.check(now)
            feed.intake.receive([mutator.datagram()], now, feed.decoder)
    for feed in feeds:
        counts = feed.intake.counts
        # Enough of both that the test is one of either.
        assert feed.number == counts.accepted > 5000
        assert counts.malformed > 10_000
        assert counts.unnamed > 10_000
        assert counts.late > 1000
        assert counts.unusable > 100


def test_a_damaged_stream_in_pieces_of_any_size(maps: list[FeedMap]) -> None:
    mutator = Mutator(seed=12)
    feed = Checked(maps[0])
    lines = Lines()
    chance = random.Random(5)
    stream = b"\n".join(mutator.datagram() for _ in range(20_000))
    place = 0
    while place < len(stream):
        size = chance.choice((1, 7, 500, 65_536))
        whole = lines.feed(stream[place : place + size])
        assert all(len(line) <= MAX_LINE for line in whole)
        feed.intake.receive(whole, place / 1e6, feed.decoder)
        place += size
    assert feed.number == feed.intake.counts.accepted - feed.intake.counts.thinned > 100


values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=4), inner),
    max_leaves=5,
)
names = st.sampled_from(["ias", "alt", "gear", "t", "n", "p", "engines", "eng1", "airspeed"])


@settings(max_examples=400, deadline=None)
@given(st.lists(st.dictionaries(names | st.text(max_size=6), values, max_size=6), max_size=4))
def test_any_json_at_all(maps: list[FeedMap], records: list[dict[str, Any]]) -> None:
    for feed_map in maps:
        feed = Checked(feed_map)
        pieces = [json.dumps(record).encode() for record in records]
        feed.intake.receive(pieces, 1.0, feed.decoder)
        counts = feed.intake.counts
        assert counts.accepted + counts.malformed + counts.late <= len(records)


@settings(max_examples=1500, deadline=None)
@given(st.lists(st.binary(max_size=200), max_size=6))
def test_any_bytes_at_all(maps: list[FeedMap], pieces: list[bytes]) -> None:
    for feed_map in maps:
        feed = Checked(feed_map)
        feed.intake.receive(pieces, 1.0, feed.decoder)
        assert feed.number <= MAX_RECORDS * len(pieces)


@settings(max_examples=1000, deadline=None)
@given(st.lists(st.text(st.sampled_from('ias,alt;\t"1.5e-\r\n {}[]:'), max_size=60), max_size=8))
def test_anything_that_looks_like_rows(maps: list[FeedMap], pieces: list[str]) -> None:
    feed = Checked(maps[0])
    feed.intake.receive([piece.encode() for piece in pieces], 1.0, feed.decoder)


@given(st.lists(st.dictionaries(names, st.floats(-1e5, 1e5), max_size=6), max_size=5))
def test_a_record_is_decoded_to_what_was_sent(records: list[dict[str, float]]) -> None:
    data = "\n".join(json.dumps(record) for record in records).encode()
    assert Decoder().decode(data) == records
