"""Two real processes, killed at random moments: both lists end equal, none lost, none twice."""

from __future__ import annotations

import json
import random
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from crew_people import broker, free_port, mosquitto

MACHINE = Path(__file__).with_name("crew_machine.py")


class Process:
    """A member's process; ``heard`` is what its person has heard over all its lives."""

    def __init__(self, folder: Path, name: str, *way: str) -> None:
        self.folder, self.name, self.way = folder, name, way
        self.heard: list[str] = []
        self.notices: list[str] = []
        self.start()

    def start(self, *code: str) -> None:
        self.told: list[dict] = []
        self.process = subprocess.Popen(
            [sys.executable, str(MACHINE), str(self.folder), self.name, *self.way, *code],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        self.thread = threading.Thread(target=self.read, args=(self.process.stdout, self.told))
        self.thread.start()

    def read(self, stdout, told: list[dict]) -> None:
        again: list[str] = []
        for line in stdout:
            if not line.endswith("\n"):
                break
            one = json.loads(line)
            if "heard" in one:
                again.append(one["heard"])
                if len(again) > len(self.heard):
                    self.heard.append(again[-1])
                assert again == self.heard[: len(again)]
            if "notice" in one:
                self.notices.append(one["notice"])
            told.append(one)

    def say(self, text: str) -> None:
        try:
            self.process.stdin.write(text + "\n")
            self.process.stdin.flush()
        except BrokenPipeError:
            return

    def wait_for(self, key: str, seconds: float = 30.0, check=lambda _: True):
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            for one in list(self.told):
                if key in one and check(one[key]):
                    return one
            time.sleep(0.01)
        raise AssertionError(f"{self.name} never told {key}: {self.told[-20:]}")

    def kill(self) -> None:
        self.process.kill()
        self.process.wait()
        self.thread.join()
        self.process.stdin.close()
        self.process.stdout.close()


def listed(process: Process) -> dict:
    process.told[:] = [one for one in process.told if "list" not in one]
    process.say("list")
    return process.wait_for("list")


def killed_at_random(folder: Path, ways: tuple[tuple[str, ...], ...], kills: int) -> None:
    chance = random.Random(kills)
    anna = Process(folder, "anna", *ways[0])
    anna.wait_for("begins")
    time.sleep(1)
    anna.say("code")
    code = anna.wait_for("code")["code"]
    ben = Process(folder, "ben", *ways[1], *code)
    ben.way = ways[1]
    ben.wait_for("notice", check=lambda name: name == "Present")
    said = 0
    try:
        for kill in range(kills):
            for _ in range(chance.randrange(1, 5)):
                said += 1
                chance.choice((anna, ben)).say(f"item {said}")
                time.sleep(chance.random() * 0.05)
            victim = chance.choice((anna, ben))
            time.sleep(chance.random() * 0.3)
            victim.kill()
            if chance.random() < 0.3:
                said += 1
                (ben if victim is anna else anna).say(f"item {said}")
            time.sleep(chance.random() * 0.3)
            victim.start()
            victim.wait_for("begins")
            if kill % 5 == 4:
                victim.wait_for("notice", 40, check=lambda name: name == "Present")
        for last in (anna, ben):
            said += 1
            last.say(f"item {said}")
        end = time.monotonic() + 60
        while time.monotonic() < end:
            lists = listed(anna), listed(ben)
            texts = lists[0]["list"]
            done = f"item {said}" in texts and f"item {said - 1}" in texts
            if done and lists[0] == lists[1] and lists[0]["settled"] == len(texts):
                break
            time.sleep(0.2)
        time.sleep(0.3)
        assert lists[0] == lists[1]
        texts = lists[0]["list"]
        assert len(set(texts)) == len(texts) > kills
        for process in (anna, ben):
            assert process.heard == texts
            assert "TwoRuns" not in process.notices and "Present" in process.notices
    finally:
        anna.kill()
        ben.kill()


def near() -> tuple[tuple[str, ...], ...]:
    port = str(free_port())
    return ("hub", port), ("spoke", port)


def test_either_process_killed_a_few_times_loses_nothing(tmp_path):
    killed_at_random(tmp_path, near(), 4)


@pytest.mark.slow
def test_either_process_killed_at_a_hundred_random_moments_loses_nothing(tmp_path):
    killed_at_random(tmp_path, near(), 100)


@pytest.mark.slow
@pytest.mark.skipif(mosquitto() is None, reason="no Mosquitto on this machine")
def test_either_process_killed_behind_a_broker_loses_nothing(tmp_path):
    with broker(tmp_path) as port:
        ways = ("hub-broker", str(port)), ("broker", str(port))
        killed_at_random(tmp_path, ways, 30)
