"""Callouts and moments: what is said, or comes, when a reading gets there."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import TYPE_CHECKING

from runner.checklist.context import Context
from runner.checklist.fields import Fields, good_id
from runner.checklist.items import for_engine, slug
from runner.checklist.model import Callout, Moment, Text, Trigger, Where
from runner.checklist.nodes import Mapping, Scalar
from runner.checklist.problems import did_you_mean, one_of, shorten
from runner.checklist.quantities import read_quantity

if TYPE_CHECKING:
    from runner.figures.expression import Expression

CALLOUT_KEYS = ("call", "when", "if", "urgent", "ahead", "again", "id")
MOMENT_KEYS = ("name", "said", "when", "each engine")

_LEVEL = re.compile(r"(?P<subject>\S+)\s+(?P<how>rises|falls)\s+to\s+(?P<level>.+)")
_AFTER = re.compile(r"(?P<level>.+?)\s+after\s+(?P<subject>\S+)")
_CHANGE = re.compile(r"(?P<subject>\S+)\s+(?P<how>changes)\s+by\s+(?P<level>.+)")


def read_moments(fields: Fields, context: Context) -> None:
    """Fill in the context's moments."""
    node = fields.mapping("moments")
    entries = node.entries if node is not None else ()
    context.moment_ids = tuple(key.text for key, _ in entries)
    for key, value in entries:
        if not good_id(key, context.problems):
            continue
        if not isinstance(value, Mapping):
            context.problems.error(
                value.where, f"the moment '{key.text}' has keys of its own: {one_of(MOMENT_KEYS)}"
            )
            continue
        moment = Fields(value, "a moment", MOMENT_KEYS, context.problems)
        if "said" not in moment and "when" not in moment:
            context.problems.error(
                moment.where,
                f"the moment '{key.text}' can never come: add 'said', 'when' or both",
            )
        each = _each_engine(moment, context)
        context.moments[key.text] = Moment(
            key.text,
            key.where,
            moment.line("name") or re.sub(r"[-_]", " ", key.text),
            None if each else context.condition(for_engine(moment.scalar("when"), None, context)),
            _said(moment, context),
            each,
        )


def _each_engine(moment: Fields, context: Context) -> tuple[Expression, ...]:
    """The condition of a moment for each engine."""
    if not moment.yes("each engine"):
        return ()
    scalar = moment.scalar("when")
    if scalar is None or "<" not in scalar.text or not re.search(r"<\s*engine\s*>", scalar.text):
        context.problems.error(
            moment.at("each engine"),
            "a moment of each engine needs 'when' with <engine> in it, "
            "as when: fire_warning_<engine> > 0",
        )
        return ()
    found: list[Expression] = []
    for number in range(1, context.aircraft.engines + 1):
        condition = context.condition(for_engine(scalar, number, context))
        if condition is None:
            return ()
        found.append(condition)
    return tuple(found)


def _said(moment: Fields, context: Context) -> Text | None:
    scalar = moment.scalar("said")
    return moment.pattern("said") if context.figures(scalar, engine=False) else None


def read_callouts(fields: Fields, list_id: str, context: Context) -> Iterator[Callout]:
    """The callouts of a list."""
    seen: dict[str, Where] = {}
    for node in fields.mappings("callouts"):
        entry = Fields(node, "a callout", CALLOUT_KEYS, context.problems, "call")
        entry.require("when")
        text = context.figures(entry.scalar("call"), engine=False)
        trigger = _trigger(entry.scalar("when"), context)
        made_id = entry.id("id") if "id" in entry else slug(text) if text else None
        if text is not None and made_id is None and "id" not in entry:
            context.problems.error(entry.where, "the callout needs an id, as id: rotate")
        if made_id is not None and (first := seen.get(made_id)):
            context.problems.error(
                entry.where,
                f"two callouts of this list have the id '{made_id}' (first in line {first.line}); "
                f"give this one its own, as id: {made_id}-2",
            )
        urgent, ahead = entry.yes("urgent"), entry.yes("ahead")
        by_level = trigger is None or trigger.how in ("rises", "falls")
        if ahead and not by_level:
            context.problems.error(
                entry.at("ahead"), "only a reading that rises or falls can be called ahead"
            )
        again = _again(entry, trigger, context) if by_level else None
        if not by_level:
            entry.refuse("again", "is for a reading that rises or falls: how far it has to be back")
        condition = context.condition(entry.scalar("if"))
        if text is not None and trigger is not None and made_id is not None:
            seen.setdefault(made_id, entry.where)
            yield Callout(
                f"{list_id}.{made_id}",
                entry.where,
                text,
                trigger,
                urgent,
                ahead,
                condition,
                again,
            )


