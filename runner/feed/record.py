"""Readings kept in a file, so that a flight can be played back: one JSON object a line.

The first line says what the file is and for which aircraft. The others have the aircraft's
own reading names and units, so that no map is needed to play them back; beside them
``at`` (seconds since the recording began, by this machine's clock), ``time`` (the source's
clock, or ``at`` where it has none) and, where it is known, ``paused``.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import IO

from runner.errors import RunnerError
from runner.feed.reading import Readings

MARK = "runner feed"
VERSION = 1
DIGITS = 7
"""Significant digits that are kept: more than any gauge has."""


class Recorder:
    """Writes readings to a new file. A full disk ends the recording, never the flight.

    ``trouble`` says in a line why it ended early, ``written`` how many readings it has.
    """

    def __init__(self, path: str | Path, aircraft: str) -> None:
        self.trouble = ""
        self.written = 0
        self._path = Path(path)
        self._began: float | None = None
        try:
            self._file: IO[str] | None = self._path.open("x", encoding="utf-8")
        except FileExistsError:
            raise RunnerError(
                f"{path}: there is such a file already; a recording does not replace it"
            ) from None
        except (OSError, ValueError) as error:
            reason = getattr(error, "strerror", None) or error
            raise RunnerError(f"{path}: readings cannot be recorded here: {reason}") from None
        self._write(json.dumps({MARK: VERSION, "aircraft": aircraft}, ensure_ascii=False))

    def write(self, readings: Readings) -> None:
        """Keep these readings."""
        if self._file is None:
            return
        if self._began is None:
            self._began = readings.at
        at = round(readings.at - self._began, 4)
        time = readings.sim_seconds
        head = f'"at":{at},"time":{at if time is None else round(time, 4)}'
        if readings.paused is not None:
            head += ',"paused":true' if readings.paused else ',"paused":false'
        values = readings.values.items()
        body = "".join([f',"{name}":{value:.{DIGITS}g}' for name, value in values])
        self._write(f"{{{head}{body}}}")
        self.written += 1

    def stop(self) -> None:
        """Close the file."""
        file, self._file = self._file, None
        if file is not None:
            try:
                file.close()
            except OSError as error:
                self._failed(error)

    def _write(self, line: str) -> None:
        assert self._file is not None
        try:
            self._file.write(line + "\n")
        except OSError as error:
            self._failed(error)
            self.stop()

    def _failed(self, error: OSError) -> None:
        if not self.trouble:
            reason = error.strerror or str(error)
            self.trouble = f"{self._path}: the recording of readings has ended: {reason}"


def recorded_aircraft(path: str | Path) -> str | None:
    """The aircraft of a recording made here; None where the file is another one.

    Raises ``RunnerError`` where it cannot be read.
    """
    try:
        with Path(path).open("rb") as file:
            first = file.readline(4096)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise RunnerError(f"{path}: the readings cannot be read: {reason}") from None
    try:
        found = json.loads(first.decode("utf-8"))
    except (ValueError, RecursionError):
        return None
    if not isinstance(found, dict) or MARK not in found:
        return None
    if found[MARK] != VERSION:
        raise RunnerError(f"{path}: this Runner plays recordings of version {VERSION}")
    return str(found.get("aircraft", ""))
