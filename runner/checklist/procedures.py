"""A procedures file as frozen data: moments, phases, lists, and items that stand in two lists."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from typing import TYPE_CHECKING, Literal, cast, get_args

from runner.checklist.callouts import read_callouts, read_moments
from runner.checklist.context import Context
from runner.checklist.fields import Fields
from runner.checklist.items import NO_ID, ListHead, read_items
from runner.checklist.model import (
    Checklist,
    ListKind,
    Phase,
    Procedures,
    Start,
    Where,
)
from runner.checklist.nodes import Mapping
from runner.checklist.repeats import ListDraft, with_repeats
from runner.checklist.text import ENGINE

if TYPE_CHECKING:
    from runner.checklist.model import Text

PROCEDURES_KEYS = (
    "runner",
    "procedures",
    "about",
    "aircraft",
    "voice",
    "scenario",
    "moments",
    "phases",
    "abnormal",
)
PHASE_KEYS = ("phase", "name", "figures", "wordiness", "lists")
LIST_KEYS = (
    "list",
    "title",
    "kind",
    "calls",
    "start",
    "offered at",
    "offer",
    "before",
    "if",
    "challenger",
    "responder",
    "argument",
    "rejected takeoff",
    "items",
    "callouts",
)
LIST_KINDS: tuple[str, ...] = get_args(ListKind)
STARTS: tuple[str, ...] = get_args(Start)
WORDINESS = ("full", "terse", "tones")
DEFAULT_VOICE = "cockpit"


def read_procedures(root: Mapping, text: str, file: str, context: Context) -> Procedures:
    """What could be read of a procedures file; what is wrong is noted in the context."""
    problems = context.problems
    fields = Fields(root, "a procedures file", PROCEDURES_KEYS, problems, "procedures")
    fields.version()
    fields.require("aircraft")
    read_moments(fields, context)
    fields.require("phases")
    drafts: list[ListDraft] = []
    phases: list[tuple[Phase, list[ListDraft]]] = []
    for node in fields.mappings("phases", some=True):
        phase, lists = _phase(node, context)
        drafts += lists
        phases.append((phase, lists))
    abnormal = [_list(node, True, context) for node in fields.mappings("abnormal")]
    drafts += abnormal
    _unique("list", [(draft.made.id, draft.made.where) for draft in drafts], context)
    _unique("phase", [(phase.id, phase.where) for phase, _ in phases], context)
    done = {id(draft): made for draft, made in with_repeats(drafts, context)}
    return Procedures(
        name=fields.line("procedures"),
        about=fields.line("about"),
        file=file,
        sha256=hashlib.sha256(text.encode()).hexdigest(),
        aircraft=context.aircraft,
        aircraft_file=context.aircraft.file,
        phases=tuple(
            replace(phase, lists=tuple(done[id(draft)] for draft in lists))
            for phase, lists in phases
        ),
        abnormal=tuple(done[id(draft)] for draft in abnormal),
        moments=context.moments,
        voice=fields.line("voice", DEFAULT_VOICE),
        scenario=fields.line("scenario"),
    )


def _phase(node: Mapping, context: Context) -> tuple[Phase, list[ListDraft]]:
    fields = Fields(node, "a phase", PHASE_KEYS, context.problems, "phase")
    fields.require("lists")
    made_id = fields.id("phase") or NO_ID
    figures = tuple(
        name.text for name in fields.names("figures") if context.known(name, "an input", "a figure")
    )
    wordiness = fields.word("wordiness", WORDINESS)
    lists = [_list(entry, False, context) for entry in fields.mappings("lists", some=True)]
    phase = Phase(
        made_id,
        fields.where,
        fields.line("name") or _title(made_id),
        (),
        figures,
        cast("Literal['', 'full', 'terse', 'tones']", wordiness),
    )
    return phase, lists


def _title(made_id: str) -> str:
    return made_id.replace("-", " ").replace("_", " ").capitalize()


def _list(node: Mapping, abnormal: bool, context: Context) -> ListDraft:
    problems = context.problems
    fields = Fields(node, "a list", LIST_KEYS, problems, "list")
    made_id = fields.id("list") or NO_ID
    fields.require("kind")
    kind = fields.word("kind", LIST_KINDS)
    engine = fields.word("argument", (ENGINE,)) == ENGINE
    start = fields.word("start", STARTS, "on call" if abnormal else "at once")
    if engine and not abnormal and start != "on call":
        problems.error(
            fields.at("argument"), "a list about one engine is called for: add 'start: on call'"
        )
    if not abnormal:
        fields.refuse("rejected takeoff", "is for abnormal lists")
    responder = context.role(fields.scalar("responder"))
    offer = context.figures(fields.scalar("offer"), engine)
    if offer is not None and "offered at" not in fields:
        problems.error(fields.at("offer"), "'offer' needs 'offered at', the moment at which it is")
    offered_at = context.moment(fields.scalar("offered at"))
    gate = context.moment(fields.scalar("before"))
    if gate and gate == offered_at:
        problems.error(
            fields.at("offered at"),
            f"too late: '{gate}' must not come while the list is open",
        )
    calls: list[Text] = []
    for text, scalar in fields.patterns("calls"):
        context.figures(scalar, engine)
        calls.append(text)
    made = Checklist(
        id=made_id,
        where=fields.where,
        title=fields.line("title") or _title(made_id),
        kind=cast("ListKind", kind or "challenge and response"),
        start=cast("Start", start),
        offered_at=offered_at,
        offer=offer,
        gate=gate,
        calls=tuple(calls),
        argument="engine" if engine else "",
        condition=context.condition(fields.scalar("if")),
        challenger=context.role(fields.scalar("challenger")),
        responder=responder,
        abnormal=abnormal,
        rejected_takeoff=fields.yes("rejected takeoff"),
    )
    if kind == "callouts":
        fields.require("callouts")
        fields.refuse("items", "is not for a list of callouts: use 'callouts'")
        callouts = tuple(read_callouts(fields, made_id, context))
        return ListDraft(replace(made, callouts=callouts), [])
    if kind:
        fields.require("items")
        fields.refuse("callouts", "is for a list of the kind 'callouts'")
    head = ListHead(made_id, kind, engine, abnormal, responder)
    return ListDraft(made, read_items(fields, head, context))


def _unique(what: str, found: list[tuple[str, Where]], context: Context) -> None:
    seen: dict[str, Where] = {}
    for made_id, where in found:
        if made_id != NO_ID and (first := seen.get(made_id)):
            context.problems.error(
                where,
                f"the {what} '{made_id}' stands here twice (first in line {first.line}); "
                "give one of them another id",
            )
        seen.setdefault(made_id, where)