def _again(entry: Fields, trigger: Trigger | None, context: Context) -> float | None:
    """How far the reading has to be back before the callout may be said again."""
    scalar = entry.scalar("again")
    if scalar is None or trigger is None:
        return None
    unit = context.unit_of(context.readings[trigger.subject])
    if unit is None:
        return None
    back = read_quantity(scalar, unit, context.problems, difference=True)
    if back is not None and back <= 0:
        context.problems.error(
            scalar.where, "the reading has to be back by more than 0, as again: 200 ft"
        )
        return None
    return back


def _trigger(scalar: Scalar | None, context: Context) -> Trigger | None:
    if scalar is None:
        return None
    for pattern, read in ((_LEVEL, _level), (_CHANGE, _change), (_AFTER, _after)):
        if parts := pattern.fullmatch(scalar.text):
            subject = scalar.piece(*parts.span("subject"))
            level = scalar.piece(*parts.span("level"))
            return read(parts, subject, level, context)
    context.problems.error(
        scalar.where,
        "a callout comes when 'READING rises to VALUE', 'READING falls to VALUE', "
        f"'TIME after MOMENT' or 'FIGURE changes by VALUE', not '{shorten(scalar.text)}'",
    )
    return None


def _level(
    parts: re.Match[str], subject: Scalar, level: Scalar, context: Context
) -> Trigger | None:
    readings = context.readings
    rule = readings.get(subject.text)
    if rule is None:
        declared = context.declared.kinds.get(subject.text)
        whole = context.aircraft.readings.get(subject.text)
        if whole is not None:
            message = (
                f"each engine has its own '{subject.text}': use {subject.text}_1, "
                f"{subject.text}_all or {subject.text}_any"
            )
        elif declared is not None:
            message = f"'{subject.text}' is {declared}; a callout watches a reading"
        else:
            message = f"'{shorten(subject.text)}' is not a reading of the aircraft" + did_you_mean(
                subject.text, readings
            )
        if declared != "a reading" or whole is not None:
            context.problems.error(subject.where, message)
    formula = context.number(level, context.unit_of(rule))
    if rule is None or formula is None:
        return None
    return Trigger("rises" if parts["how"] == "rises" else "falls", subject.text, formula)


def _change(
    _parts: re.Match[str], subject: Scalar, level: Scalar, context: Context
) -> Trigger | None:
    known = context.known(subject, "an input", "a figure")
    if known and context.words(subject.text):
        context.problems.error(
            subject.where, f"'{subject.text}' is a word; it cannot change by an amount"
        )
        known = False
    craft = context.aircraft
    rule = craft.inputs.get(subject.text) or craft.figures.get(subject.text) if known else None
    formula = context.number(level, context.unit_of(rule), difference=True)
    return Trigger("changes", subject.text, formula) if known and formula is not None else None


def _after(
    _parts: re.Match[str], subject: Scalar, level: Scalar, context: Context
) -> Trigger | None:
    moment = context.moment(subject)
    formula = context.number(level, "s")
    return Trigger("after", moment, formula) if moment and formula is not None else None
