"""The plain screen: one line an event, nothing twice, and what a typed line means."""

from __future__ import annotations

import asyncio
import io
import os
import pty
import subprocess
import sys
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

import screen_views
from runner.engine.view import View
from runner.screen.plain import PlainScreen
from runner.screen.typed import COMMANDS, Answer, Ask, Mistake, Press, read_line


def screen(*, typed: bool = False) -> tuple[PlainScreen, io.StringIO]:
    out = io.StringIO()
    return PlainScreen(stdin=io.StringIO(), stdout=out, typed=typed), out


def test_what_runner_says_is_one_line() -> None:
    plain, out = screen()
    plain.said("Blowers?")
    assert out.getvalue() == "Runner: Blowers?\n"


def test_notes_stand_as_they_are_and_trouble_comes_once() -> None:
    plain, out = screen()
    plain.note("Heard “high blower”: wrong, low blower is expected.", "judged")
    plain.trouble("no sound device was found")
    plain.trouble("no sound device was found")
    assert out.getvalue().splitlines() == [
        "Heard “high blower”: wrong, low blower is expected.",
        "Trouble: no sound device was found",
    ]


def test_trouble_that_has_come_about_another_time_is_told_another_time() -> None:
    plain, out = screen()
    for _again in range(2):
        plain.trouble("Ben is not heard", anew=True)
        plain.said("Ben is back")
    assert out.getvalue() == "Trouble: Ben is not heard\nRunner: Ben is back\n" * 2


def test_same_news_from_another_hook_is_not_printed_again() -> None:
    plain, out = screen()
    plain.note("Before take-off complete", "list")
    plain.said("Before take-off complete.")
    assert out.getvalue().splitlines() == ["Before take-off complete"]


def test_challenge_said_again_is_printed_again() -> None:
    plain, out = screen()
    plain.said("Blowers?")
    plain.said("Blowers?")
    assert out.getvalue().splitlines() == ["Runner: Blowers?", "Runner: Blowers?"]


def test_views_print_nothing_where_answers_do_not_come_from_the_keyboard() -> None:
    plain, out = screen()
    plain.show(screen_views.mid_list())
    plain.level(-20.0, "open")
    assert out.getvalue() == ""


def test_answer_wanted_is_printed_once_for_an_item_where_answers_are_typed() -> None:
    plain, out = screen(typed=True)
    plain.show(screen_views.mid_list())
    plain.show(screen_views.wrong_answer())
    plain.show(screen_views.choosing())
    assert out.getvalue().splitlines() == [
        "Flight engineer answers low blower.",
        "Choose 1 dry   2 wet   3 icy.",
    ]


@given(st.text(), st.text())
def test_no_control_character_reaches_the_output(said: str, note: str) -> None:
    plain, out = screen()
    plain.said(said)
    plain.note(note, "advice")
    assert all(line.isprintable() for line in out.getvalue().split("\n"))


@pytest.mark.parametrize(("name", "action"), COMMANDS.items())
def test_command_is_a_key(name: str, action: str) -> None:
    assert read_line(f":{name}", screen_views.mid_list()) == Press(action)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("line", "meaning"),
    [
        ("", Press("done")),
        ("low blower", Answer("low blower")),
        ("104", Answer("104")),
        ("2", Answer("2")),
        (":Stand   By", Press("stand_by")),
        (":list engine fire 3", Press("call", "engine-fire", "3")),
        (":list engine fire, engine 2", Press("call", "engine-fire", "2")),
        (":list before take-off checklist", Press("call", "before-takeoff")),
        (":list carb", Press("call", "carburettor-ice")),
        (":set gross_weight = 74310lb", Press("set", "gross_weight", "74310lb")),
        (":moment flaps_up", Press("moment", "flaps_up")),
        (":why", Press("why")),
        (":why rotate_speed", Press("why", "rotate_speed")),
        (":help", Ask("help")),
        (":figures", Ask("figures")),
        (":talk", Ask("talk")),
        (":chart", Ask("chart", 0)),
        (":chart 3", Ask("chart", 2)),
    ],
)
def test_typed_line(line: str, meaning: object) -> None:
    assert read_line(line, screen_views.mid_list()) == meaning


@pytest.mark.parametrize(
    ("line", "says"),
    [
        (":list engine", "no one list is called “engine”"),
        (":list", "no command"),
        (":set gross_weight", "name=value"),
        (":fly", ":help"),
        (":", ":help"),
    ],
)
def test_mistake_says_what_would_be_right(line: str, says: str) -> None:
    meaning = read_line(line, screen_views.mid_list())
    assert isinstance(meaning, Mistake)
    assert says in meaning.text


def test_number_chooses_where_choices_are_offered() -> None:
    assert read_line("2", screen_views.choosing()) == Press("answer", "wet")
    assert read_line("9", screen_views.choosing()) == Answer("9")


