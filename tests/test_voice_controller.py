"""A game controller's buttons, with SDL itself and its virtual joysticks."""

from __future__ import annotations

import importlib.util
import os
import queue
import subprocess
import sys
import time
import wave
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from flying import WEIGHT
from runner.errors import NO_DEVICE, RunnerError
from runner.voice import controller
from runner.voice.controller import Controller, controllers, load_sdl, quit_sdl

pytestmark = pytest.mark.skipif(
    importlib.util.find_spec("sdl2") is None, reason="SDL is not installed: the extra controller"
)

NAME = "Virtual Controller"
"""What SDL calls a virtual joystick that was given no name."""

BUTTONS = (("talk", 0), ("done", 3))


@pytest.fixture
def sdl(monkeypatch: pytest.MonkeyPatch) -> Iterator[Any]:
    monkeypatch.setenv("SDL_VIDEODRIVER", "dummy")
    monkeypatch.setattr(controller, "LOOK_SECONDS", 0.05)
    loaded = load_sdl()
    yield loaded
    while loaded.SDL_NumJoysticks():
        loaded.SDL_JoystickDetachVirtual(0)
    quit_sdl(loaded)


class Pad:
    """A virtual joystick of eight buttons, pressed through a handle of its own."""

    def __init__(self, sdl: Any) -> None:
        self.sdl = sdl
        index = sdl.SDL_JoystickAttachVirtual(sdl.SDL_JOYSTICK_TYPE_GAMECONTROLLER, 2, 8, 0)
        assert index >= 0, sdl.SDL_GetError()
        self.handle = sdl.SDL_JoystickOpen(index)
        self.id = sdl.SDL_JoystickInstanceID(self.handle)

    def set(self, button: int, pressed: bool) -> None:
        assert self.sdl.SDL_JoystickSetVirtualButton(self.handle, button, int(pressed)) == 0

    def queue(self, button: int, *presses: bool) -> None:
        """Put into SDL's queue what a driver finds there after a short press."""
        for pressed in presses:
            event = self.sdl.SDL_Event()
            event.type = self.sdl.SDL_JOYBUTTONDOWN if pressed else self.sdl.SDL_JOYBUTTONUP
            event.jbutton.which = self.id
            event.jbutton.button = button
            event.jbutton.state = int(pressed)
            assert self.sdl.SDL_PushEvent(event) == 1

    def unplug(self) -> None:
        for index in range(self.sdl.SDL_NumJoysticks()):
            if self.sdl.SDL_JoystickGetDeviceInstanceID(index) == self.id:
                self.sdl.SDL_JoystickDetachVirtual(index)
        self.sdl.SDL_JoystickClose(self.handle)


class Hand:
    """A running ``Controller`` and what it reports."""

    def __init__(self, wanted: str = "", buttons: tuple[tuple[str, int], ...] = BUTTONS) -> None:
        self.presses: queue.Queue[tuple[str, bool]] = queue.Queue()
        self.troubles: queue.Queue[str] = queue.Queue()
        self.controller = Controller(
            wanted,
            buttons,
            lambda name, pressed: self.presses.put((name, pressed)),
            self.troubles.put,
        )

    def __enter__(self) -> Hand:
        self.controller.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.controller.close()

    def press(self) -> tuple[str, bool]:
        return self.presses.get(timeout=2.0)

    def trouble(self) -> str:
        return self.troubles.get(timeout=2.0)


def settle() -> None:
    """Long enough for some looks at the buttons."""
    time.sleep(5 * controller.POLL_SECONDS)


def test_a_button_is_reported_when_it_goes_down_and_when_it_comes_up(sdl: Any) -> None:
    pad = Pad(sdl)
    with Hand(wanted="virtual") as hand:
        settle()
        pad.set(0, True)
        assert hand.press() == ("talk", True)
        pad.set(3, True)
        assert hand.press() == ("done", True)
        pad.set(0, False)
        assert hand.press() == ("talk", False)
        pad.set(3, False)
        assert hand.press() == ("done", False)
        assert hand.troubles.empty()


def test_a_button_that_is_not_mapped_says_nothing(sdl: Any) -> None:
    pad = Pad(sdl)
    with Hand() as hand:
        settle()
        pad.set(5, True)
        settle()
        pad.set(0, True)
        assert hand.press() == ("talk", True)


