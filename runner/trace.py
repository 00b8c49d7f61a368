"""Moments of a run as JSON lines in the file that RUNNER_TRACE names, for benchmarks."""

from __future__ import annotations

import json
import os
import time
from pathlib import Path


class Trace:
    """Writes ``what`` happened and when (``time.monotonic`` seconds); nothing if not asked."""

    def __init__(self) -> None:
        name = os.environ.get("RUNNER_TRACE")
        self._path = Path(name) if name else None

    def mark(self, what: str, **more: object) -> None:
        """Write one line, at once."""
        if self._path is not None:
            line = {"what": what, "monotonic": time.monotonic(), **more}
            with self._path.open("a", encoding="utf-8") as file:
                file.write(json.dumps(line) + "\n")
