"""Buttons of a game controller: push-to-talk, "done" and other keys, through SDL.

SDL comes with the extra ``controller``. A thread of its own looks at the buttons fifty
times a second; no window is opened, so it hears them while the simulator has the keyboard.
"""

from __future__ import annotations

import importlib
import os
import threading
import warnings
from collections.abc import Callable, Sequence
from typing import Any

POLL_SECONDS = 0.02
LOOK_SECONDS = 2.0
"""How often a controller that is not there is looked for."""

MISSING = 'buttons need SDL; pip install "runner-checklists[controller]" brings it'


def load_sdl() -> Any:
    """SDL ready for joysticks alone; raises ``ImportError`` where it is not installed."""
    os.environ.setdefault("SDL_JOYSTICK_ALLOW_BACKGROUND_EVENTS", "1")
    os.environ.setdefault("SDL_VIDEODRIVER", "dummy")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        sdl2: Any = importlib.import_module("sdl2")
    sdl2.SDL_SetHint(b"SDL_NO_SIGNAL_HANDLERS", b"1")
    if sdl2.SDL_InitSubSystem(sdl2.SDL_INIT_JOYSTICK) != 0:
        raise ImportError(sdl2.SDL_GetError().decode(errors="replace"))
    return sdl2


def controllers(sdl: Any) -> list[tuple[int, str]]:
    """Index and name of every controller that is there."""
    names = []
    for index in range(sdl.SDL_NumJoysticks()):
        name = sdl.SDL_JoystickNameForIndex(index)
        names.append((index, name.decode(errors="replace") if name else f"controller {index}"))
    return names


class Controller:
    """Reports presses and releases of the mapped buttons of one controller.

    ``wanted`` is a part of its name, or empty for the first one. It may be plugged in and
    out at any time; ``on_trouble`` is told once when it is missing and once when it is lost.
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
        self._thread = threading.Thread(target=self._run, daemon=True)

    def start(self) -> None:
        """Begin to look at the buttons."""
        self._thread.start()

    def close(self) -> None:
        """Stop looking."""
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join(1.0)

    def _run(self) -> None:
        try:
            sdl = load_sdl()
        except ImportError as error:
            cause = str(error).splitlines()[0] if str(error) else ""
            self._on_trouble(MISSING if "sdl2" in cause or not cause else f"buttons: {cause}")
            return
        told = False
        while not self._stop.is_set():
            sdl.SDL_JoystickUpdate()
            index = self._find(sdl)
            if index is None:
                if not told:
                    told = True
                    name = f" {self._wanted!r}" if self._wanted else ""
                    self._on_trouble(f"no controller{name} is there; its buttons wait for it")
                self._stop.wait(LOOK_SECONDS)
                continue
            told = True
            self._watch(sdl, index)
        sdl.SDL_QuitSubSystem(sdl.SDL_INIT_JOYSTICK)

    def _find(self, sdl: Any) -> int | None:
        for index, name in controllers(sdl):
            if self._wanted.casefold() in name.casefold():
                return index
        return None

    def _watch(self, sdl: Any, index: int) -> None:
        joystick = sdl.SDL_JoystickOpen(index)
        if not joystick:
            self._stop.wait(LOOK_SECONDS)
            return
        down: set[str] = set()
        while not self._stop.wait(POLL_SECONDS):
            sdl.SDL_JoystickUpdate()
            if not sdl.SDL_JoystickGetAttached(joystick):
                self._on_trouble("the controller is gone; its buttons wait for it")
                break
            for name, number in self._buttons:
                pressed = bool(sdl.SDL_JoystickGetButton(joystick, number))
                if pressed != (name in down):
                    down.symmetric_difference_update({name})
                    self._on_button(name, pressed)
        for name in sorted(down):
            self._on_button(name, False)
        sdl.SDL_JoystickClose(joystick)
