"""Watching what arrives and tying names to readings: by scripted answers and real processes."""

from __future__ import annotations

import json
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.checklist.load import load_aircraft
from runner.errors import RunnerError
from runner.feed.likeness import suggestions, unit_of
from runner.feed.map import load_map_text
from runner.feed.seen import MAX_SEEN, Name, Seen, shown, shown_value
from runner.feed.wizard import Tie, Wizard, map_text, moved
from runner.figures.model import Aircraft

RECORD: dict[str, Any] = {
    "clock_ms": 12_000,
    "frame": 600,
    "ias_mps": 50.5,
    "altIndicated_ft": 310.0,
    "radarAlt_m": 0.0,
    "vvi_fpm": 0.0,
    "oat_k": 288.15,
    "gear": "down",
    "flaps_deg": 20.0,
    "parkBrake": True,
    "hyd_press_psi": 2950,
    "is_paused": False,
    **{f"eng{n}_map_hpa": 1013.25 + n for n in range(4)},
    **{f"eng{n}_rpm": 800 + n for n in range(4)},
    **{f"eng{n}_cht_degC": 150 + n for n in range(4)},
    **{f"eng{n}_oil_temp": 60 + n for n in range(4)},
    **{f"eng{n}_oil_press": 72 + n for n in range(4)},
    "wx_visibility": 9999,
}


@pytest.fixture(scope="module")
def aircraft() -> Aircraft:
    return load_aircraft("whimbrel-four-aircraft")


def seen_of(record: dict[str, Any]) -> Seen:
    seen = Seen()
    seen.take(record, 1.0)
    seen.take(record, 1.02)
    return seen


@pytest.mark.parametrize(
    ("reading", "name", "unit"),
    [
        ("airspeed", "ias_mps", "m/s"),
        ("altitude", "altIndicated_ft", "ft"),
        ("vertical_speed", "vvi_fpm", "ft/min"),
        ("outside_air_temperature", "oat_k", "K"),
        ("gear_position", "gear", ""),
        ("flap_position", "flaps_deg", "deg"),
        ("parking_brake", "parkBrake", ""),
        ("hydraulic_pressure", "hyd_press_psi", "psi"),
        ("manifold_pressure", "eng0_map_hpa", "hPa"),
        ("rpm", "eng0_rpm", "rpm"),
        ("cylinder_head_temperature", "eng0_cht_degC", "degC"),
        ("oil_temperature", "eng0_oil_temp", "degC"),
        ("oil_pressure", "eng0_oil_press", "psi"),
    ],
)
def test_the_likest_name_is_suggested_first(
    aircraft: Aircraft, reading: str, name: str, unit: str
) -> None:
    rule = aircraft.readings[reading]
    seen = seen_of(RECORD)
    assert suggestions(rule, seen.names.values())[0].name == name
    assert unit_of(seen.names[name], rule) == unit


def test_a_value_that_no_gauge_shows_speaks_against_a_name_and_for_another_unit(
    aircraft: Aircraft,
) -> None:
    names = seen_of({"map_1": 101_325.0, "map_2": 29.9, "manifold": 1013.25}).names
    rule = aircraft.readings["manifold_pressure"]
    assert unit_of(names["map_2"], rule) == "inHg"
    assert unit_of(names["manifold"], rule) == "hPa"
    assert unit_of(names["map_1"], rule) == "Pa"


def ask_with(answers: Callable[[str, list[str]], str], told: list[str]) -> Callable[[str], str]:
    def ask(prompt: str) -> str:
        told.append(prompt)
        return answers(prompt, told)

    return ask


def test_the_pilot_who_agrees_with_everything_gets_a_map_of_everything(
    aircraft: Aircraft,
) -> None:
    told: list[str] = []
    wizard = Wizard(seen_of(RECORD), aircraft, ask_with(lambda *_: "", told), told.append)
    text = wizard.run()
    feed_map = load_map_text(text, "made.yaml", aircraft)
    values = feed_map.convert(RECORD)
    assert values["airspeed"] == pytest.approx(98.164, abs=0.01)
    assert values["outside_air_temperature"] == pytest.approx(15.0)
    assert values["parking_brake"] == 1.0
    assert values["manifold_pressure_1"] == pytest.approx(29.92, abs=0.01)
    assert values["manifold_pressure_4"] == pytest.approx(30.01, abs=0.01)
    assert [values[f"rpm_{n}"] for n in (1, 2, 3, 4)] == [800, 801, 802, 803]
    assert "engines from: 0" in text
    assert "  eng<engine>_rpm: rpm\n" in text
    assert feed_map.time == "clock_ms"
    assert feed_map.paused == "is_paused"
    assert feed_map.sequence == "frame"


