"""Buttons of a game controller: push-to-talk, "done" and other keys, through SDL.

SDL comes with the extra ``controller``. A thread of its own takes what the buttons did
fifty times a second; no window is opened, so it hears them while the simulator has the
keyboard. SDL queues presses and releases, so one shorter than that is not lost.
"""

from __future__ import annotations

import importlib
import os
import threading
import time
import warnings
from collections.abc import Callable, Iterator, Sequence
from typing import Any

from runner.errors import NO_DEVICE, RunnerError

POLL_SECONDS = 0.02
LOOK_SECONDS = 1.0
"""How often a controller that is not there is looked for."""

APPEARS_SECONDS = 0.6
"""How long a controller asked for by name may take to be found at the start."""

START_SECONDS = 10.0
"""How long SDL itself may take to come up."""

EVENTS_AT_ONCE = 64

INSTALL = "pip install pysdl2 pysdl2-dll"

MISSING = f"a game controller's buttons need SDL, which is not installed; {INSTALL} brings it"


def load_sdl() -> Any:
    """SDL ready for joysticks alone; the caller ends it with ``quit_sdl``.

    Raises ``ImportError`` where it is not installed and ``RunnerError`` with status 3 where
    it finds no way to read controllers.
    """
    os.environ.setdefault("SDL_JOYSTICK_ALLOW_BACKGROUND_EVENTS", "1")
    os.environ.setdefault("SDL_VIDEODRIVER", "dummy")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        sdl2: Any = importlib.import_module("sdl2")
    sdl2.SDL_SetHint(b"SDL_NO_SIGNAL_HANDLERS", b"1")
    if sdl2.SDL_InitSubSystem(sdl2.SDL_INIT_JOYSTICK) != 0:
        reason = sdl2.SDL_GetError().decode(errors="replace")
        raise RunnerError(f"SDL cannot read game controllers: {reason}", NO_DEVICE)
    return sdl2


def quit_sdl(sdl: Any) -> None:
    """Give back what ``load_sdl`` took."""
    sdl.SDL_QuitSubSystem(sdl.SDL_INIT_JOYSTICK)


def controllers(sdl: Any) -> list[tuple[int, str]]:
    """Index and name of every controller that is there."""
    names = []
    for index in range(sdl.SDL_NumJoysticks()):
        name = sdl.SDL_JoystickNameForIndex(index)
        names.append((index, name.decode(errors="replace") if name else f"controller {index}"))
    return names


class Controller:
    """Reports presses and releases of the mapped buttons of one controller.

    ``wanted`` is a part of its name, or empty for the first one. ``buttons`` are pairs of
    what a button does and its number. It may be plugged in and out at any time:
    ``on_trouble`` is told once when it is missing, when it is lost and when it is back; a
    button that was down when it was lost is reported as released.
    """

    def __init__(
        self,
        wanted: str,
        buttons: Sequence[tuple[str, int]],
        on_button: Callable[[str, bool], None],
        on_trouble: Callable[[str], None],
    ) -> None:
        self._wanted = wanted
        self._buttons = tuple(buttons)
        self._on_button = on_button
        self._on_trouble = on_trouble
        self._stop = threading.Event()
        self._settled = threading.Event()
        self._failure = ""
        self._thread = threading.Thread(target=self._run, name="controller", daemon=True)

    def start(self) -> None:
        """Begin to look at the buttons.

        Raises ``RunnerError`` with status 3 where a controller is asked for by name and is
        not there, or SDL is not installed; it names those that are there. Without a name
        this never waits, and what is missing is told to ``on_trouble``.
        """
        self._thread.start()
        if not self._wanted:
            return
        self._settled.wait(START_SECONDS)
        if self._failure:
            raise RunnerError(self._failure, NO_DEVICE)

    def close(self) -> None:
        """Stop looking."""
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join(1.0)

    def _run(self) -> None:
        try:
            sdl = load_sdl()
        except ImportError:
            self._fail(MISSING)
            return
        except RunnerError as error:
            self._fail(str(error))
            return
        try:
            if not self._wanted or self._appears(sdl):
                self._serve(sdl)
        finally:
            self._settled.set()
            quit_sdl(sdl)

    def _fail(self, text: str) -> None:
        if self._wanted:
            self._failure = text
        else:
            self._on_trouble(text)
        self._settled.set()

    def _appears(self, sdl: Any) -> bool:
        end = time.monotonic() + APPEARS_SECONDS
        while self._find(sdl) is None:
            if time.monotonic() > end or self._stop.wait(POLL_SECONDS):
                there = ", ".join(name for _, name in controllers(sdl)) or "none at all"
                self._fail(f"no controller has {self._wanted!r} in its name; there is: {there}")
                return False
        self._settled.set()
        return True

    def _serve(self, sdl: Any) -> None:
        told = False
        while not self._stop.is_set():
            index = self._find(sdl)
            joystick = sdl.SDL_JoystickOpen(index) if index is not None else None
            if not joystick:
                if not told:
                    self._on_trouble("no controller is there; its buttons wait for it")
                    told = True
                self._stop.wait(LOOK_SECONDS)
                continue
            if told:
                self._on_trouble("the controller is there")
            self._watch(sdl, joystick)
            sdl.SDL_JoystickClose(joystick)
            if not self._stop.is_set():
                self._on_trouble("the controller is gone; its buttons wait for it")
            told = True

    def _find(self, sdl: Any) -> int | None:
        sdl.SDL_JoystickUpdate()
        for index, name in controllers(sdl):
            if self._wanted.casefold() in name.casefold():
                return index
        return None

    def _watch(self, sdl: Any, joystick: Any) -> None:
        me = sdl.SDL_JoystickInstanceID(joystick)
        down: set[str] = set()
        while not self._stop.wait(POLL_SECONDS):
            sdl.SDL_JoystickUpdate()
            for event in _events(sdl):
                if event.type not in (sdl.SDL_JOYBUTTONDOWN, sdl.SDL_JOYBUTTONUP):
                    continue
                if event.jbutton.which == me:
                    pressed = event.type == sdl.SDL_JOYBUTTONDOWN
                    self._report(event.jbutton.button, pressed, down)
            if not sdl.SDL_JoystickGetAttached(joystick):
                break
        for name in sorted(down):
            self._on_button(name, False)

    def _report(self, number: int, pressed: bool, down: set[str]) -> None:
        for name, mapped in self._buttons:
            if mapped == number and pressed != (name in down):
                down.symmetric_difference_update({name})
                self._on_button(name, pressed)


def _events(sdl: Any) -> Iterator[Any]:
    taken = (sdl.SDL_Event * EVENTS_AT_ONCE)()
    while True:
        count = sdl.SDL_PeepEvents(
            taken,
            EVENTS_AT_ONCE,
            sdl.SDL_GETEVENT,
            sdl.SDL_JOYAXISMOTION,
            sdl.SDL_JOYDEVICEREMOVED,
        )
        for number in range(count):
            yield taken[number]
        if count < EVENTS_AT_ONCE:
            return
