"""Items that stand in two lists: each `same as` becomes the item that it names."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import cast

from runner.checklist.context import Context
from runner.checklist.items import NO_ID, Draft, SameAs, item_texts
from runner.checklist.model import Checklist, Item, Spoken
from runner.checklist.problems import did_you_mean, shorten
from runner.checklist.text import ENGINE


@dataclass(slots=True)
class ListDraft:
    """A list whose repeated items are not looked up yet; groups of items in order."""

    made: Checklist
    items: list[list[Draft]]


@dataclass(slots=True)
class _Known:
    """Every item by its id, with the items that one entry stands for, and its list."""

    groups: dict[str, list[Draft]]
    lists: dict[str, Checklist]


def with_repeats(
    drafts: list[ListDraft], context: Context
) -> Iterator[tuple[ListDraft, Checklist]]:
    """Each list with its items, those that are the same as another looked up."""
    known = _Known({}, {draft.made.id: draft.made for draft in drafts})
    for draft in drafts:
        for group in draft.items:
            for entry in group:
                known.groups.setdefault(entry.id, [entry])
            if isinstance(group[0], Item) and group[0].engine is not None:
                known.groups.setdefault(group[0].id.rpartition("-")[0], group)
    for draft in drafts:
        items: dict[str, Item] = {}
        for entry in (entry for group in draft.items for entry in group):
            made = (
                [entry] if isinstance(entry, Item) else _repeated(entry, draft.made, known, context)
            )
            for item in made:
                if item.id in items and item.id != entry.id:
                    context.problems.error(
                        entry.where,
                        f"this stands for '{item.id}', which is another item's id; "
                        "give this one its own, as id: again",
                    )
                items.setdefault(item.id, item)
        yield draft, replace(draft.made, items=tuple(items.values()))


def _repeated(entry: SameAs, made: Checklist, known: _Known, context: Context) -> list[Item]:
    """The items that ``entry`` stands for, as items of the list ``made``."""
    target = entry.target
    changes: dict[str, object] = {}
    step = entry
    path = [entry.id]
    while True:
        changes = {**dict(step.changes), **changes}
        found = known.groups.get(step.target.text)
        if found is None:
            if step is entry:
                _unknown(entry, known, context)
            return []
        if not isinstance(found[0], SameAs):
            break
        step = found[0]
        if step.id in path:
            context.problems.error(
                target.where, f"this goes round in a circle: {' -> '.join([*path, step.id])}"
            )
            return []
        path.append(step.id)
    home = known.lists[step.target.text.partition(".")[0]]
    items: list[Item] = []
    for item in cast("list[Item]", found):
        suffix = f"-{item.engine}" if len(found) > 1 else ""
        again = replace(item, id=entry.id + suffix, where=entry.where)
        for key, value in changes.items():
            again = replace(again, **{key: value})  # type: ignore[arg-type]
        items.append(again)
    reasons = set(_misplaced(items[0], made)) - set(_misplaced(items[0], home))
    for reason in sorted(reasons):
        context.problems.error(target.where, f"'{shorten(target.text)}' {reason}")
    return items


def _unknown(entry: SameAs, known: _Known, context: Context) -> None:
    """Note that there is no such item, unless it may be one whose id is an error already."""
    list_id = entry.target.text.partition(".")[0]
    if NO_ID in known.lists or f"{list_id}.{NO_ID}" in known.groups:
        return
    context.problems.error(
        entry.target.where,
        f"there is no item '{shorten(entry.target.text)}'"
        + did_you_mean(entry.target.text, known.groups),
    )


def _misplaced(item: Item, made: Checklist) -> Iterator[str]:
    """Why an item cannot stand in a list."""
    quoted = {name for text in item_texts(item) for name in text.figures}
    if made.argument != ENGINE and (item.confirm or ENGINE in quoted):
        yield "is about one engine, and this list is not: add 'argument: engine'"
    if made.kind == "briefing" and not isinstance(item.response, Spoken):
        yield "is answered, and a briefing is only spoken"
    if item.memory and not made.abnormal:
        yield "is a memory item, and this list is not an abnormal one"
