"""A procedures file as frozen data: moments, phases, lists, and items that stand in two lists."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal, cast, get_args

from runner.checklist.callouts import read_callouts, read_moments
from runner.checklist.context import Context
from runner.checklist.fields import Fields
from runner.checklist.items import Draft, ListHead, SameAs, item_texts, read_items
from runner.checklist.model import (
    Checklist,
    Item,
    ListKind,
    Phase,
    Procedures,
    Start,
    Where,
)
from runner.checklist.nodes import Mapping, Scalar
from runner.checklist.problems import did_you_mean, shorten
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


@dataclass(slots=True)
class _ListDraft:
    """A list whose repeated items are not looked up yet."""

    made: Checklist
    items: list[list[Draft]]


def read_procedures(root: Mapping, text: str, file: str, context: Context) -> Procedures:
    """What could be read of a procedures file; what is wrong is noted in the context."""
    problems = context.problems
    fields = Fields(root, "a procedures file", PROCEDURES_KEYS, problems, "procedures")
    fields.version()
    fields.require("aircraft")
    read_moments(fields, context)
    fields.require("phases")
    drafts: list[_ListDraft] = []
    phases: list[tuple[Phase, list[_ListDraft]]] = []
    for node in fields.mappings("phases"):
        phase, lists = _phase(node, context)
        drafts += lists
        phases.append((phase, lists))
    abnormal = [_list(node, True, context) for node in fields.mappings("abnormal")]
    drafts += abnormal
    _unique("list", [(draft.made.id, draft.made.where) for draft in drafts], context)
    _unique("phase", [(phase.id, phase.where) for phase, _ in phases], context)
    done = {id(draft): made for draft, made in _with_repeats(drafts, context)}
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


def _phase(node: Mapping, context: Context) -> tuple[Phase, list[_ListDraft]]:
    fields = Fields(node, "a phase", PHASE_KEYS, context.problems, "phase")
    fields.require("lists")
    made_id = fields.id("phase") or "?"
    figures = tuple(
        name.text for name in fields.names("figures") if context.known(name, "an input", "a figure")
    )
    wordiness = fields.word("wordiness", WORDINESS)
    lists = [_list(entry, False, context) for entry in fields.mappings("lists")]
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


def _list(node: Mapping, abnormal: bool, context: Context) -> _ListDraft:
    problems = context.problems
    fields = Fields(node, "a list", LIST_KEYS, problems, "list")
    made_id = fields.id("list") or "?"
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
    offer = context.figures(fields.scalar("offer"), engine=False)
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
        return _ListDraft(replace(made, callouts=callouts), [])
    if kind:
        fields.require("items")
        fields.refuse("callouts", "is for a list of the kind 'callouts'")
    head = ListHead(made_id, kind, engine, abnormal, responder)
    return _ListDraft(made, read_items(fields, head, context))


def _unique(what: str, found: list[tuple[str, Where]], context: Context) -> None:
    seen: dict[str, Where] = {}
    for made_id, where in found:
        if made_id != "?" and (first := seen.get(made_id)):
            context.problems.error(
                where,
                f"the {what} '{made_id}' stands here twice (first in line {first.line}); "
                "give one of them another id",
            )
        seen.setdefault(made_id, where)


def _with_repeats(
    drafts: list[_ListDraft], context: Context
) -> Iterator[tuple[_ListDraft, Checklist]]:
    """Each list with its items, those that are the same as another looked up."""
    groups: dict[str, list[Draft]] = {}
    for draft in drafts:
        for group in draft.items:
            for entry in group:
                groups.setdefault(entry.id, [entry])
            if isinstance(group[0], Item) and group[0].engine is not None:
                groups.setdefault(group[0].id.rpartition("-")[0], group)
    for draft in drafts:
        items: list[Item] = []
        for group in draft.items:
            for entry in group:
                if isinstance(entry, Item):
                    items.append(entry)
                else:
                    items += _repeated(entry, draft.made, groups, context)
        yield draft, replace(draft.made, items=tuple(items))


def _repeated(
    entry: SameAs, made: Checklist, groups: dict[str, list[Draft]], context: Context
) -> list[Item]:
    """The items that ``entry`` stands for, as items of the list ``made``."""
    problems = context.problems
    target: Scalar = entry.target
    changes: dict[str, object] = {}
    step = entry
    path = [entry.id]
    while True:
        changes = {**dict(step.changes), **changes}
        found = groups.get(step.target.text)
        if found is None:
            if step is entry:
                problems.error(
                    target.where,
                    f"there is no item '{shorten(target.text)}'"
                    + did_you_mean(target.text, groups),
                )
            return []
        if not isinstance(found[0], SameAs):
            break
        step = found[0]
        if step.id in path:
            problems.error(
                target.where, f"this goes round in a circle: {' -> '.join([*path, step.id])}"
            )
            return []
        path.append(step.id)
    items: list[Item] = []
    for item in cast("list[Item]", found):
        suffix = f"-{item.engine}" if len(found) > 1 else ""
        made_item = replace(item, id=entry.id + suffix, where=entry.where)
        for key, value in changes.items():
            made_item = replace(made_item, **{key: value})  # type: ignore[arg-type]
        items.append(made_item)
        for reason in _misplaced(item, made):
            problems.error(target.where, f"'{shorten(target.text)}' {reason}")
            return items
    return items


def _misplaced(item: Item, made: Checklist) -> Iterator[str]:
    """Why an item cannot stand in another list."""
    from runner.checklist.model import Spoken

    quoted = {name for text in item_texts(item) for name in text.figures}
    if made.argument != ENGINE and (item.confirm or ENGINE in quoted):
        yield "is about one engine, and this list is not: add 'argument: engine'"
    if made.kind == "briefing" and not isinstance(item.response, Spoken):
        yield "is answered, and a briefing is only spoken"
    if item.memory and not made.abnormal:
        yield "is a memory item, and this list is not an abnormal one"
