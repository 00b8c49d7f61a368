"""Procedures as frozen data: phases, lists, items, responses, callouts, moments.

Everything here is made by ``runner.checklist.load`` and read by the engine. Text that may
hold figures is a ``Text``; a response pattern that may hold figures is a ``Text`` too and
becomes a plain pattern when its figures are filled in.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from runner.figures.expression import Expression
    from runner.figures.model import Aircraft

ListKind = Literal["challenge and response", "read and do", "flow", "callouts", "briefing"]
Start = Literal["at once", "on call"]


@dataclass(frozen=True, slots=True)
class Where:
    """A place in a file: 1-based line and column."""

    file: str
    line: int
    column: int

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}"


@dataclass(frozen=True, slots=True)
class FigureRef:
    """A figure's place in a text: ``<rotate_speed>``, or ``<engine>`` for the list's engine."""

    name: str


@dataclass(frozen=True, slots=True)
class Text:
    """Text with figures in it, as parts in order. ``source`` is the line as written."""

    source: str
    parts: tuple[str | FigureRef, ...]

    @property
    def figures(self) -> frozenset[str]:
        """The names of the figures in this text."""
        return frozenset(p.name for p in self.parts if isinstance(p, FigureRef))


@dataclass(frozen=True, slots=True)
class Words:
    """A response in words: a pattern, and patterns it must not be mistaken for."""

    pattern: Text
    confusable: tuple[Text, ...] = ()


@dataclass(frozen=True, slots=True)
class Readback:
    """A number read back: within ``tolerance`` (in the figure's unit) of the figure."""

    figure: str
    tolerance: float = 0.0
    shown: Text | None = None


@dataclass(frozen=True, slots=True)
class Choice:
    """One of several answers, kept as the input ``keep``. ``options`` are (value, pattern)."""

    keep: str
    options: tuple[tuple[str, Text], ...]


@dataclass(frozen=True, slots=True)
class Enter:
    """A value asked for: a number (or a choice) of the aircraft's inputs."""

    input: str


@dataclass(frozen=True, slots=True)
class Reading:
    """A reading that the feed must show; ``words`` is how it is answered without a feed."""

    condition: Expression
    words: Words | None = None


@dataclass(frozen=True, slots=True)
class Spoken:
    """No answer: the line is only spoken (lines of a briefing)."""


Response = Words | Readback | Choice | Enter | Reading | Spoken


@dataclass(frozen=True, slots=True)
class Item:
    """One line of a list. ``id`` is ``list-id.item-id``, unique in the procedures."""

    id: str
    where: Where
    challenge: Text
    response: Response
    short: Text | None = None
    who: str = ""
    condition: Expression | None = None
    critical: bool = False
    both: bool = False
    """Where two fly, both must answer it."""

    memory: bool = False
    confirm: bool = False
    ask_again: bool = True
    engine: int | None = None
    note: Text | None = None
    check: Expression | None = None
    """What the readings must not contradict when the answer is given in words."""

    used: frozenset[str] = frozenset()
    """Figures quoted or checked by this item: it is asked again when one changes."""


@dataclass(frozen=True, slots=True)
class Callout:
    """Said once when its trigger comes. ``id`` is ``list-id.callout-id``."""

    id: str
    where: Where
    text: Text
    trigger: Trigger
    urgent: bool = False
    ahead: bool = False
    """Said so early that its words have ended when the level is reached."""

    condition: Expression | None = None
    """Of figures and readings: not said where it does not hold when the trigger comes."""

    again: float | None = None
    """Said again after the reading has come back by so much, in its unit; None: once only."""


@dataclass(frozen=True, slots=True)
class Trigger:
    """When a callout is said.

    ``rises`` and ``falls``: a reading reaches ``level``; ``after``: ``level`` seconds
    (a number expression) after the moment ``subject``; ``changes``: the figure ``subject``
    has moved by ``level`` since it was last said.
    """

    how: Literal["rises", "falls", "after", "changes"]
    subject: str
    level: Expression


@dataclass(frozen=True, slots=True)
class Moment:
    """A moment of the flight: by reading (``condition``) and by voice (``said``).

    One of each engine has a condition for each, in ``each_engine``.
    """

    id: str
    where: Where
    name: str
    condition: Expression | None = None
    said: Text | None = None
    each_engine: tuple[Expression, ...] = ()

    @property
    def conditions(self) -> tuple[tuple[int, Expression], ...]:
        """The conditions with the engine that each is about, 0 for none."""
        if self.condition is not None:
            return ((0, self.condition),)
        return tuple(enumerate(self.each_engine, 1))


@dataclass(frozen=True, slots=True)
class Checklist:
    """One list. ``offer`` is spoken when the moment ``offered_at`` comes.

    ``gate`` names a moment that must not come while the list is open. ``argument`` is
    ``engine`` for a list that is about one engine. ``calls`` are further names (patterns).
    """

    id: str
    where: Where
    title: str
    kind: ListKind
    items: tuple[Item, ...] = ()
    callouts: tuple[Callout, ...] = ()
    start: Start = "at once"
    offered_at: str = ""
    offer: Text | None = None
    gate: str = ""
    calls: tuple[Text, ...] = ()
    argument: Literal["", "engine"] = ""
    condition: Expression | None = None
    challenger: str = ""
    responder: str = ""
    abnormal: bool = False
    rejected_takeoff: bool = False


@dataclass(frozen=True, slots=True)
class Phase:
    """A phase of the flight; ``figures`` are those worth showing in it."""

    id: str
    where: Where
    name: str
    lists: tuple[Checklist, ...]
    figures: tuple[str, ...] = ()
    wordiness: Literal["", "full", "terse", "tones"] = ""


@dataclass(frozen=True, slots=True)
class Procedures:
    """A procedures file, whole. ``lists`` holds every list by id, abnormal ones too."""

    name: str
    about: str
    file: str
    sha256: str
    aircraft: Aircraft
    aircraft_file: str
    phases: tuple[Phase, ...]
    abnormal: tuple[Checklist, ...] = ()
    moments: Mapping[str, Moment] = field(default_factory=dict)
    voice: str = ""
    scenario: str = ""

    @property
    def lists(self) -> dict[str, Checklist]:
        """Every list by its id."""
        normal = {c.id: c for phase in self.phases for c in phase.lists}
        return normal | {c.id: c for c in self.abnormal}
