"""What a screen shows of a run: plain data, worked out from the state."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

ItemStatus = Literal["waiting", "current", "done", "left open", "not applicable", "ask again"]


@dataclass(frozen=True, slots=True)
class ItemView:
    """One item as shown. ``response`` is the answer wanted, with today's figures in it."""

    id: str
    challenge: str
    response: str
    status: ItemStatus
    critical: bool = False
    memory: bool = False
    who: str = ""
    answered: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class ListView:
    """One list as shown; ``argument`` is such as ``engine 3``."""

    id: str
    title: str
    kind: str
    items: tuple[ItemView, ...]
    argument: str = ""
    abnormal: bool = False


@dataclass(frozen=True, slots=True)
class PhaseView:
    """One phase of the flight and how far it is."""

    id: str
    name: str
    status: Literal["done", "current", "ahead", "left open"]


@dataclass(frozen=True, slots=True)
class FigureView:
    """One of today's figures."""

    name: str
    title: str
    text: str
    changed: bool = False


@dataclass(frozen=True, slots=True)
class HeardView:
    """What was last heard and how it was judged, in words."""

    text: str
    judgement: str
    at: int
    member: str = ""


@dataclass(frozen=True, slots=True)
class MemberView:
    """One of the crew; ``answers``: the question that is open is theirs to answer."""

    name: str
    roles: tuple[str, ...]
    answers: bool = False


@dataclass(frozen=True, slots=True)
class View:
    """All that a screen needs to show of a run at one moment.

    ``prompt`` is what is asked now; ``activity`` says in words what the run is doing
    ("asking", "standing by", "waiting for a list to be called", "offering", "finished").
    ``callable_lists`` are (id, title, abnormal) of the lists that can be called;
    ``choices`` are the answers of a choice item, first one chosen with key 1.
    """

    aircraft: str
    procedures: str
    phases: tuple[PhaseView, ...] = ()
    phase: str = ""
    list: ListView | None = None
    current: ItemView | None = None
    prompt: str = ""
    activity: str = ""
    last_said: str = ""
    next_list: str = ""
    interrupted: tuple[str, ...] = ()
    figures: tuple[FigureView, ...] = ()
    heard: HeardView | None = None
    choices: tuple[str, ...] = ()
    wants_number: bool = False
    callable_lists: tuple[tuple[str, str, bool], ...] = ()
    standing_by: bool = False
    muted: bool = False
    wordiness: str = "full"
    listening: bool = False
    open_items: tuple[str, ...] = ()
    finished: bool = False
    complete: bool = False
    at: int = 0
    crew: tuple[MemberView, ...] = ()
    role_wanted: str = ""
    link: str = ""