def test_a_name_is_chosen_by_number_by_name_from_all_or_not_at_all(aircraft: Aircraft) -> None:
    seen = seen_of({"a": 98.0, "airspeed": 5, "b": 310})
    answers = iter(
        ["all", "1", "kt", "b", "m", "nonsense", "none", "done", "none", "", "none", "D"]
    )
    told: list[str] = []
    text = Wizard(seen, aircraft, ask_with(lambda *_: next(answers), told), told.append).run()
    assert "  a: airspeed\n" in text
    assert "  b: altitude in m\n" in text
    assert "feed: D\n" in text
    assert text.count("\n") == 5


def test_a_unit_of_something_else_is_asked_again(aircraft: Aircraft) -> None:
    answers = iter(["", "ft", "knots", "m/s", "done", "none", "", "none", "none", ""])
    told: list[str] = []
    seen = seen_of({"ias": 50.0})
    text = Wizard(seen, aircraft, ask_with(lambda *_: next(answers), told), told.append).run()
    assert "ias: airspeed in m/s" in text
    assert any("a length (ft) is not a speed (kt)" in line for line in told)
    assert "    97.1922 kt" in told


def test_a_name_is_found_by_moving_what_it_shows(aircraft: Aircraft) -> None:
    def listen(seconds: float) -> Seen:
        assert seconds == 5
        again = Seen()
        for step in range(5):
            again.take({"q7": step / 4, "x": 100 + step / 100, "y": 7}, step / 50)
        return again

    seen = seen_of({"x": 100.0, "y": 7, "q7": 0.0})
    answers = iter(["none"] * 5 + ["moved", "1", "", "done"] + [""] * 5)
    told: list[str] = []
    ask = ask_with(lambda *_: next(answers, ""), told)
    text = Wizard(seen, aircraft, ask, told.append, listen).run()
    assert "q7: gear_position" in text
    assert [n.name for n in moved(listen(5), seen.names.values())] == ["q7", "x"]


def test_engines_that_follow_no_pattern_are_asked_for_one_by_one(aircraft: Aircraft) -> None:
    seen = seen_of({"rpm_left": 1, "rpm_right": 2, "rpm_inner": 3, "rpm_outer": 4})

    def answer(prompt: str, told: list[str]) -> str:
        title = next(line for line in reversed(told[:-1]) if not line.startswith(" "))
        wanted = {"RPM, engine 1, in rpm": "rpm_left", "RPM, engine 2, in rpm": "rpm_outer"}
        if prompt.startswith("Which is it"):
            return wanted.get(title, "none")
        return "none" if prompt.startswith("Which name") else ""

    told: list[str] = []
    text = Wizard(seen, aircraft, ask_with(answer, told), told.append).run()
    assert "  rpm_left: rpm_1\n  rpm_outer: rpm_2\n" in text


@given(st.text(min_size=1, max_size=20))
def test_any_name_that_can_be_written_is_read_back(name: str) -> None:
    aircraft = load_aircraft("whimbrel-four-aircraft")
    text = map_text(name, "", [Tie(name, "airspeed")], {}, None)
    if name.strip() and name.isprintable() and "<engine>" not in name:
        feed_map = load_map_text(text, "made.yaml", aircraft)
        assert feed_map.convert({name: 98}) == {"airspeed": 98.0}
        assert feed_map.name == name.strip()


def test_what_a_source_sends_cannot_write_on_the_terminal() -> None:
    assert shown("a\x1b[2J\nb") == "a\\x1b[2J\\x0ab"
    assert len(shown("x" * 1000)) == 40
    assert shown_value("\x07") == "\\x07"
    assert shown_value(True) == "True"
    assert shown_value(98.4567891) == "98.4568"


def test_a_source_of_endless_names_is_kept_within_bounds() -> None:
    seen = Seen()
    for number in range(5000):
        seen.take({f"n{number}": 1}, number / 50)
    assert len(seen.names) == MAX_SEEN
    assert Name("x", count=1).rate == 0.0


PROGRAM = """
import argparse, sys
from runner.commands.feed import add_feed
from runner.errors import RunnerError
parser = argparse.ArgumentParser()
add_feed(parser.add_subparsers(required=True))
arguments = parser.parse_args()
try:
    sys.exit(arguments.command(arguments))
except RunnerError as error:
    print(error, file=sys.stderr)
    sys.exit(error.status)
"""


def feed_command(*arguments: str, answers: str = "") -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", PROGRAM, *arguments],
        input=answers,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


