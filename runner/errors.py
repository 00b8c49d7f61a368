"""The one class of error that a user can cause; everything else that is raised is a bug."""

from __future__ import annotations

WRONG_INPUT = 2
NO_DEVICE = 3


class RunnerError(Exception):
    """One clear line for the user: where, what is wrong, and what would be right.

    ``status`` is the exit status of the program: 2 for wrong input, 3 for a device
    that was asked for by name and is not there.
    """

    def __init__(self, message: str, status: int = WRONG_INPUT) -> None:
        super().__init__(message)
        self.status = status
