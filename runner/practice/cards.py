"""The deck: a card for each item and kind of question that a procedures file gives.

``response``: the challenge is said, its answer is wanted. ``next``: an item is named, the
one after it is wanted. ``wrong``: challenge and answer are said, and a wrong one is to be
caught. ``numbers``: a figure for a load and a day. ``flow``: all items of a flow in order.
``memory``: the memory items of an abnormal list against the clock.

The same item in two lists is one card; each engine's own copy of an item is one card too.
A card is known by the file's name, the kind and the item's id, so that it outlives changes
to the rest of the file.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import zip_longest
from pathlib import PurePath
from typing import Literal

from runner.checklist.model import Checklist, Item, Readback, Reading, Spoken, Words
from runner.engine.conditions import applies
from runner.engine.lines import ItemLines, item_lines, values_of
from runner.engine.program import Program
from runner.figures.figure import Figure
from runner.phrasing.normal import normalise
from runner.practice.kinds import KINDS, Kind
from runner.practice.queue import Waiting

MOST_INPUTS = 5
"""A figure that depends on more inputs than this is worked out on the card, not known."""

NEW_TOGETHER: tuple[Kind, ...] = ("response", "memory", "numbers", "next", "wrong", "flow")
"""In a mixed drill new cards of the kinds take turns in this order."""

Figures = Mapping[str, Figure]


@dataclass(frozen=True, slots=True)
class Card:
    """One thing to know. ``thing`` is an item's id, a list's or a figure's name; ``before``
    the item that the next one is asked after, '' for the first of its list."""

    id: str
    kind: Kind
    thing: str
    waiting: Waiting
    before: str = ""


def words_of(item: Item) -> Words | None:
    """How an item is answered in words, None where it is not."""
    response = item.response.words if isinstance(item.response, Reading) else item.response
    return response if isinstance(response, Words) else None


def lines_of(program: Program, item: str, figures: Figures, engine: int | None = None) -> ItemLines:
    """What is said of an item today."""
    return item_lines(program, item, engine, values_of(program, figures, item))


def sequence(checklist: Checklist, figures: Figures) -> list[Item]:
    """The items of a list that apply today and that somebody answers, in order."""
    return [
        item
        for item in checklist.items
        if not isinstance(item.response, Spoken) and applies(item, figures)
    ]


def deck(
    program: Program,
    figures: Figures,
    kinds: Iterable[str] = KINDS,
    *,
    phase: str = "",
    list_id: str = "",
) -> list[Card]:
    """The cards of these kinds in the order in which new ones are given, of a phase alone or
    of a list alone where one is named (an abnormal one belongs to no phase)."""
    lists = _lists(program, phase, list_id)
    groups: dict[str, list[Card]] = {}
    for kind in NEW_TOGETHER:
        if kind not in kinds:
            continue
        match kind:
            case "response" | "wrong":
                groups[kind] = list(_answers(program, figures, lists, kind))
            case "next":
                groups[kind] = list(_orders(program, figures, lists))
            case "numbers":
                groups[kind] = list(_numbers(program, lists, phase))
            case "flow":
                groups[kind] = list(_flows(program, figures, lists, bool(list_id)))
            case "memory":
                groups[kind] = list(_memory(program, figures, lists))
    turns = zip_longest(*groups.values())
    return [card for turn in turns for card in turn if card is not None]


def _lists(program: Program, phase: str, list_id: str) -> list[Checklist]:
    procedures = program.procedures
    if list_id:
        return [program.lists[list_id]]
    normal = [c for p in procedures.phases if not phase or p.id == phase for c in p.lists]
    return normal if phase else [*normal, *procedures.abnormal]


def _id(program: Program, kind: str, thing: str) -> str:
    return f"{PurePath(program.procedures.file).stem}/{kind}/{thing}"


def _answers(
    program: Program, figures: Figures, lists: list[Checklist], kind: Literal["response", "wrong"]
) -> Iterable[Card]:
    seen: set[tuple[str, str]] = set()
    for item in (item for checklist in lists for item in sequence(checklist, figures)):
        words = words_of(item)
        if words is None or words.pattern.figures - {"engine"}:
            continue
        answer = normalise(lines_of(program, item.id, figures, 1).wanted.text)
        same = (normalise(_without_engine(item)), answer)
        if same in seen or (item.engine or 1) > 1:
            continue
        seen.add(same)
        card = _id(program, kind, item.id)
        yield Card(card, kind, item.id, Waiting(card, answer, same[0], f"{kind}/{same[0]}"))


def _orders(program: Program, figures: Figures, lists: list[Checklist]) -> Iterable[Card]:
    for checklist in lists:
        before = ""
        for item in sequence(checklist, figures):
            if (item.engine or 1) == 1:
                name = normalise(_without_engine(item))
                asked = normalise(_without_engine(program.items[before])) if before else ""
                card = _id(program, "next", item.id)
                twin = f"next/{asked}" if asked else ""
                yield Card(card, "next", item.id, Waiting(card, name, asked, twin), before)
            before = item.id


def _without_engine(item: Item) -> str:
    return item.challenge.source.split(", engine")[0].replace("<engine>", "")


def _numbers(program: Program, lists: list[Checklist], phase: str) -> Iterable[Card]:
    aircraft = program.procedures.aircraft
    wanted: dict[str, None] = {}
    chosen = {checklist.id for checklist in lists}
    for one in program.procedures.phases:
        if any(c.id in chosen for c in one.lists) and (not phase or one.id == phase):
            wanted |= dict.fromkeys(one.figures)
    for checklist in lists:
        for item in checklist.items:
            if isinstance(item.response, Readback):
                wanted[item.response.figure] = None
    from runner.practice.draw import inputs_of

    for name in wanted:
        rule = aircraft.figures.get(name)
        if rule is None or rule.kind == "words":
            continue
        if len(inputs_of(aircraft, name)) <= MOST_INPUTS:
            card = _id(program, "numbers", name)
            title = normalise(rule.title or name)
            yield Card(card, "numbers", name, Waiting(card, name, title))


def _flows(
    program: Program, figures: Figures, lists: list[Checklist], named: bool
) -> Iterable[Card]:
    for checklist in lists:
        if (named or checklist.kind == "flow") and len(sequence(checklist, figures)) > 1:
            card = _id(program, "flow", checklist.id)
            yield Card(card, "flow", checklist.id, Waiting(card, checklist.id))


def _memory(program: Program, figures: Figures, lists: list[Checklist]) -> Iterable[Card]:
    for checklist in lists:
        if checklist.abnormal and memory_items(checklist, figures):
            card = _id(program, "memory", checklist.id)
            yield Card(card, "memory", checklist.id, Waiting(card, checklist.id))


def memory_items(checklist: Checklist, figures: Figures) -> list[Item]:
    """The memory items of a list that are answered in words."""
    return [
        item for item in sequence(checklist, figures) if item.memory and words_of(item) is not None
    ]
