"""What a run is at one moment: everything that a later step can depend on, and nothing else.

``Run`` is the working copy that one step changes; ``State`` is the same data frozen, which
is all that leaves a step. Nothing mutable is shared between the two: mappings and tuples
are replaced, never changed, so that copying a state is copying its references.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal, NoReturn

from runner.engine.events import Member, Wordiness
from runner.engine.program import Program
from runner.engine.view import HeardView, ItemStatus
from runner.figures.figure import Figure

Asking = Literal[
    "nothing",
    "item",
    "engine confirm",
    "which engine",
    "flow",
    "briefing",
    "offer",
    "call",
    "standing by",
]
"""What the run waits for: the question that is open. There is at most one."""

Stage = Literal["flow", "briefing", "items"]


@dataclass(frozen=True, slots=True)
class ItemRun:
    """What became of one item. ``used`` are the values said of its figures when answered."""

    status: ItemStatus
    answered: str = ""
    used: tuple[tuple[str, str], ...] = ()
    by: Literal["", "voice", "key", "feed", "spoken"] = ""


@dataclass(frozen=True, slots=True)
class ListRun:
    """One list that was begun. An item that is not in ``items`` is waiting.

    ``last`` is the item completed last; ``once_more`` are the items left open that are
    still to be asked again before the list ends, None while its end was not yet reached.
    """

    key: str
    list: str
    argument: str = ""
    status: Literal["open", "complete", "not complete"] = "open"
    items: Mapping[str, ItemRun] = field(default_factory=dict)
    last: str = ""
    once_more: tuple[str, ...] | None = None

    @property
    def engine(self) -> int | None:
        """The engine that the list is about."""
        return int(self.argument) if self.argument else None


@dataclass(frozen=True, slots=True)
class Frame:
    """A list that is being run, and where in it; the frames below are interrupted.

    ``confirmed`` is the item for which the engine was confirmed aloud.
    """

    key: str
    item: str = ""
    stage: Stage = "items"
    confirmed: str = ""


@dataclass
class Run:
    """The working copy of a state, alive for one step."""

    program: Program | None = None
    """The parsed files. Not serialised: their hashes are."""

    started: bool = False
    at: int = 0
    phase: int = 0
    first_phase: int = 0
    last_phase: int = 0
    armed_from: int = 0
    """The phase of the list begun last: from there on callouts are armed."""

    roles: tuple[str, ...] = ()
    crew: tuple[Member, ...] = ()
    together: bool = False
    """Whether the crew sits at one machine."""

    called: str = ""
    """Who of those at one machine was last called by name to answer."""

    handing: tuple[str, str] = ("", "")
    """The first of the two words that hand over control, and who said it."""

    agreed: tuple[str, str] = ("", "")
    """An item that needs both and has one's answer, and whose that is."""

    wordiness: Wordiness = "full"
    usual: Wordiness = "full"
    """What the pilot chose; a phase may say otherwise for itself."""

    figures: Mapping[str, Figure] = field(default_factory=dict)
    changed: tuple[str, ...] = ()

    lists: Mapping[str, ListRun] = field(default_factory=dict)
    stack: tuple[Frame, ...] = ()
    reopened: tuple[str, ...] = ()
    """Lists that were complete and have items to be asked again."""

    calls: tuple[str, ...] = ()
    """Ids of the lists that may be called by name now."""

    asking: Asking = "nothing"
    subject: str = ""
    prompt: str = ""
    offers: tuple[str, ...] = ()
    """Keys of lists that are offered, ``engine-fire:3``."""

    declined: tuple[str, ...] = ()
    named: frozenset[str] = frozenset()
    """Lists that were never run and have been named as such."""

    reached: Mapping[str, int] = field(default_factory=dict)
    """When each moment came first, without the time for which the simulator stood still."""

    called_out: frozenset[str] = frozenset()
    rejected: bool = False

    window: int = 0
    asked_from: int = 0
    """The first window of the question that is open. It is the one open now, except where a
    crew was asked the same once more: their answers have a way to go."""

    listening: bool = False
    muted: bool = False
    paused: bool = False

    utterance: int = 0
    speaking: tuple[int, ...] = ()
    urgent: int = 0
    """The urgent utterance that is being spoken; only a speed call cuts it off."""

    speed: int = 0
    """The speed call that is being spoken; nothing cuts it off but *reject*."""

    warnings: tuple[tuple[int, str, str], ...] = ()
    """Urgent utterances that are being spoken, with text and speech: said again after a speed
    call that cut them off."""

    still: int | None = None
    """Since when the simulator stands still."""

    prompting: int = 0
    """The utterance whose end starts the wait for an answer."""

    timing: bool = False
    silences: int = 0
    unclear: int = 0

    contradicted: tuple[str, str] = ("", "")
    """The item whose answer a reading contradicted, and that answer: it may be kept."""

    last_done: tuple[str, str] = ("", "")
    heard: HeardView | None = None
    last_said: str = ""

    finished: bool = False
    complete: bool = False
    left_open: tuple[str, ...] = ()

    undo: State | None = None
    """The state before the last answer or control that was taken, for *disregard*."""

    undo_inputs: tuple[tuple[str, float | str | None], ...] = ()

    def listens_in(self, window: int) -> bool:
        """Whether what was heard in that window can still answer what is open."""
        return self.listening and self.asked_from <= window <= self.window


class State(Run):
    """A run, frozen."""

    def __setattr__(self, name: str, value: object) -> NoReturn:
        raise AttributeError(f"a state is never changed ({name})")

    def __delattr__(self, name: str) -> NoReturn:
        raise AttributeError(f"a state is never changed ({name})")


def thaw(state: Run) -> Run:
    """A working copy of a state."""
    run = Run.__new__(Run)
    run.__dict__.update(state.__dict__)
    return run


def freeze(run: Run) -> State:
    """A working copy, frozen."""
    state = State.__new__(State)
    state.__dict__.update(run.__dict__)
    return state


def initial_state(program: Program | None = None) -> State:
    """The state before a run's first event.

    ``program`` saves the first step from parsing files that the caller has parsed already;
    it is used where its hashes are those of the event's snapshots.
    """
    return freeze(Run(program=program))
