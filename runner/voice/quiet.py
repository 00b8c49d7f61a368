"""Keep what libraries print away from the pipe that carries messages and from the terminal."""

from __future__ import annotations

import os
import sys
from typing import BinaryIO


def take_stdout() -> BinaryIO:
    """A private handle on standard output; from now on file descriptor 1 leads to 2.

    Done on file descriptors, because native libraries print past ``sys.stdout``.
    """
    sys.stdout.flush()
    private = os.dup(1)
    os.dup2(2, 1)
    return os.fdopen(private, "wb", buffering=0)


def take_stdin() -> BinaryIO:
    """A private handle on standard input; from now on file descriptor 0 is empty."""
    private = os.dup(0)
    empty = os.open(os.devnull, os.O_RDONLY)
    os.dup2(empty, 0)
    os.close(empty)
    return os.fdopen(private, "rb")
