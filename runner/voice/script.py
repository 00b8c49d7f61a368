"""Answers from a text file or standard input: a line is an utterance, an empty one a silence.

A figure in angle brackets (``<climb_rpm>``) is said as it is then. Where a simulator is fed,
a line in round brackets is not said: ``(gear_up)`` waits for that moment to come, and
``(takeoff-roll.rotate)`` for that callout to be said.
"""

from __future__ import annotations

import queue
import sys
import threading
from collections.abc import Callable
from pathlib import Path

from runner.errors import RunnerError


class Script:
    """Lines to be heard one after the other; ``next_line`` gives None while none has come yet.

    Standard input is read by a thread, so that a pipe that is still open blocks nobody;
    ``on_more`` is called from that thread whenever a line, or the end, has arrived.
    """

    def __init__(self, name: str, on_more: Callable[[], None]) -> None:
        self._lines: queue.SimpleQueue[str | None] = queue.SimpleQueue()
        self.ended = False
        if name == "-":
            threading.Thread(target=self._read_stdin, args=(on_more,), daemon=True).start()
            return
        try:
            text = Path(name).read_text(encoding="utf-8")
        except OSError as error:
            raise RunnerError(
                f"{name}: cannot be read ({error.strerror}); --listen text:FILE"
            ) from error
        except UnicodeDecodeError as error:
            raise RunnerError(f"{name}: is not UTF-8 text; save it as UTF-8") from error
        for line in text.splitlines():
            self._put(line)
        self._lines.put(None)

    def next_line(self) -> str | None:
        """The next utterance ("" is a silence), or None: none yet, or none ever (``ended``)."""
        if self.ended:
            return None
        try:
            line = self._lines.get_nowait()
        except queue.Empty:
            return None
        if line is None:
            self.ended = True
        return line

    def _put(self, line: str) -> None:
        if not line.lstrip().startswith("#"):
            self._lines.put(line.strip())

    def _read_stdin(self, on_more: Callable[[], None]) -> None:
        for raw in sys.stdin.buffer:
            self._put(raw.decode("utf-8", "replace").rstrip("\r\n"))
            on_more()
        self._lines.put(None)
        on_more()