@contextmanager
def sending(record: dict[str, Any]) -> Iterator[str]:
    """Sends the record fifty times a second to a free port; gives its URL."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    over = threading.Event()

    def send() -> None:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:
            while not over.wait(0.02):
                sender.sendto(json.dumps(record).encode(), ("127.0.0.1", port))
                sender.sendto(b"\xff", ("127.0.0.1", port))

    thread = threading.Thread(target=send)
    thread.start()
    try:
        yield f"udp://127.0.0.1:{port}"
    finally:
        over.set()
        thread.join()


def test_names_that_arrive_are_watched() -> None:
    with sending(RECORD) as url:
        done = feed_command("watch", url, "--seconds", "1")
    assert done.returncode == 0, done.stderr
    lines = {line.split()[0]: line.split() for line in done.stdout.splitlines()}
    assert lines["ias_mps"][1:4] == ["50.5", "50.5", "50.5"]
    assert 30 < float(lines["ias_mps"][4]) < 55
    assert lines["gear"][1] == "down"
    assert "malformed" in done.stdout


def test_a_map_is_made_by_questions_and_readings_are_watched_by_it(tmp_path: Path) -> None:
    file = tmp_path / "desk.yaml"
    with sending(RECORD) as url:
        made = feed_command("map", url, "--save", str(file), "--seconds", "0.5", answers="\n" * 80)
        assert made.returncode == 0, made.stderr
        assert f"Saved {file}" in made.stdout
        kept = tmp_path / "kept.jsonl"
        done = feed_command(
            "watch", url, "--map", str(file), "--seconds", "0.5", "--record", str(kept)
        )
    lines = {line.split()[0]: line.split() for line in done.stdout.splitlines()}
    assert float(lines["airspeed"][1]) == pytest.approx(98.164, abs=0.01)
    assert float(lines["manifold_pressure_4"][1]) == pytest.approx(30.01, abs=0.01)
    assert kept.read_text().startswith('{"runner feed": 1, "aircraft": "Whimbrel Four"}\n{"at":0')
    again = feed_command("watch", f"{kept}?speed=max")
    assert again.returncode == 0, again.stderr
    assert "airspeed" in again.stdout


def test_what_cannot_be_done_is_one_line(tmp_path: Path) -> None:
    there = tmp_path / "there.yaml"
    there.write_text("mine")
    with sending({"x": 1}) as url:
        for arguments, reason in (
            (("map", url, "--save", str(there)), "there is such a file already"),
            (("map", "-", "--save", "new.yaml"), "standard input is where you answer"),
            (("map", url, "--save", str(tmp_path / "n.yaml"), "--seconds", "0.3"), "answers ended"),
            (("watch", url, "--record", "x.jsonl"), "say by which --map"),
            (("watch", "udp://0.0.0.0:1"), "--feed-open"),
        ):
            done = feed_command(*arguments)
            assert done.returncode == 2
            assert reason in done.stderr
            assert "Traceback" not in done.stderr
    silent = feed_command("map", "udp://127.0.0.1:0", "--save", "n.yaml", "--seconds", "0.3")
    assert "nothing arrives" in silent.stderr
    assert there.read_text() == "mine"
    quiet = feed_command("watch", "udp://127.0.0.1:0", "--seconds", "0.3")
    assert quiet.returncode == 1


@pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo-terminal")
def test_on_a_terminal_the_table_is_drawn_until_it_is_interrupted() -> None:
    import os
    import pty
    import signal

    with sending(RECORD) as url:
        master, slave = pty.openpty()
        process = subprocess.Popen(
            [sys.executable, "-c", PROGRAM, "watch", url],
            stdin=slave,
            stdout=slave,
            stderr=slave,
            env={**os.environ, "TERM": "xterm", "COLUMNS": "100", "LINES": "50"},
        )
        os.close(slave)
        output = b""
        until = time.monotonic() + 20
        while b"ias_mps" not in output and time.monotonic() < until:
            output += os.read(master, 65536)
        process.send_signal(signal.SIGINT)
        try:
            while piece := os.read(master, 65536):
                output += piece
        except OSError:
            pass
        process.wait(10)
        os.close(master)
    assert b"Ctrl-C ends" in output
    assert b"ias_mps" in output
    assert b"Traceback" not in output
    assert process.returncode == 0


def test_a_wizard_without_answers_says_so(aircraft: Aircraft) -> None:
    def none(_: str) -> str:
        raise RunnerError("the answers ended")

    with pytest.raises(RunnerError, match="answers ended"):
        Wizard(seen_of(RECORD), aircraft, none, print).run()
