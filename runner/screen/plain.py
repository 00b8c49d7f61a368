"""The plain screen: one line an event on standard output, for screen readers, logs and pipes."""

from __future__ import annotations

import asyncio
import os
import sys
import threading
from collections import deque
from collections.abc import Callable
from typing import IO

from runner.engine.events import KeyAction
from runner.engine.view import View
from runner.screen.typed import HELP, Answer, Ask, Mistake, Press, read_line
from runner.screen.wording import answer_text, plain_text, sentence

_REMEMBERED = 6
"""So many lines back a line from another hook counts as the same news."""


def _no_key(action: KeyAction, argument: str, argument2: str) -> None:
    """Nobody listens to commands yet."""


def _no_text(text: str) -> None:
    """Nobody listens to typed answers yet."""


def _no_talk() -> None:
    """Nobody listens to push-to-talk yet."""


def _no_chart(number: int, width: int, height: int) -> tuple[str, ...]:  # noqa: ARG001
    """Nobody draws charts yet."""
    return ()


class PlainScreen:
    """Lines of text, each flushed at once, without escape codes.

    ``typed`` says whether lines typed on ``stdin`` are answers and commands; by default
    they are where it is a terminal. The answer wanted is printed only then, because
    otherwise the answers come by voice or from a file.
    """

    def __init__(
        self,
        *,
        stdin: IO[str] | None = None,
        stdout: IO[str] | None = None,
        typed: bool | None = None,
    ) -> None:
        self.on_key: Callable[[KeyAction, str, str], None] = _no_key
        self.on_text: Callable[[str], None] = _no_text
        self.on_talk: Callable[[], None] = _no_talk
        self.on_chart: Callable[[int, int, int], tuple[str, ...]] = _no_chart
        self._stdin = sys.stdin if stdin is None else stdin
        self._stdout = sys.stdout if stdout is None else stdout
        self._typed = _is_terminal(self._stdin) if typed is None else typed
        self._view = View("", "")
        self._wanted = ("", "")
        self._troubles: set[str] = set()
        self._recent: deque[tuple[str, str]] = deque(maxlen=_REMEMBERED)
        self._closed = False
        self._stopped: asyncio.Event | None = None
        self._begun_line = b""

    async def run(self) -> None:
        """Take what is typed until ``stop``, or until nobody reads the lines any more."""
        self._stopped = asyncio.Event()
        if self._closed:
            return
        stop_reading = self._read() if self._typed else None
        try:
            await self._stopped.wait()
        finally:
            if stop_reading is not None:
                stop_reading()

    def stop(self) -> None:
        """``run`` returns."""
        if self._stopped is not None:
            self._stopped.set()
        else:
            self._closed = True

    def show(self, view: View) -> None:
        """Print the answer wanted where it is new and answers are typed; nothing else."""
        self._view = view
        wanted = plain_text(answer_text(view))
        item = view.current.id if view.current is not None else ""
        if self._typed and wanted and (item, wanted) != self._wanted:
            self._line("show", sentence(wanted))
        self._wanted = (item, wanted)

    def said(self, text: str) -> None:
        """Print what Runner says."""
        self._line("said", text, f"Runner: {text}")

    def note(self, text: str, kind: str) -> None:
        """Print a note of any kind as it is."""
        self._line(f"note {kind}", text)

    def level(self, dbfs: float, state: str) -> None:
        """Print nothing: a level is no event."""

    def trouble(self, text: str, anew: bool = False) -> None:
        """Print what does not work, once; ``anew`` where it has come about another time."""
        if anew or text not in self._troubles:
            self._troubles.add(text)
            self._line("trouble", text, f"Trouble: {text}")

    def over(self, text: str) -> None:
        """Print nothing: what was printed stands, and who needs to know is told aloud."""

    def _line(self, hook: str, text: str, shown: str = "") -> None:
        news = " ".join(text.lower().split()).rstrip(".?!")
        for entry in self._recent:
            if entry[1] == news and entry[0] != hook:
                self._recent.remove(entry)
                return
        self._recent.append((hook, news))
        for line in (shown or text).splitlines():
            self._print(line)

    def _print(self, line: str) -> None:
        if self._closed:
            return
        clean = "".join(character for character in line if character.isprintable())
        try:
            print(clean, file=self._stdout, flush=True)
        except UnicodeEncodeError:
            self._print(clean.encode("ascii", "replace").decode("ascii"))
        except (BrokenPipeError, ValueError, OSError):
            self._nobody_reads()

    def _nobody_reads(self) -> None:
        self._closed = True
        if self._stdout is sys.stdout:
            # The interpreter flushes standard output once more at its end and would complain.
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        try:
            loop = asyncio.get_running_loop()
        except RuntimeError:
            return
        # Not at once: the line may come from the middle of what the key would set off.
        loop.call_soon(self._end)

    def _end(self) -> None:
        self.on_key("end", "", "")
        self.stop()

    def _read(self) -> Callable[[], None]:
        """Begin to read the terminal; gives what ends the reading."""
        loop = asyncio.get_running_loop()
        descriptor = self._stdin.fileno()

        def ready() -> None:
            self._received(_read_some(descriptor))

        try:
            loop.add_reader(descriptor, ready)
        except NotImplementedError:
            # Windows: no way to wait for the console but in a thread of its own.
            going = threading.Event()
            going.set()

            def wait() -> None:
                while going.is_set():
                    got = _read_some(descriptor)
                    loop.call_soon_threadsafe(self._received, got)
                    if not got:
                        return

            threading.Thread(target=wait, daemon=True, name="typed lines").start()
            return going.clear

        def stop_reading() -> None:
            loop.remove_reader(descriptor)

        return stop_reading

    def _received(self, got: bytes) -> None:
        if self._stopped is None or self._stopped.is_set():
            return
        if not got:
            self._end()
            return
        *lines, self._begun_line = (self._begun_line + got).split(b"\n")
        for line in lines:
            self._take(line.decode("utf-8", "replace"))

    def _take(self, line: str) -> None:
        # What was typed may be wrong in the same way twice, and is told twice.
        self._troubles.clear()
        match read_line(line, self._view):
            case Answer(text):
                self.on_text(text)
            case Press(action, argument, argument2):
                self.on_key(action, argument, argument2)
                if action == "end":
                    self.stop()
            case Mistake(text):
                self._print(text)
            case Ask("chart", number):
                for text in self.on_chart(number, 78, 24):
                    self._print(text)
            case Ask(about):
                self._answer(about)

    def _answer(self, about: str) -> None:
        view = self._view
        match about:
            case "talk":
                self.on_talk()
            case "help":
                for line in HELP:
                    self._print(line)
            case "figures":
                for figure in view.figures:
                    self._print(f"{figure.title}: {figure.text}")
                if not view.figures:
                    self._print("No figures are known yet.")
            case "lists":
                for _, title, abnormal in view.callable_lists:
                    self._print(f"{title}, abnormal" if abnormal else title)


def _is_terminal(stream: IO[str]) -> bool:
    try:
        return stream.isatty()
    except (AttributeError, ValueError):
        return False


def _read_some(descriptor: int) -> bytes:
    try:
        return os.read(descriptor, 4096)
    except OSError:
        return b""
