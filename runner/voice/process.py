"""The voice process (``python -m runner.voice.process``): JSON lines in, JSON lines out.

Its first line is the command ``start`` with the settings. What libraries print, natively or
not, never reaches the pipe that carries the messages.
"""

from __future__ import annotations

import queue
import sys
import threading
import time
from typing import BinaryIO

from runner.errors import RunnerError
from runner.voice.messages import Message, from_line, to_line
from runner.voice.quiet import take_stdin, take_stdout
from runner.voice.session import Entry, Session
from runner.voice.settings import VoiceSettings

STOP: Message = {"do": "stop"}


def main() -> int:
    """Serve until standard input ends or ``stop`` comes."""
    stdin, stdout = take_stdin(), take_stdout()
    lock = threading.Lock()

    def send(message: Message) -> None:
        with lock:
            stdout.write(to_line(message))

    first = stdin.readline()
    if not first:
        return 0
    settings = VoiceSettings.from_json(from_line(first)["settings"])
    inbox: queue.Queue[Entry] = queue.Queue()
    threading.Thread(target=_read, args=(stdin, inbox), daemon=True).start()
    session = Session(settings, send, inbox)
    try:
        session.start()
        session.run()
    except RunnerError as error:
        send({"is": "failed", "text": str(error), "status": error.status})
        return error.status
    except BrokenPipeError:
        return 0
    finally:
        session.stop()
    return 0


def _read(stdin: BinaryIO, inbox: queue.Queue[Entry]) -> None:
    for line in stdin:
        inbox.put(("command", from_line(line), time.monotonic()))
    inbox.put(("command", STOP, time.monotonic()))


if __name__ == "__main__":
    sys.exit(main())