class Terminal:
    """A plain screen on a pseudo-terminal, with what it calls."""

    def __init__(self, view: View) -> None:
        self.controller, child = pty.openpty()
        self.child = os.fdopen(child)
        self.out = io.StringIO()
        self.screen = PlainScreen(stdin=self.child, stdout=self.out)
        self.keys: list[tuple[str, str, str]] = []
        self.texts: list[str] = []
        self.talks: list[str] = []
        self.screen.on_key = lambda *key: self.keys.append(key)
        self.screen.on_text = self.texts.append
        self.screen.on_talk = lambda: self.talks.append("talk")
        self.screen.show(view)

    async def type(self, *lines: bytes) -> None:
        run = asyncio.create_task(self.screen.run())
        await asyncio.sleep(0)
        for line in lines:
            os.write(self.controller, line)
            await asyncio.sleep(0.05)
        if not run.done():
            self.screen.stop()
        await asyncio.wait_for(run, 2)
        os.close(self.controller)
        self.child.close()


async def test_lines_typed_on_a_terminal() -> None:
    terminal = Terminal(screen_views.mid_list())
    await terminal.type(b"low bl", b"ower\n", b"\n", b":stand by\n:talk\n", b":fly\n")
    assert terminal.texts == ["low blower"]
    assert [key[0] for key in terminal.keys] == ["done", "stand_by"]
    assert terminal.talks == ["talk"]
    assert "“:fly” is no command" in terminal.out.getvalue()


async def test_a_chart_is_printed_by_its_number() -> None:
    terminal = Terminal(screen_views.mid_list())
    terminal.screen.on_chart = lambda number, width, height: (f"{number} {width} {height}", "@")
    await terminal.type(b":chart 2\n")
    assert terminal.out.getvalue().splitlines()[-2:] == ["1 78 24", "@"]


async def test_figures_lists_and_help_are_printed_when_asked_for() -> None:
    terminal = Terminal(screen_views.mid_list())
    await terminal.type(b":figures\n", b":lists\n", b":help\n")
    lines = terminal.out.getvalue().splitlines()
    assert "rotation speed: 104 kt" in lines
    assert "Engine fire, abnormal" in lines
    assert any(line.startswith("Commands: :done") for line in lines)


async def test_end_of_input_on_a_terminal_ends_the_run() -> None:
    terminal = Terminal(screen_views.mid_list())
    await terminal.type(b"\x04")
    assert terminal.keys == [("end", "", "")]


async def test_end_command_ends_the_run() -> None:
    terminal = Terminal(screen_views.mid_list())
    await terminal.type(b":end\n")
    assert terminal.keys == [("end", "", "")]


async def test_nothing_is_read_where_input_is_no_terminal() -> None:
    read, write = os.pipe()
    with os.fdopen(read) as stdin:
        os.write(write, b"low blower\n")
        plain = PlainScreen(stdin=stdin, stdout=io.StringIO())
        texts: list[str] = []
        plain.on_text = texts.append
        run = asyncio.create_task(plain.run())
        await asyncio.sleep(0.05)
        plain.stop()
        await asyncio.wait_for(run, 2)
        os.close(write)
        assert texts == []
        assert stdin.read() == "low blower\n"


async def test_stop_before_run_is_not_lost() -> None:
    plain, _ = screen()
    plain.stop()
    await asyncio.wait_for(plain.run(), 1)


_INTO_A_CLOSED_PIPE = """
import asyncio
from runner.screen.plain import PlainScreen

async def main():
    plain = PlainScreen(typed=False)
    keys = []
    plain.on_key = lambda *key: keys.append(key)
    run = asyncio.create_task(plain.run())
    await asyncio.sleep(0)
    while not run.done():
        plain.said("Blowers?")
        await asyncio.sleep(0.01)
    assert keys == [("end", "", "")], keys

asyncio.run(main())
"""


def test_reader_that_goes_away_ends_the_run_quietly() -> None:
    process = subprocess.Popen(
        [sys.executable, "-c", _INTO_A_CLOSED_PIPE],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    assert process.stderr is not None
    assert process.stdout.readline() == "Runner: Blowers?\n"
    process.stdout.close()
    assert process.wait(10) == 0
    assert process.stderr.read() == ""
    process.stderr.close()


def test_output_that_knows_only_ascii_gets_ascii() -> None:
    raw = io.BytesIO()
    plain = PlainScreen(
        stdin=io.StringIO(), stdout=io.TextIOWrapper(raw, encoding="ascii"), typed=False
    )
    plain.note("Heard “low blower”", "heard")
    assert raw.getvalue() == b"Heard ?low blower?\n"


def test_plain_screen_does_not_load_the_full_one() -> None:
    code = "import sys, runner.screen.plain; sys.exit('textual' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_view_that_asks_nothing_prints_nothing() -> None:
    plain, out = screen(typed=True)
    plain.show(replace(screen_views.waiting(), activity=""))
    plain.show(screen_views.finished_open())
    assert out.getvalue() == ""


async def test_same_mistake_is_told_twice() -> None:
    terminal = Terminal(screen_views.mid_list())
    terminal.screen.on_key = lambda *_: terminal.screen.trouble("gross_weight is too large")
    await terminal.type(b":set gross_weight=9\n", b":set gross_weight=9\n")
    assert terminal.out.getvalue().count("Trouble: gross_weight is too large") == 2


async def test_where_no_descriptor_can_be_watched_a_thread_reads(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def refuse(*_: object) -> None:
        raise NotImplementedError

    monkeypatch.setattr(asyncio.get_running_loop(), "add_reader", refuse)
    terminal = Terminal(screen_views.mid_list())
    await terminal.type(b"low blower\n", b":end\n")
    assert terminal.texts == ["low blower"]
    assert terminal.keys == [("end", "", "")]
