"""The code that is told to the other person, and how wrong ones are slowed down.

A code is ten digits: four say which crew, six are the secret. They are said one by one.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

from runner.errors import RunnerError

GUESSES = 5
"""Wrong codes after which a code opens nothing any more."""

FIRST_WAIT = 2000
"""Milliseconds after the first wrong code until another may be tried; doubled each time."""

_WORDS = {
    "zero": "0",
    "oh": "0",
    "one": "1",
    "two": "2",
    "three": "3",
    "tree": "3",
    "four": "4",
    "fower": "4",
    "five": "5",
    "fife": "5",
    "six": "6",
    "seven": "7",
    "eight": "8",
    "nine": "9",
    "niner": "9",
}


@dataclass(frozen=True, slots=True)
class Code:
    """``room`` finds the crew and is no secret; ``secret`` opens it."""

    room: str
    secret: str

    def __str__(self) -> str:
        return f"{self.room} {self.secret[:3]} {self.secret[3:]}"


def new_code(random: Callable[[int], bytes], room: str = "") -> Code:
    """A new code from ``random`` (a source of so many random bytes), of ``room`` if given."""
    digits = f"{int.from_bytes(random(16)) % 10**10:010d}"
    return Code(room or digits[:4], digits[4:])


def read_code(text: str) -> Code:
    """A code as typed or spoken; RunnerError where it is none."""
    words = [_WORDS.get(word, word) for word in re.split(r"[\s,.-]+", text.strip().lower())]
    digits = "".join(words)
    if not re.fullmatch(r"[0-9]{10}", digits):
        raise RunnerError(
            f"{text[:40]!r} is no crew code; it has ten digits, such as 4821 472 918, as shown on "
            "the other machine"
        )
    return Code(digits[:4], digits[4:])


@dataclass(slots=True)
class Lock:
    """A code that one machine may be let in by; it slows wrong ones down, then stops them."""

    code: Code
    wrong: int = 0
    until: int = 0
    used: bool = False

    @property
    def stopped(self) -> bool:
        """Whether it opens nothing any more."""
        return self.used or self.wrong >= GUESSES

    def wait(self, now: int) -> int:
        """Milliseconds until the next try may come."""
        return max(0, self.until - now)

    def guessed_wrong(self, now: int) -> None:
        """A wrong code was tried."""
        self.until = now + (FIRST_WAIT << self.wrong)
        self.wrong += 1