def test_a_press_shorter_than_the_time_between_two_looks_is_not_lost(sdl: Any) -> None:
    pad = Pad(sdl)
    with Hand() as hand:
        settle()
        pad.queue(3, True, False)
        assert [hand.press(), hand.press()] == [("done", True), ("done", False)]


def test_only_the_chosen_controllers_buttons_count(sdl: Any) -> None:
    first, second = Pad(sdl), Pad(sdl)
    with Hand() as hand:
        settle()
        second.set(0, True)
        settle()
        assert hand.presses.empty()
        first.set(0, True)
        assert hand.press() == ("talk", True)


def test_a_controller_unplugged_while_a_button_is_down_lets_it_go_and_can_come_back(
    sdl: Any,
) -> None:
    pad = Pad(sdl)
    with Hand() as hand:
        settle()
        pad.set(0, True)
        assert hand.press() == ("talk", True)
        pad.unplug()
        assert hand.press() == ("talk", False)
        assert hand.trouble() == "the controller is gone; its buttons wait for it"
        again = Pad(sdl)
        assert hand.trouble() == "the controller is there"
        settle()
        again.set(3, True)
        assert hand.press() == ("done", True)


def test_a_controller_that_comes_later_is_taken_and_its_absence_is_told_once(sdl: Any) -> None:
    with Hand() as hand:
        assert hand.trouble() == "no controller is there; its buttons wait for it"
        settle()
        assert hand.troubles.empty()
        pad = Pad(sdl)
        assert hand.trouble() == "the controller is there"
        settle()
        pad.set(0, True)
        assert hand.press() == ("talk", True)


def test_a_controller_asked_for_by_name_that_is_not_there_ends_with_status_3(sdl: Any) -> None:
    Pad(sdl)
    hand = Hand(wanted="rudder pedals")
    with pytest.raises(RunnerError) as raised:
        hand.controller.start()
    hand.controller.close()
    assert raised.value.status == NO_DEVICE == 3
    assert str(raised.value) == (f"no controller has 'rudder pedals' in its name; there is: {NAME}")
    assert hand.troubles.empty()


@pytest.mark.parametrize("wanted", ["", "stick"])
def test_without_sdl_one_line_says_what_brings_it(
    wanted: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "sdl2", None)
    hand = Hand(wanted)
    if wanted:
        with pytest.raises(RunnerError) as raised:
            hand.controller.start()
        text = str(raised.value)
        assert raised.value.status == NO_DEVICE
    else:
        hand.controller.start()
        text = hand.trouble()
    hand.controller.close()
    assert "not installed; pip install pysdl2 pysdl2-dll brings it" in text
    assert "\n" not in text


def test_looking_at_the_buttons_takes_little_of_the_processor(sdl: Any) -> None:
    Pad(sdl)
    with Hand():
        settle()
        used, began = time.process_time(), time.monotonic()
        time.sleep(1.0)
        share = (time.process_time() - used) / (time.monotonic() - began)
    assert share < 0.03


def test_names_are_those_that_the_system_gives(sdl: Any) -> None:
    assert controllers(sdl) == []
    Pad(sdl)
    assert controllers(sdl) == [(0, NAME)]


def test_a_flight_that_asks_for_a_controller_that_is_not_there_ends_with_status_3(
    tmp_path: Path,
) -> None:
    silence = tmp_path / "silence.wav"
    with wave.open(str(silence), "wb") as sound:
        sound.setparams((1, 2, 16_000, 0, "NONE", ""))
        sound.writeframes(bytes(10 * 16_000 * 2))
    done = subprocess.run(
        [
            *(sys.executable, "-m", "runner", "fly", "--screen", "plain", "--speak", "none"),
            *("--listen", f"wav:{silence}", "--phase", "before-takeoff"),
            *("--set", WEIGHT, "--controller", "no such stick", "--button", "done=0"),
            *("--logbook", str(tmp_path / "logbook.sqlite3")),
        ],
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
        env=os.environ | {"SDL_VIDEODRIVER": "dummy"},
    )
    assert done.returncode == 3, (done.stdout, done.stderr)
    assert "no controller has 'no such stick' in its name" in done.stderr
    assert "Traceback" not in done.stderr
