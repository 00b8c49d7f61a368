"""Times, counts and shares in words, as a debrief tells them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

WARNING = "For simulation and training, not for flight; the approved manual decides."
"""The data card's warning; it stands here too because the card's room takes long to load."""


def clock(ms: int) -> str:
    """A time of the run: minutes and seconds, with hours where there are any."""
    seconds = ms // 1000
    hours, minutes = seconds // 3600, seconds // 60 % 60
    return f"{hours}:{minutes:02}:{seconds % 60:02}" if hours else f"{minutes}:{seconds % 60:02}"


def seconds(ms: float | None) -> str:
    """A time to answer in seconds, to a tenth."""
    return "–" if ms is None else f"{ms / 1000:.1f} s"


def count(number: int, one: str, many: str = "") -> str:
    """A number with its noun."""
    return f"{number:,} {one if number == 1 else many or one + 's'}"


def day(started: str) -> str:
    """When a run began: day and time of its own clock."""
    try:
        return f"{datetime.fromisoformat(started):%Y-%m-%d %H:%M}"
    except ValueError:
        return started


def listed(texts: Sequence[str]) -> str:
    """Texts as a list in a sentence."""
    return " and ".join(filter(None, (", ".join(texts[:-1]), *texts[-1:])))


def percent(share: float) -> str:
    """A share of 0 to 1 in whole per cent."""
    return f"{100 * share:.0f} %"
