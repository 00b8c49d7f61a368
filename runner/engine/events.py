"""Events: all that ever happens to a run. The list of them is the run.

Every event carries ``at``, whole milliseconds of the run. Events serialise to JSON and
back without loss (``runner.engine.wire``).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from runner.figures.figure import Figure

RULES_VERSION = 5
"""The version of the rules in ``step``; a stored run is replayed with the rules it names."""

Wordiness = Literal["full", "terse", "tones"]

KeyAction = Literal[
    "done",
    "answer",
    "say_again",
    "stand_by",
    "resume",
    "go_back",
    "later",
    "disagree",
    "disregard",
    "reject",
    "mute",
    "unmute",
    "full",
    "terse",
    "tones",
    "call",
    "moment",
    "set",
    "affirm",
    "negative",
    "why",
    "keep",
    "you_have_control",
    "i_have_control",
    "continue_alone",
    "take_over",
    "end",
]
"""What a key, a button or a menu can do. ``call`` names a list in ``argument`` (with
``argument2`` as the list's own argument), ``moment`` a moment, ``set`` an input
(``argument`` its name, ``argument2`` its value), ``answer`` a choice or a typed number."""


@dataclass(frozen=True, slots=True)
class Snapshot:
    """The text of a file as it was when the run began, and its SHA-256 (hex)."""

    name: str
    sha256: str
    text: str


@dataclass(frozen=True, slots=True)
class Proposal:
    """What one recogniser thinks was said, best first in a window's list.

    ``margin`` is how far it stands before the best other candidate, 0 to 1.
    """

    recogniser: str
    candidate: str | None
    text: str
    confidence: float
    margin: float
    value: float | None = None


@dataclass(frozen=True, slots=True)
class Verdict:
    """What the judge decided: recorded, never recomputed.

    ``accept``: ``candidate`` was said (``number`` with ``value`` for a number);
    ``unclear``: somebody spoke to Runner and it is not sure what was said;
    ``reject``: nothing that was meant for Runner.
    """

    decision: Literal["accept", "unclear", "reject"]
    candidate: str | None = None
    value: float | None = None
    text: str = ""
    reason: str = ""


@dataclass(frozen=True, slots=True)
class RunStarted:
    """The first event: what the run is made of.

    ``phase`` and ``from_phase`` are phase ids or empty: that phase alone, or from there on.
    ``figures`` are the inputs given and all figures worked out from them.
    """

    at: int
    procedures: Snapshot
    aircraft: Snapshot
    voice: Snapshot
    figures: tuple[Figure, ...] = ()
    phase: str = ""
    from_phase: str = ""
    wordiness: Wordiness = "full"
    rules: int = RULES_VERSION
    wall_clock: str = ""
    roles: tuple[str, ...] = ()
    given: tuple[tuple[str, float | str], ...] = ()
    """The inputs that were given, as opposed to worked out, in the aircraft's units."""


@dataclass(frozen=True, slots=True)
class FiguresChanged:
    """The sheet was worked out again: figures new or changed, and names no longer known."""

    at: int
    changed: tuple[Figure, ...]
    gone: tuple[str, ...] = ()
    reason: str = ""
    given: tuple[tuple[str, float | str], ...] = ()
    """All inputs that are given now, so that a resumed run can work the sheet out again."""

    followed: bool = False
    """The inputs followed the readings: nothing is asked again, and only callouts say it."""


@dataclass(frozen=True, slots=True)
class Heard:
    """An utterance ended in ``window``: proposals as they were and the verdict on them."""

    at: int
    window: int
    began: int
    ended: int
    proposals: tuple[Proposal, ...]
    verdict: Verdict
    readings: tuple[tuple[str, float], ...] = ()
    member: str = ""
    """Who of a crew was heard; '' where one person flies alone."""


@dataclass(frozen=True, slots=True)
class Keyed:
    """A key or a button was pressed."""

    at: int
    action: KeyAction
    argument: str = ""
    argument2: str = ""
    member: str = ""


@dataclass(frozen=True, slots=True)
class Said:
    """An utterance ended; ``completed`` is false when it was cut off or never sounded."""

    at: int
    utterance: int
    completed: bool


@dataclass(frozen=True, slots=True)
class TimerFired:
    """A timer ran out."""

    at: int
    timer: str


@dataclass(frozen=True, slots=True)
class Crossed:
    """The watch saw a callout's threshold crossed; ``values`` are those it was judged on.

    ``also`` are callouts that are said in one breath with it, as decision speed and rotate.
    """

    at: int
    callout: str
    values: tuple[tuple[str, float], ...] = ()
    also: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class MomentReached:
    """A moment of the procedures (``flaps_up``) came, by reading or by voice; of ``engine``,
    where it is one of each engine, else 0."""

    at: int
    moment: str
    values: tuple[tuple[str, float], ...] = ()
    engine: int = 0


@dataclass(frozen=True, slots=True)
class LimitPassed:
    """The watch saw a reading beyond its limit: the ``limit`` at that place of the aircraft
    file, of ``engine`` (0 where the reading has none) and ``also`` of these, with the value
    that is furthest beyond and its bound."""

    at: int
    limit: int
    engine: int
    side: Literal["low", "high"]
    value: float
    bound: float
    also: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class FeedChanged:
    """The simulator's readings stopped or came back; it stood still or ran on."""

    at: int
    state: Literal["lost", "back", "paused", "running"]


@dataclass(frozen=True, slots=True)
class ReadingShown:
    """The feed shows what a reading item waits for."""

    at: int
    item: str
    values: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Member:
    """One of a crew: a name of their own, and the roles held; none of them: an observer."""

    name: str
    roles: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class CrewChanged:
    """Who takes part from now on; somebody came, left or has other roles."""

    at: int
    members: tuple[Member, ...]
    together: bool = False
    """They sit at one machine: who is to answer is called by name where that changes."""


@dataclass(frozen=True, slots=True)
class Paused:
    """The program stopped or was told to stop."""

    at: int


@dataclass(frozen=True, slots=True)
class Resumed:
    """The run was taken up again; every utterance without a ``Said`` was not heard."""

    at: int


@dataclass(frozen=True, slots=True)
class InputEnded:
    """No answer can come any more (the end of a text or sound file): end with what is open."""

    at: int


Event = (
    RunStarted
    | FiguresChanged
    | Heard
    | Keyed
    | Said
    | TimerFired
    | Crossed
    | MomentReached
    | LimitPassed
    | FeedChanged
    | ReadingShown
    | CrewChanged
    | Paused
    | Resumed
    | InputEnded
)
