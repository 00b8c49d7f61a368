"""Effects: what the engine asks the drivers to do. None of them is carried out here."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from runner.phrasing.style import Form

CandidateRole = Literal["answer", "competitor", "control", "call", "moment"]


@dataclass(frozen=True, slots=True)
class Candidate:
    """One thing that may be heard in a listening window.

    ``pattern`` is a response pattern with no figure left in it. Competitors are what an
    answer must not be mistaken for; a recogniser treats all candidates alike and never
    knows which one would be right.
    """

    id: str
    role: CandidateRole
    pattern: str


@dataclass(frozen=True, slots=True)
class NumberWanted:
    """A number may be heard in this window: its form and the range that makes sense.

    ``name`` is a pattern that may be spoken before the number ("rotate"), or empty.
    """

    form: Form
    low: float
    high: float
    name: str = ""


@dataclass(frozen=True, slots=True)
class Say:
    """Speak ``speech``; show ``text``. Its end comes back as the event ``Said``."""

    utterance: int
    text: str
    speech: str
    urgency: Literal["routine", "prompt", "urgent"] = "routine"
    to: tuple[str, ...] = ()
    """The members of a crew who must hear it; empty: everybody."""


@dataclass(frozen=True, slots=True)
class Tone:
    """Sound a short tone: ``right``, ``wrong``, ``attention`` or ``complete``."""

    name: Literal["right", "wrong", "attention", "complete"]


@dataclass(frozen=True, slots=True)
class Hush:
    """Stop whatever is being spoken and forget what waits to be spoken."""


@dataclass(frozen=True, slots=True)
class Prepare:
    """These are likely to be said next: synthesise them now."""

    speeches: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Listen:
    """Open listening window ``window`` (numbers only grow); it closes every earlier one."""

    window: int
    candidates: tuple[Candidate, ...]
    number: NumberWanted | None = None


@dataclass(frozen=True, slots=True)
class CloseWindow:
    """Stop listening in ``window``: nothing heard in it counts any more."""

    window: int


@dataclass(frozen=True, slots=True)
class SetTimer:
    """Send ``TimerFired(timer)`` after this many milliseconds; replaces one of that name."""

    timer: str
    after: int


@dataclass(frozen=True, slots=True)
class CancelTimer:
    """Forget the timer of that name."""

    timer: str


@dataclass(frozen=True, slots=True)
class SetInput:
    """An input of the aircraft was given in flight: work the sheet out again.

    The new values come back as the event ``FiguresChanged``.
    """

    name: str
    value: float | str


@dataclass(frozen=True, slots=True)
class Note:
    """A line for the screen and the printed record, not spoken."""

    text: str
    kind: Literal["heard", "judged", "done", "list", "phase", "figures", "card", "advice"] = (
        "advice"
    )


@dataclass(frozen=True, slots=True)
class Explain:
    """Show how a figure came about: its formula, table rows, interpolation, rounding."""

    figure: str


@dataclass(frozen=True, slots=True)
class Finish:
    """The run is over. ``left_open`` names the items that are not done."""

    complete: bool
    left_open: tuple[str, ...] = ()


Effect = (
    Say
    | Tone
    | Hush
    | Prepare
    | Listen
    | CloseWindow
    | SetTimer
    | CancelTimer
    | SetInput
    | Note
    | Explain
    | Finish
)
