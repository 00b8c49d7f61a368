"""What is made of records that arrive: late ones, pauses, rates, silences, and too many."""

from __future__ import annotations

import json
import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feed_faults import Faults
from runner.feed.decode import Decoder
from runner.feed.intake import BEHIND, Intake, thin
from runner.feed.map import Entry, FeedMap
from runner.feed.reading import Readings

MAP = FeedMap("test", {"ias": Entry("airspeed"), "alt": Entry("altitude"), "m": Entry("map_1")})
HERTZ = 50


class Pilot:
    """An intake with its time, what it gave and what it told."""

    def __init__(self, **options: Any) -> None:
        self.readings: list[Readings] = []
        self.states: list[str] = []
        self.intake = Intake(MAP, self.readings.append, self.states.append, **options)
        self.decoder: Decoder = MAP.decoder()
        self.now = 100.0
        self.intake.start(self.now)

    def give(self, *records: dict[str, Any], after: float = 1 / HERTZ) -> None:
        self.now += after
        self.intake.check(self.now)
        lines = [json.dumps(record).encode() for record in records]
        self.intake.receive(lines, self.now, self.decoder)

    def wait(self, seconds: float) -> None:
        self.now += seconds
        self.intake.check(self.now)

    @property
    def speeds(self) -> list[float]:
        return [readings.values["airspeed"] for readings in self.readings]


@pytest.fixture
def pilot() -> Pilot:
    return Pilot()


@pytest.mark.parametrize("stamp", ["seq", "time"])
def test_a_record_older_than_what_has_come_is_late(pilot: Pilot, stamp: str) -> None:
    for number in (1, 2, 4, 3, 5):
        pilot.give({"ias": number, stamp: number})
    assert pilot.speeds == [1, 2, 4, 5]
    assert pilot.intake.counts.late == 1


def test_a_record_that_comes_twice_is_used_once(pilot: Pilot) -> None:
    for number in (1, 2, 2, 3):
        pilot.give({"ias": number, "seq": number})
    assert pilot.speeds == [1, 2, 3]


def test_several_records_of_one_moment_are_all_used(pilot: Pilot) -> None:
    for speed in (1, 2, 3):
        pilot.give({"ias": speed, "time": 7})
    assert pilot.speeds == [1, 2, 3]


def test_records_without_a_stamp_are_taken_as_they_come(pilot: Pilot) -> None:
    for speed in (3, 1, 2):
        pilot.give({"ias": speed})
    assert pilot.speeds == [3, 1, 2]


@pytest.mark.parametrize("back_by", [3.0, 500.0])
def test_a_simulator_that_begins_again_is_followed_within_ten_records(
    pilot: Pilot, back_by: float
) -> None:
    for number in range(100):
        pilot.give({"ias": 1, "time": 1000 + number / HERTZ})
    for number in range(20):
        pilot.give({"ias": 2, "time": 1002 - back_by + number / HERTZ})
    assert pilot.speeds.count(2) >= 11
    assert pilot.states == []


def test_a_damaged_stamp_costs_that_record_and_no_other(pilot: Pilot) -> None:
    for number in range(50):
        wrong = number == 25
        pilot.give({"ias": number, "time": 9e9 if wrong else number / HERTZ})
    assert pilot.speeds == [n for n in range(50) if n != 25]


def test_the_clock_may_have_gone_on_during_a_silence(pilot: Pilot) -> None:
    pilot.give({"ias": 1, "time": 10})
    pilot.give({"ias": 2, "time": 70}, after=60)
    assert pilot.speeds == [1, 2]


def test_readings_lost_and_back_are_told_once_each(pilot: Pilot) -> None:
    pilot.give({"ias": 1})
    pilot.wait(1.9)
    assert pilot.states == []
    pilot.wait(0.2)
    pilot.wait(5)
    assert pilot.states == ["readings lost"]
    pilot.give({"ias": 2})
    pilot.give({"ias": 3})
    assert pilot.states == ["readings lost", "readings back"]


