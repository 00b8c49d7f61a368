"""Which runs are being flown now, so that no other process takes one of them up.

The system's own locks do it, one byte for each run in a file beside the logbook: they go
with the process, however it ends. SQLite's file itself must not be locked like this. Where
a system has no such locks, every run counts as free.
"""

from __future__ import annotations

import contextlib
import os
from pathlib import Path


class Held:
    """The runs that this process flies. ``path`` is the logbook."""

    def __init__(self, path: Path) -> None:
        self._path = path.with_name(f"{path.name}-flying")
        self._file: int | None = None

    def take(self, run: int) -> bool:
        """Hold a run until ``close``; False where another process holds it."""
        try:
            import fcntl
        except ImportError:
            return True
        try:
            if self._file is None:
                self._file = os.open(self._path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
        except OSError:
            # A folder that takes no new file: better to go on than to refuse.
            return True
        try:
            fcntl.lockf(self._file, fcntl.LOCK_EX | fcntl.LOCK_NB, 1, run)
        except (BlockingIOError, PermissionError):
            return False
        except OSError:
            return True
        return True

    def close(self) -> None:
        """Let go of every run."""
        if self._file is not None:
            with contextlib.suppress(OSError):
                os.close(self._file)
            self._file = None
