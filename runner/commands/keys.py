"""Keys pressed while something else goes on: single ones on a terminal, else lines of input."""

from __future__ import annotations

import os
import queue
import select
import sys
import threading
from types import TracebackType
from typing import Any

END = "end"
"""Given for ever once the input has ended."""


class Keys:
    """Keys as lower-case letters, ``""`` for Enter, ``END`` at the end of the input.

    Where input is no terminal (or the system has no ``termios``) each line is one key, its
    first letter. Use it as a context: it gives the terminal back as it was.
    """

    def __init__(self) -> None:
        self._queue: queue.SimpleQueue[str] = queue.SimpleQueue()
        self._before: list[Any] | None = None
        self._ended = False

    def __enter__(self) -> Keys:
        if sys.stdin is not None and sys.stdin.isatty():
            try:
                import termios
                import tty

                self._before = termios.tcgetattr(sys.stdin)
                tty.setcbreak(sys.stdin)
            except ImportError:
                pass
        if self._before is None:
            threading.Thread(target=self._read_lines, daemon=True).start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._before is not None:
            import termios

            termios.tcsetattr(sys.stdin, termios.TCSADRAIN, self._before)

    def pressed(self) -> str | None:
        """The next key, or None where none was pressed. The end of the input is no key."""
        if self._ended:
            return None
        if self._before is not None:
            ready, _, _ = select.select([sys.stdin], [], [], 0)
            return self._read_key() if ready else None
        try:
            return self._of(self._queue.get_nowait())
        except queue.Empty:
            return None

    def wait(self) -> str:
        """The next key, however long it takes."""
        if self._ended:
            return END
        key = self._read_key() if self._before is not None else self._of(self._queue.get())
        return END if key is None else key

    def _read_key(self) -> str | None:
        character = os.read(sys.stdin.fileno(), 1).decode("utf-8", "replace")
        if character in ("", "\x04"):
            self._ended = True
            return None
        return "" if character in "\r\n" else character.lower()

    def _read_lines(self) -> None:
        if sys.stdin is not None:
            try:
                for line in sys.stdin:
                    self._queue.put(line.strip().lower()[:1])
            except (OSError, ValueError):
                pass
        self._queue.put(END)

    def _of(self, key: str) -> str | None:
        if key == END:
            self._ended = True
            return None
        return key