def test_a_source_that_never_sends_is_told_of_too(pilot: Pilot) -> None:
    pilot.wait(2.1)
    assert pilot.states == ["readings lost"]


def test_what_cannot_be_used_is_no_sign_of_life(pilot: Pilot) -> None:
    pilot.give({"ias": 1, "seq": 1})
    for _ in range(150):
        pilot.give({"ias": math.nan})
        pilot.give({"heartbeat": 1})
        pilot.give({"ias": 1, "seq": 1})
    assert pilot.states == ["readings lost"]


def test_a_pause_that_the_source_tells_of_is_told(pilot: Pilot) -> None:
    pilot.give({"ias": 1, "paused": False})
    pilot.give({"ias": 1, "paused": True})
    pilot.give({"ias": 1, "paused": True})
    pilot.wait(20)
    pilot.give({"ias": 1, "paused": False})
    assert pilot.states == ["paused", "running"]
    assert [readings.paused for readings in pilot.readings] == [False, True, True, False]


def test_a_pause_does_not_hide_a_simulator_that_has_gone(pilot: Pilot) -> None:
    pilot.give({"ias": 1, "paused": True})
    pilot.wait(31)
    assert pilot.states == ["paused", "readings lost"]


def test_a_clock_that_stands_still_is_a_pause(pilot: Pilot) -> None:
    for number in range(100):
        pilot.give({"ias": 1, "time": number / HERTZ})
    for _ in range(100):
        pilot.give({"ias": 1, "time": 99 / HERTZ})
    assert pilot.states == ["paused"]
    assert pilot.intake.rate == 0
    for number in range(100):
        pilot.give({"ias": 1, "time": (100 + number) / HERTZ})
    assert pilot.states == ["paused", "running"]
    assert pilot.intake.rate == pytest.approx(1.0)


