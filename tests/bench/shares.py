"""Counts as shares, with how far chance alone could have moved them."""

from __future__ import annotations

import math
from dataclasses import dataclass


def bounds(count: int, of: int) -> tuple[float, float]:
    """Wilson's 95 % bounds of a share (E. B. Wilson, 1927)."""
    if not of:
        return 0.0, 1.0
    z, share = 1.96, count / of
    middle = (share + z * z / (2 * of)) / (1 + z * z / of)
    reach = z * math.sqrt(share * (1 - share) / of + z * z / (4 * of * of)) / (1 + z * z / of)
    return max(0.0, middle - reach), min(1.0, middle + reach)


@dataclass(frozen=True, slots=True)
class Share:
    """A count of something under a way of hearing, and the share that is wanted of it where one
    is: at least that, or at most."""

    way: str
    what: str
    count: int
    of: int
    goal: float | None = None
    at_least: bool = False

    @property
    def missed(self) -> bool:
        """Whether there is a goal and it is not reached."""
        if self.goal is None or not self.of:
            return False
        share = self.count / self.of
        return share < self.goal if self.at_least else share > self.goal

    def __str__(self) -> str:
        low, high = bounds(self.count, self.of)
        share = f"{self.count / self.of:7.2%}" if self.of else "      -"
        goal = ""
        if self.goal is not None:
            most = "at least" if self.at_least else "at most"
            goal = f", goal {most} {self.goal:.1%}{', missed' if self.missed else ''}"
        return (
            f"{self.way:20} {self.what:46} {self.count:5} of {self.of:5} {share}  "
            f"({low:.2%} to {high:.2%}){goal}"
        )