def test_a_clock_of_whole_seconds_is_no_pause(pilot: Pilot) -> None:
    for number in range(60 * HERTZ):
        pilot.give({"ias": 1, "time": number // HERTZ})
    assert pilot.states == []
    assert pilot.intake.rate == pytest.approx(1.0, abs=0.05)


@pytest.mark.parametrize("rate", [0.25, 1.0, 2.0, 16.0])
def test_the_rate_of_the_simulation_is_measured(pilot: Pilot, rate: float) -> None:
    for number in range(3 * HERTZ):
        pilot.give({"ias": 1, "time": 5 + number * rate / HERTZ})
    assert pilot.intake.rate == pytest.approx(rate)
    assert pilot.readings[-1].rate == pytest.approx(rate)


def test_a_change_of_rate_is_seen_within_two_seconds(pilot: Pilot) -> None:
    time = 0.0
    for number in range(8 * HERTZ):
        time += (1.0 if number < 4 * HERTZ else 4.0) / HERTZ
        pilot.give({"ias": 1, "time": time})
        if number == 6 * HERTZ:
            assert pilot.intake.rate == pytest.approx(4.0)


def test_a_silence_leaves_the_rate_as_it_was(pilot: Pilot) -> None:
    for number in range(2 * HERTZ):
        pilot.give({"ias": 1, "time": number / HERTZ})
    pilot.give({"ias": 1, "time": 3.0}, after=30)
    for number in range(2 * HERTZ):
        pilot.give({"ias": 1, "time": 3.02 + number / HERTZ})
    rates = [readings.rate for readings in pilot.readings[HERTZ + 2 :]]
    assert rates == pytest.approx([1.0] * len(rates))


def test_readings_of_several_records_are_put_together(pilot: Pilot) -> None:
    pilot.give({"ias": 98, "time": 1})
    pilot.give({"m": 58, "time": 1})
    assert pilot.readings[-1].values == {"airspeed": 98, "map_1": 58}


def test_a_value_that_has_not_come_for_two_seconds_is_gone(pilot: Pilot) -> None:
    pilot.give({"ias": 98, "m": 58})
    for _ in range(105):
        pilot.give({"ias": 99})
    assert pilot.readings[50].values == {"airspeed": 99, "map_1": 58}
    assert pilot.readings[-1].values == {"airspeed": 99}


def test_nothing_from_before_a_silence_comes_back_after_it(pilot: Pilot) -> None:
    pilot.give({"ias": 98, "m": 58})
    pilot.wait(3)
    pilot.give({"ias": 99})
    assert pilot.readings[-1].values == {"airspeed": 99}


def test_readings_given_are_never_changed_afterwards(pilot: Pilot) -> None:
    pilot.give({"ias": 98, "m": 58})
    first = pilot.readings[0].values
    pilot.give({"ias": 99})
    assert first == {"airspeed": 98, "map_1": 58}


def test_by_the_sources_own_clock_a_silence_is_one_of_that_clock() -> None:
    pilot = Pilot(stamped=True)
    pilot.give({"ias": 1, "time": 10}, after=0)
    pilot.give({"ias": 2, "time": 11}, after=0)
    pilot.give({"ias": 3, "time": 15}, after=0)
    assert [readings.at for readings in pilot.readings] == [10, 11, 15]
    assert pilot.states == ["readings lost", "readings back"]


def test_by_the_sources_own_clock_nothing_is_left_out() -> None:
    pilot = Pilot(stamped=True)
    pilot.give(*({"ias": n, "time": n / HERTZ} for n in range(1000)))
    assert pilot.speeds == list(range(1000))


def test_up_to_thirty_two_records_at_once_are_all_passed_on_in_order(pilot: Pilot) -> None:
    pilot.give(*({"ias": number, "seq": number} for number in range(BEHIND)))
    assert pilot.speeds == list(range(BEHIND))
    assert pilot.intake.counts.thinned == 0


def test_of_more_the_extremes_and_the_last_are_passed_on(pilot: Pilot) -> None:
    speeds = [*range(50, 100), *range(100, 20, -1), 60]
    pilot.give(*({"ias": speed, "seq": n} for n, speed in enumerate(speeds)))
    assert pilot.speeds == [50, 100, 21, 60]
    counts = pilot.intake.counts
    assert (counts.accepted, counts.thinned) == (len(speeds), len(speeds) - 4)


@given(st.lists(st.tuples(st.integers(0, 20), st.integers(0, 20)), min_size=1, max_size=80))
def test_whatever_is_crossed_is_crossed_in_what_is_left(pairs: list[tuple[int, int]]) -> None:
    waiting = [Readings(0.0, {"a": float(a), "b": float(b)}) for a, b in pairs]
    kept = thin(waiting)
    assert kept[0] is waiting[0] or kept[0] == waiting[0]
    assert kept[-1] == waiting[-1]
    numbers = [next(n for n, each in enumerate(waiting) if each is one) for one in kept]
    assert numbers == sorted(numbers)
    for name in ("a", "b"):
        for threshold in range(21):
            above = [each.values[name] >= threshold for each in waiting]
            left = [each.values[name] >= threshold for each in kept]
            assert (any(above), all(above)) == (any(left), all(left))


def test_nothing_that_arrives_whole_is_lost_but_to_what_is_newer() -> None:
    sent = [
        (100 + n / HERTZ, json.dumps({"ias": n, "seq": n, "time": n / HERTZ}).encode())
        for n in range(60 * 60 * HERTZ)
    ]
    faults = Faults(seed=3, silence_every=120.0)
    pilot = Pilot()
    newest = -1
    expected: list[float] = []
    for arrival in faults.arrivals(sent):
        pilot.intake.check(arrival.at)
        pilot.intake.receive([arrival.data], arrival.at, pilot.decoder)
        if arrival.intact and arrival.number > newest:
            newest = arrival.number
            expected.append(float(arrival.number))
    assert pilot.speeds == expected
    long = [to - since for since, to in faults.silences if to - since > 2.05]
    told = pilot.states.count("readings lost")
    assert len(long) <= told <= len(faults.silences)
    assert pilot.states == ["readings lost", "readings back"] * told
    assert pilot.intake.counts.malformed > 1000
    assert pilot.intake.counts.late > 1000
